/* Timing: from front-lean to rear-lean, or to the lean gas's end with the rear held. */
#include "proc.h"

/* After the lean gas has ended, what is still in the pipe may yet reach the rear sensor. */
static const double pipe_patience_s = 1.5;
/* A switching rear above this stands in gas at balance, not in lean gas: 135 mV at lambda 1.001, 91
 * mV at 1.01 by Nernst's equation at 900 K; at balance itself it is in the middle of its step. In a
 * deeper run the lean gas is to be beyond doubt: 0.12 V is an excess of 1e-3, 0.25 V one of 1e-6.
 */
static const double deep_v = 0.25, deeper_run_deep_v = 0.12;

/* A rear that has gone lean is watched on: where it comes to stand shows how much of the lean gas
 * comes through. Briefly one that fell before the front, whose lean gas came from outside, and all
 * of them by the first two procedures. */
static double level_patience_s(const struct oxl_proc *p, double value)
{
    const double watch_s = 3.0, short_s = 1.2;
    const bool briefly = !p->rules->watches_level || p->timing.rear_first;
    double floor_v = oxl_run_is_deeper(p) ? deeper_run_deep_v : deep_v;
    if (briefly && (p->pair.rear_kind == OXL_SENSOR_WIDE || value <= floor_v))
        return 0;
    return briefly ? short_s : watch_s;
}

void oxl_timing_enter(struct oxl_proc *p)
{
    p->timing = (struct oxl_timing){0};
    oxl_proc_tell(p, OXL_ADV_FRONT_LEAN);
}

/* Interpolated values cross a level where the drawing crossed it, not where the sensor did. */
static void claim_no_time(struct oxl_run_result *r)
{
    const struct oxl_span none = {NAN, NAN, NAN};
    r->reasons = oxl_reasons_add(r->reasons, OXL_R_RESAMPLED);
    r->delay_s = r->delay_at_target_s = none;
    r->valid = false;
}

/* Slow links ask seldom for the catalyst temperature, and a converter cools slowly. */
static bool cat_cool(const struct oxl_proc *p)
{
    const double old_s = 240;
    return oxl_proc_latest(p, OXL_Q_CAT_TEMP_C, OXL_S_US(old_s)) < p->profile.cat_temp_min_c;
}

static struct oxl_trace since_us(const struct oxl_proc *p, struct oxl_trace t, int64_t from_us)
{
    return oxl_trace_slice(t, from_us, p->now_us);
}

/* What the run left in the traces, from some seconds before its gas. */
static struct oxl_run_input input_of(const struct oxl_proc *p, bool held)
{
    const int64_t lead_us = OXL_S_US(6.0);
    int64_t from_us = (p->run.shift_start_us ? p->run.shift_start_us : p->run.cut_us) - lead_us;
    size_t n = oxl_proc_trim_course(p, from_us, p->now_us);
    const struct oxl_refreshes *r = &p->refreshes;
    struct oxl_trace front = since_us(p, oxl_proc_front(p), from_us),
                     rear = since_us(p, oxl_proc_rear(p), from_us);
    oxl_taken_moments((struct oxl_trace){p->trim, n}, &r->trim, p->trim, n);
    return (struct oxl_run_input){
        .profile = &p->profile,
        .pair = p->pair,
        .front = front,
        .rear = rear,
        .front_taken = oxl_refreshes_taken(r, front, OXL_TAKEN_FRONT),
        .rear_taken = oxl_refreshes_taken(r, rear, OXL_TAKEN_REAR),
        .front_refresh = r->front,
        .rear_refresh = r->rear,
        .trim_refresh = r->trim,
        .trim = {p->trim, n},
        .air = since_us(p, oxl_proc_trace(p, OXL_Q_AIR_G_S), from_us),
        .map = since_us(p, oxl_proc_trace(p, OXL_Q_MAP_KPA), from_us),
        .intake = since_us(p, oxl_proc_trace(p, OXL_Q_INTAKE_C), from_us),
        .rpm = since_us(p, oxl_proc_trace(p, OXL_Q_RPM), from_us),
        .cat_temp = since_us(p, oxl_proc_trace(p, OXL_Q_CAT_TEMP_C), from_us),
        .air_share = p->air_share,
        .baseline_trim_pct = p->base.trim_pct,
        .baseline_trim_sd_pct = p->base.trim_sd_pct,
        .baseline_rpm = p->base.rpm,
        .front_level = p->base.front_level,
        .front_noise = p->base.front_noise,
        .rear_level = oxl_baseline_front_lean(p) ? NAN : p->base.rear_level,
        .rear_noise = p->base.rear_noise,
        .shift_start_us = p->run.shift_start_us,
        .cut_us = p->run.cut_us,
        .end_us = p->now_us,
        .ended_held = held,
        .deeper = oxl_run_is_deeper(p),
    };
}

/* What the procedure saw of the run, beside what was measured. */
static void add_flaws(struct oxl_proc *p, struct oxl_run_result *r)
{
    oxl_patterns_apply(&p->patterns, p, OXL_AT_RUN);
    r->reasons |= oxl_run_reasons(p);
    oxl_loop_widen(p, &r->delay_s);
    oxl_loop_widen(p, &r->delay_at_target_s);
    if (p->resampled)
        claim_no_time(r);
    if (cat_cool(p))
        r->reasons = oxl_reasons_add(r->reasons, OXL_R_COOL_CONVERTER);
    r->reasons &= ~(oxl_sensors_refuted(&p->sensors) & OXL_REASON_BIT(OXL_R_REAR_SLOW));
    oxl_sensors_run(&p->sensors, p, r);
    if (oxl_proc_rear_is_lean(p)) /* it lay lean, fell or not */
        r->reasons &= ~OXL_REASON_BIT(OXL_R_REAR_HELD);
    if (!p->run.rear_was_rich)
        r->reasons = oxl_reasons_add(r->reasons, OXL_R_REAR_NOT_SEEN_RICH);
    if (oxl_reasons_pushing(r->reasons, OXL_PUSH_VOID) || !p->run.rear_was_rich)
        r->valid = false;
}

static void say_run(struct oxl_proc *p, const struct oxl_run_result *r, bool held)
{
    if (!r->valid)
        oxl_proc_tell(p, OXL_ADV_RUN_INVALID);
    else if (held)
        oxl_proc_tell(p, OXL_ADV_REAR_HELD);
    else if (!p->rules->watches_level)
        oxl_proc_say(p, OXL_ADV_REAR_LEAN, "%.1f s", r->delay_s.value);
}

static void finish(struct oxl_proc *p, bool held)
{
    oxl_refreshes_find(&p->refreshes, p);
    struct oxl_run_input in = input_of(p, held);
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = p->now_us};
    struct oxl_run_result *r = &ev.u.run;
    oxl_measure_run(&in, r);
    add_flaws(p, r);
    oxl_run_over(p, &ev);
    say_run(p, r, held);
    oxl_proc_enter(p, OXL_STATE_RECOVERY);
}

/* Lean gas is on offer until front and trims are back. */
static void watch_balance(struct oxl_proc *p)
{
    double shift = oxl_proc_shift_pct(p);
    struct oxl_lean_rule rule = oxl_proc_front_rule(p);
    bool front_back = !oxl_is_lean(oxl_proc_front(p), &rule, p->now_us, OXL_FRESH_US);
    bool trim_back = !oxl_known(shift) || shift > -0.25 * p->profile.band_pct;
    oxl_proc_since(&p->timing.balance_us, front_back && trim_back, p->now_us);
}

static void watch_drop(struct oxl_proc *p)
{
    struct oxl_lean_rule rule = oxl_proc_rear_rule(p);
    struct oxl_moment m = oxl_find_drop(oxl_proc_rear(p), &rule, &p->run.front_lean,
                                        p->run.shift_start_us, p->now_us);
    if (!m.found || p->timing.drop_us)
        return;
    oxl_kept_rear_fell(p);
    p->timing.drop_us = p->now_us;
    p->timing.fall_us = m.t_us;
    p->timing.rear_first = m.high_us < p->run.front_lean.low_us;
    if (p->rules->watches_level) /* now: the run is watched on */
        oxl_proc_say(p, OXL_ADV_REAR_LEAN, "%s",
                     p->timing.rear_first
                         ? "It fell before the front: look for an exhaust leak ahead of it."
                         : "");
}

double oxl_timing_so_far_s(const struct oxl_proc *p, int64_t now_us)
{
    int64_t until_us = p->timing.drop_us ? p->timing.fall_us : now_us;
    double s = 1e-6 * (double)(until_us - p->run.front_lean.t_us);
    return p->timing.rear_first ? NAN : fmax(0, s); /* of a dead one it may fall with the front */
}

void oxl_timing_data(struct oxl_proc *p, const struct oxl_sample *s)
{
    if (oxl_channel_same(s->channel, p->pair.rear)) {
        watch_drop(p);
        if (p->timing.drop_us &&
            p->now_us - p->timing.drop_us >= OXL_S_US(level_patience_s(p, s->value))) {
            finish(p, false);
            return;
        }
    }
    if (oxl_channel_same(s->channel, p->pair.front))
        watch_balance(p);
    if (oxl_proc_lasted(p, p->timing.balance_us, pipe_patience_s))
        finish(p, !p->timing.drop_us);
}

int64_t oxl_timing_due(const struct oxl_proc *p)
{
    return p->run.front_lean.t_us + OXL_S_US(p->profile.timing_limit_s);
}

void oxl_timing_time(struct oxl_proc *p)
{
    finish(p, !p->timing.drop_us);
}
