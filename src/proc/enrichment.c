/* Enrichment: propane is added until the total trim has moved to its target. The ECU takes fuel
 * away until lambda is back at 1 while the gas still flows, so the front sensor does not stay
 * rich: that it has been rich is enough. The cut is called only while the rear is rich. */
#include "proc.h"

/* No hand is quicker than that. */
static const double look_every_s = 0.04;
/* Trims that have moved this far are moved by gas, not by themselves (real idle logs: a fall of
 * 11 % within 30 s occurs without gas, so this starts the clock for heat but proves nothing). */
static const double gas_seen_pct = -5.0;
/* Above this there is no sign of gas; the oxygen it removes is counted from there. */
static const double quiet_pct = -1.5;
/* An opened port moves the trims up; the baseline is taken again. */
static const double opened_pct = 5.0;
static const double no_effect_after_s = 20.0;
/* A shift deeper than accepted is cut after this long: a good delay from it still stands. */
static const double over_patience_s = 6.0;
/* Front rich this long without any shift: the trims do not follow. */
static const double frozen_after_s = 5.0;
static const double frozen_within_pct = 1.5;
/* Advice that depends on small movements stands at least this long, so that it can be followed. */
static const double advice_dwell_s = 1.5;

void oxl_enrich_say_open(struct oxl_proc *p)
{
    if (p->run.shift_start_us)
        return;
    oxl_proc_say(p, p->run.plan.add, "Want %.0f %%.", p->run.plan.target_pct);
}

void oxl_enrich_enter(struct oxl_proc *p)
{
    p->enrich = (struct oxl_enrich){0};
    oxl_refreshes_find(&p->refreshes, p);
    oxl_gas_called_for(p);
    oxl_enrich_say_open(p);
}

void oxl_enrich_release(struct oxl_proc *p)
{
    oxl_run_cut(p, p->now_us);
}

void oxl_enrich_cut(struct oxl_proc *p)
{
    oxl_proc_mark(p, "cut by hand");
    oxl_enrich_release(p);
}

/* The total trim has come half way back since then. A switching front does not say how lean it is,
 * and a hand that takes a little gas away makes it lean for seconds, too; a link that always meets
 * a dither at the same place sees the same. */
static bool trims_back_since(struct oxl_proc *p, int64_t then_us, double shift)
{
    const double share = 0.5;
    const int64_t window_us = OXL_S_US(1.5);
    size_t n = oxl_proc_trim_window(p, then_us - window_us, then_us);
    struct oxl_window_stats w =
        oxl_trace_window((struct oxl_trace){p->trim, n}, then_us - window_us, then_us);
    return w.count > 0 && shift + p->base.trim_pct - w.mean > -share * p->run.deepest_pct;
}

/* The technician cut without waiting for the call: the front stands as lean as a full release
 * makes it. A wide-range front says how lean, soon after it went lean; a partly closed valve gives
 * less, and while the trims come back from that, ever less would do. */
static bool cut_unasked(struct oxl_proc *p, double shift)
{
    if (!p->run.shift_start_us || p->run.deepest_pct > p->profile.accept_high_pct * 0.5)
        return false;
    const int64_t soon_us = OXL_S_US(4.0);
    struct oxl_lean_rule rule = oxl_proc_front_rule(p);
    int64_t from_us = p->run.shift_start_us;
    if (rule.kind == OXL_SENSOR_WIDE && from_us < p->now_us - soon_us)
        from_us = p->now_us - soon_us;
    struct oxl_moment lean = oxl_find_lean(oxl_proc_front(p), &rule, from_us, p->now_us, NULL);
    if (!lean.found)
        return false;
    if (rule.kind == OXL_SENSOR_WIDE) {
        double mean = oxl_proc_mean(p, oxl_proc_front(p), 0.5);
        double expected = -shift / (100.0 + p->base.trim_pct);
        if (!(1.0 - 1.0 / mean > 0.6 * expected))
            return false;
    } else if (!trims_back_since(p, lean.t_us, shift)) {
        return false;
    }
    oxl_proc_mark(p,
                  p->source.calls ? "gas was cut before the call" : "release found in the table");
    oxl_run_cut(p, lean.low_us);
    return true;
}

static bool trims_are_still(const struct oxl_proc *p)
{
    struct oxl_window_stats w = oxl_proc_trim_stats(p, 3.0);
    return w.span_us >= OXL_S_US(2.5) && fabs(w.slope_per_s) < 0.3;
}

/* The trims have taken all the gas away again: the mixture is at balance, and no more oxygen leaves
 * the store however long it is held. */
static bool nothing_gained(const struct oxl_proc *p)
{
    const double rich_pct = 1.0;
    bool told = p->advice == OXL_ADV_HOLD || p->advice == OXL_ADV_WAIT_RICH;
    double rich = oxl_proc_front_rich(p);
    return p->rules->until_decided && told &&
           (oxl_known(rich) ? 100 * rich < rich_pct : trims_are_still(p));
}

/* In the accepted range for the hold time, rear rich, and at the target; or, told to hold, with
 * nothing more to be gained; or, when it will not come nearer, settled short of it. */
static bool hold_complete(const struct oxl_proc *p, double shift)
{
    const struct oxl_depth_plan *f = &p->run.plan;
    const double near_pct = 2.0, settled_slope_pct_s = 0.3;
    if (!oxl_proc_lasted(p, p->enrich.in_range_us, f->hold_s) || !p->run.rear_was_rich ||
        !oxl_proc_rear_is_rich(p))
        return false;
    if (fabs(shift - f->target_pct) <= near_pct || nothing_gained(p))
        return true;
    return oxl_proc_lasted(p, p->enrich.in_range_us, 5 * f->hold_s) &&
           fabs(oxl_proc_trim_stats(p, 3.0).slope_per_s) < settled_slope_pct_s;
}

/* Where the trims are going: integrators follow the gas by seconds. A wide-range front shows the
 * gas that they have not yet taken up, 1/lambda - 1 of the fuel (closed loop ends at lambda 1);
 * with a switching one their own slope has to do. */
double oxl_enrich_heading_pct(const struct oxl_proc *p, double shift)
{
    double rich = oxl_proc_front_rich(p);
    if (oxl_known(rich))
        return shift - 100.0 * rich;
    struct oxl_window_stats w = oxl_proc_trim_stats(p, 2.0);
    return oxl_known(w.slope_per_s) ? shift + 2.0 * w.slope_per_s : shift;
}

static enum oxl_advice gauge_advice(const struct oxl_proc *p, double shift, double heading)
{
    const struct oxl_depth_plan *f = &p->run.plan;
    double deepest = fmin(shift, heading);
    if (deepest <= f->back_off_pct)
        return OXL_ADV_BACK_OFF;
    if (deepest < f->accept_low_pct)
        return OXL_ADV_TOO_MUCH;
    if (oxl_proc_lasted(p, p->enrich.in_range_us, f->hold_s) && !oxl_proc_rear_is_rich(p))
        return OXL_ADV_WAIT_RICH;
    if (heading <= f->slow_pct)
        return OXL_ADV_HOLD;
    /* Once held, only a clear loss asks for more. */
    if (p->advice == OXL_ADV_HOLD && heading <= f->accept_high_pct)
        return OXL_ADV_HOLD;
    if (p->run.shift_start_us && trims_are_still(p))
        return OXL_ADV_MORE;
    if (heading <= f->accept_high_pct)
        return OXL_ADV_SLOW;
    return p->advice == OXL_ADV_MORE || p->advice == OXL_ADV_NO_EFFECT ? p->advice
                                                                       : OXL_ADV_ADD_GAS;
}

/* The short-term trim does not move a step under a front that stays rich: it can go no further.
 * A slow loop that still works moves a step of the byte (0.8 %) within four seconds. */
bool oxl_enrich_at_limit(const struct oxl_proc *p, double shift)
{
    const double rich_s = 4.0, far_rich = 0.97;
    if (shift >= gas_seen_pct || !oxl_proc_lasted(p, p->run.front_rich_us, rich_s))
        return false;
    struct oxl_window_stats w = oxl_proc_last(p, oxl_proc_trace(p, OXL_Q_STFT_PCT), rich_s);
    /* A wide-range front a hair off balance may stay so for seconds. */
    if (p->pair.front_kind == OXL_SENSOR_WIDE &&
        !(oxl_proc_mean(p, oxl_proc_front(p), 2.0) < far_rich))
        return false;
    return w.count > 3 && w.span_us > OXL_S_US(0.8 * rich_s) && w.max - w.min <= 0;
}

static void advise(struct oxl_proc *p, double shift)
{
    if (oxl_enrich_at_limit(p, shift)) {
        oxl_run_flaw(p, OXL_R_TRIM_AT_LIMIT, true);
        oxl_loop_say_limit(p);
        oxl_proc_tell(p, OXL_ADV_TRIM_LIMIT);
        return;
    }
    double heading = oxl_enrich_heading_pct(p, shift);
    enum oxl_advice a = gauge_advice(p, shift, heading);
    bool urgent = a == OXL_ADV_BACK_OFF || a == OXL_ADV_TOO_MUCH ||
                  (a == OXL_ADV_HOLD && p->advice != OXL_ADV_WAIT_RICH);
    if (urgent || p->now_us - p->advice_us >= OXL_S_US(advice_dwell_s))
        oxl_proc_say(p, a, "Will settle near %.0f %%, want %.0f %%.", heading,
                     p->run.plan.target_pct);
}

static bool stumbles(const struct oxl_proc *p)
{
    double rpm = oxl_proc_latest(p, OXL_Q_RPM, OXL_FRESH_US);
    return oxl_known(rpm) && oxl_known(p->base.rpm) &&
           rpm < p->base.rpm * (1.0 - p->profile.rpm_drop_pct / 100.0);
}

/* Speed density or a frozen trim: go by the front sensor, and say that the depth is unknown. */
static bool by_front_only(struct oxl_proc *p, double shift)
{
    if (fabs(shift) > frozen_within_pct) /* they do follow after all */
        oxl_run_flaw(p, OXL_R_DEPTH_UNKNOWN, false);
    if (fabs(shift) > frozen_within_pct ||
        !oxl_proc_lasted(p, p->run.front_rich_us, frozen_after_s))
        return false;
    oxl_run_flaw(p, OXL_R_DEPTH_UNKNOWN, true);
    oxl_proc_tell(p, OXL_ADV_DEPTH_UNKNOWN);
    if (oxl_proc_lasted(p, p->run.front_rich_us, frozen_after_s + 2 * p->profile.hold_s) &&
        oxl_proc_rear_is_rich(p))
        oxl_enrich_release(p);
    return true;
}

/* Trims that no longer answer to the gas make no lean step when it is cut. */
static bool loop_left(const struct oxl_proc *p)
{
    return p->source.hand && p->run.shift_start_us && p->run.front_was_rich &&
           oxl_proc_loop_open(p, 3);
}

void oxl_enrich_data(struct oxl_proc *p, const struct oxl_sample *s)
{
    oxl_deeper_sample(p, s);
    if (!oxl_proc_is_trim(p, s) || !oxl_run_look_again(p, look_every_s))
        return;
    double shift = oxl_proc_shift_pct(p);
    if (!oxl_known(shift))
        return;
    const struct oxl_depth_plan *f = &p->run.plan;
    if (shift > quiet_pct && !p->run.front_rich_us)
        p->enrich.quiet_us = p->now_us;
    int64_t gas_us = p->enrich.quiet_us ? p->enrich.quiet_us : p->entered_us;
    oxl_run_note_shift(p, shift, shift < gas_seen_pct ? gas_us : 0);
    if (!p->source.calls && !p->run.shift_start_us)
        oxl_baseline_follow(p);
    oxl_proc_since(&p->enrich.moved_up_us, !p->run.shift_start_us && shift > opened_pct, p->now_us);
    oxl_proc_since(&p->enrich.in_range_us,
                   shift <= f->accept_high_pct && shift >= f->accept_low_pct, p->now_us);
    oxl_proc_since(&p->enrich.over_us, shift < f->accept_low_pct, p->now_us);
    if (oxl_proc_lasted(p, p->enrich.moved_up_us, 2.0)) {
        oxl_proc_mark(p, "trims moved up: an opened port; new baseline");
        oxl_proc_enter(p, OXL_STATE_BASELINE);
    } else if (stumbles(p)) {
        oxl_run_flaw(p, OXL_R_RPM_DROP, true);
        oxl_proc_tell(p, OXL_ADV_STUMBLE);
    } else if (loop_left(p)) {
        oxl_loop_say_left(p);
        oxl_run_void(p, OXL_R_NOT_CLOSED_LOOP);
        oxl_proc_enter(p, OXL_STATE_RECOVERY);
    } else if (cut_unasked(p, shift) || !p->source.calls || by_front_only(p, shift)) {
        return; /* a table has nobody to call: only the release itself counts */
    } else if (oxl_run_is_deeper(p)) {
        oxl_deeper_enrich(p, shift);
    } else if (hold_complete(p, shift) || (oxl_proc_lasted(p, p->enrich.over_us, over_patience_s) &&
                                           oxl_proc_rear_is_rich(p))) {
        oxl_enrich_release(p);
    } else {
        advise(p, shift);
    }
}

static int64_t heat_due(const struct oxl_proc *p)
{
    int64_t start_us = p->run.shift_start_us ? p->run.shift_start_us : INT64_MAX;
    if (p->run.front_rich_us && p->run.front_rich_us < start_us)
        start_us = p->run.front_rich_us;
    return start_us == INT64_MAX ? INT64_MAX : start_us + OXL_S_US(p->profile.enrich_limit_s);
}

int64_t oxl_enrich_heat_due(const struct oxl_proc *p)
{
    return oxl_earlier_us(heat_due(p), oxl_deeper_heat_due(p));
}

static int64_t no_effect_due(const struct oxl_proc *p)
{
    bool asked = p->advice == p->run.plan.add;
    if (p->run.shift_start_us || p->advice == OXL_ADV_NO_EFFECT)
        return INT64_MAX;
    return (asked ? p->advice_us : p->entered_us) + OXL_S_US(no_effect_after_s);
}

static int64_t give_up_due(const struct oxl_proc *p)
{
    if (p->run.shift_start_us)
        return INT64_MAX;
    return p->entered_us + OXL_S_US(p->profile.baseline_limit_s);
}

int64_t oxl_enrich_due(const struct oxl_proc *p)
{
    return oxl_earlier_us(oxl_earlier_us(heat_due(p), oxl_deeper_due(p)),
                          oxl_earlier_us(no_effect_due(p), give_up_due(p)));
}

void oxl_enrich_time(struct oxl_proc *p)
{
    if (p->now_us >= oxl_deeper_due(p)) {
        oxl_deeper_time(p);
    } else if (p->now_us >= heat_due(p)) {
        oxl_run_flaw(p, OXL_R_TIME_LIMIT, true);
        oxl_enrich_release(p);
        oxl_proc_tell(p, OXL_ADV_CUT_HEAT);
    } else if (p->now_us >= give_up_due(p)) {
        oxl_proc_stop(p, OXL_ERR_STOPPED, "No gas was seen for %.0f s: check cylinder, hose, port.",
                      p->profile.baseline_limit_s);
    } else if (p->now_us >= no_effect_due(p)) {
        oxl_proc_tell(p, OXL_ADV_NO_EFFECT);
    }
}
