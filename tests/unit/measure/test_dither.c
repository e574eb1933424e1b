/* A switching front's dither against its release, and the time of a fall. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_bench.h"
#include "measure/parts.h"

enum { N = 600 };

/* A dither whose lean halves last lean_s of each 2.4 s; from 20 s rich, and lean for good a second
 * later. */
static struct oxl_trace dithering(struct oxl_point p[N], double lean_s)
{
    for (int i = 0; i < N; i++) {
        double t = 0.05 * i;
        bool lean = t < 20 ? fmod(t, 2.4) < lean_s : t >= 21;
        p[i] = (struct oxl_point){micros(t), micros(t), lean ? 0.1 : 0.8};
    }
    return (struct oxl_trace){p, N};
}

/* Lean halves that are longer than the time after which a front counts as released (1.2 s) are the
 * dither's own as long as they are no longer than those before. Long rich ones change nothing: the
 * release is certain as soon as ever. */
static void test_long_lean_halves_are_no_release(void **state)
{
    static struct oxl_point p[N];
    static const double halves_s[] = {1.7, 0.5};
    const struct oxl_pair pair = {.front_kind = OXL_SENSOR_SWITCHING};
    struct oxl_profile profile;
    (void)state;
    test_profile(&profile);
    const struct oxl_lean_rule rule = oxl_front_rule(&profile, &pair, NAN, 0.3);
    for (size_t i = 0; i < sizeof halves_s / sizeof halves_s[0]; i++) {
        struct oxl_trace t = dithering(p, halves_s[i]);
        struct crossing c = oxl_find_crossing(t, &rule, 13000000, 29000000);
        assert_true(c.found);
        assert_near(c.t_s, 21, 0.06);
        const int64_t sure_us = micros(21 + 0.2 + fmax(rule.settle_s, 1.2 * halves_s[i]));
        assert_true(oxl_find_crossing(t, &rule, 13000000, sure_us).found);
    }
}

/* Levels from moments on, a value every 50 ms. */
struct level {
    double from_s, v;
};

static struct oxl_trace stepping(struct oxl_point p[N], const struct level *levels, size_t n)
{
    for (int i = 0; i < N; i++) {
        double t = 0.05 * i, v = levels[0].v;
        for (size_t k = 0; k < n; k++)
            v = t >= levels[k].from_s ? levels[k].v : v;
        p[i] = (struct oxl_point){micros(t), micros(t), v};
    }
    return (struct oxl_trace){p, N};
}

/* A period is from one rise to the next. That the front was rich when the 6 s begin is no rise. */
static void test_a_period_takes_two_rises(void **state)
{
    static struct oxl_point p[N];
    static const struct level one[] = {{0, 0.8}, {3, 0.1}, {5, 0.8}};
    static const struct level two[] = {{0, 0.8}, {3, 0.1}, {5, 0.8}, {6, 0.1}, {7.5, 0.8}};
    struct oxl_profile profile;
    (void)state;
    test_profile(&profile);
    assert_near(oxl_dither_period_s(stepping(p, one, 3), &profile, 8), 0, 0);
    assert_near(oxl_dither_period_s(stepping(p, two, 5), &profile, 8), 2.5, 0.051);
}

/* The hand took gas back 1.2 s before the call and the front went lean, rich once more before the
 * call, and lean for good after it: that last fall is the release. */
static void test_gas_taken_back_before_the_call_is_no_release(void **state)
{
    static struct oxl_point p[N];
    static const struct level v[] = {{0, 0.8}, {10.8, 0.1}, {14, 0.8}, {16, 0.1}};
    const struct oxl_pair pair = {.front_kind = OXL_SENSOR_SWITCHING};
    struct oxl_profile profile;
    (void)state;
    test_profile(&profile);
    const struct oxl_lean_rule rule = oxl_front_rule(&profile, &pair, NAN, 0.3);
    struct oxl_trace t = stepping(p, v, 4);
    struct oxl_moment m = oxl_find_release(t, &rule, 2000000, 12000000, 29000000, NULL);
    assert_true(m.found);
    assert_near(seconds(m.t_us), 16, 0.06);
    t = stepping(p, v, 2); /* it stayed lean: the hand was early */
    m = oxl_find_release(t, &rule, 2000000, 12000000, 29000000, NULL);
    assert_true(m.found);
    assert_near(seconds(m.t_us), 10.8, 0.06);
}

/* From 0.7 V down by 2 V a second, and it stands where the fall ends: at 0.3 V itself. */
static void test_a_fall_that_ends_at_the_level(void **state)
{
    static const double v[] = {0.7, 0.7, 0.5, 0.3, 0.3, 0.3};
    struct oxl_point p[6];
    (void)state;
    for (int i = 0; i < 6; i++)
        p[i] = (struct oxl_point){i * 100000, i * 100000, v[i]};
    const struct crossing c = {.found = true, .before = 2, .after = 3};
    assert_near(oxl_fall_time_s((struct oxl_trace){p, 6}, &c, 0.6, 0.3), 0.15, 1e-9);
    assert_near(oxl_fall_time_s((struct oxl_trace){p, 6}, &c, 0.7, 0.3), 0.2, 1e-9);
    assert_true(isnan(oxl_fall_time_s((struct oxl_trace){p, 6}, &c, 0.7, 0.25)));
}

/* A rear that rich gas took to 0.5 V only balances at the middle of its own swing, (0.5 + 0.06) / 2
 * = 0.28 V. How far gas takes it shows from when the gas began; where that is not known, nothing is
 * made of it. */
static void test_a_rears_own_middle_needs_the_beginning_of_gas(void **state)
{
    static struct oxl_point p[N];
    const struct oxl_pair pair = {.rear_kind = OXL_SENSOR_SWITCHING};
    struct oxl_profile profile;
    (void)state;
    test_profile(&profile);
    const struct oxl_lean_rule rule = oxl_rear_rule(&profile, &pair, NAN);
    for (int i = 0; i < N;
         i++) { /* 0.1 V a second from 20 s on: 0.45 V at 20.5, 0.28 V at 22.2 s */
        double t = 0.05 * i;
        p[i] = (struct oxl_point){micros(t), micros(t), fmax(0.08, 0.5 - 0.1 * fmax(0, t - 20))};
    }
    for (int known = 0; known < 2; known++) {
        const struct oxl_run_input in = {.rear = {p, N},
                                         .end_us = micros(29),
                                         .shift_start_us = known ? micros(10) : 0,
                                         .profile = &profile};
        struct oxl_run_result out = {0};
        struct run_work w = {.in = &in, .out = &out};
        w.front.moment.low_us = micros(19);
        w.rear = oxl_find_crossing(in.rear, &rule, micros(19), micros(29));
        assert_true(w.rear.found);
        oxl_widen_rear(&w, &rule);
        assert_int_equal(out.rear_lean.high_us >= micros(22.2), known);
        assert_true(out.rear_lean.low_us < micros(21));
    }
}

/* 0.7 V at 0.5 s, 0.44 V at 1.1 s and 0.1 V at 1.2 s, nothing asked for in between: the steeper
 * slope, the one behind, dates the crossing of 0.45 V. That the value between was given twice hides
 * it from nobody. */
static void test_a_value_given_twice_hides_no_slope(void **state)
{
    struct oxl_point p[20] = {
        {300000, 300000, 0.7}, {500000, 500000, 0.7}, {1100000, 1100000, 0.44}};
    const struct oxl_pair pair = {.rear_kind = OXL_SENSOR_SWITCHING};
    struct oxl_profile profile;
    (void)state;
    test_profile(&profile);
    const struct oxl_lean_rule rule = oxl_rear_rule(&profile, &pair, NAN);
    for (int twice = 0; twice < 2; twice++) {
        size_t n = 3;
        if (twice)
            p[n++] = p[2];
        for (int i = 0; n < 20; i++)
            p[n++] = (struct oxl_point){1200000 + i * 100000, 1200000 + i * 100000, 0.1};
        struct crossing c = oxl_find_crossing((struct oxl_trace){p, n}, &rule, 100000, 9000000);
        assert_true(c.found);
        assert_near(c.t_s, 1.1 - 0.01 / 3.4, 0.002);
    }
}

/* Lean from 10 s, perhaps until 10.2 s; the gas from 10.1 s. It has ended when the front is rich
 * twice running, the second time at `ended_s`; 0: it has not. */
static void test_a_front_rich_again_ends_the_lean_gas(void **state)
{
    static struct oxl_point p[N];
    static const struct {
        double from_s, until_s, v, ended_s;
    } rows[] = {
        {12, 12.01, 0.8, 0},    {12, 12.06, 0.8, 12.05},  {12, 12.06, 0.5, 12.05},
        {12, 12.06, 0.495, 0},  {10.1, 10.16, 0.8, 0}, /* within what its crossing leaves open */
        {10.15, 10.21, 0.8, 0}, {10.2, 10.31, 0.8, 10.3}, {14, 29, 0.8, 14.05},
    };
    struct oxl_profile profile;
    (void)state;
    test_profile(&profile);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct level levels[] = {
            {0, 0.8}, {10, 0.1}, {rows[i].from_s, rows[i].v}, {rows[i].until_s, 0.1}};
        const struct oxl_run_input in = {.profile = &profile,
                                         .pair = {.front_kind = OXL_SENSOR_SWITCHING},
                                         .front = stepping(p, levels, 4),
                                         .end_us = micros(29)};
        struct oxl_run_result out = {.shift_pct = NAN};
        struct run_work w = {.in = &in, .out = &out, .lean_s = 10.1};
        w.front.moment.high_us = micros(10.2);
        oxl_find_oxygen(&w);
        assert_near(w.excess.over_s, rows[i].ended_s, 1e-6);
    }
}

/* 0.4 s lean, then 1 s rich and lean for good: of a front that must stay lean for 0.8 s only the
 * second is the release. */
static void test_a_front_settles_as_long_as_its_rule_says(void **state)
{
    static struct oxl_point p[N];
    static const struct level levels[] = {{0, 0.8}, {10, 0.1}, {10.4, 0.8}, {11.4, 0.1}};
    const struct oxl_pair pair = {.front_kind = OXL_SENSOR_SWITCHING};
    struct oxl_profile profile;
    (void)state;
    test_profile(&profile);
    struct oxl_lean_rule rule = oxl_front_rule(&profile, &pair, NAN, NAN);
    rule.settle_s = 0.8;
    struct oxl_trace t = stepping(p, levels, 4);
    assert_false(oxl_find_crossing(t, &rule, micros(5), micros(10.35)).found);
    assert_near(oxl_find_crossing(t, &rule, micros(5), micros(15)).t_s, 11.4, 0.05);
}

/* Trims at -15 and -25 % in turns with a dither of 2.4 s: the shift is their mean, wherever in it
 * the release comes. */
static void test_a_shift_is_of_whole_swings(void **state)
{
    static struct oxl_point p[N], trim[N];
    struct oxl_profile profile;
    (void)state;
    test_profile(&profile);
    for (int i = 0; i < N; i++) {
        double t = 0.05 * i;
        trim[i] = (struct oxl_point){micros(t), micros(t), fmod(t, 2.4) < 1.2 ? -15 : -25};
    }
    const struct oxl_run_input in = {.profile = &profile,
                                     .pair = {.front_kind = OXL_SENSOR_SWITCHING},
                                     .front = dithering(p, 1.2),
                                     .trim = {trim, N}};
    for (double at_s = 15; at_s < 17.4; at_s += 0.3) {
        struct oxl_run_result out = {.rpm = 750, .air_g_s = 3};
        struct run_work w = {.in = &in, .out = &out, .front = {.t_s = at_s}};
        oxl_find_shift(&w);
        assert_near(out.shift_pct, -20, 0.5);
    }
}

/* Five rounds of a link of two values a second; of ten a second none. */
static void test_only_a_slow_link_waits_for_rounds(void **state)
{
    static struct oxl_point p[N];
    (void)state;
    for (int slow = 0; slow < 2; slow++) {
        for (int i = 0; i < N; i++) {
            int64_t t_us = (slow ? 500000 : 100000) * (int64_t)i;
            p[i] = (struct oxl_point){t_us, t_us, 0.8};
        }
        assert_near(oxl_slow_dither_s((struct oxl_trace){p, N}, micros(50)), slow ? 2.5 : 0, 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_long_lean_halves_are_no_release),
        cmocka_unit_test(test_a_value_given_twice_hides_no_slope),
        cmocka_unit_test(test_a_front_rich_again_ends_the_lean_gas),
        cmocka_unit_test(test_a_front_settles_as_long_as_its_rule_says),
        cmocka_unit_test(test_a_shift_is_of_whole_swings),
        cmocka_unit_test(test_only_a_slow_link_waits_for_rounds),
        cmocka_unit_test(test_a_period_takes_two_rises),
        cmocka_unit_test(test_gas_taken_back_before_the_call_is_no_release),
        cmocka_unit_test(test_a_fall_that_ends_at_the_level),
        cmocka_unit_test(test_a_rears_own_middle_needs_the_beginning_of_gas),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
