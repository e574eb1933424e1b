/* What controllers do by themselves, each switch against what it is said to do. */

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "help_plant.h"
#include "sim/ecu.h"

/* Quiet, so that only the habit moves anything. */
static struct oxl_scenario *quiet(const char *front)
{
    struct oxl_scenario *s = help_scenario("good");
    help_quiet(&s->plant);
    help_front(&s->ecu, front);
    return s;
}

static struct oxl_plant *start(struct oxl_scenario *s)
{
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    assert_non_null(p);
    return p;
}

static void end(struct oxl_plant *p, struct oxl_scenario *s)
{
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

static double front_lambda(const struct oxl_plant *p)
{
    return 1 / (1 - fmin(0.5, p->bank[0].front_x)); /* a fuel cut is 2 */
}

struct range {
    double low, high;
};

/* Of `what` over `for_s` seconds. */
static struct range range_of(struct oxl_plant *p, double for_s,
                             double (*what)(const struct oxl_plant *))
{
    struct range r = {INFINITY, -INFINITY};
    double from_s = 1e-6 * (double)p->t_us;
    for (int i = 1; i <= (int)(for_s * 100); i++) {
        help_run_s(p, from_s + i * 0.01);
        r.low = fmin(r.low, what(p));
        r.high = fmax(r.high, what(p));
    }
    return r;
}

static double trim(const struct oxl_plant *p)
{
    return oxl_plant_trim(p, 0);
}

static double speed(const struct oxl_plant *p)
{
    return p->engine.rpm;
}

static void test_target_is_reached_and_said(void **state)
{
    (void)state;
    struct oxl_scenario *s = quiet("wide-current");
    s->plant.target_lambda = 1.02;
    struct oxl_plant *p = start(s);
    help_run_s(p, 60);
    help_near(front_lambda(p), 1.02, 0.003);
    help_near(oxl_plant_trim(p, 0), 0, 0.003); /* the trims need not bring it about */
    struct oxl_readout r;
    oxl_plant_readout(p, &r);
    uint8_t data[4];
    const struct oxl_ecu_case c = {&s->ecu, &r, true};
    assert_int_equal(oxl_ecu_pid(&c, 0x44, data), 2);
    help_near((data[0] << 8 | data[1]) * 2.0 / 65536, 1.02, 2.0 / 65536);
    end(p, s);
}

static void snap(struct oxl_plant *p, double at_s)
{
    help_run_s(p, at_s);
    oxl_plant_throttle(p, 25);
    help_run_s(p, at_s + 0.6);
    oxl_plant_throttle(p, 0);
}

/* A cut fills the store; after it the controller empties it again. */
static double filled_after_snap(const char *front, double cut_lambda, double *least_lambda)
{
    struct oxl_scenario *s = quiet(front);
    s->plant.capacity_mg = 300;
    s->plant.cut_lambda = cut_lambda;
    struct oxl_plant *p = start(s);
    snap(p, 20);
    *least_lambda = range_of(p, 15, front_lambda).low;
    double share =
        oxl_catalyst_stored_g(&p->bank[0].cat) / oxl_catalyst_capacity_g(&p->bank[0].cat);
    end(p, s);
    return share;
}

static void test_rich_after_a_fuel_cut(void **state)
{
    (void)state;
    static const char *const fronts[] = {"wide-current", "switching"};
    for (int i = 0; i < 2; i++) {
        double least;
        assert_true(filled_after_snap(fronts[i], 1, &least) > 0.8);
        assert_true(least > 0.97);
        assert_true(filled_after_snap(fronts[i], 0.88, &least) < 0.3);
        assert_true(least < 0.90);
    }
}

/* The loop expects its own modulation, so the trims stand still under it. */
static void test_forced_modulation(void **state)
{
    (void)state;
    struct oxl_scenario *s = quiet("wide-current");
    s->plant.modulation_pct = 4;
    s->plant.modulation_hz = 0.5;
    struct oxl_plant *p = start(s);
    help_run_s(p, 20);
    struct range front = range_of(p, 10, front_lambda), trims = range_of(p, 10, trim);
    help_near(front.high, 1.04, 0.006);
    help_near(front.low, 0.96, 0.006);
    assert_true(trims.high - trims.low < 0.015);
    end(p, s);
}

static void test_quick_rear_trim(void **state)
{
    (void)state;
    for (int quick = 0; quick < 2; quick++) {
        struct oxl_scenario *s = quiet("wide-current");
        s->plant.rear_trim = true;
        s->plant.rear_trim_pull = quick ? 4 : 1;
        s->plant.start_fill_pct = 100;
        snprintf(s->plant.rear_fault, sizeof s->plant.rear_fault, "stuck");
        s->plant.rear_stuck_v = 0.1; /* lean: it asks for fuel */
        struct oxl_plant *p = start(s);
        help_run_s(p, 8);
        double rich = 1 - front_lambda(p);
        assert_true(quick ? rich > 0.025 : rich < 0.01); /* its loop has a time constant of 10 s */
        end(p, s);
    }
}

static void test_purge_comes_and_goes(void **state)
{
    (void)state;
    struct oxl_scenario *s = quiet("wide-current");
    s->plant.purge_pct = 10;
    s->plant.purge_every_s = 60;
    struct oxl_plant *p = start(s);
    struct range r = range_of(p, 300, trim);
    help_near(r.low, -0.10, 0.01);
    help_near(r.high, 0, 0.01);
    end(p, s);
}

static void test_long_term_trim_stays_down(void **state)
{
    (void)state;
    struct oxl_scenario *s = quiet("wide-current");
    s->plant.ltft_tau_s = 10;
    s->plant.ltft_back_tau_s = 300;
    struct oxl_plant *p = start(s);
    help_run_s(p, 10);
    help_pulse(p, 10, 0.5, 40, 70);
    assert_true(p->bank[0].trims.ltft < -0.08);
    end(p, s);
}

static struct oxl_plant *at_its_limit(struct oxl_scenario *s, const char *what)
{
    s->plant.stft_limit_pct = 12;
    s->plant.rich_dtc_s = 15;
    snprintf(s->plant.at_limit, sizeof s->plant.at_limit, "%s", what);
    struct oxl_plant *p = start(s);
    help_run_s(p, 10);
    oxl_plant_valve(p, 0.5);
    help_run_s(p, 40);
    return p;
}

static void test_frozen_at_the_limit(void **state)
{
    (void)state;
    struct oxl_scenario *s = quiet("wide-current");
    struct oxl_plant *p = at_its_limit(s, "freeze");
    oxl_plant_valve(p, 0);
    struct range r = range_of(p, 15, trim);
    help_near(r.low, -0.12, 1e-3);
    help_near(r.high, -0.12, 1e-3);
    assert_int_equal(oxl_trims_status(p, &p->bank[0]), 16);
    end(p, s);
}

static void test_open_at_the_limit_with_code_and_lamp(void **state)
{
    (void)state;
    struct oxl_scenario *s = quiet("wide-current");
    struct oxl_plant *p = at_its_limit(s, "open");
    help_near(oxl_plant_trim(p, 0), 0, 0.02);
    struct oxl_readout r;
    oxl_plant_readout(p, &r);
    assert_int_equal(r.fuel_system[0], 8);
    const struct oxl_ecu_case c = {&s->ecu, &r, true};
    struct oxl_ecu_answer a = {.ecu = 0x7E8};
    assert_int_equal(oxl_ecu_service_dtcs(&c, 0x03, &a, 1), 1);
    static const uint8_t rich[] = {0x43, 0x01, 0x01, 0x72};
    assert_int_equal(a.len, sizeof rich);
    assert_memory_equal(a.data, rich, sizeof rich);
    uint8_t data[4];
    assert_int_equal(oxl_ecu_pid(&c, 0x01, data), 4);
    assert_int_equal(data[0], 0x81);
    end(p, s);
}

static void test_own_monitor_at_idle(void **state)
{
    (void)state;
    static const char *const fronts[] = {"wide-current", "switching"};
    for (int i = 0; i < 2; i++) {
        struct oxl_scenario *s = quiet(fronts[i]);
        s->plant.monitor_pct = 4;
        s->plant.monitor_every_s = 60;
        struct oxl_plant *p = start(s);
        int on = 0;
        for (int t = 0; t < 6000; t++) {
            help_run_s(p, t * 0.02);
            on += p->habits.monitoring;
        }
        help_near(on / 6000.0, 25 / 60.0, 0.02);
        end(p, s);
    }
}

static void test_engine_stops_and_starts(void **state)
{
    (void)state;
    struct oxl_scenario *s = quiet("wide-current");
    s->plant.stops_after_s = 10;
    s->plant.stops_for_s = 20;
    struct oxl_plant *p = start(s);
    help_run_s(p, 9.9);
    assert_true(p->engine.rpm > 700);
    help_run_s(p, 11);
    assert_true(p->engine.rpm < 50);
    struct oxl_readout r;
    oxl_plant_readout(p, &r);
    assert_true(r.air_g_s == 0);
    assert_int_equal(r.fuel_system[0], 0);
    help_run_s(p, 33);
    assert_true(p->engine.rpm > 500);
    oxl_plant_throttle(p, 4); /* no stop while the speed is held up */
    help_run_s(p, 60);
    assert_true(p->engine.rpm > 800);
    end(p, s);
}

static void test_load_moves_speed_air_and_voltage(void **state)
{
    (void)state;
    struct oxl_scenario *s = quiet("wide-current");
    s->plant.load_pct = 30;
    s->plant.load_v = 0.6;
    s->plant.governor = true;
    struct oxl_plant *p = start(s);
    struct range r = range_of(p, 60, speed);
    assert_true(r.high - r.low > 40);
    struct range v = range_of(p, 60, oxl_habits_module_v);
    help_near(v.low, 13.5, 1e-9);
    help_near(v.high, 14.1, 1e-9);
    end(p, s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_target_is_reached_and_said),
        cmocka_unit_test(test_rich_after_a_fuel_cut),
        cmocka_unit_test(test_forced_modulation),
        cmocka_unit_test(test_quick_rear_trim),
        cmocka_unit_test(test_purge_comes_and_goes),
        cmocka_unit_test(test_long_term_trim_stays_down),
        cmocka_unit_test(test_frozen_at_the_limit),
        cmocka_unit_test(test_open_at_the_limit_with_code_and_lamp),
        cmocka_unit_test(test_own_monitor_at_idle),
        cmocka_unit_test(test_engine_stops_and_starts),
        cmocka_unit_test(test_load_moves_speed_air_and_voltage),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
