#include "sim/truth.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double rest_x = 0.02;      /* a closed loop at rest stays within this of its target */
static const double wide_step = 0.01;   /* lambda above its level is lean */
static const double switch_v = 0.45;    /* of a switching sensor */
static const double gas_lean = 0.002;   /* oxygen excess at the converter's inlet */
static const double open_enough = 0.01; /* valve opening that counts as open */

void oxl_truth_init(struct oxl_truth_watch *w, double trim)
{
    memset(w, 0, sizeof *w);
    w->trim_rest = w->trim_slow = trim;
    w->front_level = 1;
}

static void follow(double *mean, double value, double dt_s, double tau_s)
{
    *mean += (value - *mean) * dt_s / tau_s;
}

static double lambda_of(double x)
{
    return 1 / (1 - fmin(x, 0.9));
}

/* A stay on the lean side that is longer than the dither's own is for good. */
static double stay_s(const struct oxl_lean_watch *l)
{
    return fmin(2, fmax(0.6, 1.5 * l->longest_spell_s + 0.1));
}

static void lean_step(struct oxl_lean_watch *l, bool lean, const struct oxl_truth_look *k, bool cut,
                      double dt_s)
{
    if (l->passed)
        return;
    if (lean && !l->lean) {
        l->since_s = k->t_s;
        l->stored_g = k->stored_g;
    }
    l->lean = lean;
    double spell = lean ? k->t_s - l->since_s : 0;
    if (!cut)
        l->longest_spell_s = fmax(spell, l->longest_spell_s * (1 - dt_s / 20));
    else if (lean && spell >= stay_s(l))
        l->passed = true;
}

static void watch_lean(struct oxl_truth_watch *w, const struct oxl_truth_look *k, double dt_s)
{
    bool cut = w->shutting || w->phase == OXL_TRUTH_CUT;
    double inlet_level = cut ? w->shut_inlet_level : w->inlet_level;
    /* Lean is counted from the sensor's level at rest: before the cut it may still stand rich. */
    bool front =
        k->front_wide ? lambda_of(k->front_x) > w->front_level + wide_step : k->front_v < switch_v;
    bool rear = k->rear_wide ? k->rear_x > wide_step : k->rear_v < switch_v;
    lean_step(&w->front, front, k, cut, dt_s);
    lean_step(&w->rear, rear && k->rear_works, k, cut, dt_s);
    lean_step(&w->inlet, k->inlet_x > fmax(inlet_level, 0) + gas_lean, k, cut, dt_s);
    /* Breakthrough is what the rear sensor calls lean, without its lag and its pipe. */
    bool outlet = k->rear_wide ? k->outlet_x > wide_step : k->outlet_v < switch_v;
    lean_step(&w->outlet, outlet, k, cut, dt_s);
}

static void forget_lean(struct oxl_truth_watch *w)
{
    w->front.passed = w->rear.passed = w->inlet.passed = w->outlet.passed = false;
}

static void begin_pulse(struct oxl_truth_watch *w, const struct oxl_truth_look *k)
{
    static const struct oxl_truth nothing = {.cut_t_s = NAN,
                                             .front_lean_t_s = NAN,
                                             .rear_lean_t_s = NAN,
                                             .delay_s = NAN,
                                             .shift_pct = NAN,
                                             .stored_mg = NAN,
                                             .taken_mg = NAN,
                                             .empty_mg = NAN,
                                             .removed_mg = NAN,
                                             .air_g_s = NAN,
                                             .rpm = NAN};
    w->phase = OXL_TRUTH_GAS;
    w->now = nothing;
    w->now.pulse = ++w->pulses;
    w->now.front_true_lambda_min = lambda_of(k->front_x);
    w->stored_start_g = w->stored_least_g = k->stored_g;
    w->stored_most_g = 0;
    w->air_sum = w->rpm_sum = w->mean_s = w->calm_s = 0;
    w->shutting = false;
    forget_lean(w);
}

static void note_shut(struct oxl_truth_watch *w, const struct oxl_truth_look *k)
{
    w->shutting = true;
    forget_lean(w);
    w->stored_most_g = 0;
    w->shut_s = k->t_s;
    w->shut_opening = w->opening;
    w->shut_trim = k->front_wide ? k->trim : w->trim_slow;
    w->shut_inlet_level = w->inlet_level;
}

static double known_or_nan(const struct oxl_lean_watch *l)
{
    return l->passed ? l->since_s : NAN;
}

static void end_pulse(struct oxl_truth_watch *w, const struct oxl_truth_look *k)
{
    struct oxl_truth *n = &w->now;
    n->cut_t_s = w->shut_s;
    n->front_lean_t_s = known_or_nan(&w->front);
    n->rear_lean_t_s = known_or_nan(&w->rear);
    n->delay_s = n->rear_lean_t_s - n->front_lean_t_s;
    n->shift_pct = 100 * (w->shut_trim - w->trim_rest);
    n->capacity_mg = 1e3 * k->capacity_g;
    n->removed_mg = 1e3 * (w->stored_start_g - w->stored_least_g);
    if (w->inlet.passed) {
        double end_g = w->outlet.passed ? w->outlet.stored_g : w->stored_most_g;
        bool before = w->outlet.passed && w->outlet.since_s < w->inlet.since_s;
        n->stored_mg = before ? 0 : fmax(0, 1e3 * (end_g - w->inlet.stored_g));
        n->taken_mg = fmax(0, 1e3 * (w->stored_most_g - w->inlet.stored_g));
        n->empty_mg = n->capacity_mg - 1e3 * w->inlet.stored_g;
    }
    if (w->mean_s > 0) {
        n->air_g_s = w->air_sum / w->mean_s;
        n->rpm = w->rpm_sum / w->mean_s;
    }
    if (w->count < OXL_TRUTHS)
        w->list[w->count++] = *n;
    w->phase = OXL_TRUTH_REST;
    w->shutting = false;
    forget_lean(w);
}

/* The cut is where the valve's last fall began; a fall that suddenly gets much steeper began
 * there. A fall that stops half way was only a little less gas. */
static void watch_closing(struct oxl_truth_watch *w, const struct oxl_truth_look *k)
{
    double fall = w->opening - k->opening;
    if (fall > 1e-9) {
        if (!w->shutting || fall > 3 * w->fall)
            note_shut(w, k);
        w->fall = fall;
        w->fall_s = k->t_s;
    }
    bool shut = k->opening <= fmax(open_enough, 0.35 * w->shut_opening);
    if (w->shutting && shut) {
        w->phase = OXL_TRUTH_CUT;
        w->least_opening = k->opening;
    } else if (w->shutting && (fall < -1e-9 || k->t_s - w->fall_s > 0.5)) {
        w->shutting = false;
        forget_lean(w);
    }
}

static void watch_valve(struct oxl_truth_watch *w, const struct oxl_truth_look *k)
{
    const double clearly = 0.02, begins_s = 1;
    if (k->t_s < begins_s)
        w->rest_opening = k->opening; /* a valve that was never shut is no pulse */
    if (w->phase == OXL_TRUTH_REST) {
        if (k->opening > w->rest_opening + clearly)
            begin_pulse(w, k);
    } else if (w->phase == OXL_TRUTH_GAS) {
        watch_closing(w, k);
    } else {
        w->least_opening = fmin(w->least_opening, k->opening);
        if (k->opening > w->least_opening + clearly) {
            end_pulse(w, k);
            begin_pulse(w, k);
        }
    }
    w->opening = k->opening;
}

static void watch_stored(struct oxl_truth_watch *w, const struct oxl_truth_look *k)
{
    w->now.front_true_lambda_min = fmin(w->now.front_true_lambda_min, lambda_of(k->front_x));
    if (w->inlet.passed)
        w->stored_most_g = fmax(w->stored_most_g, k->stored_g);
    else
        w->stored_least_g = fmin(w->stored_least_g, k->stored_g);
}

static void watch_means(struct oxl_truth_watch *w, const struct oxl_truth_look *k, double dt_s)
{
    if (w->phase != OXL_TRUTH_CUT || !w->front.lean || w->rear.passed)
        return;
    w->air_sum += k->air_g_s * dt_s;
    w->rpm_sum += k->rpm * dt_s;
    w->mean_s += dt_s;
}

static void watch_end(struct oxl_truth_watch *w, const struct oxl_truth_look *k, double dt_s)
{
    bool fed = w->inlet_slow < fmax(w->shut_inlet_level, 0) + 0.004; /* no lean excess is left */
    bool back = fabs(w->trim_slow - w->trim_rest) < 0.015 && k->gas_g_s < 5e-4 && fed;
    w->calm_s = back ? w->calm_s + dt_s : 0;
    double age_s = k->t_s - w->shut_s;
    if ((w->calm_s > 1 && age_s > 4) || age_s > 60)
        end_pulse(w, k);
}

void oxl_truth_step(struct oxl_truth_watch *w, const struct oxl_truth_look *k, double dt_s)
{
    follow(&w->trim_slow, k->ramp_trim, dt_s, k->front_wide ? 1.0 : 0.5);
    if (w->phase == OXL_TRUTH_REST) {
        follow(&w->trim_rest, k->ramp_trim, dt_s, 4);
        follow(&w->rest_opening, k->opening, dt_s, 4);
        /* A fuel cut or another port is no rest, and the gas may follow within seconds. */
        if (fabs(k->front_x - k->target_x) < rest_x)
            follow(&w->front_level, lambda_of(k->front_x), dt_s, 4);
    }
    watch_valve(w, k);
    watch_lean(w, k, dt_s);
    if (w->phase != OXL_TRUTH_REST)
        watch_stored(w, k);
    watch_means(w, k, dt_s);
    if (w->phase == OXL_TRUTH_CUT)
        watch_end(w, k, dt_s);
    follow(&w->inlet_level, k->inlet_x, dt_s, 0.5);
    follow(&w->inlet_slow, k->inlet_x, dt_s, 2);
}

bool oxl_truth_front_lean(const struct oxl_truth_watch *w, double *since_s)
{
    if (w->phase == OXL_TRUTH_REST || !w->front.passed)
        return false;
    *since_s = w->front.since_s;
    return true;
}

static size_t number(char *out, size_t n, const char *key, double v, int digits)
{
    int len = isnan(v) ? snprintf(out, n, ",\"%s\":null", key)
                       : snprintf(out, n, ",\"%s\":%.*f", key, digits, v);
    return len > 0 && (size_t)len < n ? (size_t)len : n;
}

size_t oxl_sim_truth_json(const struct oxl_truth *t, char *out, size_t n)
{
    const struct {
        const char *key;
        double value;
        int digits;
    } fields[] = {
        {"cut_t_s", t->cut_t_s, 4},
        {"front_lean_t_s", t->front_lean_t_s, 4},
        {"rear_lean_t_s", t->rear_lean_t_s, 4},
        {"delay_s", t->delay_s, 4},
        {"shift_pct", t->shift_pct, 3},
        {"stored_mg", t->stored_mg, 2},
        {"empty_mg", t->empty_mg, 2},
        {"removed_mg", t->removed_mg, 2},
        {"capacity_mg", t->capacity_mg, 2},
        {"air_g_s", t->air_g_s, 4},
        {"rpm", t->rpm, 1},
        {"front_true_lambda_min", t->front_true_lambda_min, 4},
    };
    int head = snprintf(out, n, "{\"truth\":\"pulse\",\"pulse\":%d", t->pulse);
    if (head < 0 || (size_t)head >= n)
        return 0;
    size_t at = (size_t)head;
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
        at += number(out + at, n - at, fields[i].key, fields[i].value, fields[i].digits);
        if (at >= n)
            return 0;
    }
    if (n - at < 3)
        return 0;
    memcpy(out + at, "}\n", 3);
    return at + 2;
}
