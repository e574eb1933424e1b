/* Shortening the adapter's wait by its own settings. */
#ifndef OXYLAG_POLL_ADAPTER_TIMING_H
#define OXYLAG_POLL_ADAPTER_TIMING_H

#include "oxylag/poll.h"
#include "survey.h"

struct oxl_poll_timing {
    unsigned stage, asked, answered;
    int64_t gap_us, usual_gap_us; /* from the last answer to the prompt: sum; mean before */
    int64_t longest_us;           /* from asking to answer */
    bool aggressive;              /* ATAT2 is on */
    unsigned timeout;             /* count of ATST that is on; 0: the adapter's own */
    unsigned losses, good;        /* in live data, since it was set */
    unsigned undo;                /* commands still to be sent */
};

void oxl_poll_timing_forget(struct oxl_poll *p);
void oxl_poll_timing_judge(struct oxl_poll *p, bool lost);
bool oxl_poll_timing_undo(struct oxl_poll *p, int64_t t_us); /* true: a command is on its way */
extern const struct oxl_poll_step oxl_poll_timing_step;

#endif
