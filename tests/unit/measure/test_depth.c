/* How lean: what a switching sensor's voltage, a wide-range rear and a biased rear tell. Truth from
 * Nernst's equation (19.39 mV per e-fold at 900 K, CODATA 2018) and from how the signals are made.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_run.h"
#include "measure/parts.h"

enum { MOST = 2000 };
static struct oxl_point points[MOST];

/* A relay loop at rest: 1 % each way every 0.7 s. At 6 s its lean half begins; the gas goes late_s
 * after, exponentially, and leaves x = 0.2. */
static double mixture(double t, double late_s)
{
    const double swing = 0.01, half_s = 0.7, tail_s = 0.15;
    double x = fmod(floor(t / half_s), 2) < 1 ? -swing : swing;
    if (t >= 6)
        x = swing;
    if (t > 6 + late_s)
        x = swing + 0.19 * (1 - exp(-(t - 6 - late_s) / tail_s));
    return x;
}

static double nernst_v(double x)
{
    return x > 0 ? fmin(0.2, -0.01938899984 * log(x)) : 0.85;
}

static struct oxl_trace front_of(double late_s, double hz, double floor_v, uint32_t seed)
{
    const double tau_s = 0.1, dt = 0.001;
    double v = 0.8;
    size_t n = 0;
    for (int i = 0; i < 9000 && n < MOST; i++) {
        v += (nernst_v(mixture(i * dt, late_s)) - v) * dt / tau_s;
        if (i % (int)(1000 / hz) == 0) {
            double read = fmax(floor_v, v) + 0.004 * random_normal(&seed);
            points[n++] = (struct oxl_point){i * 1000 - 5000, i * 1000 + 5000,
                                             round(fmax(0, read) / 0.005) * 0.005};
        }
    }
    return (struct oxl_trace){points, n};
}

static struct oxl_lean_rule switching_rule(void)
{
    struct oxl_profile p;
    struct oxl_pair pair = {.front_kind = OXL_SENSOR_SWITCHING};
    test_profile(&p);
    return oxl_front_rule(&p, &pair, NAN, 0.3);
}

static void test_gas_that_leaves_late(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = switching_rule();
    int within = 0, all = 0;
    for (double hz = 8; hz < 30; hz *= 1.5)
        for (double late = 0; late < 1.01; late += 0.25)
            for (uint32_t seed = 1; seed < 20; seed++) {
                struct oxl_trace t = front_of(late, hz, 0, seed);
                struct crossing c = oxl_find_crossing(t, &rule, 5500000, 9000000);
                assert_true(c.found && fabs(c.t_s - 6) < 0.3);
                struct lean_start s = oxl_clearly_lean(t, &rule, &c, 0.1, 9);
                assert_true(s.seen);
                within += fabs(c.t_s + s.late_s - 6 - late) < s.err_s + 0.1;
                all++;
            }
    print_message("gas gone: %d of %d within\n", within, all);
    assert_true(within >= 0.98 * all);
}

/* A sensor whose signal ends at 0.09 V says nothing of how lean the gas is, and must not be
 * believed to; nor one that was never taken far lean. */
/* On a link as slow as the dither the crossing that was seen need not be the last one before the
 * gas left: the moment of the front reaches to within a sample of there. */
static void test_a_slow_link_misses_when_the_gas_left(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    struct prepared w;
    const double hz = 2.5;
    b.switching_front = true;
    b.loop = BENCH_RELAY;
    b.rate = 0.025;
    prepare(&w, &b);
    for (double late_s = 0.6; late_s < 1.3; late_s += 0.1) {
        w.in.front = front_of(late_s, hz, 0, 5);
        w.in.shift_start_us = 2000000;
        w.in.cut_us = 5500000;
        w.in.end_us = 8900000;
        again(&w);
        assert_true(seconds(w.r.front_lean.low_us) < 6);
        assert_true(seconds(w.r.front_lean.high_us) > 6 + late_s - 1 / hz);
    }
}

static void test_sensors_that_do_not_tell(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = switching_rule();
    struct oxl_trace t = front_of(0.5, 20, 0.09, 3);
    struct crossing c = oxl_find_crossing(t, &rule, 5500000, 9000000);
    assert_false(oxl_clearly_lean(t, &rule, &c, 0.1, 9).seen);
    t = front_of(0.5, 20, 0.16, 3);
    c = oxl_find_crossing(t, &rule, 5500000, 9000000);
    assert_false(oxl_clearly_lean(t, &rule, &c, 0.1, 9).seen);
    t = front_of(0.5, 20, 0, 3);
    assert_false(oxl_clearly_lean(t, &rule, &c, 0.1, c.t_s + 0.5).seen); /* too short to tell */
}

static void test_wide_rear_at_balance(void **state)
{
    (void)state;
    size_t n = 0;
    uint32_t seed = 5;
    for (int i = 0; i < 200; i++) /* 0.985, then 0.01 of lambda a second from 2 s on */
        points[n++] = (struct oxl_point){i * 50000, i * 50000,
                                         (i < 40 ? 0.985 : 0.985 + 0.01 * (i - 40) / 20) +
                                             0.002 * random_normal(&seed)};
    struct crossing c = {.found = true, .after = 92, .t_s = 4.55};
    struct oxl_trace t = {points, n};
    assert_near(oxl_passes_level_s(t, &c, 1, 1.0), 3.5, 0.12);
    assert_near(oxl_passes_level_s(t, &c, 1, 1.003), 3.8, 0.12);
    assert_near(oxl_passes_level_s(t, &c, 4, 1.0), 4, 1e-9);     /* beyond it since then */
    assert_near(oxl_passes_level_s(t, &c, 1, 1.02), 4.55, 1e-9); /* never later than the crossing */
    /* The same without a crossing; balance again later changes nothing. */
    assert_near(oxl_within_level_s(t, 1, 9, 1.0, 0.003), 3.5, 0.12);
    assert_near(oxl_within_level_s(t, 1, 3, 1.0, 0.003), 3, 1e-9);
    for (size_t i = 120; i < n; i++)
        points[i].value = 0.99;
    assert_near(oxl_within_level_s(t, 1, 9, 1.0, 0.003), 3.5, 0.12);
}

/* A rear that reads 0.6 of its voltage crosses 0.45 V while the gas is still rich; where the sound
 * one crosses, it is at 0.29 V. The interval must reach there. */
static void test_biased_rear(void **state)
{
    (void)state;
    struct bench b = bench_slow();
    struct prepared w;
    b.rear_tau_s = 1.5;
    prepare(&w, &b);
    double true_s = run.rear_lean_s - run.front_lean_s;
    assert_true(w.r.delay_s.low <= true_s && true_s <= w.r.delay_s.high);
    double usual = w.r.delay_s.high - w.r.delay_s.low;
    for (size_t i = 0; i < run.n_rear; i++)
        run.rear[i].value = 0.6 * run.rear[i].value + 0.02;
    again(&w);
    assert_true(w.r.delay_s.value < true_s - 0.2);
    assert_true(w.r.delay_s.low <= true_s && true_s <= w.r.delay_s.high);
    assert_true(w.r.delay_s.high - w.r.delay_s.low > usual + 0.3);
}

/* It fell, rose and fell again: the interval reaches from the first to the last fall. */
static void test_rear_falls_twice(void **state)
{
    (void)state;
    struct prepared w;
    prepare_slow(&w);
    again(&w);
    const double fall_s = run.rear_lean_s, once_low_s = w.r.delay_s.low;
    for (size_t i = 0; i < run.n_rear; i++) {
        double t = 1e-6 * (double)run.rear[i].recv_us;
        if (t > fall_s + 0.7 && t < fall_s + 1.0)
            run.rear[i].value = 0.7;
    }
    again(&w);
    double first_s = fall_s - run.front_lean_s;
    assert_true(w.r.dropped && w.r.delay_s.low <= once_low_s + 0.001);
    assert_true(w.r.delay_s.high >= first_s + 0.95);
}

/* lambda 1.012 at rest: an offset while the rear rests rich, a lean mixture when the rear rests
 * lean, too. Then x counts from balance, and the trim at balance lies 1.2 % higher. */
static void test_rest_that_is_lean(void **state)
{
    (void)state;
    struct bench b = bench_slow();
    struct prepared w;
    b.on_s = 8;
    prepare(&w, &b);
    for (size_t i = 0; i < run.n_front; i++)
        run.front[i].value *= 1.012;
    w.in.front_level = 1.012;
    again(&w);
    double offset_mg = w.r.o2_mg.value, shift = w.r.shift_pct;
    assert_near(offset_mg, 1e3 * run.stored_g, 20);
    for (size_t i = 0; i < run.n_rear; i++)
        if (run.rear[i].recv_us < 9000000)
            run.rear[i].value = 0.08;
    again(&w);
    assert_true(w.r.o2_mg.value > 1.04 * offset_mg);
    assert_near(w.r.shift_pct, shift - 1.2, 0.1);
}

/* What stands farther off balance than a sensor's offset is no rest: balance is taken. */
static void test_level_that_is_no_rest(void **state)
{
    (void)state;
    struct oxl_profile p;
    struct oxl_pair pair = {.front_kind = OXL_SENSOR_WIDE};
    test_profile(&p);
    assert_near(oxl_front_rule(&p, &pair, 1.012, 0.001).level, 1.012, 1e-12);
    assert_near(oxl_front_rule(&p, &pair, 0.97, 0.001).level, 1.0, 1e-12);
    assert_near(oxl_front_rule(&p, &pair, NAN, 0.001).level, 1.0, 1e-12);
}

/* Behind a full outlet end: a rear that takes seconds through its step is part emptied, a clean
 * fall is not. A wide-range one that stays far under the inlet asks for so much more. */
static void test_rear_near_balance(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    struct prepared w;
    b.rate = 0.1;
    b.off_s += 20;
    b.end_s = 85;
    prepare(&w, &b);
    assert_false(oxl_reasons_has(w.r.reasons, OXL_R_PART_EMPTIED));
    double fall_s = run.rear_lean_s;
    static struct oxl_point kept[BENCH_MAX];
    for (size_t i = 0; i < run.n_rear; i++) {
        double t = 1e-6 * (double)run.rear[i].recv_us;
        kept[i] = run.rear[i];
        if (t > fall_s - 0.6)
            run.rear[i].value = fmax(0.2, 0.65 - 0.2 * (t - fall_s + 0.6));
    }
    w.in.end_us += 1500000;
    again(&w);
    assert_true(oxl_reasons_has(w.r.reasons, OXL_R_PART_EMPTIED) && w.r.o2_is_lower_bound);
    w.in.pair.rear_kind = OXL_SENSOR_WIDE;
    double needed_mg[2];
    for (int full = 0; full < 2; full++) {
        for (size_t i = 0; i < run.n_rear; i++) {
            double t = 1e-6 * (double)kept[i].recv_us - fall_s;
            run.rear[i].value = 0.99 + (t > 0 ? (full ? 0.2 : 0.03) * (1 - exp(-t / 0.2)) : 0);
        }
        again(&w);
        assert_true(w.r.dropped);
        needed_mg[full] = w.r.o2_needed_mg;
    }
    assert_true(needed_mg[0] > needed_mg[1] + 500); /* 1.7 factors of e, 400 mg each */
}

/* The gas that a rear answers to passed the front one path before, here a second. A rear that stays
 * at 0.35 V stands far above gas that was lean then, though the front has balance by now; in gas
 * that was at balance already nothing is shown. */
static void test_the_gas_that_the_rear_stands_in(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    struct prepared w;
    b.rate = 0.1;
    b.off_s += 20;
    b.end_s = 85;
    b.pipe_s = 1;
    prepare(&w, &b);
    assert_false(oxl_reasons_has(w.r.reasons, OXL_R_PART_EMPTIED));
    assert_near(w.r.path_s, 1, 0.15);
    double fall_s = run.rear_lean_s, end_s = 1e-6 * (double)w.in.end_us;
    for (size_t i = 0; i < run.n_rear; i++)
        if (1e-6 * (double)run.rear[i].recv_us > fall_s)
            run.rear[i].value = fmax(0.35, run.rear[i].value);
    for (int gone = 0; gone < 2; gone++) {
        for (size_t i = 0; i < run.n_front; i++)
            if (1e-6 * (double)run.front[i].recv_us > end_s - (gone ? 2.4 : 0.6))
                run.front[i].value = 1;
        again(&w);
        assert_true(w.r.dropped && oxl_reasons_has(w.r.reasons, OXL_R_PART_EMPTIED));
        assert_int_equal(isnan(w.r.rear_above_v), gone);
    }
}

/* A wide-range rear that outside air holds at 1.004 stands beyond balance from the release on. When
 * the store let gas through it does not tell: the value is that of its own level, and the interval
 * reaches from nothing to there. */
static void test_wide_rear_with_outside_air(void **state)
{
    (void)state;
    struct prepared w;
    prepare_slow(&w);
    double fall_s = run.rear_lean_s;
    w.in.pair.rear_kind = OXL_SENSOR_WIDE;
    for (int leak = 0; leak < 2; leak++) {
        for (size_t i = 0; i < run.n_rear; i++) {
            double t = 1e-6 * (double)run.rear[i].recv_us;
            double rest = t < run.front_lean_s - 0.3 ? 0.97 : (leak ? 1.004 : 0.998);
            run.rear[i].value = rest + (t > fall_s ? 0.2 * (1 - exp(-(t - fall_s) / 0.3)) : 0);
        }
        w.in.end_us = llround((fall_s + 1.5) * 1e6);
        again(&w);
        assert_true(w.r.dropped);
        double width = w.r.delay_at_target_s.high - w.r.delay_at_target_s.low;
        if (leak) {
            assert_true(w.r.delay_at_target_s.low < 0.5 && w.r.o2_mg.low < 0.2 * w.r.o2_mg.value);
            assert_true(w.r.delay_at_target_s.high > w.r.delay_s.value - 0.3);
        } else {
            assert_true(width < 0.5 * w.r.delay_at_target_s.value + 0.5);
        }
    }
}

/* Behind a large store a wide-range rear never gets to its step of 0.01, but stands at 1.006 from
 * a moment on: oxygen comes through, and a switching sensor would be lean. Nothing after that
 * moment is in the bounds; with a rear at balance to the end all of it is. */
static void test_held_wide_rear_beyond_balance(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    struct prepared w;
    b.store_g = 3;
    b.rate = 0.1;
    b.depth = 0.22; /* a shallower run says less of the target */
    b.end_s = 75;
    prepare(&w, &b);
    assert_true(isnan(run.rear_lean_s));
    w.in.pair.rear_kind = OXL_SENSOR_WIDE;
    double low_mg[3], low_s[3], after_s = 4;
    for (int c = 0; c < 3; c++) {
        uint32_t seed = 9;
        for (size_t i = 0; i < run.n_rear; i++) {
            double t = 1e-6 * (double)run.rear[i].recv_us - run.front_lean_s;
            double at = t < 0.3 ? 0.97 : c > 0 && t > after_s ? 1.006 : 0.9995;
            run.rear[i].value = at + 0.0005 * random_normal(&seed);
        }
        if (c == 2) /* the same run, ended there */
            w.in.end_us = llround((run.front_lean_s + after_s) * 1e6);
        oxl_measure_run(&w.in, &w.r);
        assert_true(!w.r.dropped && w.r.o2_is_lower_bound);
        low_mg[c] = w.r.o2_mg.low;
        low_s[c] = w.r.delay_at_target_s.low;
    }
    assert_true(low_mg[1] < 0.85 * low_mg[0] && low_s[1] < low_s[0] - 1);
    assert_near(low_mg[1], low_mg[2], 0.05 * low_mg[2]);
    assert_near(low_s[1], low_s[2], 0.2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_gas_that_leaves_late),
        cmocka_unit_test(test_a_slow_link_misses_when_the_gas_left),
        cmocka_unit_test(test_sensors_that_do_not_tell),
        cmocka_unit_test(test_wide_rear_at_balance),
        cmocka_unit_test(test_biased_rear),
        cmocka_unit_test(test_rear_falls_twice),
        cmocka_unit_test(test_rest_that_is_lean),
        cmocka_unit_test(test_level_that_is_no_rest),
        cmocka_unit_test(test_rear_near_balance),
        cmocka_unit_test(test_the_gas_that_the_rear_stands_in),
        cmocka_unit_test(test_wide_rear_with_outside_air),
        cmocka_unit_test(test_held_wide_rear_beyond_balance),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
