/* The air that a run breathes: of this run's own moments, whether measured, shared between banks or
 * worked out from the manifold, and however quick the link is. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_run.h"

enum { MOST = 4000 };
static const double settled_s = 22; /* before the gas is cut at 25 s; until then another flow */

/* 30 s of it, ended by now where the quickest link would have brought more than a run has room for.
 */
static struct oxl_trace settling(struct oxl_point *p, double step_s, double before, double then)
{
    size_t n = 0;
    for (double t = 0; t < 30 && n < MOST; t += step_s)
        p[n++] =
            (struct oxl_point){llround(1e6 * t), llround(1e6 * t), t < settled_s ? before : then};
    return (struct oxl_trace){p, n};
}

static const double steps_s[] = {0.2, 0.01};

/* science_checks.csv speed_density_idle_2.0L: 30 kPa, 2.0 l, 750 rpm, 0.80, 40 C */
static void test_speed_density_of_the_run(void **state)
{
    static struct oxl_point map[MOST];
    struct oxl_point rpm = {20000000, 20000000, 750}, intake = {20000000, 20000000, 40};
    struct bench b = bench_usual();
    (void)state;
    for (size_t i = 0; i < sizeof steps_s / sizeof steps_s[0]; i++) {
        struct prepared w;
        prepare(&w, &b);
        w.in.air.count = 0;
        w.in.map = settling(map, steps_s[i], 60, 30);
        w.in.rpm = (struct oxl_trace){&rpm, 1};
        w.in.intake = (struct oxl_trace){&intake, 1};
        w.p.displacement_l = 2.0;
        w.p.volumetric_eff = 0.80;
        again(&w);
        assert_int_equal(w.r.air_source, OXL_AIRSRC_SPEED_DENSITY);
        assert_near(w.r.air_g_s, 3.337423253, 0.001);
    }
}

/* A bank of two breathes half of what the meter shows: 6 g/s while the lean gas went in. */
static void test_the_share_of_a_bank(void **state)
{
    static struct oxl_point air[MOST];
    struct bench b = bench_usual();
    (void)state;
    for (size_t i = 0; i < sizeof steps_s / sizeof steps_s[0]; i++) {
        struct prepared w;
        prepare(&w, &b);
        double whole_mg = w.r.o2_mg.value; /* of 3 g/s */
        w.in.air = settling(air, steps_s[i], 12, 6);
        w.in.air_share = 0.5;
        again(&w);
        assert_int_equal(w.r.air_source, OXL_AIRSRC_METER);
        assert_near(w.r.air_g_s, 3, 1e-9);
        assert_near(w.r.o2_mg.value, whole_mg, 1e-6 * whole_mg);
    }
}

/* A rear of one second's time constant takes a step of the gas from 0.6 to 0.3 V in
 * ln(0.54 / 0.24) s, and is at 0.45 V after 0.57 s of it. One that takes k times as long follows
 * gas that changes slowly, and is late by all of its second but a k-th of those 0.43 s. */
static void test_the_rears_share_of_the_path(void **state)
{
    (void)state;
    const double step_fall_s = log(0.54 / 0.24);
    for (double k = 1; k < 5; k *= 2) {
        struct bench b = bench_usual();
        struct prepared w;
        prepare(&w, &b);
        w.p.rear_tau_s = 1;
        for (size_t i = 0; i < run.n_rear; i++) {
            double t = 1e-6 * (double)run.rear[i].recv_us - run.rear_lean_s;
            double v = 0.45 - 0.3 * t / (k * step_fall_s);
            run.rear[i].value = fmin(0.7, fmax(0.05, v));
        }
        w.in.end_us += 5000000;
        again(&w);
        assert_true(w.r.dropped);
        assert_near(w.r.path_s, b.pipe_s + 1 - 0.43 / k - b.front_tau_s, 0.01);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_speed_density_of_the_run),
        cmocka_unit_test(test_the_share_of_a_bank),
        cmocka_unit_test(test_the_rears_share_of_the_path),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
