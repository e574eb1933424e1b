#include "parts.h"

/* Found in what was seen at the time, so that it is what the live test found; placed at the moments
 * of the values. */
static struct crossing find_release(const struct run_work *w, const struct oxl_lean_rule *rule)
{
    const struct oxl_run_input *in = w->in;
    struct crossing c =
        oxl_run_find_release(w->seen_front, rule, in->shift_start_us, in->cut_us, in->end_us);
    return oxl_crossing_taken(in->front, &in->front_refresh, rule, &c);
}

static struct crossing find_drop(const struct run_work *w, const struct oxl_lean_rule *rule)
{
    const struct oxl_run_input *in = w->in;
    struct crossing c =
        oxl_run_find_drop(w->seen_rear, rule, &w->out->front_lean, in->shift_start_us, in->end_us);
    return oxl_crossing_taken(in->rear, &in->rear_refresh, rule, &c);
}

/* The front's resting level is a mean over the baseline and may have wandered since: where it stood
 * just before the gas gives another crossing, and the truth lies between the two. */
static void widen_by_level(struct run_work *w, struct oxl_lean_rule rule)
{
    const struct oxl_run_input *in = w->in;
    /* Gas reaches the front before it moves the trims: not up to that moment. */
    const int64_t from_us = in->shift_start_us - 4000000, to_us = in->shift_start_us - 1000000;
    struct oxl_window_stats rest = oxl_trace_window(in->front, from_us, to_us);
    if (rule.kind != OXL_SENSOR_WIDE || rest.count < 3)
        return;
    rule.level += fmax(-rule.step, fmin(rule.step, rest.mean - rule.level));
    struct crossing other = find_release(w, &rule);
    double apart_s = fabs(other.t_s - w->front.t_s);
    if (!other.found || apart_s > 1)
        return;
    w->front.noise_s += apart_s;
    w->front.moment.low_us -= micros(apart_s);
    w->front.moment.high_us += micros(apart_s);
}

/* A link or an ECU as slow as the dither misses rich halves: the crossing that was seen need not be
 * the last one before the gas left. */
static const double slow_round_s = 0.2;

static void widen_slow_front(struct run_work *w, double late_s)
{
    double bracket_s = w->front.after_s - w->front.before_s;
    if (bracket_s < slow_round_s || late_s < bracket_s)
        return;
    w->front.after_s = fmax(w->front.after_s, w->front.t_s + late_s);
    w->front.moment.high_us = micros(w->front.after_s + w->front.half_s);
    w->out->front_lean = w->front.moment;
}

/* The crossing of a switching front is what the delay is defined by; the gas may have left later:
 * its voltage shows by how much, or else how the front dithered before bounds it. */
static void find_gas_gone(struct run_work *w, const struct oxl_lean_rule *rule)
{
    const struct oxl_run_input *in = w->in;
    const double late_err =
        0.25; /* of how late it was: what came in between was not quite balance */
    struct lean_start s =
        oxl_clearly_lean(in->front, rule, &w->front, in->profile->front_tau_s, seconds(in->end_us));
    if (s.seen) {
        double late_s = fmax(0, s.late_s);
        widen_slow_front(w, late_s);
        w->doubt_s = 2 * s.err_s + late_err * late_s;
        w->lean_s += late_s;
    } else {
        w->doubt_s = oxl_dither_doubt_s(in->front, rule, w->lean_s);
        if (in->front_refresh.known && in->front_refresh.period_s > slow_round_s)
            widen_slow_front(w, w->doubt_s);
        w->lean_s += 0.5 * w->doubt_s;
    }
}

/* A resting excess of a wide-range front is its own offset. But when the rear rests lean, too, the
 * gas is lean indeed (a run not yet over, trims at their limit), and the trim at balance lies that
 * much higher. */
static void find_base(struct run_work *w)
{
    const struct oxl_run_input *in = w->in;
    const double lean_v = 0.12, lean_lambda = 1.005; /* 0.12 V: about 1.002 by Nernst */
    bool wide = in->pair.front_kind == OXL_SENSOR_WIDE;
    double rest = wide ? offset_x(in->profile, in->front_level) : 0;
    double rear = oxl_trace_window(in->rear, in->shift_start_us - 5000000, in->shift_start_us).mean;
    bool rear_lean = in->pair.rear_kind == OXL_SENSOR_WIDE ? rear > lean_lambda : rear < lean_v;
    w->base_pct = oxl_known(in->baseline_trim_pct) ? in->baseline_trim_pct : 0;
    w->rest_x = rest;
    if (rear_lean && rest > 0) {
        w->base_pct += rest * (100 + w->base_pct);
        w->rest_x = 0;
    }
    w->base = w->base_pct / 100;
}

/* It came back to its level and left it again, soon after: misfires and a hand that shuts slowly
 * do that. Which of the crossings was the gas's own is not to be seen. */
static void widen_front_again(struct run_work *w, const struct oxl_lean_rule *rule)
{
    const double soon_s = 3.0;
    struct oxl_trace t = w->in->front;
    size_t last = 0;
    bool wide = rule->kind == OXL_SENSOR_WIDE;
    for (size_t i = w->front.after + 1;
         i + 1 < t.count && point_mid_s(&t.points[i]) < w->front.t_s + soon_s; i++) {
        double v = t.points[i].value;
        bool back = wide ? v <= rule->level + 0.5 * rule->step : v >= rule->rich_v;
        last = back ? i + 1 : last;
    }
    if (last == 0)
        return;
    oxl_reach_to(t, &w->front, last);
    w->out->front_lean = w->front.moment;
}

static void find_front(struct run_work *w)
{
    const struct oxl_run_input *in = w->in;
    struct oxl_lean_rule rule =
        oxl_front_rule(in->profile, &in->pair, in->front_level, in->front_noise);
    rule.level_err = 0.002; /* a tenth of a per cent either way is rest, too */
    w->front = find_release(w, &rule);
    w->out->front_lean = w->front.moment;
    if (!w->front.found)
        return;
    widen_by_level(w, rule);
    w->out->front_lean = w->front.moment;
    widen_front_again(w, &rule);
    w->lean_s = w->front.t_s;
    if (rule.kind == OXL_SENSOR_SWITCHING)
        find_gas_gone(w, &rule);
    struct oxl_trace front = {in->front.points, oxl_trace_after(in->front, in->end_us)};
    w->out->front_ramp_s = oxl_crossing_ramp_s(front, &rule, &w->front);
}

/* A wide-range rear that stands beyond balance since the gas left, or wanders there, has an offset
 * or outside air about it: then only its own level counts. */
static void find_balance(struct run_work *w)
{
    const double balance = w->in->profile->lambda_balance, err = 0.003, wanders = 0.3;
    double first = oxl_passes_level_s(w->in->rear, &w->rear, w->front.t_s, balance);
    double last = oxl_passes_level_s(w->in->rear, &w->rear, w->front.t_s, balance + err);
    w->balance_first_s = fmin(first, last);
    bool clear = first > w->front.t_s && last - first < wanders * (w->rear.t_s - w->front.t_s);
    w->balance_s = clear ? 0.5 * (first + last) : w->rear.t_s;
}

/* Nothing dropped. A wide-range rear is not lean up to its step, but what stands beyond balance
 * lets oxygen through, and a switching one would have answered. */
static void find_held(struct run_work *w)
{
    const double err = 0.003;
    const struct oxl_run_input *in = w->in;
    struct oxl_trace rear = {in->rear.points, oxl_trace_after(in->rear, in->end_us)};
    w->stop_s = rear.count > 0 ? point_mid_s(&rear.points[rear.count - 1]) : w->lean_s;
    w->stop_s = fmax(w->lean_s, w->stop_s);
    w->balance_s = w->stop_s;
    if (in->pair.rear_kind == OXL_SENSOR_WIDE)
        w->balance_s =
            oxl_within_level_s(rear, w->front.t_s, w->stop_s, in->profile->lambda_balance, err);
    w->balance_first_s = w->balance_s;
    w->out->delay_s.low = fmax(0, w->stop_s - seconds(w->out->front_lean.high_us));
    w->out->delay_s.high = INFINITY;
}

/* But from outside, which is said, nothing reaches the rear before the front. So a fall that seems
 * to have been earlier was one of those before, and the last one, whose rise no sample met, came
 * up to a step of the rear's samples after the front. */
static void reach_past_front(const struct run_work *w, struct oxl_span *delay)
{
    if (delay->high < 0)
        delay->high = w->rear.after_s - w->rear.before_s +
                      fmax(w->front.after_s - w->front.t_s, w->front.t_s - w->front.before_s);
}

static void find_rear(struct run_work *w)
{
    const struct oxl_run_input *in = w->in;
    struct oxl_run_result *r = w->out;
    struct oxl_lean_rule rule = oxl_rear_rule(in->profile, &in->pair, in->rear_noise);
    w->rear = find_drop(w, &rule);
    if (w->rear.found && w->rear.moment.high_us < r->front_lean.low_us)
        r->reasons = oxl_reasons_add(r->reasons, OXL_R_REAR_LEAN_FIRST);
    else if (!w->rear.found && oxl_lean_since(w->seen_rear, &rule, &r->front_lean, in->end_us))
        r->reasons = oxl_reasons_add(r->reasons, OXL_R_REAR_NOT_SEEN_RICH);
    r->dropped = w->rear.found;
    r->rear_lean = w->rear.moment;
    if (!w->rear.found) {
        find_held(w);
        return;
    }
    oxl_widen_rear(w, &rule);
    w->stop_s = w->balance_s = w->balance_first_s = w->rear.t_s;
    /* Limits in seconds are made for a switching rear, which answers at balance. */
    if (in->pair.rear_kind == OXL_SENSOR_WIDE)
        find_balance(w);
    r->rear_fall = oxl_find_fall_start(
        in->rear, &rule,
        r->rear_lean.low_us < r->front_lean.low_us ? in->shift_start_us : r->front_lean.low_us,
        &r->rear_lean);
    r->delay_s = oxl_delay_span(&w->front, &w->rear);
    reach_past_front(w, &r->delay_s);
}

static void clear_result(struct oxl_run_result *r)
{
    *r = (struct oxl_run_result){0};
    r->delay_s = r->delay_at_target_s = r->o2_mg = span_unknown();
    r->o2_from_lambda_mg = r->o2_from_trim_mg = r->o2_removed_mg = r->o2_supply_mg = NAN;
    r->o2_needed_mg = r->rear_above_v = NAN;
    r->shift_pct = r->air_g_s = r->rpm = r->path_s = NAN;
    r->trim_recovery_pct_s = r->trim_recovery_tau_s = r->front_ramp_s = r->sample_round_ms = NAN;
}

void oxl_measure_run(const struct oxl_run_input *in, struct oxl_run_result *out)
{
    struct oxl_point air[MAX_AIR];
    struct oxl_run_input best = *in;
    struct run_work w = {.in = &best, .out = out, .seen_front = in->front, .seen_rear = in->rear};
    clear_result(out);
    out->deeper = in->deeper;
    out->front_refresh = in->front_refresh;
    out->rear_refresh = in->rear_refresh;
    out->trim_refresh = in->trim_refresh;
    if (in->front_taken.count == in->front.count)
        best.front = in->front_taken;
    if (in->rear_taken.count == in->rear.count)
        best.rear = in->rear_taken;
    find_base(&w);
    find_front(&w);
    if (!w.front.found) {
        out->reasons = oxl_reasons_add(out->reasons, OXL_R_NO_FRONT_LEAN);
        return;
    }
    find_rear(&w);
    oxl_find_air(&w, air);
    oxl_find_path(&w);
    oxl_find_shift(&w);
    oxl_find_oxygen(&w);
    oxl_find_supply(&w);
    oxl_find_part_emptied(&w);
    out->rear_lag_s = oxl_wide_rear_lag_s(&w);
    oxl_find_target_delay(&w);
    oxl_flag_run(&w);
    /* A rear that fell by itself may rise and fall once more: when it went lean has no one answer.
     */
    if (oxl_reasons_has(out->reasons, OXL_R_REAR_LEAN_FIRST))
        out->delay_s.high = INFINITY;
}
