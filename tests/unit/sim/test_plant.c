/* The whole plant, quiet, against closed forms; and the scenarios' intended behaviour. */

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "help_plant.h"

static struct oxl_plant *quiet_plant(const char *front)
{
    struct oxl_scenario *s = help_scenario("good");
    help_quiet(&s->plant);
    help_front(&s->ecu, front);
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    assert_non_null(p);
    oxl_scenario_free(s);
    return p;
}

/* 0.2 * 3 g/s of air / 15.68 = 0.03827 g/s of propane for a shift of 20 %; half of the valve. As a
 * gas of 44.097 g/mol at 20 C that is 1.252 l/min (propane_volume_flow_20pct; docs/scenarios.md),
 * and 0.838 % of the moles of air (propane_mole_fraction_20pct), by which it raises the manifold's
 * pressure. */
static void test_half_valve_is_twenty_per_cent(void **state)
{
    (void)state;
    struct oxl_plant *p = quiet_plant("wide-current");
    help_run_s(p, 20);
    double rest = oxl_plant_trim(p, 0);
    oxl_plant_valve(p, 0.5);
    help_run_s(p, 110);
    help_near(oxl_gas_flow_g_s(p), 0.03826530612, 1e-4);
    double litres_a_mole = 8.314462618 * 293.15 / 101.325;
    help_near(60 * oxl_gas_flow_g_s(p) / 44.097 * litres_a_mole, 1.252434058, 0.004);
    help_near(oxl_plant_trim(p, 0) - rest, -0.20, 0.003);
    help_near(1 - p->bank[0].phi_front, p->bank[0].trims.rear_offset, 1e-3);
    p->engine.air_g_s = 3.0;
    double with_gas = oxl_engine_map_kpa(p);
    p->gas.quick_g_s = p->gas.slow_g_s = 0;
    help_near(with_gas / oxl_engine_map_kpa(p) - 1, 0.008378155671, 3e-5);
    oxl_plant_free(p);
}

/* lambda = (1 + T0)/(1 + T) once the propane is gone, exactly: the trims are held still. */
static void check_lambda_after_release(double fuel_error_pct)
{
    struct oxl_scenario *s = help_scenario("good");
    help_quiet(&s->plant);
    s->plant.fuel_error_pct = fuel_error_pct;
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    help_run_s(p, 60);
    double t0 = oxl_plant_trim(p, 0), phi0 = p->bank[0].phi_cylinder;
    oxl_plant_valve(p, 0.45);
    help_run_s(p, 140);
    double t = oxl_plant_trim(p, 0);
    assert_true(t < t0 - 0.15);
    p->s.trim_ki_per_s = p->s.trim_kp = 0; /* the controller stops */
    p->bank[0].trims.stft = p->bank[0].trims.integral = t - p->bank[0].trims.ltft;
    oxl_plant_valve(p, 0);
    help_run_s(p, 150);
    help_near(1 / p->bank[0].phi_cylinder, (1 + t0) / (1 + t) / phi0, 1e-4);
    help_near(1 / (1 - p->bank[0].front_x), (1 + t0) / (1 + t) / phi0, 1e-4);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

static void test_lambda_after_release(void **state)
{
    (void)state;
    check_lambda_after_release(0);
    check_lambda_after_release(-5);
    check_lambda_after_release(8);
}

/* The integral of the lean excess is S / Ki, whatever the hose does: the integrator itself adds
 * it up. At 3 g/s this is the supply w m S / Ki. */
static void test_supply_of_a_linear_loop(void **state)
{
    (void)state;
    struct oxl_plant *p = quiet_plant("wide-current");
    help_run_s(p, 10);
    help_pulse(p, 10, 0.5, 120, 120.2);
    double shift = -oxl_plant_trim(p, 0), sum = 0, oxygen_g = 0;
    for (int i = 1; i <= 12000; i++) {
        help_run_s(p, 120.2 + i * 0.01);
        double x = p->bank[0].front_x - p->bank[0].trims.rear_offset;
        sum += x * 0.01;
        oxygen_g += oxl_plant_oxygen_share(p) * 3.0 * x * 0.01;
    }
    help_near(shift, 0.20, 0.003);
    help_near(sum, shift / 0.12, 0.01 * shift / 0.12);
    help_near(oxygen_g, 0.2314 * 3.0 * 0.20 / 0.12, 0.02);
    oxl_plant_free(p);
}

/* x = S/(1+Kp) exp(-Ki t/(1+Kp)) after the gas is gone: the time constant is (1+Kp)/Ki. */
static void test_recovery_time_constant(void **state)
{
    (void)state;
    struct oxl_plant *p = quiet_plant("wide-current");
    help_run_s(p, 10);
    help_pulse(p, 10, 0.5, 120, 124);
    double x1 = p->bank[0].front_x - p->bank[0].trims.rear_offset;
    help_run_s(p, 134);
    double x2 = p->bank[0].front_x - p->bank[0].trims.rear_offset;
    help_near(10 / log(x1 / x2), 1.25 / 0.12, 0.5);
    oxl_plant_free(p);
}

/* A relay with a ramp and a loop delay Td alone swings with period 4 Td and amplitude r Td
 * (Kiencke & Nielsen, lambda control, from memory): Td 0.45 s, r 5 %/s: 1.8 s, 2.25 %. */
static void test_relay_limit_cycle(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("good");
    help_quiet(&s->plant);
    help_front(&s->ecu, "switching");
    s->plant.relay_jump_pct = 0;
    s->plant.relay_ramp_pct_s = 5;
    s->plant.exhaust_mix_s = s->plant.front_lag_s = 0.005;
    s->plant.front_delay_s = 0.435;
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    double most = -1, least = 1, before = 0, last_s = 0, periods = 0;
    int crossings = 0;
    for (int i = 0; i < 4000; i++) {
        double t = 20 + i * 0.01;
        help_run_s(p, t);
        double u = p->bank[0].trims.integral;
        most = fmax(most, u);
        least = fmin(least, u);
        double x = p->bank[0].front_x;
        if (i && before < 0 && x >= 0) {
            periods += crossings ? t - last_s : 0;
            crossings++;
            last_s = t;
        }
        before = x;
    }
    assert_true(crossings > 10);
    help_near(periods / (crossings - 1), 1.8, 0.12);
    help_near((most - least) / 2, 0.0225, 0.002);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

/* Leak of 5 % ahead of the front: baseline +5 %. Port air of 8 % of the true air behind the air
 * meter: + 0.08/0.92 = 8.6957 %; with manifold pressure nothing. */
static double trim_with(double leak_pct, double port_pct, const char *metering)
{
    struct oxl_scenario *s = help_scenario("good");
    help_quiet(&s->plant);
    s->plant.leak_front_pct = leak_pct;
    s->plant.port_air_pct = port_pct;
    s->plant.spread_pct = 0;
    memcpy(s->plant.metering, metering, strlen(metering) + 1);
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    help_run_s(p, 90);
    p->bank[0].leak_ripple = 0;
    double sum = 0;
    for (int i = 0; i < 6000; i++) {
        help_run_s(p, 90 + i * 0.01);
        sum += oxl_plant_trim(p, 0);
    }
    oxl_plant_free(p);
    oxl_scenario_free(s);
    return sum / 6000;
}

static void test_baseline_of_leaks(void **state)
{
    (void)state;
    double none = trim_with(0, 0, "air-meter");
    help_near(trim_with(5, 0, "air-meter") - none, 0.05, 0.004);
    help_near(trim_with(0, 100 * 0.08 / 0.92, "air-meter") - none, 0.08695652, 0.002);
    help_near(trim_with(0, 8, "speed-density") - none, 0, 0.002);
}

/* Oxygen excess that enters the converter each second, with a steady leak. */
static double excess_g_s(double front_pct, double mid_pct, bool closed, double *phi_front)
{
    struct oxl_scenario *s = help_scenario("good");
    help_quiet(&s->plant);
    s->plant.leak_front_pct = front_pct;
    s->plant.leak_mid_pct = mid_pct;
    s->plant.closed_loop = closed;
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    help_run_s(p, 100);
    double start_g = p->bank[0].cat.in_g;
    *phi_front = 0;
    for (int i = 1; i <= 20000; i++) {
        help_run_s(p, 100 + i * 0.01);
        *phi_front += p->bank[0].phi_front / 20000;
    }
    double g_s = (p->bank[0].cat.in_g - start_g) / 200;
    oxl_plant_free(p);
    oxl_scenario_free(s);
    return g_s;
}

/* 0.18 g/s of leak air at 3 g/s brings its own oxygen, 0.2314 of it, whatever the front says:
 * x at the converter is 0.18/3.18 = 0.0566. Ahead of an open-loop front the same. */
static void test_oxygen_of_leaks(void **state)
{
    (void)state;
    double phi, g_s = excess_g_s(0, 6, true, &phi);
    help_near(g_s, 0.2314 * (0.18 + 3.0 * (1 - phi)), 0.0015);
    g_s = excess_g_s(6, 0, false, &phi);
    help_near(phi, 1.01 / 1.06, 0.002); /* open loop runs 1 % rich */
    help_near(g_s, 0.2314 * 3.18 * (1 - phi), 0.0003);
}

/* Speed density: 2.0 l, 750 rpm, 0.80, 40 C, 3.337 g/s is 30 kPa (ideal gas). */
static void test_manifold_pressure(void **state)
{
    (void)state;
    struct oxl_plant *p = quiet_plant("wide-current");
    p->engine.air_g_s = 3.337423253;
    p->engine.rpm = 750;
    help_near(oxl_engine_map_kpa(p), 30.0, 0.01);
    oxl_plant_free(p);
}

/* 2 litres at 3 g/s and 700 K take 0.315 s (ideal gas, molar mass 29.01). */
static void test_transport_time(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("good");
    help_quiet(&s->plant);
    s->plant.capacity_mg = 0;
    s->plant.outlet_volume_l = 2.0;
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    help_run_s(p, 10);
    oxl_plant_valve(p, 0.5);
    double inlet_s = NAN, rear_s = NAN, end = p->bank[0].phi_outlet + 0.05;
    for (double t = 10; t < 14 && isnan(rear_s); t += 0.002) {
        help_run_s(p, t);
        if (isnan(inlet_s) && p->bank[0].phi_outlet > end)
            inlet_s = t;
        if (p->bank[0].phi_rear > end)
            rear_s = t;
    }
    help_near(rear_s - inlet_s, 0.3151330091, 0.006);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

/* What enters the converter and does not leave it is in it; relative to what was moved. */
static void test_oxygen_balance_in_a_run(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("good");
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 5);
    const struct oxl_catalyst *c = &p->bank[0].cat;
    double start_g = oxl_catalyst_stored_g(c);
    help_pulse(p, 20, 0.5, 50, 100);
    double moved_g = oxl_catalyst_stored_g(c) - start_g;
    assert_true(fabs(c->in_g) > 0.01 && fabs(c->out_g) > 0.01);
    help_near((c->in_g - c->out_g + c->thermal_g - moved_g) / 0.5, 0, 1e-3);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

/* Cold: open loop, short-term trim exactly 0; later it closes by itself. */
static void test_cold_start(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("cold");
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    struct oxl_readout r;
    help_run_s(p, 5);
    oxl_plant_readout(p, &r);
    assert_int_equal(r.fuel_system[0], 1);
    assert_true(r.stft_pct[0] == 0 && r.coolant_c < 55 && r.cat_temp_c[0] < 200);
    help_run_s(p, 200);
    oxl_plant_readout(p, &r);
    assert_int_equal(r.fuel_system[0], 2);
    assert_true(r.coolant_c > 70 && r.cat_temp_c[0] > 350);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

/* A snapped throttle that falls shut cuts the fuel; the rear of a sound converter goes lean. */
static void test_snap_proves_the_rear(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("good");
    for (uint64_t seed = 1; seed <= 8; seed++) {
        struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, seed);
        help_run_s(p, 20);
        oxl_plant_throttle(p, s->technician.snap_pct);
        help_run_s(p, 20 + s->technician.snap_s);
        double fastest = p->engine.rpm, least_v = 1;
        oxl_plant_throttle(p, 0);
        bool cut = false;
        for (int i = 0; i < 600; i++) {
            help_run_s(p, 20 + s->technician.snap_s + i * 0.01);
            fastest = fmax(fastest, p->engine.rpm);
            least_v = fmin(least_v, p->bank[0].rear_v);
            cut = cut || p->engine.fuel_cut;
        }
        assert_true(cut && fastest > 2000 && fastest < 4500);
        assert_true(least_v < 0.2);
        help_run_s(p, 60);
        assert_true(fabs(p->engine.rpm - 750) < 60);
        oxl_plant_free(p);
    }
    oxl_scenario_free(s);
}

/* At rest a sound converter's rear stands a little rich and moves slowly. */
static void test_rear_at_rest(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("good");
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 3);
    double sum = 0;
    for (int i = 0; i < 300; i++) {
        help_run_s(p, 30 + i * 0.1);
        sum += p->bank[0].rear_v / 300;
    }
    assert_true(sum > 0.6 && sum < 0.78);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

/* The lights that a vehicle does not have are unknown, not zero. */
static void test_readout_unknowns(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("good");
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    struct oxl_readout r;
    oxl_plant_readout(p, &r);
    assert_true(isnan(r.front_v[0]) && isnan(r.rear_lambda[0]) && isnan(r.stft_pct[1]));
    assert_true(!isnan(r.front_lambda[0]) && !isnan(r.front_ma[0]) && !isnan(r.rear_v[0]));
    assert_int_equal(r.fuel_system[1], 0);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

/* The controller refreshes its values every calc_ms; between that they stand. */
static void test_readout_is_refreshed_in_steps(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("good");
    s->ecu.calc_ms = 100;
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    int changes = 0;
    double before = 0;
    struct oxl_readout r;
    for (int i = 0; i < 1000; i++) {
        help_run_s(p, i * 0.002);
        oxl_plant_readout(p, &r);
        changes += r.front_lambda[0] != before;
        before = r.front_lambda[0];
    }
    assert_in_range(changes, 19, 21);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_half_valve_is_twenty_per_cent),
        cmocka_unit_test(test_lambda_after_release),
        cmocka_unit_test(test_supply_of_a_linear_loop),
        cmocka_unit_test(test_recovery_time_constant),
        cmocka_unit_test(test_relay_limit_cycle),
        cmocka_unit_test(test_baseline_of_leaks),
        cmocka_unit_test(test_oxygen_of_leaks),
        cmocka_unit_test(test_manifold_pressure),
        cmocka_unit_test(test_transport_time),
        cmocka_unit_test(test_oxygen_balance_in_a_run),
        cmocka_unit_test(test_cold_start),
        cmocka_unit_test(test_snap_proves_the_rear),
        cmocka_unit_test(test_rear_at_rest),
        cmocka_unit_test(test_readout_unknowns),
        cmocka_unit_test(test_readout_is_refreshed_in_steps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
