#include "proc.h"

/* An emptied converter under rich gas has no oxygen to give: a rear sensor that has been rich and
 * turns lean then gets its oxygen from outside. The front must have been rich for longer than the
 * gas takes to the rear. */
static bool rich_long_enough(const struct oxl_proc *p, double age_s)
{
    double rich_s = 1.0 + age_s;
    if (p->pair.front_kind == OXL_SENSOR_SWITCHING)
        rich_s = fmax(rich_s, oxl_slow_dither_s(oxl_proc_front(p), p->now_us));
    return oxl_proc_lasted(p, p->run.front_rich_us, rich_s);
}

void oxl_leak_watch_sample(struct oxl_leak_watch *w, const struct oxl_proc *p)
{
    /* The front is rich as of its last refresh: both last for one more. */
    double age_s = oxl_refresh_age_s(&p->refreshes.front);
    oxl_proc_since(&w->rear_lean_us,
                   p->run.rear_was_rich && oxl_proc_rear_is_lean(p) && rich_long_enough(p, age_s),
                   p->now_us);
    w->suspected = w->suspected || oxl_proc_lasted(p, w->rear_lean_us, 0.25 + age_s);
}

oxl_reasons oxl_leak_watch_reasons(const struct oxl_leak_watch *w)
{
    return w->suspected ? OXL_REASON_BIT(OXL_R_LEAK_SUSPECTED) : 0;
}

void oxl_leak_watch_forget_run(struct oxl_leak_watch *w)
{
    w->rear_lean_us = 0;
}
