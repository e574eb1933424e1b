/* The live request that is outstanding. */
#ifndef OXYLAG_POLL_LIVE_H
#define OXYLAG_POLL_LIVE_H

#include "oxylag/poll.h"

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

#endif
