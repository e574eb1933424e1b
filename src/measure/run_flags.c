#include "parts.h"

#include <stdlib.h>

/* Numbers of judgement that no profile holds; docs/method.md lists them. */
static const double slow_ramp_s = 1.0;   /* front, from a tenth to eight tenths */
static const double slow_rear_s = 2.0;   /* 0.6 V to 0.3 V, as an on-board limit has it */
static const double slow_front_s = 0.4;  /* switching front through its hysteresis */
static const double weak_excess = 0.03;  /* below it a slow fall is no fault of the sensor */
static const double fast_half_s = 2.0;   /* half of the lean excess gone in less */
static const double high_air_g_s = 6.0;  /* the limits in seconds are for an idle */
static const double min_shift_pct = 3.0; /* less is no answer of the trims */
static const double gap_s = 0.4;
static const double rests_lean_v = 0.12;

static void add(struct run_work *w, bool when, enum oxl_reason r)
{
    if (when)
        w->out->reasons = oxl_reasons_add(w->out->reasons, r);
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The usual step between samples near a moment. */
static double round_s(struct oxl_trace t, double at_s)
{
    enum { MOST = 64 };
    double steps[MOST];
    int n = 0;
    struct oxl_trace s = oxl_trace_slice(t, micros(at_s - 3), micros(at_s + 3));
    for (size_t i = 1; i < s.count && n < MOST; i++)
        steps[n++] = point_mid_s(&s.points[i]) - point_mid_s(&s.points[i - 1]);
    if (n == 0)
        return NAN;
    qsort(steps, (size_t)n, sizeof steps[0], by_size);
    return steps[n / 2];
}

/* The usual step between values near a moment; none is shorter than the ECU's refreshes. */
static double step_s(struct oxl_trace t, double at_s, const struct oxl_refresh *r)
{
    double round = round_s(t, at_s);
    return r->known ? fmax(round, r->period_s) : round;
}

static bool gap_in(struct oxl_trace t, const struct crossing *c, const struct oxl_refresh *r)
{
    double usual = step_s(t, c->t_s, r);
    for (size_t i = c->before + 1; i <= c->after; i++) {
        double step = point_mid_s(&t.points[i]) - point_mid_s(&t.points[i - 1]);
        if (step > gap_s && !(step <= 3 * usual))
            return true;
    }
    return false;
}

static void flag_depth(struct run_work *w)
{
    const struct oxl_profile *p = w->in->profile;
    double shift = w->out->shift_pct;
    bool unknown = !oxl_known(shift) || shift > -min_shift_pct;
    add(w, unknown, OXL_R_DEPTH_UNKNOWN);
    /* A deeper run is over target on purpose. */
    add(w, !unknown && shift < p->accept_low_pct && !w->in->deeper, OXL_R_OVER_ENRICHED);
    /* On a slow link the trims are on their way back before the front is seen to be lean. */
    add(w, !unknown && w->deepest_shift_pct > p->accept_high_pct, OXL_R_UNDER_ENRICHED);
    double half = oxl_recovery_half_s(&w->excess.recovery, -shift / 100);
    add(w, oxl_known(half) && half < fast_half_s, OXL_R_FAST_TRIM_RECOVERY);
}

static void flag_sensors(struct run_work *w)
{
    const struct oxl_run_input *in = w->in;
    struct oxl_run_result *r = w->out;
    /* Between two refreshes it may have been a step. */
    double ramp = r->front_ramp_s - oxl_refresh_age_s(&in->front_refresh);
    if (in->pair.front_kind == OXL_SENSOR_WIDE)
        add(w, oxl_known(ramp) && ramp > fmax(slow_ramp_s, 2.5 * in->profile->gas_tail_s),
            OXL_R_SLOW_RELEASE);
    else {
        double late_s = in->front_refresh.known ? w->front.after_s : w->front.t_s;
        add(w, oxl_known(ramp) && ramp > slow_front_s, OXL_R_FRONT_SLOW);
        /* Lean before the gas was cut: a hand that took gas away by and by. The excess was small at
         * first, and a switching front does not show how small. */
        add(w, in->cut_us > 0 && late_s + w->doubt_s < seconds(in->cut_us), OXL_R_SLOW_RELEASE);
    }
    /* A small store gives the rear back within seconds after a run, and a loop that is still coming
     * back leaves it in its step. One that stands clearly lean at idle (0.12 V is about
     * lambda 1.002 by Nernst) is fed with air from outside, or its store is large. */
    add(w, in->pair.rear_kind == OXL_SENSOR_SWITCHING && in->rear_level < rests_lean_v,
        OXL_R_REAR_RESTS_LEAN);
    if (in->rear.count == 0 ||
        oxl_trace_slice(in->rear, in->front.points[w->front.before].sent_us, in->end_us).count == 0)
        add(w, true, OXL_R_REAR_MISSING);
    if (r->dropped && in->pair.rear_kind == OXL_SENSOR_SWITCHING) {
        double fall = oxl_least_fall_s(w);
        bool strong = !(oxl_excess_at(&w->excess, w->stop_s) < weak_excess);
        add(w, oxl_known(fall) && fall > slow_rear_s && strong, OXL_R_REAR_SLOW);
    }
    /* Meant for a fuel cut: the lambda scale ends at 2. */
    if (in->pair.front_kind == OXL_SENSOR_WIDE)
        add(w, oxl_trace_window(in->front, r->front_lean.low_us, micros(w->stop_s)).max > 1.9,
            OXL_R_FUEL_CUT);
}

static void flag_conditions(struct run_work *w)
{
    const struct oxl_run_input *in = w->in;
    const struct oxl_profile *p = in->profile;
    struct oxl_run_result *r = w->out;
    struct oxl_window_stats rpm =
        oxl_trace_window(in->rpm, r->front_lean.low_us, micros(w->stop_s));
    add(w, rpm.count > 1 && rpm.max - rpm.min > 2 * p->rpm_band, OXL_R_RPM_UNSTEADY);
    add(w, oxl_known(r->air_g_s) && r->air_g_s > high_air_g_s, OXL_R_HIGH_AIR_FLOW);
    double cat = oxl_trace_mean_s(in->cat_temp, w->lean_s - 1, w->stop_s);
    add(w, oxl_known(cat) && cat < p->cat_temp_min_c, OXL_R_COOL_CONVERTER);
    add(w, r->air_source == OXL_AIRSRC_NONE, OXL_R_AIR_UNKNOWN);
    add(w, r->air_source == OXL_AIRSRC_SPEED_DENSITY, OXL_R_AIR_ESTIMATED);
}

static void flag_oxygen(struct run_work *w)
{
    struct oxl_run_result *r = w->out;
    double a = r->o2_from_lambda_mg, b = r->o2_from_trim_mg;
    if (oxl_known(a) && oxl_known(b) && fabs(a - b) > 0.3 * fmax(a, b) && fabs(a - b) > 20)
        add(w, true, OXL_R_LAMBDA_TRIM_DISAGREE);
    if (!r->dropped) {
        double bad_mg = 1000 * w->in->profile->bad_g_per_g_s * r->air_g_s;
        add(w, true, OXL_R_REAR_HELD);
        add(w, oxl_known(r->o2_mg.low) && r->o2_mg.low < bad_mg, OXL_R_SUPPLY_TOO_SMALL);
    }
}

static void flag_sampling(struct run_work *w)
{
    struct oxl_run_result *r = w->out;
    const struct oxl_run_input *in = w->in;
    double front = step_s(in->front, w->lean_s, &in->front_refresh),
           rear = step_s(in->rear, w->stop_s, &in->rear_refresh);
    double round = fmax(front, oxl_known(rear) ? rear : front);
    r->sample_round_ms = 1000 * round_s(w->seen_front, w->lean_s);
    bool gap = gap_in(in->front, &w->front, &in->front_refresh) ||
               (r->dropped && gap_in(in->rear, &w->rear, &in->rear_refresh));
    add(w, gap, OXL_R_GAP_AT_EVENT);
    if (r->dropped)
        add(w,
            round > fabs(r->delay_s.value) / 3 ||
                r->delay_s.high - r->delay_s.low > fmax(0.5, 0.5 * r->delay_s.value),
            OXL_R_COARSE_SAMPLING);
    /* A held run must have been watched to its end. */
    double age_s = oxl_refresh_age_s(&in->rear_refresh);
    if (!r->dropped && seconds(in->end_us) - w->stop_s > 1.5 + age_s)
        add(w, true, OXL_R_LINK_LOST);
}

void oxl_flag_run(struct run_work *w)
{
    struct oxl_run_result *r = w->out;
    flag_depth(w);
    flag_sensors(w);
    flag_conditions(w);
    flag_oxygen(w);
    flag_sampling(w);
    bool never_rich = oxl_reasons_has(r->reasons, OXL_R_REAR_NOT_SEEN_RICH);
    r->valid = (r->dropped || w->in->ended_held) && !never_rich &&
               oxl_reasons_pushing(r->reasons, OXL_PUSH_VOID) == 0;
    if (!r->dropped && never_rich)
        r->reasons &= ~OXL_REASON_BIT(OXL_R_REAR_HELD);
}
