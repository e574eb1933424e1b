/* Numbers that are not ours. Rows named as in science_checks.csv: a list of worked physics that
 * was made apart from this program; what it rests on is said beside each group. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <gsl/gsl_math.h>
#include <gsl/gsl_roots.h>
#include <gsl/gsl_statistics_double.h>

#include "help_bench.h"
#include "measure/parts.h"

/* ---- air and humidity ---- */
/* Magnus form of Alduchov & Eskridge 1996, J. Appl. Meteor. 35:601 (from memory). */
static double humidity_ratio(double t_c, double rh)
{
    double vapour_kpa = rh * 0.61094 * exp(17.625 * t_c / (t_c + 243.04));
    return 18.015 / 28.965 * vapour_kpa / (101.325 - vapour_kpa);
}

static void test_moist_air(void **state)
{
    (void)state;
    /* dry_air_molar_mass, dry_air_o2_mass_fraction: mole fractions of the CIPM-2007 kind, CIAAW
     * atomic weights 2021. */
    double molar = 0.78084 * 28.014 + 0.20946 * 31.998 + 0.00934 * 39.948 + 0.000412 * 44.009;
    assert_near(molar, 28.96649261, 0.005);
    assert_near(OXL_AIR_O2, 0.20946 * 31.998 / molar, 2e-4);
    /* humidity_ratio_*, moist_air_o2_mass_fraction_*: 10 C 50 %, 25 C 60 %, 35 C 90 % */
    static const double rows[][4] = {{10, 0.5, 0.003785846735, 0.2305272591},
                                     {25, 0.6, 0.01186710425, 0.2286861575},
                                     {35, 0.9, 0.03266480446, 0.2240804557}};
    for (size_t i = 0; i < 3; i++) {
        assert_near(humidity_ratio(rows[i][0], rows[i][1]), rows[i][2], 2e-4);
        assert_near(oxl_oxygen_fraction(humidity_ratio(rows[i][0], rows[i][1])), rows[i][3], 3e-4);
    }
    /* The error share for humidity in the interval, 1.2 %, holds these about the default. */
    struct oxl_profile p;
    test_profile(&p);
    double usual = oxl_oxygen_fraction(p.humidity_ratio);
    assert_near(rows[0][3] / usual, 1, 0.012);
    assert_near(rows[1][3] / usual, 1, 0.012);
    assert_near(rows[2][3] / usual, 1, 2 * 0.0125);
}

/* ---- stoichiometry ---- */
/* Air needed by a gram of CxHyOz, from atomic weights. */
static double air_need(double c, double h, double o)
{
    double fuel = 12.011 * c + 1.008 * h + 15.999 * o;
    return (c + h / 4 - o / 2) * 31.998 / fuel / 0.2314;
}

static void test_stoichiometry(void **state)
{
    (void)state;
    assert_near(air_need(3, 8, 0), 15.67907506, 1e-6);    /* stoich_afr_propane */
    assert_near(air_need(1, 1.87, 0), 14.60323365, 1e-6); /* stoich_afr_gasoline_CH1.87 */
    assert_near(air_need(8, 18, 0), 15.13149058, 1e-6);   /* stoich_afr_isooctane */
    /* oxl_exhaust_l_s takes the petrol's: exhaust_volume_flow_3gps_700K, transport_delay_* */
    assert_near(oxl_exhaust_l_s(3, 700 - 273.15), 6.346526522, 0.03);
    /* lambda after release is the trims' alone, whatever the fuel: lambda_lean_trim_* */
    static const double rows[][2] = {{-10, 1.111111111},
                                     {-15, 1.176470588},
                                     {-20, 1.25},
                                     {-25, 1.333333333},
                                     {-35, 1.538461538}};
    for (size_t i = 0; i < 5; i++) {
        struct oxl_point trim[2] = {{0, 0, rows[i][0]}, {10000000, 10000000, rows[i][0]}};
        struct excess e = {.source = OXL_XSRC_TRIM, .trim = {trim, 2}, .last_s = 10, .lean_s = 1e9};
        assert_near(1 / (1 - oxl_excess_at(&e, 5)), rows[i][1], 1e-8);
    }
}

/* ---- air by speed density (Heywood 1988 eq. 2.27, from memory; ideal gas) ---- */
static void test_speed_density(void **state)
{
    (void)state;
    assert_near(oxl_speed_density_g_s(30, 2.0, 750, 0.80, 40), 3.337423253, 1e-3);
    assert_near(oxl_speed_density_g_s(32, 1.6, 700, 0.75, 45), 2.45277968, 1e-3);
    assert_near(oxl_speed_density_g_s(32, 2.0, 2500, 0.80, 35), 12.05893628, 3e-3);
    /* iat_error_20K: read 20 K low at 313 K, air overstated by */
    double low = oxl_speed_density_g_s(30, 2, 750, 0.8, 313.15 - 20 - 273.15);
    double right = oxl_speed_density_g_s(30, 2, 750, 0.8, 40);
    assert_near(100 * (low / right - 1), 6.822445847, 0.01);
}

/* ---- supply: never_drop_* at 3 g/s ---- */
static double relay_s, relay_r;
static double relay_excess(double t)
{
    return fmax(0, relay_s - relay_r * t);
}

static void test_never_drop(void **state)
{
    (void)state;
    static const double rows[][3] = {{0.10, 0.025, 0.13884},
                                     {0.20, 0.025, 0.55536},
                                     {0.35, 0.025, 1.70079},
                                     {0.16, 0.025, 0.3554304}};
    static struct oxl_point trim[200];
    for (size_t i = 0; i < 4; i++) {
        relay_s = rows[i][0];
        relay_r = rows[i][1];
        for (int k = 0; k < 200; k++)
            trim[k] = (struct oxl_point){k * 20000, k * 20000, -100 * relay_excess(0.02 * k)};
        struct excess e = {.source = OXL_XSRC_TRIM, .trim = {trim, 200}, .last_s = 2, .lean_s = 0};
        e.recovery = oxl_fit_recovery(e.trim, 0, 0, 3);
        assert_int_equal(e.recovery.kind, RECOVERY_RAMP);
        double all = oxl_excess_integral(&e, 0, 2) + oxl_excess_to_come(&e, 2);
        assert_near(OXL_AIR_O2 * 3 * all, rows[i][2], 2e-3 * rows[i][2]);
    }
}

/* ---- the one-state store and the plug-flow bed ---- */
/* Breakthrough of a bed, Bohart & Adams 1920, J. Am. Chem. Soc. 42:523 (from memory): the share of
 * the capacity that has been fed when outlet over inlet is f, ln(f (exp K - 1)/(1 - f)) / K. */
static double bed_share(double k, double f)
{
    return log(f * (exp(k) - 1) / (1 - f)) / k;
}

static void test_breakthrough_is_not_capacity(void **state)
{
    (void)state;
    assert_near(bed_share(20, 0.01), 0.7702440074, 1e-6); /* breakthrough_T_K20_f0.01 */
    assert_near(bed_share(10, 0.01), 0.5404834749, 1e-6); /* breakthrough_T_K10_f0.01 */
    /* docs/method.md section 6: a store lets gas through when a third to two thirds of it are
     * filled; as much as it took stays unused. */
    for (double k = 8; k <= 15; k += 1) {
        assert_true(bed_share(k, 0.005) > 1.0 / 3 && bed_share(k, 0.005) < 2.0 / 3);
    }
    /* Part-emptied, the same bed of capacity 1 with K = 10 breaks through when the room left is
     * down to 1 - share, however much of it was fed before: a pulse that took out less than that
     * reads as an empty one. */
    double unused = 1 - bed_share(10, 0.005);
    assert_true(unused > 0.5 && unused < 0.6);
}

/* One state with full uptake until it is full (Brandt, Wang & Grizzle 2000 with rho = 1, from
 * memory): the time to fill C from x(t) solves w m integral x = C. GSL finds it; oxl_predict_fill
 * must say the same. */
struct fill {
    double c, s, tau;
};
static double fill_miss(double t, void *v)
{
    const struct fill *f = v;
    return 0.2314 * 3 * f->s * f->tau * (1 - exp(-t / f->tau)) - f->c;
}

static void test_one_state_fill(void **state)
{
    (void)state;
    static struct oxl_point trim[1000];
    for (int k = 0; k < 1000; k++)
        trim[k] = (struct oxl_point){k * 20000, k * 20000, -20 * exp(-0.02 * k / 4)};
    struct excess e = {.source = OXL_XSRC_TRIM, .trim = {trim, 1000}, .last_s = 19, .lean_s = 0};
    for (double c = 0.05; c < 0.5; c += 0.1) {
        struct fill f = {c, 0.20, 4};
        gsl_function fn = {fill_miss, &f};
        gsl_root_fsolver *s = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
        gsl_root_fsolver_set(s, &fn, 0, 60);
        for (int i = 0; i < 60; i++)
            gsl_root_fsolver_iterate(s);
        struct prediction p = oxl_predict_fill(&e, 0, 1, c / (0.2314 * 3), 30);
        assert_true(p.fills);
        assert_near(p.time_s, gsl_root_fsolver_root(s), 0.005);
        gsl_root_fsolver_free(s);
    }
}

/* ---- sampling ---- */
static void test_polling_error(void **state)
{
    (void)state;
    /* poll_delay_sd_*: two independent latencies, uniform over 1/f, differ with sd 1/(f sqrt 6).
     * Our interval's parts are those; its 99 % half-width must lie beyond 2.3 sd and within 1/f. */
    static const double rows[][2] = {
        {3, 0.1360827635}, {5, 0.08164965809}, {10, 0.04082482905}, {20, 0.02041241452}};
    uint32_t seed = 7;
    static double diff[20000];
    for (size_t i = 0; i < 4; i++) {
        double f = rows[i][0], half[2] = {0.5 / f, 0.5 / f};
        for (size_t k = 0; k < 20000; k++)
            diff[k] = (random_unit(&seed) - random_unit(&seed)) / f;
        assert_near(gsl_stats_sd(diff, 1, 20000), rows[i][1], 0.02 * rows[i][1]);
        double q = oxl_uniform_sum_quantile(half, 2, 0.99);
        assert_true(q > 2.1 * rows[i][1] && q <= 1 / f + 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_moist_air),
        cmocka_unit_test(test_stoichiometry),
        cmocka_unit_test(test_speed_density),
        cmocka_unit_test(test_never_drop),
        cmocka_unit_test(test_breakthrough_is_not_capacity),
        cmocka_unit_test(test_one_state_fill),
        cmocka_unit_test(test_polling_error),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
