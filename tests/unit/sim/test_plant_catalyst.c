/* The converter alone, against closed forms. */

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "sim/catalyst.h"
#include "sim/parts.h"

static void near_abs(double got, double want, double tolerance)
{
    if (!(fabs(got - want) <= tolerance))
        fail_msg("got %.12g, want %.12g +- %g", got, want, tolerance);
}

/* A hot converter of 0.5 g that lets K e-folds of gas be taken up. */
static struct oxl_catalyst brick(unsigned cells, double fill_k, double release_k, double theta)
{
    struct oxl_catalyst c = {.cells = cells,
                             .capacity_g = 0.5,
                             .fill_k_per_g = fill_k / 0.5,
                             .release_k_per_g = release_k / 0.5,
                             .light_off_c = 0,
                             .light_off_width_c = 1,
                             .bulk_tau_s = 6};
    oxl_catalyst_init(&c, 900, theta);
    return c;
}

/* Bohart & Adams 1920 (J. Am. Chem. Soc. 42:523, from memory): outlet over inlet of an empty
 * bed after tau = offered / capacity is 1 / (1 + exp(-K tau) (exp(K) - 1)). */
static void check_bohart_adams(double k, double tau, double want)
{
    struct oxl_catalyst c = brick(256, k, k, 0);
    const double e_in = 0.1, dt = 0.001;
    double out = 0;
    long steps = lround(tau * 0.5 / e_in / dt);
    for (long i = 0; i < steps; i++)
        out = oxl_catalyst_step(&c, e_in, dt);
    near_abs(1 / (1 + exp(-k * tau) * (exp(k) - 1)), want, 1e-5);
    near_abs(out / e_in, want, 0.02 * want + 2e-4);
}

static void test_bohart_adams(void **state)
{
    (void)state;
    check_bohart_adams(20, 0.8, 0.01798621);
    check_bohart_adams(20, 1.0, 0.5000000005);
    check_bohart_adams(10, 1.2, 0.8808018447);
}

/* 1 % comes through after 0.7702 of the capacity for K 20, 0.5405 for K 10. */
static void test_breakthrough_time(void **state)
{
    (void)state;
    const double rows[][2] = {{20, 0.7702440074}, {10, 0.5404834749}};
    for (size_t i = 0; i < 2; i++) {
        struct oxl_catalyst c = brick(256, rows[i][0], rows[i][0], 0);
        double tau = 0;
        while (oxl_catalyst_step(&c, 0.1, 0.001) < 0.001)
            tau += 0.1 * 0.001 / 0.5;
        near_abs(tau, rows[i][1], 0.004);
    }
}

/* One cell, constant lean gas: with u = k (1 - theta), du/dt = -(k e / C)(1 - exp(-u)), hence
 * exp(u) - 1 = (exp(u0) - 1) exp(-k e t / C). The same for rich gas with u = k theta. */
static void test_one_cell_step_response(void **state)
{
    (void)state;
    const double k = 1.5, e = 0.08, dt = 1e-4;
    struct oxl_catalyst lean = brick(1, k, k, 0), rich = brick(1, k, k, 1);
    for (int i = 1; i <= 100000; i++) {
        oxl_catalyst_step(&lean, e, dt);
        oxl_catalyst_step(&rich, -e, dt);
        if (i % 20000)
            continue;
        double u = log1p(expm1(k) * exp(-k * e * i * dt / 0.5));
        near_abs(lean.theta[0], 1 - u / k, 1e-4);
        near_abs(rich.theta[0], u / k, 1e-4);
    }
}

/* Whatever goes in is stored or comes out; both models, with re-oxidation, slip and a
 * temperature that moves. */
static void check_balance(double bulk_share)
{
    struct oxl_catalyst c = brick(20, 20, 12, 0.4);
    c.light_off_c = 320;
    c.light_off_width_c = 30;
    c.reoxidation_per_s = 0.002;
    c.slip_share = 0.04;
    c.bulk_share = bulk_share;
    oxl_catalyst_init(&c, 450, 0.4);
    struct oxl_random r;
    oxl_random_seed(&r, 11);
    double start_g = oxl_catalyst_stored_g(&c), turnover_g = 0;
    for (int i = 0; i < 100000; i++) {
        double e = 0.15 * sin(i * 3e-4) + 0.02 * oxl_random_normal(&r);
        if (i % 5 == 0)
            oxl_catalyst_temperature(&c, 400 + 60 * sin(i * 1e-4));
        oxl_catalyst_step(&c, e, 0.002);
        turnover_g += fabs(e) * 0.002;
    }
    double change_g = oxl_catalyst_stored_g(&c) - start_g;
    near_abs(c.in_g - c.out_g + c.thermal_g, change_g, 1e-6 * turnover_g);
    for (unsigned i = 0; i < c.cells; i++)
        assert_true(c.theta[i] >= 0 && c.theta[i] <= 1);
}

static void test_balance_closes(void **state)
{
    (void)state;
    check_balance(0);
    check_balance(0.25);
}

/* Sum of two sites: the whole capacity is reached, the second one later. */
static void test_two_sites_fill(void **state)
{
    (void)state;
    struct oxl_catalyst c = brick(20, 20, 12, 0);
    c.bulk_share = 0.25;
    for (int i = 0; i < 2500; i++)
        oxl_catalyst_step(&c, 0.1, 0.002);
    double soon_g = oxl_catalyst_stored_g(&c);
    for (int i = 0; i < 30000; i++)
        oxl_catalyst_step(&c, 0.1, 0.002);
    assert_true(soon_g < 0.48);
    near_abs(oxl_catalyst_stored_g(&c), 0.5, 1e-3);
}

static void test_no_capacity_passes_all(void **state)
{
    (void)state;
    struct oxl_catalyst c = brick(20, 20, 12, 0.5);
    c.capacity_g = 0;
    assert_true(oxl_catalyst_step(&c, 0.1, 0.002) == 0.1);
    assert_true(oxl_catalyst_step(&c, -0.1, 0.002) == -0.1);
}

/* Half of it works at light-off, next to none well below, all of it hot. */
static void test_light_off(void **state)
{
    (void)state;
    struct oxl_catalyst c = brick(20, 20, 12, 0.5);
    c.light_off_c = 320;
    c.light_off_width_c = 30;
    oxl_catalyst_temperature(&c, 320);
    near_abs(oxl_catalyst_capacity_g(&c), 0.25, 1e-9);
    oxl_catalyst_temperature(&c, 120);
    assert_true(oxl_catalyst_capacity_g(&c) < 0.001);
    oxl_catalyst_temperature(&c, 550);
    assert_true(oxl_catalyst_capacity_g(&c) > 0.499);
}

/* An empty converter under rich gas lets it through; slip goes through even a full one. */
static void test_rich_side(void **state)
{
    (void)state;
    struct oxl_catalyst empty = brick(20, 20, 12, 0), full = brick(20, 20, 12, 1);
    near_abs(oxl_catalyst_step(&empty, -0.1, 0.002), -0.1, 1e-12);
    assert_true(oxl_catalyst_step(&full, -0.1, 0.002) > -1e-4);
    full.slip_share = 0.04;
    near_abs(oxl_catalyst_step(&full, -0.1, 0.002), -0.004, 1e-4);
    assert_true(oxl_catalyst_step(&full, 0.1, 0.002) > 0.05);
}

/* One tank whose grains have shells, empty at first: after a gram share `v` is left vacant when
 *   e t / C = (1 - v)(1 + (1 - s)/K) + (s/K)(3/2)(1 - v^(2/3)),
 * the integral of dv/dt = -(e/C) f K/(1 + f K). */
static void check_tank(double k, double shell, double vacant)
{
    struct oxl_catalyst c = brick(1, k, k, 0);
    c.tanks = true;
    c.shell = shell;
    const double e_in = 0.1, dt = 0.0005;
    double t_s = 0;
    for (; c.theta[0] < 1 - vacant; t_s += dt)
        oxl_catalyst_step(&c, e_in, dt);
    double want =
        (1 - vacant) * (1 + (1 - shell) / k) + shell / k * 1.5 * (1 - cbrt(vacant * vacant));
    near_abs(e_in * t_s / 0.5, want, 1e-3 * want);
    near_abs(c.in_g - c.out_g, oxl_catalyst_stored_g(&c), 1e-9);
}

static void test_shrinking_core(void **state)
{
    (void)state;
    check_tank(4, 0, 0.3);
    check_tank(4, 3, 0.3);
    check_tank(1, 8, 0.02);
    struct oxl_catalyst empty = brick(5, 20, 20, 0), full = brick(5, 20, 20, 1);
    empty.tanks = full.tanks = true;
    empty.shell = full.shell = 2;
    near_abs(oxl_catalyst_step(&empty, -0.1, 0.002), -0.1, 1e-12);
    near_abs(oxl_catalyst_step(&full, 0.1, 0.002), 0.1, 1e-12);
    near_abs(oxl_catalyst_step(&full, -0.1, 1e-9), -0.1 * pow(1.0 / 5, 5), 1e-8);
}

/* Half the transfer units at a flow where that is their share. */
static void test_flow_share(void **state)
{
    (void)state;
    struct oxl_catalyst c = brick(256, 8, 8, 0);
    c.flow_share = 0.5;
    near_abs(oxl_catalyst_step(&c, 0.1, 1e-9), 0.1 * exp(-4), 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bohart_adams),
        cmocka_unit_test(test_breakthrough_time),
        cmocka_unit_test(test_one_cell_step_response),
        cmocka_unit_test(test_balance_closes),
        cmocka_unit_test(test_two_sites_fill),
        cmocka_unit_test(test_no_capacity_passes_all),
        cmocka_unit_test(test_light_off),
        cmocka_unit_test(test_rich_side),
        cmocka_unit_test(test_shrinking_core),
        cmocka_unit_test(test_flow_share),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
