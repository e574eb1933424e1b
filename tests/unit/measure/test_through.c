/* Where a rear comes to stand behind a store that is full, and how late a wide-range one may be.
 * Truth from Nernst's equation (19.39 mV per e-fold at 900 K, CODATA 2018) and from how the signals
 * are made. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_run.h"
#include "measure/parts.h"

enum { MOST = 1000 };
static const double lean_s = 10, path_s = 0.2, gas_x = 0.18;

/* A rear from 8 s on behind a converter that lets a share of the gas through from lean_s + path. */
struct rear {
    bool wide;
    double tau_s, rich_x, share, noise, hz;
    double refresh_s; /* 0: at every value */
};

static double seen_v(double x)
{
    return x > 0 ? fmin(0.8, -0.01938899984 * log(x)) : 0.8;
}

static size_t rear_points(const struct rear *r, struct oxl_point *out)
{
    const double dt = 0.001;
    double x = r->rich_x, v = 0.8, taken_s = -INFINITY, read = NAN;
    uint32_t seed = 7;
    size_t n = 0;
    for (int i = 0; i < 6000 && n < MOST; i++) {
        double t = 8 + i * dt, gas = t < lean_s + path_s ? r->rich_x : r->share * gas_x;
        x += (gas - x) * dt / r->tau_s;
        v += (seen_v(gas) - v) * dt / r->tau_s;
        if (t >= taken_s + r->refresh_s) {
            read = r->wide ? 1 / (1 - x) : v;
            taken_s = t;
        }
        if (i % (int)(1000 / r->hz) == 0) {
            out[n++] = (struct oxl_point){(int64_t)(t * 1e6), (int64_t)(t * 1e6) + 10000,
                                          read + r->noise * random_normal(&seed)};
        }
    }
    return n;
}

struct looked {
    size_t levels;
    double above_v; /* the lowest */
    double lag_s;
};

/* late_s: the gas leaves so much later than the front's crossing, as a switching one has it. */
static struct looked look(const struct rear *r, double late_s)
{
    static struct oxl_point points[MOST + 3], trim[2];
    struct oxl_profile p;
    struct oxl_run_result result = {.dropped = true};
    test_profile(&p);
    trim[0] = (struct oxl_point){0, 0, -100 * gas_x};
    trim[1] = (struct oxl_point){20000000, 20000000, -100 * gas_x};
    /* What was asked for after the end of the run: nothing of it counts. */
    size_t n = rear_points(r, points);
    for (size_t k = 0; k < 3; k++)
        points[n + k] = (struct oxl_point){14000100, 14000100, 9};
    struct oxl_run_input in = {
        .profile = &p,
        .pair = {.rear_kind = r->wide ? OXL_SENSOR_WIDE : OXL_SENSOR_SWITCHING},
        .rear = {points, n + 3},
        .rear_refresh = {.known = true, .period_s = fmax(r->refresh_s, 0.02)},
        .end_us = 14000000};
    struct run_work w = {.in = &in, .out = &result, .lean_s = lean_s + late_s, .path_s = path_s};
    w.excess = (struct excess){.source = OXL_XSRC_TRIM,
                               .trim = {trim, 2},
                               .lean_s = w.lean_s,
                               .tail_s = p.gas_tail_s,
                               .x0 = gas_x,
                               .last_s = 14};
    w.front = (struct crossing){.found = true, .t_s = lean_s};
    double level = r->wide ? 1 + p.lambda_step : p.switch_v;
    size_t i = oxl_trace_after(in.rear, 10000000);
    while (i < in.rear.count && (points[i].value < level) == r->wide)
        i++;
    w.rear = (struct crossing){.found = true, .after = i, .t_s = point_mid_s(&points[i])};
    static struct rear_level levels[MAX_LEVELS];
    struct looked out = {oxl_find_levels(&w, levels), INFINITY, oxl_wide_rear_lag_s(&w)};
    for (size_t k = 0; k < out.levels; k++) {
        out.above_v = fmin(out.above_v, levels[k].above_v);
        assert_true(k == 0 || levels[k].full_s >= levels[k - 1].full_s);
    }
    return out;
}

/* 12 mV of noise at 60 samples a second: a mean of three would be as low as -15 mV somewhere. */
static void test_a_noisy_rear_stands(void **state)
{
    (void)state;
    const struct rear dead = {false, 0.12, -0.03, 1, 0.012, 60, 0};
    assert_near(look(&dead, 0).above_v, 0, 0.010);
}

/* A dead converter's rear falls while the gas still leaves: what says how lean it is begins only
 * then. */
static void test_a_fall_before_the_gas_has_left(void **state)
{
    (void)state;
    const struct rear dead = {false, 0.12, -0.03, 1, 0.003, 60, 0};
    assert_near(look(&dead, 0.6).above_v, 0, 0.010);
}

/* A bed that takes four fifths of it up leaves the rear ln 5 higher. */
static void test_a_bed_that_still_takes(void **state)
{
    (void)state;
    for (int wide = 0; wide < 2; wide++) {
        const struct rear r = {wide, 0.12, -0.03, 0.2, wide ? 0.001 : 0.003, 30, 0};
        assert_near(look(&r, 0).above_v, 0.0312, 0.008);
    }
}

static void test_a_wide_rear_stands(void **state)
{
    (void)state;
    const struct rear dead = {true, 0.15, -0.03, 1, 0.002, 30, 0};
    struct looked d = look(&dead, 0);
    assert_near(d.above_v, 0, 0.008);
    assert_true(d.lag_s < 0.2);
}

/* A slow one comes from far rich: a dead converter shows a delay that is all the sensor's. */
static void test_a_slow_wide_rear_is_late(void **state)
{
    (void)state;
    const struct rear dead = {true, 3.9, -0.2, 1, 0.001, 30, 0};
    const double late_s = 3.9 * log((gas_x + 0.2) / (gas_x - 0.0099));
    struct looked d = look(&dead, 0);
    assert_true(d.above_v > 0.02);
    assert_true(d.lag_s > 0.9 * late_s);
    assert_true(d.lag_s < 1.5 * late_s);
}

/* Two values may be a refresh less or more apart than they were asked for: that a table is read 30
 * times a second and written every 0.3 s makes the sensor look no quicker than it is. */
static void test_a_slow_wide_rear_behind_a_slow_ecu(void **state)
{
    (void)state;
    const struct rear dead = {true, 3.9, -0.2, 1, 0.001, 30, 0.3};
    const double late_s = 3.9 * log((gas_x + 0.2) / (gas_x - 0.0099));
    const double lag_s = look(&dead, 0).lag_s;
    assert_true(lag_s > 0.9 * late_s);
    assert_true(lag_s < 2 * late_s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_noisy_rear_stands),
        cmocka_unit_test(test_a_fall_before_the_gas_has_left),
        cmocka_unit_test(test_a_bed_that_still_takes),
        cmocka_unit_test(test_a_wide_rear_stands),
        cmocka_unit_test(test_a_slow_wide_rear_is_late),
        cmocka_unit_test(test_a_slow_wide_rear_behind_a_slow_ecu),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
