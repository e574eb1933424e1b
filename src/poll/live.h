/* Live data: what is asked for, and what came of it. */
#ifndef OXYLAG_POLL_LIVE_H
#define OXYLAG_POLL_LIVE_H

#include "exchange.h"
#include "oxylag/poll.h"

/* ---- schedule.c: what is asked for live, when, and what is left out ---- */

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
    double rpm, air_g_s;  /* the last ones */
    bool engine_falls;    /* and one had fallen far: the engine is asked for at once */
};

void oxl_poll_schedule_build(struct oxl_poll *p);
unsigned oxl_poll_schedule_next(struct oxl_poll *p, int64_t t_us, uint8_t pids[OXL_POLL_PIDS]);
/* The outstanding request was answered; was not; its first PID will never be. */
void oxl_poll_schedule_answered(struct oxl_poll *p);
void oxl_poll_schedule_unanswered(struct oxl_poll *p);
void oxl_poll_schedule_refused(struct oxl_poll *p);
void oxl_poll_schedule_sample(struct oxl_poll *p, const struct oxl_sample *s);
/* for_good: it will not be tried again. */
void oxl_poll_schedule_shrink(struct oxl_poll *p, bool for_good, int64_t t_us);

/* ---- live.c: the live request that is outstanding ---- */

struct oxl_poll_live {
    unsigned frames;    /* expected answer frames of all ECUs; 0 unknown */
    bool separator;     /* asked only to have an answer between the others (trouble.owed) */
    int64_t slowest_us; /* from asking to the prompt, the longest lately */
};

/* False: it may be the late answer to an earlier request. */
bool oxl_poll_live_separates(const struct oxl_poll *p, const struct oxl_message *m);
void oxl_poll_live_start(struct oxl_poll *p, int64_t t_us);
void oxl_poll_live_answer(struct oxl_poll *p, const struct oxl_message *m);
void oxl_poll_live_finished(struct oxl_poll *p, int64_t t_us);
void oxl_poll_live_next(struct oxl_poll *p, int64_t t_us);

/* ---- trouble.c: what a bad line, a late vehicle or a forgetful adapter did to live data ---- */

struct oxl_poll_trouble {
    unsigned damaged, tardy; /* leaky counts of spoilt and of late answers */
    unsigned bad_line;       /* requests until a line that damaged many answers is trusted again */
    unsigned shifted;        /* answers come for the request before: up 2, down 1 */
    bool owed;               /* an answer to an earlier request may still come: see live.c */
    unsigned headless;       /* in a row: unanswered, and a line without its header came */
};

void oxl_poll_trouble_live(struct oxl_poll *p); /* live data begin */
void oxl_poll_tell_of_trouble(struct oxl_poll *p);
bool oxl_poll_lost_its_settings(struct oxl_poll *p);
bool oxl_poll_out_of_step(struct oxl_poll *p);
void oxl_poll_note_owed(struct oxl_poll *p); /* may the finished request's answer still come? */
void oxl_poll_separated(struct oxl_poll *p); /* a separator is over */

/* ---- stats.c: counters, and when samples of the two sensors came ---- */

enum { OXL_POLL_RING = 512 }; /* arrival times kept for the rates */

struct oxl_poll_ring {
    int64_t at_us[OXL_POLL_RING];
    unsigned head, n;
};

struct oxl_poll_counts {
    struct oxl_poll_stats sums; /* without the rates */
    struct oxl_poll_ring front, rear;
};

enum oxl_poll_counted {
    OXL_COUNT_REQUEST,
    OXL_COUNT_REPLY,
    OXL_COUNT_TIMEOUT,
    OXL_COUNT_NEGATIVE,
    OXL_COUNT_LATE,
    OXL_COUNT_UNPROVEN,
    OXL_COUNT_OTHER
};
void oxl_poll_count(struct oxl_poll *p, enum oxl_poll_counted what);
void oxl_poll_note_sample(struct oxl_poll *p, const struct oxl_sample *s);

#endif
