/* Watch: what the ECU does with its loop under the gas: trims at their limit, closed loop left. */
#ifndef OXL_PROC_WATCH_LOOP_H
#define OXL_PROC_WATCH_LOOP_H

#include "oxylag/measure.h"

struct oxl_proc;

struct oxl_loop_watch {
    bool was_closed;         /* without a fault, since the survey */
    bool fault, limit, left; /* told */
};

void oxl_loop_sample(struct oxl_loop_watch *w, const struct oxl_proc *p,
                     const struct oxl_sample *s);
/* Told once: the trims can go no further. */
void oxl_loop_say_limit(struct oxl_proc *p);
/* Told once: the loop has opened while gas flows. */
void oxl_loop_say_left(struct oxl_proc *p);

#endif
