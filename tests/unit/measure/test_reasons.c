/* Whole runs of the bench: each reason is there when it should be, and not in the plain run. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_run.h"

static void test_plain_run_has_no_flaw(void **state)
{
    (void)state;
    struct prepared w;
    prepare_slow(&w);
    assert_true(w.r.valid && w.r.dropped);
    assert_int_equal(w.r.reasons, 0);
    assert_true(w.r.rear_fall.found && w.r.rear_fall.t_us <= w.r.rear_lean.t_us);
    assert_near(w.r.shift_pct, -20, 0.6);
    assert_near(w.r.sample_round_ms, 100, 10);
    /* 0.2 s of pipe; the rear falls from 0.7 to 0.1 V through 0.45 V in 0.15 s ln(0.60 / 0.35), the
     * front is 0.1 s behind its gas. */
    assert_near(w.r.path_s, 0.2 + 0.15 * log(0.60 / 0.35) - 0.1, 0.02);
    assert_true(w.r.trim_recovery_tau_s > 5 && w.r.trim_recovery_tau_s < 9);
    assert_true(isnan(w.r.trim_recovery_pct_s));
}

static void test_depth_reasons(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    b.depth = 0.30;
    struct oxl_run_result r = measured(&b);
    assert_true(run_has(&r, OXL_R_OVER_ENRICHED) && !run_has(&r, OXL_R_UNDER_ENRICHED));
    b.depth = 0.12;
    r = measured(&b);
    assert_true(run_has(&r, OXL_R_UNDER_ENRICHED) && !run_has(&r, OXL_R_OVER_ENRICHED));
    /* Four per cent are an answer of the trims, though too little; two are none. */
    b.depth = 0.04;
    r = measured(&b);
    assert_true(run_has(&r, OXL_R_UNDER_ENRICHED) && !run_has(&r, OXL_R_DEPTH_UNKNOWN));
    b.depth = 0.02;
    r = measured(&b);
    assert_true(run_has(&r, OXL_R_DEPTH_UNKNOWN) && !run_has(&r, OXL_R_UNDER_ENRICHED));
    struct prepared w;
    b = bench_usual();
    prepare(&w, &b);
    w.in.trim.count = 0;
    again(&w);
    assert_true(run_has(&w.r, OXL_R_DEPTH_UNKNOWN) && w.r.valid);
    assert_true(isnan(w.r.shift_pct) && isnan(w.r.delay_at_target_s.low));
    assert_near(w.r.o2_mg.value, 200, 20); /* lambda needs no trim */
}

static void test_release_reasons(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    b.tail_s = 2.0;
    struct oxl_run_result r = measured(&b);
    assert_true(run_has(&r, OXL_R_SLOW_RELEASE));
    assert_true(r.front_ramp_s > 1);
    b = bench_usual();
    b.off_s = 58; /* beyond the end: nothing is released */
    struct prepared w;
    prepare(&w, &b);
    w.in.end_us = 57000000;
    w.in.cut_us = 30000000;
    again(&w);
    assert_true(run_has(&w.r, OXL_R_NO_FRONT_LEAN) && !w.r.valid && !w.r.front_lean.found);
}

/* Gas that has gone takes a switching front through its step at once; one that takes a second from
 * 0.5 to 0.4 V is slow itself. What it takes is the slope that is given to it here. */
static void test_a_switching_front_that_is_slow(void **state)
{
    (void)state;
    for (int slow = 0; slow < 2; slow++) {
        struct bench b = bench_usual();
        struct prepared w;
        b.switching_front = true;
        b.loop = BENCH_RELAY;
        b.rate = 0.025;
        prepare(&w, &b);
        const double lean_s = run.front_lean_s;
        for (size_t i = 0; i < run.n_front && slow; i++) {
            double t = 1e-6 * (double)run.front[i].recv_us - lean_s;
            if (t > -2 && t < 3)
                run.front[i].value = fmin(0.65, 0.45 - 0.1 * t);
        }
        again(&w);
        assert_true(w.r.front_lean.found);
        assert_int_equal(run_has(&w.r, OXL_R_FRONT_SLOW), slow);
        if (slow)
            assert_near(w.r.front_ramp_s, 1, 0.15);
    }
}

/* A wide-range front that comes back to its level after the release, and leaves it again: which of
 * the two was the gas's own is not to be seen, and its moment holds both. Later than 3 s it is the
 * loop. */
static void test_a_front_that_comes_back(void **state)
{
    (void)state;
    static const double back_s[] = {1.0, 2.0, 4.0};
    for (size_t k = 0; k < sizeof back_s / sizeof back_s[0]; k++) {
        struct bench b = bench_slow();
        struct prepared w;
        prepare(&w, &b);
        const double plain_us = (double)w.r.front_lean.high_us;
        const double again_s = run.front_lean_s + back_s[k] + 0.4;
        for (size_t i = 0; i < run.n_front; i++) {
            double t = 1e-6 * (double)run.front[i].recv_us;
            if (t > run.front_lean_s + back_s[k] && t < again_s)
                run.front[i].value = 1;
        }
        again(&w);
        const double high_us = (double)w.r.front_lean.high_us;
        if (back_s[k] < 3)
            assert_near(1e-6 * high_us, again_s, 0.15);
        else
            assert_near(high_us, plain_us, 1);
        assert_near(run.front_lean_s, 1e-6 * (double)w.r.front_lean.t_us, 0.05);
    }
}

/* A rear that was lean all the time has not held: it was never seen rich, and that is said. */
static void test_a_rear_never_rich_has_not_held(void **state)
{
    (void)state;
    struct prepared w;
    prepare_slow(&w);
    for (int lean = 0; lean < 2; lean++) {
        for (size_t i = 0; i < run.n_rear; i++)
            run.rear[i].value = lean ? 0.08 : 0.7;
        w.in.ended_held = true;
        again(&w);
        assert_false(w.r.dropped);
        assert_int_equal(run_has(&w.r, OXL_R_REAR_HELD), !lean);
        assert_int_equal(run_has(&w.r, OXL_R_REAR_NOT_SEEN_RICH), lean);
        assert_int_equal(w.r.valid, !lean);
    }
}

static void test_supply_reasons(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    b.loop = BENCH_RELAY;
    b.rate = 0.05;
    b.depth = 0.12;
    b.store_g = 1;
    b.start_share = 0.5;
    struct oxl_run_result r = measured(&b);
    assert_true(run_has(&r, OXL_R_REAR_HELD) && run_has(&r, OXL_R_SUPPLY_TOO_SMALL));
    assert_true(run_has(&r, OXL_R_FAST_TRIM_RECOVERY));
    /* science_checks.csv never_drop_relay: w m S^2 / (2 r), here 0.1 g; the dither and the loop's
     * own delay add to it. */
    assert_near(r.o2_supply_mg, 1e3 * 0.2314 * 3 * 0.12 * 0.12 / 0.1, 60);
}

static void test_sensor_and_condition_reasons(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    struct prepared w;
    prepare(&w, &b);
    struct oxl_run_input in = w.in;
    w.in.rear.count = 0;
    again(&w);
    assert_true(run_has(&w.r, OXL_R_REAR_MISSING) && !w.r.valid);
    w.in = in;
    w.in.air.count = 0;
    again(&w);
    assert_true(run_has(&w.r, OXL_R_AIR_UNKNOWN) && w.r.valid && isnan(w.r.o2_mg.low));
    assert_true(isnan(w.r.air_g_s) && isnan(w.r.path_s));
    assert_true(w.r.delay_at_target_s.value > 1);
    struct oxl_point cool[2] = {{0, 1, 280}, {26000000, 26000001, 280}};
    w.in = in;
    w.in.cat_temp = (struct oxl_trace){cool, 2};
    again(&w);
    assert_true(run_has(&w.r, OXL_R_COOL_CONVERTER));
    /* 350 C is hot enough; what it was more than a second before the release does not count. */
    cool[0].value = cool[1].value = w.p.cat_temp_min_c;
    again(&w);
    assert_false(run_has(&w.r, OXL_R_COOL_CONVERTER));
    int64_t lean_us = w.r.front_lean.t_us;
    struct oxl_point warmed[3] = {{0, 1, 240},
                                  {lean_us - 1050000, lean_us - 1040000, 240},
                                  {lean_us - 1020000, lean_us - 1010000, 352}};
    w.in.cat_temp = (struct oxl_trace){warmed, 3};
    again(&w);
    assert_false(run_has(&w.r, OXL_R_COOL_CONVERTER));
    /* A rear that stands at 0.12 V does not rest lean yet. */
    w.in = in;
    for (int lean = 0; lean < 2; lean++) {
        w.in.rear_level = lean ? 0.119 : 0.12;
        again(&w);
        assert_int_equal(run_has(&w.r, OXL_R_REAR_RESTS_LEAN), lean);
    }
    struct oxl_point rpm[3] = {
        {25000000, 25500000, 700}, {25600000, 25700000, 700}, {25900000, 26100000, 1400}};
    w.in = in;
    w.in.rpm = (struct oxl_trace){rpm, 3};
    again(&w);
    assert_true(run_has(&w.r, OXL_R_RPM_UNSTEADY) && !w.r.valid);
    for (size_t i = 0; i < run.n_air; i++)
        run.air[i].value = 8;
    w.in = in;
    again(&w);
    assert_true(run_has(&w.r, OXL_R_HIGH_AIR_FLOW) && w.r.valid);
}

static void test_speed_density_run(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    struct prepared w;
    prepare(&w, &b);
    struct oxl_point map[2] = {{20000000, 20000000, 30}, {27000000, 27000000, 30}};
    struct oxl_point intake[2] = {{20000000, 20000000, 40}, {27000000, 27000000, 40}};
    struct oxl_point rpm[2] = {{20000000, 20000000, 750}, {27000000, 27000000, 750}};
    w.in.air.count = 0;
    w.in.map = (struct oxl_trace){map, 2};
    w.in.intake = (struct oxl_trace){intake, 2};
    w.in.rpm = (struct oxl_trace){rpm, 2};
    w.p.displacement_l = 2.0;
    w.p.volumetric_eff = 0.80;
    again(&w);
    assert_int_equal(w.r.air_source, OXL_AIRSRC_SPEED_DENSITY);
    assert_true(run_has(&w.r, OXL_R_AIR_ESTIMATED));
    /* science_checks.csv speed_density_idle_2.0L */
    assert_near(w.r.air_g_s, 3.337423253, 0.001);
    assert_true(w.r.o2_mg.high - w.r.o2_mg.low > 0.25 * w.r.o2_mg.value);
    w.p.displacement_l = NAN;
    again(&w);
    assert_true(run_has(&w.r, OXL_R_AIR_UNKNOWN));
}

static size_t without(struct oxl_point *p, size_t n, double from_s, double to_s)
{
    size_t kept = 0;
    for (size_t i = 0; i < n; i++)
        if ((double)p[i].recv_us < 1e6 * from_s || (double)p[i].recv_us > 1e6 * to_s)
            p[kept++] = p[i];
    return kept;
}

static void test_gap_at_event(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    struct prepared w;
    prepare(&w, &b);
    double rear = run.rear_lean_s;
    w.in.rear.count = without(run.rear, run.n_rear, rear - 0.5, rear + 0.5);
    again(&w);
    assert_true(run_has(&w.r, OXL_R_GAP_AT_EVENT) && !w.r.valid && w.r.dropped);
    assert_true(rear >= 1e-6 * (double)w.r.rear_lean.low_us &&
                rear <= 1e-6 * (double)w.r.rear_lean.high_us);
    prepare(&w, &b);
    w.in.front.count =
        without(run.front, run.n_front, run.front_lean_s - 0.4, run.front_lean_s + 0.4);
    again(&w);
    assert_true(run_has(&w.r, OXL_R_GAP_AT_EVENT) && !w.r.valid);
}

static void test_rear_lean_first(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    struct prepared w;
    prepare(&w, &b);
    for (size_t i = 0; i < run.n_rear; i++)
        if (run.rear[i].recv_us > 24300000)
            run.rear[i].value = 0.08;
    again(&w);
    assert_true(run_has(&w.r, OXL_R_REAR_LEAN_FIRST));
    assert_true(w.r.delay_s.value < 0 && w.r.delay_s.low < 0 && w.r.dropped);
    /* A rear that falls by itself may rise and fall again: no upper end, and no prediction. */
    assert_true(isinf(w.r.delay_s.high) && isnan(w.r.delay_at_target_s.value));
    for (size_t i = 0; i < run.n_rear; i++)
        run.rear[i].value = 0.08;
    again(&w);
    assert_true(run_has(&w.r, OXL_R_REAR_NOT_SEEN_RICH) && !w.r.valid && !w.r.dropped);
}

static void test_slow_rear(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    b.rear_tau_s = 3.5;
    b.depth = 0.25;
    struct oxl_run_result r = measured(&b);
    assert_true(run_has(&r, OXL_R_REAR_SLOW));
}

static void test_far_gas_disagrees(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    b.tail_s = 1.5; /* fed at the air box: science.md (f), trim-only integral +42 % */
    b.store_g = 0.15;
    struct oxl_run_result r = measured(&b);
    assert_true(r.o2_from_trim_mg > 1.3 * r.o2_from_lambda_mg);
    assert_true(run_has(&r, OXL_R_LAMBDA_TRIM_DISAGREE));
    assert_near(r.o2_from_lambda_mg, 150, 15); /* lambda integral unchanged */
}

static void test_coarse_sampling(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    b.rate_hz = 3;
    b.reply_s = 0.12;
    b.store_g = 0.03;
    struct oxl_run_result r = measured(&b);
    assert_true(r.dropped && run_has(&r, OXL_R_COARSE_SAMPLING) && r.valid);
}

/* A switching front has no offset: a rear that rests lean beside it moves no balance. */
static void test_a_lean_rest_beside_a_switching_front(void **state)
{
    (void)state;
    struct bench b = bench_usual();
    b.switching_front = true;
    b.loop = BENCH_RELAY;
    b.rate = 0.04;
    struct prepared w;
    prepare(&w, &b);
    const double shift_pct = w.r.shift_pct;
    assert_true(oxl_known(shift_pct));
    for (size_t i = 0; i < run.n_rear && run.rear[i].recv_us <= w.in.shift_start_us; i++)
        run.rear[i].value = 0.05;
    again(&w);
    assert_near(w.r.shift_pct, shift_pct, 1e-9);
}

static void test_empty_input(void **state)
{
    (void)state;
    struct oxl_profile p;
    test_profile(&p);
    struct oxl_run_input in = {.profile = &p, .end_us = 1000000};
    struct oxl_run_result r;
    oxl_measure_run(&in, &r);
    assert_true(run_has(&r, OXL_R_NO_FRONT_LEAN) && !r.valid);
    assert_true(isnan(r.delay_s.low) && isnan(r.o2_mg.low) && isnan(r.air_g_s));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_plain_run_has_no_flaw),
        cmocka_unit_test(test_depth_reasons),
        cmocka_unit_test(test_release_reasons),
        cmocka_unit_test(test_a_switching_front_that_is_slow),
        cmocka_unit_test(test_a_front_that_comes_back),
        cmocka_unit_test(test_a_rear_never_rich_has_not_held),
        cmocka_unit_test(test_supply_reasons),
        cmocka_unit_test(test_sensor_and_condition_reasons),
        cmocka_unit_test(test_speed_density_run),
        cmocka_unit_test(test_gap_at_event),
        cmocka_unit_test(test_rear_lean_first),
        cmocka_unit_test(test_slow_rear),
        cmocka_unit_test(test_far_gas_disagrees),
        cmocka_unit_test(test_coarse_sampling),
        cmocka_unit_test(test_a_lean_rest_beside_a_switching_front),
        cmocka_unit_test(test_empty_input),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
