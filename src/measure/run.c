#include "parts.h"

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
    struct crossing other =
        find_release(in->front, &rule, in->shift_start_us, in->cut_us, in->end_us);
    double apart_s = fabs(other.t_s - w->front.t_s);
    if (!other.found || apart_s > 1)
        return;
    w->front.noise_s += apart_s;
    w->front.moment.low_us -= micros(apart_s);
    w->front.moment.high_us += micros(apart_s);
}

static void find_front(struct run_work *w)
{
    const struct oxl_run_input *in = w->in;
    struct oxl_lean_rule rule =
        oxl_front_rule(in->profile, &in->pair, in->front_level, in->front_noise);
    rule.level_err = 0.002; /* a tenth of a per cent either way is rest, too */
    w->front = find_release(in->front, &rule, in->shift_start_us, in->cut_us, in->end_us);
    w->out->front_lean = w->front.moment;
    if (!w->front.found)
        return;
    widen_by_level(w, rule);
    w->lean_s = w->front.t_s;
    /* The crossing is what the delay is defined by; for the gas it may lie too early. */
    if (rule.kind == OXL_SENSOR_SWITCHING) {
        w->doubt_s = dither_doubt_s(in->front, &rule, w->lean_s);
        w->lean_s += 0.5 * w->doubt_s;
    }
    oxl_find_lean(in->front, &rule, w->front.moment.low_us - 1, in->end_us, &w->out->front_ramp_s);
}

static void find_rear(struct run_work *w)
{
    const struct oxl_run_input *in = w->in;
    struct oxl_run_result *r = w->out;
    struct oxl_lean_rule rule = oxl_rear_rule(in->profile, &in->pair, in->rear_noise);
    w->rear = find_drop(in->rear, &rule, &r->front_lean, in->shift_start_us, in->end_us);
    if (w->rear.found && w->rear.moment.high_us < r->front_lean.low_us)
        r->reasons = oxl_reasons_add(r->reasons, OXL_R_REAR_LEAN_FIRST);
    else if (!w->rear.found && lean_since(in->rear, &rule, &r->front_lean, in->end_us))
        r->reasons = oxl_reasons_add(r->reasons, OXL_R_REAR_NOT_SEEN_RICH);
    r->dropped = w->rear.found;
    r->rear_lean = w->rear.moment;
    if (w->rear.found) {
        w->stop_s = w->rear.t_s;
        r->rear_fall = oxl_find_fall_start(
            in->rear, &rule,
            r->rear_lean.low_us < r->front_lean.low_us ? in->shift_start_us : r->front_lean.low_us,
            &r->rear_lean);
        r->delay_s = delay_span(in->front, &w->front, in->rear, &w->rear);
        return;
    }
    size_t n = trace_after(in->rear, in->end_us);
    w->stop_s = n > 0 ? point_mid_s(&in->rear.points[n - 1]) : w->lean_s;
    w->stop_s = fmax(w->lean_s, w->stop_s);
    r->delay_s.low = fmax(0, w->stop_s - seconds(r->front_lean.high_us));
    r->delay_s.high = INFINITY;
}

static void clear_result(struct oxl_run_result *r)
{
    *r = (struct oxl_run_result){0};
    r->delay_s = r->delay_at_target_s = r->o2_mg = span_unknown();
    r->o2_from_lambda_mg = r->o2_from_trim_mg = r->o2_removed_mg = r->o2_supply_mg = NAN;
    r->o2_needed_mg = NAN;
    r->shift_pct = r->air_g_s = r->rpm = r->path_s = NAN;
    r->trim_recovery_pct_s = r->trim_recovery_tau_s = r->front_ramp_s = r->sample_round_ms = NAN;
}

void oxl_measure_run(const struct oxl_run_input *in, struct oxl_run_result *out)
{
    struct oxl_point air[MAX_AIR];
    struct run_work w = {.in = in, .out = out};
    clear_result(out);
    out->deeper = in->deeper;
    w.base = oxl_known(in->baseline_trim_pct) ? in->baseline_trim_pct / 100 : 0.0;
    find_front(&w);
    if (!w.front.found) {
        out->reasons = oxl_reasons_add(out->reasons, OXL_R_NO_FRONT_LEAN);
        return;
    }
    find_rear(&w);
    find_air(&w, air);
    find_path(&w);
    find_shift(&w);
    find_oxygen(&w);
    find_supply(&w);
    find_needed(&w);
    find_part_emptied(&w);
    find_target_delay(&w);
    flag_run(&w);
}
