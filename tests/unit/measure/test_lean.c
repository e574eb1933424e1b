/* When a sensor has gone lean, and when it has not. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_bench.h"

enum { MOST = 8192 };
static struct oxl_point points[MOST];
static size_t count;

static void put(double t_s, double value)
{
    /* A reply of 20 ms around the moment. */
    assert_true(count < MOST);
    points[count++] =
        (struct oxl_point){llround(1e6 * t_s) - 10000, llround(1e6 * t_s) + 10000, value};
}

static struct oxl_trace trace(void)
{
    return (struct oxl_trace){points, count};
}

static struct oxl_lean_rule front_rule(enum oxl_sensor_kind kind)
{
    struct oxl_profile p;
    struct oxl_pair pair = {.front_kind = kind, .rear_kind = OXL_SENSOR_SWITCHING};
    test_profile(&p);
    return oxl_front_rule(&p, &pair, kind == OXL_SENSOR_WIDE ? 1.0 : NAN, 0.001);
}

static struct oxl_lean_rule rear_rule(void)
{
    struct oxl_profile p;
    struct oxl_pair pair = {.rear_kind = OXL_SENSOR_SWITCHING};
    test_profile(&p);
    return oxl_rear_rule(&p, &pair, 0.004);
}

static const int64_t always = INT64_MAX / 2;

static void test_step_between_two_samples(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = rear_rule();
    count = 0;
    for (int i = 0; i < 20; i++)
        put(0.1 * i, i < 10 ? 0.7 : 0.1);
    struct oxl_moment m = oxl_find_lean(trace(), &rule, 0, always, NULL);
    assert_true(m.found);
    /* Linear between 0.7 V at 0.9 s and 0.1 V at 1.0 s. */
    assert_near(1e-6 * (double)m.t_us, 0.9 + 0.1 * (0.7 - 0.45) / 0.6, 1e-4);
    /* The whole bracket and half a reply more on both sides; noise of 4 mV at 6 V/s is 1.3 ms. */
    assert_near((double)m.low_us, 890000, 2000);
    assert_near((double)m.high_us, 1010000, 2000);
}

static void test_wide_start_is_not_too_early(void **state)
{
    (void)state;
    /* At rest until 0.95 s, then 0.5 a second: 1.01 is passed at 0.97 s. A straight line from
     * the last resting sample would say 0.94 s. */
    struct oxl_lean_rule rule = front_rule(OXL_SENSOR_WIDE);
    count = 0;
    for (int i = 0; i < 15; i++)
        put(0.1 * i, 1.0 + fmax(0, 0.5 * (0.1 * i - 0.95)));
    struct oxl_moment m = oxl_find_lean(trace(), &rule, 0, always, NULL);
    assert_true(m.found);
    assert_near(1e-6 * (double)m.t_us, 0.97, 1e-3);
}

static void test_rear_must_have_been_rich(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = rear_rule();
    count = 0;
    for (int i = 0; i < 20; i++)
        put(0.1 * i, i < 10 ? 0.47 : 0.1); /* inside the hysteresis, never rich */
    assert_false(oxl_find_lean(trace(), &rule, 0, always, NULL).found);
    points[3].value = 0.52;
    assert_true(oxl_find_lean(trace(), &rule, 0, always, NULL).found);
    /* Rich before the search began counts; lean before it is no event. */
    assert_true(oxl_find_lean(trace(), &rule, 600000, always, NULL).found);
    assert_false(oxl_find_lean(trace(), &rule, 1200000, always, NULL).found);
}

static void test_one_odd_sample_is_no_event(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = rear_rule();
    count = 0;
    for (int i = 0; i < 40; i++)
        put(0.1 * i, i == 20 ? 0.02 : 0.75);
    assert_false(oxl_find_lean(trace(), &rule, 0, always, NULL).found);
    rule = front_rule(OXL_SENSOR_WIDE);
    for (size_t i = 0; i < count; i++)
        points[i].value = i == 20 ? 1.4 : 1.0;
    assert_false(oxl_find_lean(trace(), &rule, 0, always, NULL).found);
}

static void test_noise_at_rest_is_no_event(void **state)
{
    (void)state;
    uint32_t seed = 5;
    struct oxl_lean_rule rear = rear_rule(), wide = front_rule(OXL_SENSOR_WIDE);
    rear.noise = 0.05;
    wide.noise = 0.003;
    for (int session = 0; session < 40; session++) {
        count = 0;
        for (int i = 0; i < 6000; i++)
            put(0.1 * i, 0.65 + 0.05 * random_normal(&seed));
        assert_false(oxl_find_lean(trace(), &rear, 0, always, NULL).found);
        for (size_t i = 0; i < count; i++)
            points[i].value = 1.0 + 0.003 * random_normal(&seed);
        assert_false(oxl_find_lean(trace(), &wide, 0, always, NULL).found);
    }
}

/* A square-like dither with flanks of 60 ms, released at `off`. */
static double dither(double t, double hz, double off)
{
    double phase = fmod(t * hz, 1.0), flank = 0.06 * hz;
    if (t >= off)
        return 0.1;
    if (phase < 0.5)
        return 0.8 - (phase < flank ? 0.7 * (1 - phase / flank) : 0);
    return 0.8 - 0.7 * fmin(1, (phase - 0.5) / flank);
}

static void test_dithering_front(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = front_rule(OXL_SENSOR_SWITCHING);
    for (double hz = 0.5; hz < 1.6; hz += 0.1)
        for (double rate = 5; rate <= 20; rate *= 2) {
            /* The last fall at 20.5 periods; it stays. */
            double off = 20.5 / hz + 0.1;
            count = 0;
            for (double t = 0; t < off + 3; t += 1 / rate)
                put(t, dither(t, hz, off));
            int64_t before = llround(1e6 * off);
            assert_false(oxl_find_lean(trace(), &rule, 0, before, NULL).found);
            struct oxl_moment m = oxl_find_lean(trace(), &rule, 0, always, NULL);
            assert_true(m.found);
            double truth = 20.5 / hz + 0.06 * 0.5; /* half way down the flank: 0.45 V */
            assert_near(1e-6 * (double)m.t_us, truth, 1 / rate);
            assert_true(truth >= 1e-6 * (double)m.low_us && truth <= 1e-6 * (double)m.high_us);
        }
}

static void test_wide_front_that_hovers(void **state)
{
    (void)state;
    /* The loop dithers by 0.02 around balance, over the step each time; then the release. */
    struct oxl_lean_rule rule = front_rule(OXL_SENSOR_WIDE);
    rule.noise = 0.014;
    count = 0;
    for (int i = 0; i < 400; i++) {
        double t = 0.05 * i, lean = fmax(0, t - 15.2) * 0.4;
        put(t, 1.0 + 0.02 * sin(6.2832 * t) + fmin(0.2, lean));
    }
    assert_false(oxl_find_lean(trace(), &rule, 0, 15200000, NULL).found);
    struct oxl_moment m = oxl_find_lean(trace(), &rule, 0, always, NULL);
    assert_true(m.found);
    assert_near(1e-6 * (double)m.t_us, 15.2, 0.15);
}

static void test_slow_ramp_has_its_length(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = front_rule(OXL_SENSOR_WIDE);
    for (double length = 0.5; length < 3; length += 0.5) {
        count = 0;
        for (int i = 0; i < 200; i++)
            put(0.05 * i, 1.0 + 0.2 * fmin(1, fmax(0, (0.05 * i - 2) / length)));
        double ramp = 0;
        struct oxl_moment m = oxl_find_lean(trace(), &rule, 0, always, &ramp);
        assert_true(m.found);
        assert_near(ramp, 0.7 * length, 0.05);                     /* from 10 % to 80 % */
        assert_near(1e-6 * (double)m.t_us, 2 + length / 20, 0.02); /* 0.01 of 0.2 */
    }
    /* Not over yet: no length. */
    double ramp = 0;
    oxl_find_lean(trace(), &rule, 0, 3200000, &ramp);
    assert_true(isnan(ramp));
}

static void test_gap_widens_the_interval(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = rear_rule();
    count = 0;
    for (int i = 0; i < 60; i++)
        if (i < 20 || i > 34)
            put(0.1 * i, i < 28 ? 0.7 : 0.1);
    struct oxl_moment m = oxl_find_lean(trace(), &rule, 0, always, NULL);
    assert_true(m.found);
    assert_true(m.low_us <= 1900000 && m.high_us >= 3500000);
}

static void test_noise_widens_a_slow_crossing(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = rear_rule();
    rule.noise = 0.004;
    count = 0;
    for (int i = 0; i < 100; i++)
        put(0.1 * i, 0.7 - 0.1 * 0.1 * i); /* 0.1 V a second: an sd is 40 ms */
    struct oxl_moment m = oxl_find_lean(trace(), &rule, 0, always, NULL);
    assert_true(m.found);
    assert_near(1e-6 * (double)m.t_us, 2.5, 0.02);
    assert_near(1e-6 * (double)(m.high_us - m.low_us), 0.1 + 0.02 + 2 * sqrt(3) * 0.04, 0.005);
}

/* What the procedure sees sample by sample is what a later reading of the recording finds. */
static void check_online(struct oxl_trace t, const struct oxl_lean_rule *rule, int64_t from_us)
{
    struct oxl_moment last = oxl_find_lean(t, rule, from_us, always, NULL),
                      first = {.found = false};
    for (size_t n = 1; n <= t.count; n++) {
        struct oxl_trace part = {t.points, n};
        int64_t now = t.points[n - 1].recv_us;
        struct oxl_moment by_count = oxl_find_lean(part, rule, from_us, always, NULL);
        struct oxl_moment by_time = oxl_find_lean(t, rule, from_us, now, NULL);
        assert_true(by_count.found == by_time.found && by_count.t_us == by_time.t_us);
        if (!by_time.found) {
            assert_false(first.found); /* once found, found for good */
            continue;
        }
        if (!first.found)
            first = by_time;
        assert_true(by_time.t_us == first.t_us && by_time.low_us == first.low_us &&
                    by_time.high_us == first.high_us);
    }
    assert_true(first.found == last.found && first.t_us == last.t_us);
}

static void test_online_is_batch(void **state)
{
    (void)state;
    static struct bench_run run;
    for (uint32_t seed = 1; seed < 25; seed++) {
        struct bench b = bench_usual();
        struct oxl_profile p;
        struct oxl_run_input in;
        b.seed = seed;
        b.switching_front = seed % 3 == 0;
        b.loop = seed % 2 ? BENCH_RELAY : BENCH_PI;
        b.rate = seed % 2 || b.switching_front ? 0.025 : 0.25;
        b.loop = b.switching_front ? BENCH_RELAY : b.loop;
        b.rate_hz = 3 + (double)seed;
        b.reply_s = 0.5 / b.rate_hz;
        b.end_s = 34;
        bench_go(&b, &run);
        bench_input(&b, &run, &p, &in);
        struct oxl_lean_rule front = oxl_front_rule(&p, &in.pair, in.front_level, in.front_noise);
        struct oxl_lean_rule rear = oxl_rear_rule(&p, &in.pair, in.rear_noise);
        check_online(in.front, &front, in.cut_us);
        check_online(in.rear, &rear, in.cut_us);
    }
}

static void test_rich_and_lean_now(void **state)
{
    (void)state;
    struct oxl_lean_rule rear = rear_rule(), wide = front_rule(OXL_SENSOR_WIDE);
    static const struct {
        double v;
        bool rich, lean;
    } volts[] = {{0.9, true, false},   {0.5, true, false}, {0.47, false, false},
                 {0.42, false, false}, {0.4, false, true}, {0.05, false, true}},
      lambda[] = {{0.9, true, false},    {0.985, true, false}, {1.0, false, false},
                  {1.005, false, false}, {1.02, false, true},  {1.3, false, true}};
    for (size_t i = 0; i < 6; i++) {
        count = 0;
        put(1, volts[i].v);
        assert_true(oxl_is_rich(trace(), &rear, 1500000, 1000000) == volts[i].rich);
        assert_true(oxl_is_lean(trace(), &rear, 1500000, 1000000) == volts[i].lean);
        points[0].value = lambda[i].v;
        assert_true(oxl_is_rich(trace(), &wide, 1500000, 1000000) == lambda[i].rich);
        assert_true(oxl_is_lean(trace(), &wide, 1500000, 1000000) == lambda[i].lean);
    }
    /* Old or none: neither. */
    assert_false(oxl_is_lean(trace(), &wide, 2500000, 1000000));
    count = 0;
    assert_false(oxl_is_rich(trace(), &rear, 0, 1000000));
}

static void test_start_of_the_fall(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = rear_rule();
    count = 0;
    for (int i = 0; i < 80; i++) {
        double t = 0.1 * i;
        put(t, fmax(0.1, 0.75 - 0.25 * fmax(0, t - 3)));
    }
    struct oxl_moment lean = oxl_find_lean(trace(), &rule, 0, always, NULL);
    assert_true(lean.found);
    assert_near(1e-6 * (double)lean.t_us, 4.2, 0.01);
    struct oxl_moment fall = oxl_find_fall_start(trace(), &rule, 0, &lean);
    assert_true(fall.found);
    assert_near(1e-6 * (double)fall.t_us, 3.1, 0.25);
    assert_true(fall.low_us < fall.high_us && fall.t_us < lean.t_us);
    struct oxl_moment none = {.found = false};
    assert_false(oxl_find_fall_start(trace(), &rule, 0, &none).found);
}

static void test_rear_wide(void **state)
{
    (void)state;
    struct oxl_profile p;
    struct oxl_pair pair = {.rear_kind = OXL_SENSOR_WIDE};
    test_profile(&p);
    struct oxl_lean_rule rule = oxl_rear_rule(&p, &pair, 0.001);
    assert_near(rule.level, 1.0, 0);
    count = 0;
    for (int i = 0; i < 60; i++)
        put(0.1 * i, i < 30 ? 0.985 : 0.985 + 0.02 * (i - 30));
    struct oxl_moment m = oxl_find_lean(trace(), &rule, 0, always, NULL);
    assert_true(m.found);
    assert_near(1e-6 * (double)m.t_us, 3.125, 0.01); /* 1.01 */
}

/* An empty converter lets the rear copy the dither of the front, half a second later. */
static void test_drop_behind_a_dither(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = rear_rule();
    const double hz = 0.8, off = 20.5 / hz;
    struct oxl_moment front = {true, llround(1e6 * off), llround(1e6 * off) - 50000,
                               llround(1e6 * off) + 50000};
    count = 0;
    for (double t = 0; t < off + 4; t += 0.1)
        put(t, dither(t - 0.9, hz, off)); /* lean from the half before, then rich, then lean */
    assert_true(oxl_is_lean(trace(), &rule, front.t_us, 200000));
    struct oxl_moment m = oxl_find_drop(trace(), &rule, &front, 0, always);
    assert_true(m.found);
    assert_near(1e-6 * (double)m.t_us, off + 0.93, 0.1);
    /* No early answer from the copied half. */
    assert_false(oxl_find_drop(trace(), &rule, &front, 0, front.t_us + 800000).found);
}

static void test_drop_before_the_front(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = rear_rule();
    struct oxl_moment front = {true, 5000000, 4950000, 5050000};
    count = 0;
    for (int i = 0; i < 90; i++)
        put(0.1 * i, 0.1 * i < 4.2 ? 0.8 : 0.1);
    assert_false(oxl_find_drop(trace(), &rule, &front, 0, 6500000).found); /* not proven yet */
    struct oxl_moment m = oxl_find_drop(trace(), &rule, &front, 0, always);
    assert_true(m.found);
    assert_near(1e-6 * (double)m.t_us, 4.15, 0.06);
}

static void test_release_before_the_call(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = front_rule(OXL_SENSOR_WIDE);
    count = 0;
    for (int i = 0; i < 90; i++)
        put(0.1 * i, 1.0 + fmin(0.2, fmax(0, 0.1 * i - 4)));
    double ramp;
    assert_true(oxl_find_release(trace(), &rule, 1000000, 5000000, always, &ramp).found);
    assert_near(ramp, 0.14, 0.03);
    assert_false(oxl_find_release(trace(), &rule, 1000000, 6000000, always, &ramp).found);
    assert_true(isnan(ramp));
    assert_true(oxl_find_release(trace(), &rule, 1000000, 0, always, NULL).found);
    assert_false(oxl_find_release(trace(), &rule, 4500000, 5000000, always, NULL).found);
}

static void test_nothing_to_search(void **state)
{
    (void)state;
    struct oxl_lean_rule rule = rear_rule();
    double ramp = 0;
    count = 0;
    assert_false(oxl_find_lean(trace(), &rule, 0, always, &ramp).found);
    assert_true(isnan(ramp));
    put(1, 0.8);
    assert_false(oxl_find_lean(trace(), &rule, 0, always, NULL).found);
    put(1.1, 0.1);
    assert_false(oxl_find_lean(trace(), &rule, 2000000, 1000000, NULL).found);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_step_between_two_samples),
        cmocka_unit_test(test_wide_start_is_not_too_early),
        cmocka_unit_test(test_rear_must_have_been_rich),
        cmocka_unit_test(test_one_odd_sample_is_no_event),
        cmocka_unit_test(test_noise_at_rest_is_no_event),
        cmocka_unit_test(test_dithering_front),
        cmocka_unit_test(test_wide_front_that_hovers),
        cmocka_unit_test(test_slow_ramp_has_its_length),
        cmocka_unit_test(test_gap_widens_the_interval),
        cmocka_unit_test(test_noise_widens_a_slow_crossing),
        cmocka_unit_test(test_online_is_batch),
        cmocka_unit_test(test_rich_and_lean_now),
        cmocka_unit_test(test_start_of_the_fall),
        cmocka_unit_test(test_rear_wide),
        cmocka_unit_test(test_drop_behind_a_dither),
        cmocka_unit_test(test_drop_before_the_front),
        cmocka_unit_test(test_release_before_the_call),
        cmocka_unit_test(test_nothing_to_search),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
