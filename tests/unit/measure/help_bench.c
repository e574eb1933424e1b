#include "help_bench.h"

#include <string.h>

double random_unit(uint32_t *seed)
{
    /* Numerical-recipes style 32-bit congruence, high bits used. */
    *seed = *seed * 1664525u + 1013904223u;
    uint32_t x = *seed ^ (*seed >> 15);
    x *= 2246822519u;
    x ^= x >> 13;
    return (double)x / 4294967296.0;
}

double random_normal(uint32_t *seed)
{
    double s = 0;
    for (int i = 0; i < 12; i++)
        s += random_unit(seed);
    return s - 6.0;
}

void test_profile(struct oxl_profile *p)
{
    /* The defaults that profile.h states; the room measure may not look into the room profile. */
    *p = (struct oxl_profile){.cat_temp_min_c = 350,
                              .rpm_band = 150,
                              .target_pct = -20,
                              .accept_low_pct = -25,
                              .accept_high_pct = -15,
                              .switch_v = 0.45,
                              .rich_v = 0.5,
                              .lean_v = 0.4,
                              .lambda_step = 0.01,
                              .lambda_balance = 1.0,
                              .front_tau_s = 0.1,
                              .rear_tau_s = 0.15,
                              .timing_limit_s = 30,
                              .run_rpm_band = 50,
                              .displacement_l = NAN,
                              .volumetric_eff = 0.75,
                              .volumetric_eff_err = 0.15,
                              .air_err = 0.05,
                              .humidity_ratio = 0.008,
                              .path_volume_l = 1.2,
                              .path_volume_err = 0.5,
                              .exhaust_c = 430,
                              .engine_delay_s = 0.4,
                              .gas_tail_s = 0.4,
                              .lambda_err = 0.01,
                              .bad_s = 2,
                              .good_s = 7,
                              .bad_g_per_g_s = 0.044,
                              .good_g_per_g_s = 0.137,
                              .deeper_dose = 2.0};
}

struct bench bench_usual(void)
{
    struct bench b = {.loop = BENCH_PI,
                      .rate = 0.25,
                      .depth = 0.20,
                      .on_s = 2,
                      .off_s = 25,
                      .tail_s = 0.4,
                      .start_share = 1,
                      .store_g = 0.2,
                      .air_g_s = 3,
                      .pipe_s = 0.2,
                      .front_tau_s = 0.1,
                      .rear_tau_s = 0.15,
                      .end_s = 60,
                      .noise_v = 0.004,
                      .noise_lambda = 0.001,
                      .rate_hz = 10,
                      .reply_s = 0.04,
                      .same_reply = true,
                      .seed = 1};
    return b;
}

enum { STEPS_A_S = 1000, MOST_STEPS = 90 * STEPS_A_S };
static const double w_o2 = 0.2314, engine_delay_s = 0.4;

/* The signals at every millisecond. */
struct signals {
    double front[MOST_STEPS], rear[MOST_STEPS], shift[MOST_STEPS], x[MOST_STEPS];
    size_t n;
};

static double past(const double *v, size_t i, double back_s)
{
    size_t k = (size_t)(back_s * STEPS_A_S);
    return i > k ? v[i - k] : v[0];
}

static void plant(const struct bench *b, struct signals *s, struct bench_run *r)
{
    const double dt = 1.0 / STEPS_A_S;
    double gas = 0, integral = 0, lambda = 1, volts = 0.6, stored = b->store_g * b->start_share,
           rear = 0.7;
    s->n = (size_t)(b->end_s * STEPS_A_S);
    r->stored_g = r->fed_g = 0;
    for (size_t i = 0; i < s->n; i++) {
        double t = (double)i * dt;
        double want = t >= b->on_s && t < b->off_s ? b->depth : 0;
        gas += (want - gas) * dt / b->tail_s;
        double x = ((i > 0 ? past(s->shift, i - 1, engine_delay_s) : 0) - gas) / (1 + b->trim0);
        s->x[i] = x;
        lambda += (1 / (1 - x) - lambda) * dt / b->front_tau_s;
        volts += ((x < 0 ? 0.85 : 0.1) - volts) * dt / b->front_tau_s;
        s->front[i] = b->switching_front ? volts : lambda;
        double e = b->switching_front ? (volts > 0.45 ? -1 : 1) : 1 - 1 / lambda;
        if (b->loop == BENCH_RELAY) {
            integral -= b->rate * (e > 0 ? 1 : -1) * dt;
            s->shift[i] = integral;
        } else {
            integral -= b->rate * e * dt;
            s->shift[i] = integral - b->rate * e;
        }
        double at_store = past(s->x, i, b->pipe_s);
        stored += w_o2 * b->air_g_s * at_store * dt * (at_store < 0 ? 1 - b->slip : 1);
        double gas_v = 0.7;
        if (stored >= b->store_g)
            gas_v = at_store > 0 ? fmin(0.1, -0.0194 * log(at_store)) : 0.7; /* Nernst, 900 K */
        if (stored <= 0)
            gas_v = 0.85;
        stored = fmin(b->store_g, fmax(0, stored));
        if (t > b->off_s)
            r->fed_g += fmax(0, w_o2 * b->air_g_s * at_store * dt);
        rear += (gas_v - rear) * dt / b->rear_tau_s;
        s->rear[i] = rear;
    }
}

static double last_rise(const double *v, size_t from, size_t to, double level)
{
    for (size_t i = to; i > from; i--)
        if (v[i] >= level && v[i - 1] < level)
            return ((double)i - (v[i] - level) / (v[i] - v[i - 1])) / STEPS_A_S;
    return NAN;
}

static double first_fall(const double *v, size_t from, size_t to, double level)
{
    for (size_t i = from + 1; i < to; i++)
        if (v[i] <= level && v[i - 1] > level)
            return ((double)i - (level - v[i]) / (v[i - 1] - v[i])) / STEPS_A_S;
    return NAN;
}

static void truth(const struct bench *b, const struct signals *s, struct bench_run *r)
{
    size_t off = (size_t)(b->off_s * STEPS_A_S), peak = off;
    double level = b->switching_front ? -0.15 : 1.03; /* well lean: when it has surely begun */
    for (size_t i = off; i < s->n; i++) {
        double v = b->switching_front ? -s->front[i] : s->front[i];
        if (v > level) {
            peak = i;
            break;
        }
    }
    if (b->switching_front) {
        r->front_lean_s = NAN;
        for (size_t i = peak; i > 0; i--)
            if (s->front[i] <= 0.45 && s->front[i - 1] > 0.45) {
                r->front_lean_s = (double)i / STEPS_A_S;
                break;
            }
    } else {
        r->front_lean_s = last_rise(s->front, 0, peak, 1.01);
    }
    r->rear_lean_s = first_fall(s->rear, (size_t)(r->front_lean_s * STEPS_A_S), s->n, 0.45);
    r->stored_g = b->store_g;
}

static double quantised(double v, double step)
{
    return round(v / step) * step;
}

static double at(const double *v, const struct signals *s, double t)
{
    double i = fmax(0, fmin(t * STEPS_A_S, (double)s->n - 2));
    size_t k = (size_t)i;
    return v[k] + (v[k + 1] - v[k]) * (i - (double)k);
}

static struct oxl_point taken(const struct bench *b, uint32_t *seed, double sent, double *moment)
{
    double reply = b->reply_s * (0.8 + 0.4 * random_unit(seed));
    *moment = sent + reply * (b->moment ? random_unit(seed) : 0.3);
    struct oxl_point p = {llround(sent * 1e6), llround((sent + reply) * 1e6), 0};
    return p;
}

/* One value in the ECU: taken at its clock's moments, with the noise of that moment. */
struct latch {
    double period_s, phase_s, taken_s, noise;
};

static struct latch latch_of(double period_s, uint32_t *seed)
{
    return (struct latch){period_s, period_s > 0 ? period_s * random_unit(seed) : 0, NAN, 0};
}

static void latch_at(struct latch *l, double t, uint32_t *seed)
{
    double taken = t;
    if (l->period_s > 0)
        taken = l->phase_s + floor((t - l->phase_s) / l->period_s) * l->period_s;
    if (taken != l->taken_s)
        l->noise = random_normal(seed);
    l->taken_s = taken;
}

static double front_value(const struct bench *b, const struct signals *s, const struct latch *l)
{
    double v = at(s->front, s, l->taken_s);
    return b->switching_front ? quantised(fmax(0, v + b->noise_v * l->noise), 0.005)
                              : quantised(v + b->noise_lambda * l->noise, 1 / 32768.0);
}

static void link(const struct bench *b, const struct signals *s, struct bench_run *r)
{
    uint32_t seed = b->seed, clock = b->seed * 31 + 7;
    double round_s = 1 / b->rate_hz, start = round_s * random_unit(&seed), m;
    struct latch front = latch_of(b->refresh_front_s, &clock),
                 rear = latch_of(b->refresh_rear_s, &clock),
                 trim = latch_of(b->refresh_trim_s, &clock);
    int k = 0;
    for (double t = start; t < b->end_s - 1 && r->n_front < BENCH_MAX; t += round_s, k++) {
        double jitter = 0.1 * round_s * random_unit(&seed);
        struct oxl_point p = taken(b, &seed, t + jitter, &m);
        latch_at(&front, m, &seed);
        p.value = front_value(b, s, &front);
        r->front[r->n_front++] = p;
        if (!b->same_reply)
            p = taken(b, &seed, t + jitter + 0.5 * round_s, &m);
        latch_at(&rear, m, &seed);
        p.value = quantised(fmax(0, at(s->rear, s, rear.taken_s) + b->noise_v * rear.noise), 0.005);
        r->rear[r->n_rear++] = p;
        if (k % 2 == 0) {
            latch_at(&trim, m, &clock);
            p.value = quantised(100 * (b->trim0 - at(s->shift, s, trim.taken_s)), 100.0 / 128);
            r->trim[r->n_trim++] = p;
            p.value = b->air_g_s;
            r->air[r->n_air++] = p;
        }
    }
}

void bench_go(const struct bench *b, struct bench_run *r)
{
    static struct signals s;
    memset(r, 0, sizeof *r);
    plant(b, &s, r);
    truth(b, &s, r);
    link(b, &s, r);
}

void bench_input(const struct bench *b, const struct bench_run *r, struct oxl_profile *p,
                 struct oxl_run_input *in)
{
    test_profile(p);
    /* 6.35 l/s at 3 g/s and 703 K, science_checks.csv exhaust_volume_flow */
    p->path_volume_l = b->pipe_s * 6.346526522 * b->air_g_s / 3 * 703.15 / 700;
    p->front_tau_s = b->front_tau_s;
    p->rear_tau_s = b->rear_tau_s;
    memset(in, 0, sizeof *in);
    p->humidity_ratio = 0; /* the bench breathes dry air */
    in->profile = p;
    in->pair.front_kind = b->switching_front ? OXL_SENSOR_SWITCHING : OXL_SENSOR_WIDE;
    in->pair.rear_kind = OXL_SENSOR_SWITCHING;
    in->front = (struct oxl_trace){r->front, r->n_front};
    in->rear = (struct oxl_trace){r->rear, r->n_rear};
    in->trim = (struct oxl_trace){r->trim, r->n_trim};
    in->air = (struct oxl_trace){r->air, r->n_air};
    in->baseline_trim_pct = 100 * b->trim0;
    in->baseline_trim_sd_pct = 0.5;
    in->baseline_rpm = 750;
    in->front_level = b->switching_front ? NAN : 1.0;
    in->front_noise = b->switching_front ? 0.3 : b->noise_lambda;
    in->rear_level = 0.7;
    in->rear_noise = b->noise_v;
    in->shift_start_us = llround((b->on_s + 1) * 1e6);
    in->cut_us = llround(b->off_s * 1e6);
    in->ended_held = isnan(r->rear_lean_s);
    double end = isnan(r->rear_lean_s) ? b->end_s - 2 : r->rear_lean_s + 1.5;
    in->end_us = llround(end * 1e6);
}

void bench_take_moments(struct oxl_run_input *in)
{
    static struct oxl_point front[BENCH_MAX], rear[BENCH_MAX], trim[BENCH_MAX];
    in->front_refresh = oxl_find_refresh(in->front);
    in->rear_refresh = oxl_find_refresh(in->rear);
    in->trim_refresh = oxl_find_refresh(in->trim);
    in->front_taken = (struct oxl_trace){
        front, oxl_taken_moments(in->front, &in->front_refresh, front, BENCH_MAX)};
    in->rear_taken =
        (struct oxl_trace){rear, oxl_taken_moments(in->rear, &in->rear_refresh, rear, BENCH_MAX)};
    in->trim =
        (struct oxl_trace){trim, oxl_taken_moments(in->trim, &in->trim_refresh, trim, BENCH_MAX)};
}
