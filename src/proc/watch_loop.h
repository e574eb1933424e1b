/* Watch: what the ECU does with its loop under the gas: trims at their limit, closed loop left. */
#ifndef OXL_PROC_WATCH_LOOP_H
#define OXL_PROC_WATCH_LOOP_H

#include "oxylag/measure.h"

struct oxl_proc;

struct oxl_loop_watch {
    bool was_closed;         /* without a fault, since the survey */
    bool fault, limit, left; /* told */
    bool target, swing;      /* likewise */
};

void oxl_loop_sample(struct oxl_loop_watch *w, const struct oxl_proc *p,
                     const struct oxl_sample *s);
/* The period with which a wide-range front swings in the baseline's window; 0: it does not. */
double oxl_loop_swing_s(const struct oxl_proc *p, const struct oxl_window_stats *front);
/* With a baseline at hand, each told once: a target other than 1, a mixture that swings. */
void oxl_loop_say_mixture(struct oxl_proc *p);
/* Neither end of a delay is known better than a swing. */
void oxl_loop_widen(const struct oxl_proc *p, struct oxl_span *delay_s);
/* Told once: the trims can go no further. */
void oxl_loop_say_limit(struct oxl_proc *p);
/* Told once: the loop has opened while gas flows. */
void oxl_loop_say_left(struct oxl_proc *p);

#endif
