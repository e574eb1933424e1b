/* The survey: a table of steps, and which of them is being asked. */
#ifndef OXYLAG_POLL_SURVEY_H
#define OXYLAG_POLL_SURVEY_H

#include "oxylag/poll.h"

/* A step of the survey. */
struct oxl_poll_step {
    /* False: nothing to ask. NULL: ask for this PID of service 01, or for all of another service.
     */
    bool (*begin)(struct oxl_poll *p, int64_t t_us);
    void (*answer)(struct oxl_poll *p, const struct oxl_message *m);
    /* False: begin once more. NULL: over. */
    bool (*finish)(struct oxl_poll *p, int64_t t_us);
    uint8_t service, pid;
    bool own_retry;
    bool all_ecus; /* in an inspection: the answers of the other ECUs, too */
};

struct oxl_poll_survey {
    unsigned step;
    unsigned tries, spoilt; /* of this step; those that the line spoilt */
    unsigned silent_steps;  /* in a row */
    unsigned catch_ups;     /* pauses for an adapter that is a prompt behind */
    int64_t begun_us;
    uint64_t spoilt_before; /* what had been spoilt when it began */
    bool line_doubted;      /* a request was not understood, or its prompt was lost */
};

void oxl_poll_survey_start(struct oxl_poll *p, int64_t t_us);
void oxl_poll_survey_sensors(struct oxl_poll *p, int64_t t_us); /* out of live data, them alone */
void oxl_poll_survey_answer(struct oxl_poll *p, const struct oxl_message *m);
void oxl_poll_survey_finished(struct oxl_poll *p, int64_t t_us);
void oxl_poll_survey_next(struct oxl_poll *p, int64_t t_us);
void oxl_poll_verify_start(struct oxl_poll *p, int64_t t_us);
void oxl_poll_verify_answer(struct oxl_poll *p, const struct oxl_message *m);
void oxl_poll_verify_finished(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_hears_all(const struct oxl_poll *p);

/* For the steps. */
bool oxl_poll_ask_pid(struct oxl_poll *p, uint8_t pid, int64_t t_us);
bool oxl_poll_ask_plain(struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n,
                        int64_t t_us);
void oxl_poll_step_tried(struct oxl_poll *p, unsigned tries);
bool oxl_poll_step_spoilt(struct oxl_poll *p); /* what the line spoilt proves nothing: once more */
/* A step's finish: begin again with whatever it asks for next. */
bool oxl_poll_step_more(struct oxl_poll *p, int64_t t_us);

#endif
