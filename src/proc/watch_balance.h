/* Watch: after the gas, a mixture that is right again while the trims stand elsewhere than at the
 * baseline: fuel came or went beside them. */
#ifndef OXL_PROC_WATCH_BALANCE_H
#define OXL_PROC_WATCH_BALANCE_H

#include "oxylag/measure.h"

struct oxl_proc;

struct oxl_balance_watch {
    int64_t since_us; /* since when it is so; 0: it is not */
    bool told;
};

/* Each short-term trim from front-lean on. */
void oxl_balance_sample(struct oxl_balance_watch *w, const struct oxl_proc *p);
/* A baseline is taken; the one before it, NAN when there was no run since. */
void oxl_balance_baseline(struct oxl_proc *p, double before_pct);
/* Fuel that comes and goes may have done so in the other runs, too: none is a proof of storage. */
oxl_reasons oxl_balance_reasons(const struct oxl_balance_watch *w);
void oxl_balance_forget_run(struct oxl_balance_watch *w);

#endif
