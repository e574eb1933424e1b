/* When the controller takes its values: seen from outside by when they change, held against times
 * that are worked out here from the settings alone. */

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "help_plant.h"

enum { FRONT, REAR, TRIMS, REST, GROUPS, MOST = 4000 };
static const double step_s = 0.002, begin_s = 1, end_s = 20;

/* Seconds at which each group's value changed, looked at every step from the first second on:
 * before, there are values that stand still of themselves. */
struct seen {
    double at_s[GROUPS][MOST];
    int n[GROUPS];
};

static struct seen seen;

static void watch(const struct oxl_ecu_settings *u, uint64_t seed)
{
    struct oxl_scenario *s = help_scenario("good");
    double before[GROUPS] = {0}, now[GROUPS];
    struct oxl_plant *p = oxl_plant_new(&s->plant, u, seed);
    assert_non_null(p);
    memset(&seen, 0, sizeof seen);
    for (int i = 0; i * step_s <= end_s; i++) {
        struct oxl_readout r;
        help_run_s(p, i * step_s);
        oxl_plant_readout(p, &r);
        now[FRONT] = r.front_lambda[0];
        now[REAR] = r.rear_v[0];
        now[TRIMS] = r.stft_pct[0];
        now[REST] = r.air_g_s;
        for (int g = 0; g < GROUPS && i > 0; g++)
            if (now[g] != before[g] && i * step_s > begin_s)
                seen.at_s[g][seen.n[g]++] = i * step_s;
        memcpy(before, now, sizeof before);
    }
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

static struct oxl_ecu_settings ecu(void)
{
    struct oxl_scenario *s = help_scenario("good");
    struct oxl_ecu_settings u = s->ecu;
    oxl_scenario_free(s);
    return u;
}

/* Change k comes with the first step at or after first + k * period. */
static void comes_every(int g, double first_s, double period_s, double from_s, double to_s)
{
    int want = 0, i = 0;
    while (i < seen.n[g] && seen.at_s[g][i] < from_s - 1e-9)
        i++;
    for (int k = 0; first_s + k * period_s < to_s - 1e-9; k++) {
        double at_s = first_s + k * period_s;
        if (at_s < from_s - 1e-9)
            continue;
        want++;
        if (i >= seen.n[g] || seen.at_s[g][i] < at_s - 1e-7 ||
            seen.at_s[g][i] > at_s + step_s + 1e-7)
            fail_msg("group %d: change %d at %g, want %g", g, i, seen.at_s[g][i], at_s);
        i++;
    }
    assert_true(want > 3);
    assert_true(i >= seen.n[g] || seen.at_s[g][i] >= to_s - 1e-9);
}

static void test_each_group_by_its_own_period_and_phase(void **state)
{
    (void)state;
    struct oxl_ecu_settings u = ecu();
    const double period_ms[GROUPS] = {37, 250, 500.5, 110}, phase_ms[GROUPS] = {13, 249, 1.5, 60};
    for (int g = 0; g < GROUPS; g++) {
        u.refresh_ms[g] = period_ms[g];
        u.refresh_phase_ms[g] = phase_ms[g];
    }
    watch(&u, 1);
    for (int g = 0; g < GROUPS; g++)
        comes_every(g, 1e-3 * phase_ms[g], 1e-3 * period_ms[g], 1.01, end_s);
}

static void test_calc_ms_is_for_all_that_have_none(void **state)
{
    (void)state;
    struct oxl_ecu_settings u = ecu();
    u.calc_ms = 200;
    u.refresh_ms[REAR] = 500;
    watch(&u, 1);
    comes_every(FRONT, 0.2, 0.2, 1.01, end_s);
    comes_every(REAR, 0.5, 0.5, 1.01, end_s);
    comes_every(TRIMS, 0.2, 0.2, 1.01, end_s);
    comes_every(REST, 0.2, 0.2, 1.01, end_s);
}

static void test_snapshot_takes_all_at_once(void **state)
{
    (void)state;
    struct oxl_ecu_settings u = ecu();
    u.refresh_ms[FRONT] = 300;
    u.refresh_ms[REAR] = 70;
    u.refresh_phase_random = u.refresh_snapshot = true;
    watch(&u, 5);
    for (int g = 0; g < GROUPS; g++)
        comes_every(g, seen.at_s[FRONT][0] - step_s / 2, 0.3, 1.01, end_s);
    for (int g = 0; g < GROUPS; g++)
        assert_true(seen.n[g] == seen.n[FRONT] && seen.at_s[g][5] == seen.at_s[FRONT][5]);
}

/* Phases of many cars fill their period evenly and have nothing to do with each other. */
static void test_random_phases(void **state)
{
    (void)state;
    struct oxl_ecu_settings u = ecu();
    u.calc_ms = 1000;
    u.refresh_phase_random = true;
    double sum[2] = {0}, both = 0;
    const int cars = 40;
    for (int i = 0; i < cars; i++) {
        watch(&u, 100U + (unsigned)i);
        double a = seen.at_s[FRONT][0], b = seen.at_s[REAR][0];
        a -= floor(a);
        b -= floor(b);
        sum[0] += a / cars;
        sum[1] += b / cars;
        both += (a - 0.5) * (b - 0.5) / cars;
    }
    /* sd of a mean of 40: 0.046; of the product: 0.013 */
    help_near(sum[0], 0.5, 0.14);
    help_near(sum[1], 0.5, 0.14);
    help_near(both, 0, 0.04);
}

static void test_drift_makes_the_phase_slip(void **state)
{
    (void)state;
    struct oxl_ecu_settings u = ecu();
    u.calc_ms = 100;
    u.refresh_drift_ppm = 2000;
    watch(&u, 1);
    comes_every(FRONT, 0.1002, 0.1002, 1.01, end_s);
    assert_int_equal(seen.n[FRONT], 190); /* 10 to 199 */
}

static void test_jitter_does_not_add_up(void **state)
{
    (void)state;
    struct oxl_ecu_settings u = ecu();
    u.calc_ms = 250;
    u.refresh_jitter_ms = 60;
    watch(&u, 3);
    double least = 1, most = 0;
    assert_in_range(seen.n[REAR], 75, 77);
    for (int i = 0; i < seen.n[REAR]; i++) {
        double late_s = seen.at_s[REAR][i] - 0.25 * floor(seen.at_s[REAR][i] / 0.25);
        least = fmin(least, late_s);
        most = fmax(most, late_s);
    }
    assert_true(least >= 0 && least < 0.010 && most > 0.050 && most <= 0.060 + step_s);
}

/* A jump leaves one interval of one to two periods; the others stand. */
static void test_jumps(void **state)
{
    (void)state;
    struct oxl_ecu_settings u = ecu();
    u.calc_ms = 100;
    u.refresh_jump_s = 2;
    watch(&u, 7);
    int jumps = 0;
    for (int i = 1; i < seen.n[FRONT]; i++) {
        double gap_s = seen.at_s[FRONT][i] - seen.at_s[FRONT][i - 1];
        assert_true(gap_s > 0.097 && gap_s < 0.203);
        jumps += gap_s > 0.103;
    }
    assert_in_range(jumps, 3, 20); /* ten are to be expected */
}

static void test_period_changes(void **state)
{
    (void)state;
    struct oxl_ecu_settings u = ecu();
    u.calc_ms = 100;
    u.refresh_change_at_s = 10;
    u.refresh_change_factor = 2.5;
    watch(&u, 1);
    comes_every(TRIMS, 0.1, 0.1, 1.01, 10.05);
    comes_every(TRIMS, 10, 0.25, 10.05, end_s);
}

/* What is taken between two ticks of the controller is as new as the moment. */
static void test_taken_between_ticks(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("good");
    help_quiet(&s->plant);
    s->ecu.refresh_ms[FRONT] = 2;
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    help_pulse(p, 5, 0.5, 40, 40.5);
    for (int i = 0; i < 40; i++) {
        struct oxl_readout r;
        help_run_s(p, 40.5 + step_s * i);
        oxl_plant_readout(p, &r);
        help_near(r.front_lambda[0], 1 / (1 - p->bank[0].front_x), 1e-12);
    }
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_each_group_by_its_own_period_and_phase),
        cmocka_unit_test(test_calc_ms_is_for_all_that_have_none),
        cmocka_unit_test(test_snapshot_takes_all_at_once),
        cmocka_unit_test(test_random_phases),
        cmocka_unit_test(test_drift_makes_the_phase_slip),
        cmocka_unit_test(test_jitter_does_not_add_up),
        cmocka_unit_test(test_jumps),
        cmocka_unit_test(test_period_changes),
        cmocka_unit_test(test_taken_between_ticks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
