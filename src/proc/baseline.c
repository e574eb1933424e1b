/* Baseline: the steady engine from which the shift is counted. */
#include "proc.h"

#include <stdio.h>

/* Closed-loop trims move by themselves; a fall this fast within the window is gas or purge. */
static const double residual_slope_pct_s = -0.8;
/* Trims that still come back from the last run fit into the band but lean the front sensor's
 * resting level: a trim that drifts by 0.06 %/s with a time constant of 6 s stands 0.4 % off
 * balance. Cars whose trims never rest are taken as they are after a while. */
static const double drift_max_pct_s = 0.06;
static const double drift_patience_s = 30.0;
/* Windows of ten seconds do not change quicker. */
static const double look_every_s = 0.1;
static const double undecided_patience_s = 12.0;
/* Time to read the line and to pass it by hand, if that is wanted. */
static const double hopeless_patience_s = 60.0;
/* "now" accepts what there is when at least this much of the window is filled. */
static const double override_min_s = 3.0;

void oxl_baseline_start(struct oxl_proc *p)
{
    p->settling.rest_lambda = NAN;
}

void oxl_baseline_enter(struct oxl_proc *p)
{
    p->base.known = false;
    p->settling.raised_us = 0;
    /* A run begins with its baseline, so here the last one's traces are forgotten. */
    oxl_run_forget(p);
    oxl_deeper_forget(p);
    oxl_patterns_forget_run(&p->patterns);
    oxl_leak_watch_forget_run(&p->leak_watch);
    oxl_balance_forget_run(&p->balance);
    oxl_gas_wait(p, OXL_ADV_STEADY);
}

static void measure_base(struct oxl_proc *p, const struct oxl_window_stats *trim)
{
    struct oxl_window_stats rpm =
        oxl_proc_last(p, oxl_proc_trace(p, OXL_Q_RPM), p->profile.window_s);
    struct oxl_window_stats front = oxl_proc_last(p, oxl_proc_front(p), p->profile.window_s);
    struct oxl_window_stats rear = oxl_proc_last(p, oxl_proc_rear(p), p->profile.window_s);
    p->base = (struct oxl_baseline){
        .known = true,
        .trim_pct = trim->mean,
        .trim_sd_pct = trim->sd,
        .rpm = rpm.mean,
        .front_level = front.mean,
        .front_noise = front.sd,
        .rear_level = rear.mean,
        .rear_noise = rear.sd,
        .swing_s = oxl_loop_swing_s(p, &front),
    };
}

/* Trims that are still coming back from the last run leave the mixture a little lean, and a small
 * store behind it shows that: such a rear does not rest lean by itself. */
bool oxl_baseline_front_lean(const struct oxl_proc *p)
{
    const double leaner = 0.0007; /* a third of the way from balance to 0.12 V (Nernst) */
    return p->pair.front_kind == OXL_SENSOR_WIDE &&
           p->base.front_level > p->settling.rest_lambda + leaner;
}

static void say_base(struct oxl_proc *p)
{
    struct oxl_event ev = {.kind = OXL_EV_BASELINE, .t_us = p->now_us};
    ev.u.baseline.trim_pct = p->base.trim_pct;
    ev.u.baseline.trim_sd_pct = p->base.trim_sd_pct;
    ev.u.baseline.rpm = p->base.rpm;
    ev.u.baseline.front_level = p->base.front_level;
    ev.u.baseline.rear_level = p->base.rear_level;
    p->emit(p->ctx, &ev);
}

/* Gas is asked for behind a baseline only: never without both sensors. */
static bool sensors_live(const struct oxl_proc *p)
{
    const double fresh_s = 5; /* the slowest link asks for each more often */
    return oxl_proc_sensors_live(p, OXL_S_US(fresh_s));
}

static void take(struct oxl_proc *p, const struct oxl_window_stats *trim)
{
    double before_pct = p->kept.runs_n > 0 ? p->base.trim_pct : NAN;
    measure_base(p, trim);
    oxl_balance_baseline(p, before_pct);
    if (!oxl_known(p->settling.rest_lambda))
        p->settling.rest_lambda = p->base.front_level;
    say_base(p);
    oxl_patterns_apply(&p->patterns, p, OXL_AT_BASELINE);
    oxl_engine_say_trim_room(p);
    oxl_loop_say_mixture(p);
    oxl_banks_show(&p->banks, p);
    oxl_proc_enter(p, OXL_STATE_ENRICHMENT);
}

static bool rpm_steady(const struct oxl_proc *p)
{
    struct oxl_window_stats rpm =
        oxl_proc_last(p, oxl_proc_trace(p, OXL_Q_RPM), p->profile.window_s);
    if (rpm.count < 2)
        return true; /* not reported: cannot hold the test up */
    return rpm.max - rpm.min <= p->profile.rpm_band && rpm.mean <= p->profile.rpm_max;
}

static bool loop_closed(const struct oxl_proc *p)
{
    return !oxl_proc_loop_open(p, 15);
}

/* A hand on the throttle: no band of trims or speed is met so, and none would be a baseline at
 * idle. The minute runs until the speed is clearly below the limit: with each swing of one that
 * swings about it, it would begin again. */
static bool speed_raised(struct oxl_proc *p)
{
    const double held_s = 2.0, limit = p->profile.rpm_max;
    struct oxl_window_stats rpm = oxl_proc_last(p, oxl_proc_trace(p, OXL_Q_RPM), held_s);
    if (rpm.count > 0 && rpm.max < limit - p->profile.rpm_band)
        p->settling.raised_us = 0;
    if (rpm.count > 0 && rpm.min > limit && !p->settling.raised_us)
        p->settling.raised_us = p->now_us;
    return rpm.count > 0 && rpm.min > limit;
}

static void begin_now(struct oxl_proc *p)
{
    oxl_proc_count_from(p, p->now_us);
    oxl_proc_tell(p, OXL_ADV_STEADY);
}

bool oxl_baseline_crossed(const struct oxl_proc *p)
{
    return p->banks.crossed && !p->settling.crossed_passed;
}

/* True while the engine has to be warmed again. Nobody raises the speed: go on, and say so. */
static bool rewarming(struct oxl_proc *p)
{
    const double patience_s = 30;
    int64_t *told_us = &p->settling.rewarm_us;
    if (!oxl_engine_idled_long(p)) {
        bool done = *told_us != 0;
        *told_us = 0;
        if (done)
            begin_now(p);
        return done;
    }
    if (!*told_us) {
        *told_us = p->now_us;
        oxl_proc_tell(p, OXL_ADV_REWARM);
    }
    return p->engine.raised_us || !oxl_proc_lasted(p, *told_us, patience_s);
}

/* What has to be fixed first; it is said. */
/* Closed by its status, and no front that stands far lean all the same. */
static bool loop_controls(const struct oxl_proc *p)
{
    return loop_closed(p) && !(p->source.hand && oxl_engine_front_far_lean(p));
}

static bool held_up(struct oxl_proc *p)
{
    double trim_pct = oxl_proc_trim_stats(p, 2.0).mean;
    if (oxl_gas_holds(p))
        return true; /* said there */
    if (oxl_baseline_crossed(p)) {
        oxl_proc_tell(p, OXL_ADV_CROSSED);
    } else if (!loop_controls(p)) {
        oxl_proc_tell(p, OXL_ADV_WAIT_CLOSED_LOOP);
    } else if (rewarming(p)) {
        return true; /* said there */
    } else if (oxl_engine_trim_frozen(p)) {
        oxl_proc_tell(p, OXL_ADV_TRIM_FROZEN);
    } else if (speed_raised(p)) {
        oxl_proc_say(p, OXL_ADV_LET_IDLE, "below %.0f rpm", p->profile.rpm_max);
    } else if (trim_pct > p->profile.opening_max_pct) {
        oxl_gas_forget_rest(p); /* what falls when it is shut is no gas */
        oxl_proc_say(p, OXL_ADV_OPENING_TOO_LARGE, "total trim %+.0f %%", trim_pct);
    } else {
        return false;
    }
    return true;
}

static void say_what_moves(struct oxl_proc *p)
{
    char why[128];
    oxl_idle_cause(p, why, sizeof why);
    oxl_proc_say(p, OXL_ADV_NOT_STEADY, "%s", why);
}

void oxl_baseline_data(struct oxl_proc *p, const struct oxl_sample *s)
{
    if (!oxl_proc_is_trim(p, s))
        return;
    if (!oxl_run_look_again(p, look_every_s))
        return;
    const struct oxl_profile *f = &p->profile;
    struct oxl_window_stats trim = oxl_proc_trim_stats(p, f->window_s);
    if (trim.count < 3)
        return;
    if (held_up(p) || !sensors_live(p))
        return;
    bool steady = trim.max - trim.min <= f->band_pct && rpm_steady(p);
    /* The window must lie inside this state, else the tail of the last run would count. */
    bool full = p->now_us - p->entered_us >= OXL_S_US(f->window_s) &&
                trim.span_us >= OXL_S_US(0.9 * f->window_s);
    bool at_rest = !p->source.waits || fabs(trim.slope_per_s) <= drift_max_pct_s ||
                   p->now_us - p->entered_us >= OXL_S_US(drift_patience_s);
    bool undecided = oxl_patterns_undecided(p) &&
                     p->now_us - p->entered_us < OXL_S_US(f->window_s + undecided_patience_s);
    if (p->gas.drip_us || (steady && full && at_rest && !undecided)) {
        if (!oxl_gas_drips(p, trim.mean))
            take(p, &trim);
    } else if (steady)
        oxl_proc_tell(p, OXL_ADV_STEADY);
    else if (full && trim.slope_per_s < residual_slope_pct_s)
        oxl_proc_tell(p, OXL_ADV_RESIDUAL_GAS);
    else if (full)
        say_what_moves(p);
}

void oxl_baseline_pass(struct oxl_proc *p)
{
    struct oxl_window_stats trim = oxl_proc_trim_stats(p, p->profile.window_s);
    if (p->link.lost_us || p->link.state == OXL_LINK_STALLED || !sensors_live(p)) {
        oxl_proc_mark(p, "now (no data to take a baseline from)");
        return;
    }
    if (oxl_gas_pass(p))
        return;
    if (trim.count < 3 || trim.span_us < OXL_S_US(override_min_s) ||
        p->now_us - p->entered_us < OXL_S_US(override_min_s)) {
        oxl_proc_mark(p, "now (too little data for a baseline yet)");
        return;
    }
    p->settling.crossed_passed = true;
    oxl_kept_reason(p, OXL_R_OVERRIDDEN);
    oxl_proc_mark(p, "overridden: the baseline was not steady");
    oxl_proc_tell(p, OXL_ADV_OVERRIDE);
    take(p, &trim);
}

/* The gas of a table may come minutes after the first baseline: until it does the baseline goes
 * along with the engine, as long as nothing moves. */
void oxl_baseline_follow(struct oxl_proc *p)
{
    const double quiet_pct = 1.5, worth_pct = 0.3;
    struct oxl_window_stats trim = oxl_proc_trim_stats(p, p->profile.window_s);
    double off = trim.mean - p->base.trim_pct, now = oxl_proc_shift_pct(p);
    if (trim.count < 3 || trim.span_us < OXL_S_US(0.9 * p->profile.window_s) ||
        trim.max - trim.min > p->profile.band_pct || !(fabs(off) < quiet_pct) ||
        !(fabs(now) < quiet_pct) || fabs(off) < worth_pct || !rpm_steady(p))
        return;
    measure_base(p, &trim);
    say_base(p);
}

/* Nothing that warmth or time mends. */
static bool hopeless(const struct oxl_proc *p)
{
    return p->advice == OXL_ADV_CROSSED || p->advice == OXL_ADV_WAIT_CLOSED_LOOP ||
           (p->advice == OXL_ADV_TRIM_FROZEN && oxl_patterns_shown_frozen(p));
}

static double patience_s(const struct oxl_proc *p)
{
    return p->advice == OXL_ADV_WAIT_CLOSED_LOOP ? oxl_precheck_loop_patience_s(p)
                                                 : hopeless_patience_s;
}

int64_t oxl_baseline_due(const struct oxl_proc *p)
{
    if (hopeless(p))
        return p->advice_us + OXL_S_US(patience_s(p));
    int64_t due_us = p->entered_us + OXL_S_US(p->profile.baseline_limit_s);
    if (p->settling.raised_us)
        due_us = oxl_earlier_us(due_us, p->settling.raised_us + OXL_S_US(hopeless_patience_s));
    return oxl_earlier_us(oxl_gas_hold_due(p), due_us);
}

static void stop_unsteady(struct oxl_proc *p)
{
    char why[128];
    double rpm_max = p->profile.rpm_max;
    if (p->settling.raised_us ||
        oxl_proc_mean(p, oxl_proc_trace(p, OXL_Q_RPM), p->profile.window_s) > rpm_max) {
        oxl_proc_stop(p, OXL_ERR_STOPPED,
                      "Engine speed above %.0f rpm: too fast for this test on this link. Let the "
                      "engine idle, then test again.",
                      rpm_max);
        return;
    }
    if (p->advice == OXL_ADV_OPENING_TOO_LARGE) {
        oxl_proc_stop(
            p, OXL_ERR_STOPPED,
            "Total trim above %+.0f %% for %.0f s. Use a smaller opening. With none open, "
            "look for unmetered air or a wrong air meter, then test again.",
            p->profile.opening_max_pct, p->profile.baseline_limit_s);
        return;
    }
    oxl_idle_cause(p, why, sizeof why);
    oxl_proc_stop(p, OXL_ERR_STOPPED, "No steady baseline for %.0f s. %s",
                  p->profile.baseline_limit_s,
                  why[0] ? why : "Look for what moves trims or engine speed.");
}

void oxl_baseline_time(struct oxl_proc *p)
{
    if (p->now_us >= oxl_gas_hold_due(p)) {
        if (oxl_gas_gave_up(p))
            return;
        begin_now(p);
        return;
    }
    if (p->advice == OXL_ADV_CROSSED)
        oxl_proc_stop(
            p, OXL_ERR_UNSUITABLE,
            "The front sensors seem crossed between the banks. Trace their connectors, then "
            "test again.");
    else if (oxl_deeper_give_up(p))
        return; /* there are runs to judge by */
    else if (p->advice == OXL_ADV_TRIM_FROZEN)
        oxl_proc_stop(p, OXL_ERR_UNSUITABLE,
                      "The short-term trim stands at exactly 0 %%: no closed loop, whatever the "
                      "status says. See the trouble codes, then test again.");
    else if (!sensors_live(p))
        oxl_proc_stop(p, OXL_ERR_STOPPED,
                      "The front or the rear sensor gives no value any more: see its wiring and "
                      "connector, then test again.");
    else if (loop_controls(p))
        stop_unsteady(p);
    else
        oxl_proc_stop(p, OXL_ERR_UNSUITABLE,
                      "No closed loop for %.0f s. See the trouble codes, then test again.",
                      patience_s(p));
}
