#include "gas.h"

#include <stdio.h>

#include "proc.h"

static const double gone_for_s = 3.0;
static const double hint_s = 15.0; /* then it is said that space goes on */
/* Trims that fell this far at idle, with no gas asked for, are asked about. Idle trims wander by
 * one or two per cent; a wrong question costs some seconds and nothing else. */
static const double drip_pct = 2.5;
static const double sparse_drip_pct = 4.0;  /* a few samples make no better mean */
static const double drip_patience_s = 15.0; /* trims with a time constant of 6 s are back by then */
/* A fall beyond this is no drip: an open valve, or a port that was shut. Asked about every time,
 * and longer. */
static const double large_pct = 8.0;
static const double large_patience_s = 30.0;

void oxl_gas_start(struct oxl_proc *p)
{
    p->gas = (struct oxl_gas){.rest_pct = NAN, .highest_pct = NAN};
}

void oxl_gas_called_for(struct oxl_proc *p)
{
    if (!p->source.hand)
        return;
    p->gas.asked = true;
    p->gas.cut_seen = false;
    p->gas.rest_pct = p->base.trim_pct;
    p->gas.gone_us = 0;
    p->gas.hinted = false;
}

void oxl_gas_cut_seen(struct oxl_proc *p)
{
    p->gas.cut_seen = true;
}

bool oxl_gas_may_flow(const struct oxl_proc *p)
{
    return p->gas.asked && !p->gas.cut_seen;
}

static void say_step(struct oxl_proc *p)
{
    oxl_proc_tell(p, oxl_gas_may_flow(p) ? OXL_ADV_SHUT_VALVE
                     : p->gas.asked      ? OXL_ADV_RECOVER
                                         : p->gas.then);
}

void oxl_gas_wait(struct oxl_proc *p, enum oxl_advice then)
{
    p->gas.hold_us = p->gas.asked ? p->now_us : 0;
    p->gas.then = then;
    say_step(p);
}

/* What else was said since stands. */
static void wait_over(struct oxl_proc *p)
{
    if (p->gas.hold_us && (p->advice == OXL_ADV_SHUT_VALVE || p->advice == OXL_ADV_RECOVER))
        say_step(p);
}

void oxl_gas_next_state(struct oxl_proc *p)
{
    p->gas.hold_us = p->gas.drip_us = 0;
}

void oxl_gas_forget_rest(struct oxl_proc *p)
{
    p->gas.highest_pct = NAN;
}

void oxl_gas_say_shut(struct oxl_proc *p)
{
    if (oxl_gas_may_flow(p))
        oxl_proc_tell(p, OXL_ADV_SHUT_VALVE);
}

/* Trims show gas only in an engine that turns, in closed loop. */
static bool trims_show(const struct oxl_proc *p)
{
    return !oxl_proc_loop_open(p, 15) &&
           !(oxl_proc_latest(p, OXL_Q_RPM, OXL_S_US(15)) < OXL_LEAST_RPM);
}

/* Closed loop takes away what gas brings, so trims back at rest, or above it, leave none. A
 * switching front is rich half of the time: only a stay counts. */
static void watch_gone(struct oxl_proc *p, double trim_pct)
{
    const double stay_s = 1.5;
    struct oxl_gas *g = &p->gas;
    oxl_proc_since(&g->rich_us, oxl_proc_front_is_rich(p), p->now_us);
    bool back = trims_show(p) && trim_pct >= g->rest_pct - 0.5 * p->profile.band_pct &&
                !oxl_proc_lasted(p, g->rich_us, stay_s);
    oxl_proc_since(&g->gone_us, back, p->now_us);
    if (!oxl_proc_lasted(p, g->gone_us, gone_for_s))
        return;
    g->asked = false;
    wait_over(p);
}

/* The highest that the trims have stood at a calm idle before any gas was asked for: over some
 * seconds, longer where samples are few, so that no dither counts. */
static void watch_rest(struct oxl_proc *p)
{
    const double short_s = 3.0, long_s = 8.0, still_pct = 3.0;
    const size_t enough = 20;
    struct oxl_window_stats w = oxl_proc_trim_stats(p, short_s);
    if (w.count < enough)
        w = oxl_proc_trim_stats(p, long_s);
    double rpm = oxl_proc_latest(p, OXL_Q_RPM, OXL_FRESH_US);
    double least_s = w.count < enough ? 0.8 * long_s : 0.6 * short_s;
    if (w.count < 3 || w.span_us < OXL_S_US(least_s) || w.max - w.min > still_pct ||
        rpm > p->profile.rpm_max)
        return;
    p->gas.sparse = w.count < enough;
    if (!oxl_known(p->gas.highest_pct) || w.mean > p->gas.highest_pct)
        p->gas.highest_pct = w.mean;
}

void oxl_gas_data(struct oxl_proc *p, const struct oxl_sample *s)
{
    if (oxl_state_row(p->state)->in_run || !oxl_proc_is_trim(p, s))
        return;
    double trim_pct = oxl_proc_trim_stats(p, 1.0).mean;
    if (p->gas.asked && oxl_known(trim_pct))
        watch_gone(p, trim_pct);
    else if (p->run.number <= 1 && !p->gas.drip_done)
        watch_rest(p);
}

bool oxl_gas_gave_up(struct oxl_proc *p)
{
    if (!oxl_gas_may_flow(p)) {
        p->gas.asked = false;
        wait_over(p);
        p->gas.hold_us = 0;
        p->gas.highest_pct = NAN; /* valve and cylinder were called for: this is where it rests */
        oxl_kept_reason(p, OXL_R_BASELINE_DRIFT);
        return false;
    }
    if (oxl_proc_loop_open(p, 15)) { /* the trims cannot tell */
        oxl_proc_stop(p, OXL_ERR_STOPPED,
                      "Open loop for %.0f s since the gas. Shut the gas, read the trouble codes; "
                      "test again once closed loop is back.",
                      p->profile.recovery_limit_s);
        return true;
    }
    oxl_proc_stop(p, OXL_ERR_STOPPED,
                  "Trims or front sensor still show gas after %.0f s: shut the cylinder, look at "
                  "valve and hose, then test again.",
                  p->profile.recovery_limit_s);
    return true;
}

bool oxl_gas_holds(struct oxl_proc *p)
{
    struct oxl_gas *g = &p->gas;
    if (!g->asked) {
        if (g->hold_us && g->gone_us > p->entered_us)
            oxl_proc_count_from(p, g->gone_us); /* the step began then */
        g->hold_us = 0;
        return false;
    }
    oxl_proc_since(&g->hold_us, true, p->now_us);
    if (p->now_us >= oxl_gas_hold_due(p))
        return oxl_gas_gave_up(p);
    say_step(p);
    if (oxl_gas_may_flow(p) && !g->hinted && oxl_proc_lasted(p, g->hold_us, hint_s)) {
        g->hinted = true;
        oxl_proc_unsay(p);
        oxl_proc_say(p, OXL_ADV_SHUT_VALVE, "%s", "If it is shut, press space.");
    }
    return true;
}

int64_t oxl_gas_hold_due(const struct oxl_proc *p)
{
    return p->gas.hold_us ? p->gas.hold_us + OXL_S_US(p->profile.recovery_limit_s) : INT64_MAX;
}

/* A valve shut only in part lets the front go lean, too. A port that was open at the baseline and
 * is shut now looks the same: so the valve is called for, then the cylinder, and after that the run
 * is taken back as one from a false baseline (recovery.c). */
void oxl_gas_watch_recovery(struct oxl_proc *p)
{
    const double valve_s = 20.0, cylinder_s = 60.0, window_s = 8.0, still_pct_s = 0.1;
    struct oxl_window_stats w = oxl_proc_trim_stats(p, window_s);
    bool low = w.count > 2 && w.max < p->gas.rest_pct - drip_pct && trims_show(p) &&
               fabs(w.slope_per_s) < still_pct_s;
    if (!p->gas.asked || !p->gas.cut_seen || !low)
        return;
    if (oxl_proc_lasted(p, p->entered_us, cylinder_s))
        oxl_proc_tell(p, OXL_ADV_VALVE_DRIPS);
    else if (oxl_proc_lasted(p, p->entered_us, valve_s))
        oxl_proc_tell(p, OXL_ADV_SHUT_VALVE);
}

bool oxl_gas_pass(struct oxl_proc *p)
{
    if (!p->gas.asked)
        return false;
    p->gas.asked = false;
    oxl_proc_count_from(p, p->now_us); /* a second press takes no baseline from before */
    oxl_kept_reason(p, OXL_R_OVERRIDDEN);
    oxl_proc_mark(p, "overridden: the gas is off, as the technician says");
    oxl_proc_tell(p, OXL_ADV_OVERRIDE);
    return true;
}

/* ---- the drip -------------------------------------------------------------------------------- */
static void drip_over(struct oxl_proc *p, bool came_back)
{
    struct oxl_gas *g = &p->gas;
    char found[96];
    snprintf(found, sizeof found,
             came_back
                 ? "trims were %.1f %% low and rose once the valve was seen to: it may drip"
                 : "trims stand %.1f %% lower than before, no gas asked for: drift, or a drip",
             g->fallen_pct);
    oxl_proc_check(p, "gas-drip", came_back ? OXL_GRADE_CAUTION : OXL_GRADE_UNKNOWN, found,
                   came_back ? "See that the valve shuts tight; shut the cylinder between runs."
                             : "Shut the cylinder for a minute: trims that rise then show a drip.");
    if (came_back)
        oxl_kept_reason(p, OXL_R_EARLY_SHIFT);
    g->drip_done = true;
    g->drip_us = 0;
    if (!came_back)
        g->highest_pct -= g->fallen_pct; /* asked and answered: from there the next fall counts */
    oxl_proc_count_from(p, p->now_us);   /* a baseline of its own */
    oxl_proc_tell(p, OXL_ADV_STEADY);
}

static void ask_about_drip(struct oxl_proc *p, enum oxl_advice advice)
{
    p->gas.drip_us = p->now_us;
    oxl_proc_say(p, advice, "trims %.1f %% lower than before", p->gas.fallen_pct);
}

static bool large(const struct oxl_gas *g)
{
    return g->fallen_pct > large_pct;
}

static void watch_drip(struct oxl_proc *p)
{
    struct oxl_gas *g = &p->gas;
    double up_pct = oxl_proc_trim_stats(p, 2.0).mean - (g->highest_pct - g->fallen_pct);
    double patience_s = large(g) ? large_patience_s : drip_patience_s;
    if (up_pct > 0.6 * g->fallen_pct) {
        drip_over(p, true);
    } else if (!oxl_proc_lasted(p, g->drip_us, patience_s)) {
        return;
    } else if (!g->cylinder && (p->kept.runs_n > 0 || large(g))) {
        g->cylinder = true; /* a valve that was never opened is not taken for leaky */
        ask_about_drip(p, OXL_ADV_VALVE_DRIPS);
    } else {
        drip_over(p, false);
    }
}

bool oxl_gas_drips(struct oxl_proc *p, double trim_pct)
{
    struct oxl_gas *g = &p->gas;
    if (g->drip_us) {
        watch_drip(p);
        return true;
    }
    g->fallen_pct = g->highest_pct - trim_pct;
    double least_pct = g->drip_done ? large_pct : g->sparse ? sparse_drip_pct : drip_pct;
    if (!(g->fallen_pct > least_pct))
        return false;
    g->cylinder = false;
    ask_about_drip(p, OXL_ADV_RESIDUAL_GAS);
    return true;
}
