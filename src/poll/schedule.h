/* What is asked for live, when, and what is left out. */
#ifndef OXYLAG_POLL_SCHEDULE_H
#define OXYLAG_POLL_SCHEDULE_H

#include "oxylag/poll.h"
#include "request.h"

enum { OXL_POLL_LIVE = 32 }; /* most PIDs that are asked for live */

enum oxl_poll_role {
    OXL_ROLE_FRONT,
    OXL_ROLE_REAR,
    OXL_ROLE_STFT,
    OXL_ROLE_LTFT,
    OXL_ROLE_MID,   /* air (or what stands in for it) and engine speed */
    OXL_ROLE_STATE, /* fuel system status and vehicle speed: seen at least every 2 s */
    OXL_ROLE_SLOW,
    OXL_ROLE_RARE,
    OXL_ROLE_OTHER /* throttle and the bank that is not tested: seldom, and never while timing */
};

struct oxl_poll_pid {
    uint8_t pid;
    uint8_t role; /* enum oxl_poll_role */
    uint8_t misses;
    bool dropped;
    int64_t back_us;     /* when it is tried again */
    unsigned drops;      /* each waits twice as long */
    uint64_t miss_reply; /* number of replies at its last miss */
    int64_t asked_us;
};

struct oxl_poll_schedule {
    struct oxl_poll_pid pids[OXL_POLL_LIVE];
    unsigned n;
    unsigned max_pids; /* in one request */
    unsigned round, slot, mid;
    unsigned multi_fails; /* requests for several PIDs in a row without an answer */
    bool single_try;      /* the next doubtful request asks for one PID */
    int64_t grow_us;      /* when more PIDs a request are tried again; NEVER: not at all */
    unsigned shrinks;     /* each waits twice as long */
    bool others_turn;     /* with few PIDs a request: trims and the rest take turns */
};

void oxl_poll_schedule_build(struct oxl_poll *p);
unsigned oxl_poll_schedule_next(struct oxl_poll *p, int64_t t_us, uint8_t pids[OXL_POLL_PIDS]);
/* The outstanding request was answered; was not; its first PID will never be. */
void oxl_poll_schedule_answered(struct oxl_poll *p);
void oxl_poll_schedule_unanswered(struct oxl_poll *p);
void oxl_poll_schedule_refused(struct oxl_poll *p);
/* for_good: it will not be tried again. */
void oxl_poll_schedule_shrink(struct oxl_poll *p, bool for_good, int64_t t_us);

#endif
