/* Closed loop puts the mixture right by the trims alone. Where it is right and the trims are not
 * back, something else feeds the engine that did not at the baseline: purge, or gas. Then nobody
 * knows how lean the gas was, nor for how long. */
#include "proc.h"

#include <stdio.h>

static const double window_s = 3.0, lasts_s = 2.0;
/* More than idle trims wander in a run (real idle logs: half of 7 % in ten seconds). */
static const double off_pct = 5.0;

/* A wide-range front at its level; a switching one that crosses both ways. */
static bool mixture_right(const struct oxl_proc *p)
{
    const double near_lambda = 0.015;
    struct oxl_window_stats w = oxl_proc_last(p, oxl_proc_front(p), window_s);
    if (w.count < 4)
        return false;
    if (p->pair.front_kind == OXL_SENSOR_WIDE)
        return w.max < p->base.front_level + 2 * near_lambda &&
               fabs(w.mean - p->base.front_level) < near_lambda;
    return w.min < p->profile.lean_v && w.max > p->profile.rich_v;
}

/* Fuel that was not there before, or is gone. Trims that come down to balance from well above it
 * show unmetered air that is gone, a port that was shut, and no fuel: that run is taken back
 * (recovery.c). */
static bool fuel_moved(double before_pct, double now_pct)
{
    bool port_shut = before_pct > off_pct && now_pct > -0.5 * off_pct;
    return fabs(now_pct - before_pct) > off_pct && !(port_shut && now_pct < before_pct);
}

static void say(const struct oxl_proc *p, double now_pct)
{
    char found[96];
    snprintf(found, sizeof found,
             "mixture right at trims of %+.0f %%, at the baseline of %+.0f %%: purge, or gas",
             now_pct, p->base.trim_pct);
    oxl_proc_check(p, "purge", OXL_GRADE_CAUTION, found,
                   "Is the valve shut? Clamp the purge hose at the intake for the test, then test "
                   "again.");
}

void oxl_balance_sample(struct oxl_balance_watch *w, const struct oxl_proc *p)
{
    struct oxl_window_stats trim = oxl_proc_trim_stats(p, window_s);
    bool off = p->base.known && trim.count > 2 && fuel_moved(p->base.trim_pct, trim.mean);
    oxl_proc_since(&w->since_us, off && mixture_right(p), p->now_us);
    if (w->told || !oxl_proc_lasted(p, w->since_us, lasts_s))
        return;
    w->told = true;
    say(p, trim.mean);
}

void oxl_balance_baseline(struct oxl_proc *p, double before_pct)
{
    if (p->balance.told || !p->source.hand || !fuel_moved(before_pct, p->base.trim_pct))
        return;
    p->balance.told = true;
    say(p, before_pct);
}

oxl_reasons oxl_balance_reasons(const struct oxl_balance_watch *w)
{
    return w->told ? OXL_REASON_BIT(OXL_R_DEPTH_UNKNOWN) : 0;
}

void oxl_balance_forget_run(struct oxl_balance_watch *w)
{
    w->since_us = 0;
}
