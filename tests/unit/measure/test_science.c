/* Rows of the list of worked physics that are not in test_outside.c, test_oxygen.c or the tests of
 * the simulated plant, each computed by the functions of this program. The rows were made apart
 * from it; names are theirs. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_bench.h"
#include "measure/parts.h"

static double relative(double value, double expected)
{
    return fabs(value / expected - 1);
}

/* CODATA 2018 R over 28.965 g/mol; oxygen of dry air 0.2314, not 0.23. */
static void test_air(void **state)
{
    (void)state;
    double m = oxl_speed_density_g_s(30, 2, 750, 0.8, 40); /* p V N VE / (120 R T) */
    double r = 1000 * 30000.0 * 2e-3 * 750 * 0.8 / (120 * m * 313.15);
    assert_near(r, 287.0520496, 0.1); /* dry_air_r_specific */
    assert_near(100 * (0.23 / OXL_AIR_O2 - 1), -0.6050129646,
                0.02); /* o2_fraction_rounding_error */
    /* speed_density_propane_error: 0.84 % of the manifold's moles are gas, not air */
    double mole = 0.2 / 15.68 * 28.965 / 44.097; /* propane_mole_fraction_20pct */
    assert_near(mole, 0.008378155671, 1e-6);
    double all = oxl_speed_density_g_s(30, 2, 750, 0.8, 40);
    double air = oxl_speed_density_g_s(30 * (1 - mole), 2, 750, 0.8, 40);
    assert_near(100 * (all - air) / all, 0.8378155671, 0.01);
    /* exhaust_molar_mass_stoich 29.01 (Heywood 1988 sec. 3.2, from memory): from our volume flow */
    double g_s = 3 * (1 + 1 / 14.6), litres = oxl_exhaust_l_s(3, 700 - 273.15);
    assert_near(g_s * 8.314462618 * 700 / (101.325 * litres), 29.01165542, 0.02);
}

/* An excess told by lambda or by the trims does not depend on the fuel. */
static void test_excess(void **state)
{
    (void)state;
    struct oxl_point lean = {0, 0, 1.25}, rich = {0, 0, 0.95};
    struct excess e = {.source = OXL_XSRC_LAMBDA, .front = {&lean, 1}, .last_s = 9};
    assert_near(oxl_excess_at(&e, 1), 0.2, 1e-12); /* x_from_lambda_lean, lambda_from_phi */
    e.front.points = &rich;
    assert_near(oxl_excess_at(&e, 1), -0.05263157895, 1e-9); /* x_from_lambda_rich */
    struct oxl_point trim = {0, 0, -15};
    struct excess t = {
        .source = OXL_XSRC_TRIM, .trim = {&trim, 1}, .base = 0.05, .last_s = 9, .lean_s = 1e9};
    assert_near(1 / (1 - oxl_excess_at(&t, 1)), 1.235294118,
                1e-6); /* lambda_after_release_nonzero_ */
    /* total_trim_multiplicative: -12 and -8 % are -20 or -19.04 %; the 5 % of the interval hold
     * the difference. */
    double multiplied = 1 - (1 - 0.12) * (1 - 0.08);
    assert_near(-100 * multiplied, -19.04, 1e-9);
    assert_true(relative(0.20, multiplied) < 0.0505);
    /* unmetered_baseline_trim, unmetered_o2_error: 8 % of the air unseen: baseline +8.7 %, x right,
     * grams 8 % low. */
    t.base = 0.08 / 0.92;
    assert_near(100 * t.base, 8.695652174, 1e-6);
    trim.value = 100 * ((1 + t.base) * 0.8 - 1);
    assert_near(oxl_excess_at(&t, 1), 0.2, 1e-12);
    struct oxl_point seen = {0, 0, 3 * 0.92}, real = {0, 0, 3};
    double low = oxl_excess_air_integral(&t, (struct oxl_trace){&seen, 1}, 1, 5);
    double right = oxl_excess_air_integral(&t, (struct oxl_trace){&real, 1}, 1, 5);
    assert_near(100 * (low / right - 1), -8, 1e-6);
}

/* osc_ramp_lambda 0.53412 g, with two samples only: lambda is linear between samples, not x, whose
 * two-point trapezoid would be osc_ramp_lambda_trapezoid_2pt 0.51569. And 0.276 with w 0.23
 * (osc_const_lambda_w023) is not what we say. */
static void test_integral(void **state)
{
    (void)state;
    struct oxl_point two[2] = {{0, 0, 1.25}, {6000000, 6000000, 1.05}};
    struct excess e = {.source = OXL_XSRC_LAMBDA, .front = {two, 2}, .last_s = 6};
    double grams = OXL_AIR_O2 * 3 * oxl_excess_integral(&e, 0, 6);
    assert_near(grams, 0.5341163593, 1e-6);
    assert_true(fabs(grams - 0.5156914286) > 0.01);
    two[1].value = 1.25;
    assert_near(OXL_AIR_O2 * 3 * oxl_excess_integral(&e, 0, 2), 0.276 * OXL_AIR_O2 / 0.23, 1e-9);
}

/* normalised_delay_const, _underenriched: a constant excess. */
static void test_normalised_delay(void **state)
{
    (void)state;
    struct oxl_point trim = {0, 0, -20};
    struct excess e = {.source = OXL_XSRC_TRIM, .trim = {&trim, 1}, .last_s = 60};
    struct prediction p = oxl_predict_fill(&e, 0, 1, 0.2777 / (OXL_AIR_O2 * 3), 30);
    assert_true(p.fills);
    assert_near(p.time_s, 2.000144051, 1e-4);
    trim.value = -15;
    p = oxl_predict_fill(&e, 0, 20.0 / 15, 0.15 * 4, 30);
    assert_true(p.fills);
    assert_near(p.time_s, 3, 1e-6);
    trim.value = -35;
    p = oxl_predict_fill(&e, 0, 20.0 / 35, 0.35 * 2, 30); /* normalised_delay_overenriched */
    assert_near(p.time_s, 3.5, 1e-6);
}

/* poll_delay_worst_10Hz: the whole of two brackets is 1/f each way. And why the parts of an
 * interval are not added as squares: sd of a part that lies anywhere in +-a is a / sqrt(3), so the
 * root of n squares is 1.73 sd, which holds 92 % of two equal parts and 91.6 % of many. */
static void test_intervals(void **state)
{
    (void)state;
    double half[6] = {0.05, 0.05};
    assert_near(oxl_uniform_sum_quantile(half, 2, 1), 0.1, 1e-6);
    /* Two equal parts make a triangle: P(|s| <= r) = 1 - (1 - r/2a)^2. */
    double squares = hypot(0.05, 0.05);
    assert_near(oxl_uniform_sum_quantile(half, 2, 1 - square(1 - squares / 0.1)), squares, 1e-6);
    assert_true(oxl_uniform_sum_quantile(half, 2, 0.95) > 1.08 * squares);
    for (int i = 0; i < 6; i++)
        half[i] = 1;
    /* Six are near enough to a normal distribution: 1.96 sd. */
    assert_near(oxl_uniform_sum_quantile(half, 6, 0.95), 1.96 * sqrt(6.0 / 3), 0.03);
    assert_true(oxl_uniform_sum_quantile(half, 6, 0.95) > 1.1 * sqrt(6.0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_air),       cmocka_unit_test(test_excess),
        cmocka_unit_test(test_integral),  cmocka_unit_test(test_normalised_delay),
        cmocka_unit_test(test_intervals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
