/* Watch: a rear sensor that goes lean under rich gas. */
#ifndef OXL_PROC_WATCH_LEAK_H
#define OXL_PROC_WATCH_LEAK_H

#include "oxylag/measure.h"

struct oxl_proc;

struct oxl_leak_watch {
    int64_t rear_lean_us; /* since when the rear is lean under a rich front; 0: it is not */
    bool suspected;
};

void oxl_leak_watch_sample(struct oxl_leak_watch *w, const struct oxl_proc *p); /* enrichment */
oxl_reasons oxl_leak_watch_reasons(const struct oxl_leak_watch *w);
void oxl_leak_watch_forget_run(struct oxl_leak_watch *w);

#endif
