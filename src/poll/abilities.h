/* What adapter and ECU can do, found by behaviour. */
#ifndef OXYLAG_POLL_ABILITIES_H
#define OXYLAG_POLL_ABILITIES_H

#include "oxylag/poll.h"
#include "survey.h"

struct oxl_poll_abilities {
    bool count_multi_frame;  /* the digit may be used for answers of several frames */
    bool all_there;          /* every PID asked for was in the answer */
    unsigned most_pids;      /* in one request, as verified */
    unsigned cuts, refusals; /* in a row: counted answers cut off, counted requests refused */
};

void oxl_poll_abilities_forget(struct oxl_poll *p); /* a survey begins */
void oxl_poll_abilities_live(struct oxl_poll *p);   /* live data begin */
void oxl_poll_digit_worked(struct oxl_poll *p);     /* the counted request was answered */
void oxl_poll_digit_doubted(struct oxl_poll *p, bool refused);
void oxl_poll_pids_at_most(struct oxl_poll *p, unsigned n);
extern const struct oxl_poll_step oxl_poll_count_step, oxl_poll_several_step, oxl_poll_full_step;

#endif
