/* Was the store empty when the gas was cut? Truth from how the signals are made: lean gas of 18 %
 * from 10 s on of which a share comes through, by Nernst's equation (19.39 mV for each factor of e
 * at 900 K, CODATA 2018); before it gas of lambda 0.9 for a time. What is needed by hand: 1.3 times
 * what was fed until the rear stood there, and 400 mg at 3 g/s for each factor of e. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_run.h"
#include "measure/parts.h"

static const double lean_s = 10, path_s = 0.2, gas_x = 0.18, rich_x = 0.1, tau_s = 0.1;

/* A bed that was given rich gas for rich_s, and lets a share of the lean gas through from delay_s
 * after it on; a rear that cannot read less than ends_v. */
struct bed {
    double rich_s, share, delay_s, ends_v, air_g_s;
};

enum { N = 700 };
static struct oxl_point front[N], rear[N];

static void signals(const struct bed *b)
{
    double v = 0.8;
    for (int i = 0; i < N; i++) {
        const double t = 0.02 * i;
        const int64_t us = (int64_t)llround(t * 1e6);
        const double x = t < lean_s - b->rich_s ? 0 : t < lean_s ? -rich_x : gas_x;
        const bool through = t > lean_s + path_s + b->delay_s;
        const double to_v = through ? -0.01939 * log(b->share * gas_x) : 0.8;
        v += (to_v - v) * 0.02 / tau_s;
        front[i] = (struct oxl_point){us, us, 1 / (1 - x)};
        rear[i] = (struct oxl_point){us, us, fmax(b->ends_v, v)};
    }
}

static struct oxl_run_result emptied(const struct bed *b)
{
    struct oxl_profile p;
    struct oxl_run_result r = {.dropped = true,
                               .air_g_s = b->air_g_s,
                               .x_source = OXL_XSRC_LAMBDA,
                               .o2_mg = {10, 5, 20},
                               .o2_removed_mg = NAN};
    test_profile(&p);
    p.humidity_ratio = 0;
    p.rear_tau_s = tau_s;
    signals(b);
    const struct oxl_run_input in = {
        .profile = &p,
        .pair = {.front_kind = OXL_SENSOR_WIDE, .rear_kind = OXL_SENSOR_SWITCHING},
        .front = {front, N},
        .rear = {rear, N},
        .shift_start_us = 4000000,
        .end_us = 13500000};
    struct run_work w = {.in = &in, .out = &r, .lean_s = lean_s, .path_s = path_s, .bound_mg = 4};
    w.excess = (struct excess){
        .source = OXL_XSRC_LAMBDA, .front = in.front, .lean_s = lean_s, .last_s = 13.5};
    w.front = (struct crossing){.found = true, .t_s = lean_s};
    size_t i = oxl_trace_after(in.rear, 10000000);
    while (rear[i].value > 0.45)
        i++;
    w.rear = (struct crossing){.found = true, .after = i, .t_s = point_mid_s(&rear[i])};
    w.balance_s = w.balance_first_s = w.stop_s = w.rear.t_s;
    oxl_find_part_emptied(&w);
    return r;
}

static bool is_part(const struct bed *b)
{
    const struct oxl_run_result r = emptied(b);
    const bool part = oxl_reasons_has(r.reasons, OXL_R_PART_EMPTIED);
    assert_int_equal(part, r.o2_is_lower_bound);
    assert_int_equal(part, isinf(r.o2_mg.high));
    assert_true(part ? fabs(r.o2_mg.low - 4) < 1e-9 : fabs(r.o2_mg.low - 5) < 1e-9);
    return part;
}

/* All of the gas through 0.3 s after the cut: the rear has settled some tenths of a second later,
 * in which 0.2314 * 0.18 * 3 g/s were fed, 125 mg a second; and 10 mV may be the sensor's. */
static void test_needed_behind_a_dead_one(void **state)
{
    (void)state;
    const struct bed dead = {2, 1, 0.3, 0, 3};
    const struct oxl_run_result r = emptied(&dead);
    assert_near(r.rear_above_v, 0, 0.002);
    const double level_mg = 400 * 0.010 / 0.0194;
    assert_true(r.o2_needed_mg > 1.3 * 125 * 0.3 + level_mg);
    assert_true(r.o2_needed_mg < 1.3 * 125 * 0.8 + level_mg);
    /* lambda 0.909 takes out 69 mg a second. */
    assert_false(is_part(&(struct bed){5, 1, 0.3, 0, 3}));
    assert_true(is_part(&(struct bed){2.5, 1, 0.3, 0, 3}));
}

/* A twentieth of it comes through: three factors of e, 58 mV higher and 1200 mg more to be taken
 * out. A rear that ends there by itself looks the same, and needs the same. */
static void test_needed_where_the_rear_stands_higher(void **state)
{
    (void)state;
    const struct bed dead = {5, 1, 0.3, 0, 3}, weak = {5, 0.05, 0.3, 0, 3},
                     ends = {5, 1, 0.3, 0.0333 + 0.0581, 3};
    const double more_mg = emptied(&weak).o2_needed_mg - emptied(&dead).o2_needed_mg;
    assert_near(emptied(&weak).rear_above_v, 0.0581, 0.002);
    assert_near(more_mg, 400 * 0.0581 / 0.0194, 60);
    assert_near(emptied(&ends).rear_above_v, 0.0581, 0.002);
    assert_near(emptied(&ends).o2_needed_mg, emptied(&weak).o2_needed_mg, 70);
    assert_true(is_part(&weak));
    assert_true(is_part(&ends));
}

/* What it is fed until then fills it again. */
static void test_a_bed_that_takes_long_needs_more(void **state)
{
    (void)state;
    const struct bed soon = {5, 1, 0.3, 0, 3}, late = {5, 1, 1.3, 0, 3};
    assert_near(emptied(&late).o2_needed_mg - emptied(&soon).o2_needed_mg, 1.3 * 125, 6);
    assert_false(is_part(&soon));
    assert_true(is_part(&late));
}

/* A stronger flow finds a bed weaker, by its root. What was fed grows with it, but for the moment
 * that asks for least, which is sooner. */
static void test_the_flow(void **state)
{
    (void)state;
    const struct bed idle = {5, 1, 0.3, 0, 3}, four = {5, 1, 0.3, 0, 12};
    const double level_mg = 400 * 0.010 / 0.0194;
    const double fed_mg = emptied(&idle).o2_needed_mg - level_mg;
    assert_true(emptied(&four).o2_needed_mg <= 4 * fed_mg + 2 * level_mg);
    assert_true(emptied(&four).o2_needed_mg > 3 * fed_mg + 2 * level_mg);
}

/* Without an air flow nothing is in mg, and the dose is held against an engine that idles on
 * little: 248 mg at 1.5 g/s for each factor of e, of gas that brings 62 mg a second. */
static void test_without_an_air_flow(void **state)
{
    (void)state;
    const struct bed little = {8, 1, 0.3, 0, NAN};
    assert_true(isnan(emptied(&little).o2_needed_mg));
    assert_false(is_part(&little));
    assert_true(is_part(&(struct bed){5, 1, 0.3, 0, NAN}));
    assert_false(is_part(&(struct bed){5, 1, 0.3, 0, 3}));
}

/* Where the gas is gone before the rear has come down nothing is shown. */
static void test_a_level_that_was_not_seen(void **state)
{
    (void)state;
    const struct bed late = {5, 1, 3.3, 0, 3};
    const struct oxl_run_result r = emptied(&late);
    assert_true(isnan(r.o2_needed_mg) && isnan(r.rear_above_v));
    assert_true(is_part(&late));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_needed_behind_a_dead_one),
        cmocka_unit_test(test_needed_where_the_rear_stands_higher),
        cmocka_unit_test(test_a_bed_that_takes_long_needs_more),
        cmocka_unit_test(test_the_flow),
        cmocka_unit_test(test_without_an_air_flow),
        cmocka_unit_test(test_a_level_that_was_not_seen),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
