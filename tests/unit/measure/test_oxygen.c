/* Oxygen integrals, supply and prediction against closed forms. Numbers named science_checks.csv
 * were worked out independently of this program; GSL's quadrature is the other reference. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <gsl/gsl_integration.h>

#include "help_bench.h"
#include "measure/parts.h"

enum { N = 2001 };
static struct oxl_point lambda_points[N], trim_points[N], air_points[N];

typedef double shape(double t);

/* Samples every 5 ms over 10 s, taken at a known moment. */
static struct oxl_trace sampled(struct oxl_point *p, shape *f)
{
    for (int i = 0; i < N; i++) {
        int64_t t = (int64_t)i * 5000;
        p[i] = (struct oxl_point){t, t, f(1e-6 * (double)t)};
    }
    return (struct oxl_trace){p, N};
}

static struct excess from_lambda(shape *lambda)
{
    struct excess e = {.source = OXL_XSRC_LAMBDA, .last_s = 10};
    e.front = sampled(lambda_points, lambda);
    return e;
}

static double grams(const struct excess *e, shape *air, double to_s)
{
    return OXL_AIR_O2 * oxl_excess_air_integral(e, sampled(air_points, air), 0, to_s);
}

static double three(double t)
{
    (void)t;
    return 3;
}
static double four(double t)
{
    (void)t;
    return 4;
}
static double two(double t)
{
    (void)t;
    return 2;
}
static double steady_125(double t)
{
    (void)t;
    return 1.25;
}
static double steady_111(double t)
{
    (void)t;
    return 1 / 0.9;
}
static double steady_118(double t)
{
    (void)t;
    return 1.18;
}
static double steady_095(double t)
{
    (void)t;
    return 0.95;
}
static double ramp_x(double t)
{
    return 1 / (1 - (0.20 - 0.02 * t));
}
static double ramp_lambda(double t)
{
    return 1.25 - 0.2 * t / 6;
}
static double fading(double t)
{
    return 1 / (1 - 0.20 * exp(-t / 4));
}
static double rising(double t)
{
    return 1 / (1 - 0.20 * (1 - exp(-t / 0.4)));
}
static double settling_air(double t)
{
    return 3 * (1 + 0.1 * exp(-t));
}
static double x_020(double t)
{
    (void)t;
    return 1 / (1 - 0.2);
}

static void test_closed_forms(void **state)
{
    (void)state;
    static const struct {
        const char *name; /* science_checks.csv */
        shape *lambda, *air;
        double to_s, expected;
    } rows[] = {
        {"osc_const_lambda", steady_125, three, 2, 0.27768},
        {"osc_const_lambda_4gps_1.11", steady_111, four, 5, 0.4628},
        {"osc_const_2gps_1.18", steady_118, two, 7, 0.4941762712},
        {"osc_ramp_x", ramp_x, three, 8, 0.666432},
        {"osc_ramp_lambda", ramp_lambda, three, 6, 0.5341163593},
        {"osc_exponential_x", fading, three, 6, 0.4314424343},
        {"osc_first_order_rise", rising, three, 2, 0.2225181986},
        {"osc_rich_negative", steady_095, three, 10, -0.3653684211},
        {"osc_varying_air", x_020, settling_air, 5, 0.7079904503},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct excess e = from_lambda(rows[i].lambda);
        double got = grams(&e, rows[i].air, rows[i].to_s);
        if (!(fabs(got - rows[i].expected) < 3e-6))
            fail_msg("%s: %.9f, expected %.9f", rows[i].name, got, rows[i].expected);
    }
    /* The rich dose is the same integral with the other sign. */
    struct excess e = from_lambda(steady_095);
    double rich = OXL_AIR_O2 * oxl_rich_air_integral(e.front, 0, sampled(air_points, three), 0, 10);
    assert_near(rich, 0.3653684211, 1e-6);
}

static double wavy_integrand(double t, void *unused)
{
    (void)unused;
    double l = 1.1 + 0.1 * sin(1.7 * t) * exp(-t / 7);
    return (3 + 0.4 * cos(0.9 * t)) * (1 - 1 / l);
}
static double wavy_lambda(double t)
{
    return 1.1 + 0.1 * sin(1.7 * t) * exp(-t / 7);
}
static double wavy_air(double t)
{
    return 3 + 0.4 * cos(0.9 * t);
}

static void test_integral_against_gsl(void **state)
{
    (void)state;
    gsl_integration_workspace *w = gsl_integration_workspace_alloc(200);
    gsl_function f = {wavy_integrand, NULL};
    for (double to = 0.7; to < 9.9; to += 1.3) {
        double want, err;
        gsl_integration_qag(&f, 0, to, 1e-10, 1e-10, 200, GSL_INTEG_GAUSS61, w, &want, &err);
        struct excess e = from_lambda(wavy_lambda);
        double got = oxl_excess_air_integral(&e, sampled(air_points, wavy_air), 0, to);
        assert_near(got, want, 5e-6);
    }
    gsl_integration_workspace_free(w);
}

static double trim_from_5_to_15(double t)
{
    (void)t;
    return -15;
}
static double trim_minus_28(double t)
{
    (void)t;
    return -28;
}

static void test_excess_from_trim(void **state)
{
    (void)state;
    struct excess e = {.source = OXL_XSRC_TRIM, .last_s = 10, .base = 0.05, .lean_s = 100};
    e.trim = sampled(trim_points, trim_from_5_to_15);
    assert_near(oxl_excess_at(&e, 5), 0.1904761905, 1e-9); /* x_after_release_nonzero_baseline */
    e.base = -0.08;
    e.trim = sampled(trim_points, trim_minus_28);
    assert_near(oxl_excess_at(&e, 5), 0.2173913043, 1e-9); /* x_after_release_negative_baseline */
    /* The gas that is left at front-lean cancels the shift there and fades with its tail. */
    e.lean_s = 2;
    e.tail_s = 0.4;
    e.x0 = 0.2173913043;
    assert_near(oxl_excess_at(&e, 2), 0, 1e-9);
    assert_near(oxl_excess_at(&e, 2.4), 0.2173913043 * (1 - exp(-1)), 1e-9);
}

static void test_air_and_pipe(void **state)
{
    (void)state;
    /* science_checks.csv speed_density_* */
    assert_near(oxl_speed_density_g_s(30, 2.0, 750, 0.80, 40), 3.337423253, 1e-4);
    assert_near(oxl_speed_density_g_s(32, 1.6, 700, 0.75, 45), 2.45277968, 1e-4);
    assert_near(oxl_speed_density_g_s(32, 2.0, 2500, 0.80, 35), 12.05893628, 1e-4);
    /* exhaust_volume_flow_3gps_700K, transport_delay_2L, transport_delay_3L_2gps_650K */
    assert_near(oxl_exhaust_l_s(3, 700 - 273.15), 6.346526522, 0.03);
    assert_near(2 / oxl_exhaust_l_s(3, 700 - 273.15), 0.3151330091, 0.005);
    assert_near(3 / oxl_exhaust_l_s(2, 650 - 273.15), 0.7635915219, 0.005);
    /* moist_air_o2_mass_fraction_25C_60rh, _35C_90rh */
    assert_near(oxl_oxygen_fraction(0.01186710425), 0.2286861575, 1e-6);
    assert_near(oxl_oxygen_fraction(0.03266480446), 0.2240804557, 1e-6);
    assert_near(oxl_oxygen_fraction(0), 0.2313691433, 2e-4); /* dry_air_o2_mass_fraction */
}

/* ---- recovery ---- */
static double relay_trim(double t)
{
    return -fmax(0, 20 - 2.5 * t);
}
static double pi_trim(double t)
{
    return -20 * exp(-t / 5);
}

static struct excess loop_excess(shape *trim)
{
    struct excess e = {.source = OXL_XSRC_TRIM, .last_s = 10, .lean_s = 0};
    e.trim = sampled(trim_points, trim);
    e.recovery = oxl_fit_recovery(e.trim, 0, 0, 10);
    return e;
}

static void test_fit_recovery(void **state)
{
    (void)state;
    struct excess e = loop_excess(relay_trim);
    assert_int_equal(e.recovery.kind, RECOVERY_RAMP);
    assert_near(e.recovery.ramp_per_s, 0.025, 1e-6);
    assert_near(oxl_recovery_half_s(&e.recovery, 0.2), 4, 1e-3);
    e = loop_excess(pi_trim);
    assert_int_equal(e.recovery.kind, RECOVERY_EXPONENTIAL);
    assert_near(e.recovery.tau_s, 5, 1e-6);
    assert_near(oxl_recovery_half_s(&e.recovery, 0.2), 5 * log(2.0), 1e-6);
    /* As the link gives them: steps of 100/128 %, five a second. */
    struct oxl_point few[40];
    for (int kind = 0; kind < 2; kind++) {
        for (int i = 0; i < 40; i++) {
            double t = 0.2 * i, v = kind ? pi_trim(t) : relay_trim(t);
            few[i] = (struct oxl_point){llround(1e6 * t), llround(1e6 * t), round(v * 1.28) / 1.28};
        }
        struct recovery r = oxl_fit_recovery((struct oxl_trace){few, 40}, 0, 0, 8);
        assert_int_equal(r.kind, kind ? RECOVERY_EXPONENTIAL : RECOVERY_RAMP);
        if (kind)
            assert_near(r.tau_s, 5, 0.3);
        else
            assert_near(r.ramp_per_s, 0.025, 0.001);
    }
    /* Nothing has moved: nothing is claimed. */
    assert_int_equal(oxl_fit_recovery(sampled(trim_points, trim_minus_28), 0, 0, 10).kind,
                     RECOVERY_UNKNOWN);
    assert_int_equal(oxl_fit_recovery((struct oxl_trace){few, 3}, 0, 0, 8).kind, RECOVERY_UNKNOWN);
}

/* A ramp of 2 %/s and an exponential of 6 s, from 20 % at 10 s on: each is told from the other. */
static void test_a_recovery_is_told_by_its_shape(void **state)
{
    enum { FITTED = 80 };
    struct oxl_point p[FITTED];
    (void)state;
    for (int exponential = 0; exponential < 2; exponential++) {
        for (int i = 0; i < FITTED; i++) {
            double t = 0.1 * i, shift = exponential ? 20 * exp(-t / 6) : 20 - 2 * t;
            p[i] = (struct oxl_point){micros(10 + t), micros(10 + t), 3 - shift};
        }
        struct recovery r = oxl_fit_recovery((struct oxl_trace){p, FITTED}, 3, 9.99, 30);
        assert_int_equal(r.kind, exponential ? RECOVERY_EXPONENTIAL : RECOVERY_RAMP);
        assert_near(exponential ? r.tau_s / 6 : r.ramp_per_s / 0.02, 1, 1e-6);
    }
}

/* 20 % at the last value, 2 % a second less from there on: 16 % after 2 s, and none below nothing.
 */
static void test_an_excess_goes_on_by_its_ramp(void **state)
{
    struct oxl_point p[1] = {{10000000, 10000000, -20}};
    const struct excess e = {.source = OXL_XSRC_TRIM,
                             .trim = {p, 1},
                             .last_s = 10,
                             .recovery = {RECOVERY_RAMP, 0.02, NAN}};
    (void)state;
    assert_near(oxl_excess_at(&e, 10), 0.20, 1e-12);
    assert_near(oxl_excess_at(&e, 12), 0.16, 1e-12);
    assert_near(oxl_excess_at(&e, 25), 0, 0);
}

static void test_supply(void **state)
{
    (void)state;
    /* never_drop_relay_no_jump and never_drop_pi: 0.55536 g each at 3 g/s and 20 %. Half is
     * measured, the rest by the recovery. */
    struct excess e = loop_excess(relay_trim);
    e.last_s = 4;
    double all = oxl_excess_integral(&e, 0, 4) + oxl_excess_to_come(&e, 4);
    assert_near(OXL_AIR_O2 * 3 * all, 0.55536, 1e-4);
    e = loop_excess(pi_trim);
    e.last_s = 4;
    all = oxl_excess_integral(&e, 0, 4) + oxl_excess_to_come(&e, 4);
    /* osc_exponential_x_total has tau 4; here 5: w m x0 tau */
    assert_near(OXL_AIR_O2 * 3 * all, 0.2314 * 3 * 0.2 * 5, 1e-4);
    e.recovery.kind = RECOVERY_UNKNOWN;
    assert_true(isinf(oxl_excess_to_come(&e, 4)));
}

static double relay_trim_35(double t)
{
    return -fmax(0, 35 - 2.5 * t);
}
static double pi_trim_35(double t)
{
    return -100 * (0.35 / 1.25) * exp(-0.2 * t);
}

static void test_prediction_closed_forms(void **state)
{
    (void)state;
    /* delay_relay_ramp: 0.3 g at S 0.20 */
    struct excess e = loop_excess(relay_trim);
    double dose = 0.3 / (0.2314 * 3);
    struct prediction p = oxl_predict_fill(&e, 0, 1.0, dose, 30);
    assert_true(p.fills);
    assert_near(p.time_s, 2.575257555, 2e-3);
    /* normalised_delay_relay_offset: run at 0.35 with delay 2.0 s, at 0.20 */
    e = loop_excess(relay_trim_35);
    p = oxl_predict_fill(&e, 0, 0.20 / 0.35, oxl_excess_integral(&e, 0, 2.0), 30);
    assert_true(p.fills);
    assert_near(p.time_s, 4.535898385, 3e-3);
    /* normalised_delay_pi_scaled: run at 0.35 with delay 2.0 s, at 0.20 */
    e = loop_excess(pi_trim_35);
    p = oxl_predict_fill(&e, 0, 0.20 / 0.35, oxl_excess_integral(&e, 0, 2.0), 30);
    assert_true(p.fills);
    assert_near(p.time_s, 4.301205378, 3e-3);
    /* delay_pi_exponential: 0.3 g, Kp = Ki = 0.25, S 0.20 */
    e = loop_excess(pi_trim_35);
    p = oxl_predict_fill(&e, 0, 0.20 / 0.35, dose, 30);
    assert_near(p.time_s, 3.884711189, 3e-3);
    /* normalised_delay_overenriched: a constant excess only scales (x 0.35 for 2.0 s -> 3.5 s) */
    e = loop_excess(trim_minus_28);
    p = oxl_predict_fill(&e, 0, 0.20 / 0.35, 0.28 * 2.0, 30);
    assert_near(p.time_s, 3.5, 3e-3);
    /* Beyond the supply: never, and it says how long it looked. */
    e = loop_excess(relay_trim);
    p = oxl_predict_fill(&e, 0, 1.0, 0.81, 30);
    assert_false(p.fills);
    assert_true(p.time_s > 7 && p.time_s <= 10.1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_closed_forms),
        cmocka_unit_test(test_integral_against_gsl),
        cmocka_unit_test(test_excess_from_trim),
        cmocka_unit_test(test_air_and_pipe),
        cmocka_unit_test(test_fit_recovery),
        cmocka_unit_test(test_a_recovery_is_told_by_its_shape),
        cmocka_unit_test(test_an_excess_goes_on_by_its_ramp),
        cmocka_unit_test(test_supply),
        cmocka_unit_test(test_prediction_closed_forms),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
