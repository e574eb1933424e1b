/* The plant's pieces against numbers that are not ours. */

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <gsl/gsl_statistics.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "sim/nernst.h"
#include "sim/parts.h"
#include "sim/pipe.h"
#include "sim/plant.h"

static void near_abs(double got, double want, double tolerance)
{
    if (!(fabs(got - want) <= tolerance))
        fail_msg("got %.12g, want %.12g +- %g", got, want, tolerance);
}

/* The generator's first outputs from the state 1, 2, 3, 4: 11520, 0, 1509978240,
 * 1215971899390074240 (published reference vector of xoshiro256**, from memory). */
static void test_random_reference_vector(void **state)
{
    (void)state;
    struct oxl_random r = {{1, 2, 3, 4}};
    const uint64_t first[] = {11520, 0, 1509978240, 1215971899390074240};
    for (size_t i = 0; i < 4; i++)
        assert_true(oxl_random_unit(&r) == (double)(first[i] >> 11) * 0x1.0p-53);
}

/* splitmix64 from seed 1234567 (published reference vector, from memory). */
static void test_random_seeding(void **state)
{
    (void)state;
    struct oxl_random r;
    oxl_random_seed(&r, 1234567);
    assert_true(r.s[0] == 6457827717110365317u);
    assert_true(r.s[1] == 3203168211198807973u);
    assert_true(r.s[2] == 9817491932198370423u);
}

static void test_random_normal_moments(void **state)
{
    (void)state;
    enum { N = 50000 };
    static double x[N];
    struct oxl_random r;
    oxl_random_seed(&r, 7);
    for (size_t i = 0; i < N; i++)
        x[i] = oxl_random_normal(&r);
    near_abs(gsl_stats_mean(x, 1, N), 0, 0.02);
    near_abs(gsl_stats_sd(x, 1, N), 1, 0.02);
    near_abs(gsl_stats_skew(x, 1, N), 0, 0.05);
    near_abs(gsl_stats_kurtosis(x, 1, N), 0, 0.1);
}

/* Nernst's equation with the constants of CODATA 2018; the 450 mV row is its inverse. */
static void test_nernst_equation(void **state)
{
    (void)state;
    near_abs(oxl_nernst_volts(0.01, 900), 0.05898402573, 1e-9);
    near_abs(oxl_nernst_volts(0.001, 900), 0.1036288477, 1e-9);
    near_abs(oxl_nernst_volts(1.74432601e-11, 900), 0.45, 1e-8);
    double efold = oxl_nernst_volts(0.001, 900) - oxl_nernst_volts(0.001 * exp(1), 900);
    near_abs(efold, 0.01938899984, 1e-9);
}

/* Hydrogen over steam, free energy -198083 J/mol at 900 K: JANAF tables (Chase 1998, from
 * memory). Worked forward here: pO2 = (K ratio)^-2, then Nernst. */
static void test_nernst_rich_from_hydrogen(void **state)
{
    (void)state;
    const double rows[][2] = {{0.02, 0.8444867681}, {0.05, 0.8800186898}, {0.1, 0.9068975509}};
    for (size_t i = 0; i < 3; i++) {
        double k = exp(198083 / (8.314462618 * 900));
        double po2 = pow(1 / (k * rows[i][0]), 2);
        near_abs(oxl_nernst_volts(po2, 900), rows[i][1], 1e-6);
        near_abs(oxl_nernst_h2_h2o(po2, 900), rows[i][0], 1e-6);
    }
    double shift = oxl_nernst_h2_h2o(1e-15, 900) / oxl_nernst_co_co2(1e-15, 900);
    near_abs(shift, 2.305023915, 1e-6); /* CO + H2O = CO2 + H2 at 900 K */
}

/* Equilibrated CH1.87 exhaust at 900 K: an independent solution of the same equilibrium. */
static void test_nernst_curve(void **state)
{
    (void)state;
    struct oxl_nernst n;
    oxl_nernst_init(&n, 900);
    const double rows[][2] = {{0.95, 0.9131327016}, {0.99, 0.8478728341},  {0.999, 0.758},
                              {1.001, 0.135},       {1.01, 0.09072219838}, {1.05, 0.060},
                              {1.1, 0.04763383627}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        near_abs(oxl_nernst_v(&n, 1 - 1 / rows[i][0]), rows[i][1], 0.002);
    for (double x = -0.5; x < 0.9; x += 0.0007)
        assert_true(oxl_nernst_v(&n, x) >= oxl_nernst_v(&n, x + 0.0007));
    assert_true(oxl_nernst_v(&n, -5e-5) > 0.6 && oxl_nernst_v(&n, 5e-5) < 0.25);
    /* lean_o2_mole_fraction_1.25: no equilibrium, only s (l-1)/(1 + y/2 + s (l-1) + 3.773 s l) of
     * oxygen is left over. */
    near_abs(oxl_nernst_lambda(0.03977839301, 900), 1.25, 1e-4);
    near_abs(oxl_nernst_v(&n, 0.2), oxl_nernst_volts(0.03977839301, 900), 2e-4);
}

/* C3H8 + 5 O2 and CH1.87 + 1.4675 O2; IUPAC conventional atomic weights 2021, oxygen 23.14 % of
 * dry air by mass. */
static void test_stoichiometry(void **state)
{
    (void)state;
    const double h = 1.008, c = 12.011, o2 = 2 * 15.999;
    near_abs(5 * o2 / (3 * c + 8 * h) / 0.2314, oxl_afr_propane, 0.01);
    near_abs((1 + 1.87 / 4) * o2 / (c + 1.87 * h) / 0.2314, oxl_afr_petrol, 0.01);
    /* heywood_eq3.6_*: 34.56 (4 + y)/(12.011 + 1.008 y), Heywood 1988 eq. 3.6 (from memory) */
    near_abs(14.59900575, oxl_afr_petrol, 0.01);
    near_abs(15.67453568, oxl_afr_propane, 0.01);
    /* composition of dry air: N2 .78084, O2 .20946, Ar .00934, CO2 .000412 */
    double air = 0.78084 * 28.014 + 0.20946 * o2 + 0.00934 * 39.948 + 0.000412 * (c + o2);
    near_abs(0.20946 * o2 / air, oxl_air_o2, 2e-4);
}

static void test_pipe_gives_back_after_its_volume(void **state)
{
    (void)state;
    static struct oxl_pipe p;
    oxl_pipe_init(&p, 1);
    double out = 0;
    for (int i = 0; i < 100; i++)
        assert_true(oxl_pipe_step(&p, 0.01, 1, 0.5) == 1);
    for (int i = 1; i <= 60; i++) {
        out = oxl_pipe_step(&p, 0.01, 2, 0.5);
        assert_true(i < 50 ? out == 1 : i > 51 ? out == 2 : true);
    }
    /* a slower stream takes longer: half the flow, twice the steps */
    for (int i = 1; i <= 120; i++) {
        out = oxl_pipe_step(&p, 0.005, 3, 0.5);
        assert_true(i < 100 ? out == 2 : i > 101 ? out == 3 : true);
    }
}

static void test_pipe_loses_nothing(void **state)
{
    (void)state;
    static struct oxl_pipe p;
    struct oxl_random r;
    oxl_random_seed(&r, 3);
    oxl_pipe_init(&p, 0);
    double in = 0, out = 0;
    for (int i = 0; i < 20000; i++) {
        double moved = 0.005 + 0.01 * oxl_random_unit(&r);
        double value = i < 15000 ? 1 + sin(i * 0.01) : 0;
        in += moved * value;
        out += moved * oxl_pipe_step(&p, moved, value, 0.7);
    }
    near_abs(out / in, 1, 1e-3);
}

/* A pipe that is longer than its ring only gets shorter; it never reads outside. */
static void test_pipe_overfull(void **state)
{
    (void)state;
    static struct oxl_pipe p;
    oxl_pipe_init(&p, 1);
    double out = 0;
    for (int i = 0; i < 3 * OXL_PIPE_SLOTS; i++)
        out = oxl_pipe_step(&p, 0.001, 2, 1e6);
    assert_true(out == 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_random_reference_vector),
        cmocka_unit_test(test_random_seeding),
        cmocka_unit_test(test_random_normal_moments),
        cmocka_unit_test(test_nernst_equation),
        cmocka_unit_test(test_nernst_rich_from_hydrogen),
        cmocka_unit_test(test_nernst_curve),
        cmocka_unit_test(test_stoichiometry),
        cmocka_unit_test(test_pipe_gives_back_after_its_volume),
        cmocka_unit_test(test_pipe_loses_nothing),
        cmocka_unit_test(test_pipe_overfull),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
