/* The truth: what is written down about a pulse, and the scenarios' intended answers. */

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "help_plant.h"
#include "long.h"

/* Three pulses of about -20 % by a scripted valve; the last one's truth. */
static struct oxl_truth last_of_three(const char *name, double opening, uint64_t seed)
{
    struct oxl_scenario *s = help_scenario(name);
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, seed);
    assert_non_null(p);
    for (int i = 0; i < 3; i++)
        help_pulse(p, 30 + i * 100, opening, 64 + i * 100, 130 + i * 100);
    assert_int_equal(p->truth.count, 3);
    struct oxl_truth t = p->truth.list[2];
    oxl_plant_free(p);
    oxl_scenario_free(s);
    return t;
}

static void check_delay(const char *name, double low_s, double high_s)
{
    for (uint64_t seed = 1; seed <= long_or(5, 1); seed++) {
        struct oxl_truth t = last_of_three(name, 0.5, seed);
        help_near(t.shift_pct, -20, 2.5);
        if (!(t.delay_s >= low_s && t.delay_s <= high_s))
            fail_msg("%s, seed %d: delay %.3f s", name, (int)seed, t.delay_s);
        assert_true(t.stored_mg >= 0 && t.stored_mg <= t.empty_mg);
        assert_true(t.empty_mg <= t.capacity_mg + 1e-6);
    }
}

static void test_intended_delays(void **state)
{
    (void)state;
    check_delay("good", 7.2, 12);
    check_delay("aged", 3, 5);
    check_delay("dead", 0.05, 1.2);
    check_delay("kline", 2.6, 5.5);
    check_delay("switching-front", 2.6, 5.5);
    check_delay("cool-converter", 0.2, 2);
}

/* A sound converter behind a leak looks worse than it is; a worn one with a slow rear better. */
static void test_intended_faults(void **state)
{
    (void)state;
    double sound_s = last_of_three("good", 0.5, 2).delay_s;
    struct oxl_truth leak = last_of_three("leak-before-rear", 0.5, 2);
    assert_true(leak.delay_s < 0.6 * sound_s);
    help_near(leak.capacity_mg, last_of_three("good", 0.5, 2).capacity_mg, 1);
    struct oxl_truth slow = last_of_three("slow-rear", 0.5, 2);
    assert_true(slow.delay_s > 2 && slow.stored_mg < 20);
    struct oxl_truth deep = last_of_three("over-propane", 0.8, 2);
    assert_true(deep.shift_pct < -28 && deep.delay_s < 2.2);
    struct oxl_truth shallow = last_of_three("under-propane", 0.25, 2);
    assert_true(shallow.shift_pct > -13 && shallow.delay_s > 4);
}

/* A stuck rear never goes lean; nothing is trimmed in open loop. Unknown is not zero. */
static void test_unknowns(void **state)
{
    (void)state;
    struct oxl_truth stuck = last_of_three("dead-rear", 0.5, 1);
    assert_true(isnan(stuck.rear_lean_t_s) && isnan(stuck.delay_s));
    assert_true(!isnan(stuck.front_lean_t_s) && !isnan(stuck.stored_mg));
    struct oxl_truth open = last_of_three("open-loop", 0.5, 1);
    help_near(open.shift_pct, 0, 0.01);
    assert_true(isnan(open.rear_lean_t_s));
}

/* With a step of gas and a bare plant the front passes lambda 1.01 when arithmetic says so: the
 * shut valve's dead time, then S (1 - exp(-t/0.4 s)) at the inlet, transport, mixing, lag. */
static void test_front_lean_moment(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("good");
    help_quiet(&s->plant);
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    oxl_plant_valve(p, 0.5);
    help_run_s(p, 100);
    oxl_plant_valve(p, 0);
    help_run_s(p, 200);
    assert_int_equal(p->truth.count, 0); /* open from the start is no pulse */
    oxl_plant_valve(p, 0.5);
    help_run_s(p, 300);
    oxl_plant_valve(p, 0);
    help_run_s(p, 360);
    assert_int_equal(p->truth.count, 1);
    /* three first-order lags in a row, solved by small steps here */
    double hose = 0, mix = 0, lag = 0, t = 0;
    for (; lag < 1 - 1 / 1.01; t += 1e-5) {
        hose += (0.2 - hose) * 1e-5 / 0.4;
        mix += (hose - mix) * 1e-5 / 0.06;
        lag += (mix - lag) * 1e-5 / 0.08;
    }
    help_near(p->truth.list[0].cut_t_s, 300, 0.0021);
    help_near(p->truth.list[0].front_lean_t_s, 300 + 0.25 + 0.32 + t, 0.012);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

/* stored_mg is the integral of w m x at the inlet between the two events, less what had come
 * through; here by our own sum over the plant's gas. */
static void check_stored(double cut_s, double least_mg, double left_mg)
{
    struct oxl_scenario *s = help_scenario("aged");
    help_quiet(&s->plant);
    s->plant.start_fill_pct = 90;
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    help_pulse(p, 5, 0.5, cut_s, cut_s + 0.2);
    double sum_mg = 0, most_mg = 0, lean_mg = NAN, through_mg = NAN;
    for (int i = 0; i < 30000 && p->truth.count == 0; i++) {
        help_run_s(p, cut_s + 0.2 + i * 0.002);
        const struct oxl_bank *b = &p->bank[0];
        if (isnan(lean_mg) && b->phi_inlet < 1 - 0.002)
            lean_mg = sum_mg;
        if (isnan(through_mg) && !isnan(lean_mg) &&
            oxl_nernst_v(&p->rear_curve, 1 - b->phi_outlet) < 0.45)
            through_mg = sum_mg;
        sum_mg += 231.4 * p->engine.air_g_s * (b->phi_outlet - b->phi_inlet) * 0.002;
        most_mg = fmax(most_mg, sum_mg);
    }
    assert_int_equal(p->truth.count, 1);
    if (isnan(through_mg))
        through_mg = sum_mg; /* held: until the end of the lean excess */
    help_near(p->truth.list[0].stored_mg, through_mg - lean_mg, 3);
    help_near(p->truth.list[0].taken_mg, most_mg - lean_mg, 3);
    assert_true(p->truth.list[0].stored_mg > least_mg);
    double left = p->truth.list[0].capacity_mg - p->truth.list[0].empty_mg;
    assert_true(left >= left_mg);
    help_near(p->truth.list[0].removed_mg, 0.9 * 500 - left, 15);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

/* Emptied, and only in part. */
static void test_stored_is_the_inlet_integral(void **state)
{
    (void)state;
    check_stored(60, 300, 0);
    check_stored(10, 100, 100);
    check_stored(11, 100, 50);
}

/* A little less gas on the way is not the cut. */
static void test_backing_off_is_not_the_cut(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("aged");
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    help_run_s(p, 30);
    for (int i = 0; i <= 5000; i++) {
        double t = 30 + i * 0.01;
        double o = t < 34 ? 0.6 * (t - 30) / 4 : t < 50 ? 0.6 : fmax(0.5, 0.6 - (t - 50) * 0.08);
        if (t >= 60)
            o = fmax(0, 0.5 - (t - 60) * 2.5);
        help_run_s(p, t);
        oxl_plant_valve(p, o);
    }
    help_run_s(p, 150);
    assert_int_equal(p->truth.count, 1);
    help_near(p->truth.list[0].cut_t_s, 60.01, 0.011);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

/* Turned down slowly and then, without a pause, shut: the cut is where it was shut. */
static void test_cut_out_of_backing_off(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("aged");
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    help_run_s(p, 30);
    for (int i = 0; i <= 4000; i++) {
        double t = 30 + i * 0.01;
        double o = t < 50 ? 0.5 : 0.5 - (t - 50) * 0.02;
        if (t >= 54)
            o = fmax(0, 0.42 - (t - 54) * 2.1);
        help_run_s(p, t);
        oxl_plant_valve(p, o);
    }
    help_run_s(p, 150);
    assert_int_equal(p->truth.count, 1);
    help_near(p->truth.list[0].cut_t_s, 54.01, 0.011);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

/* Gas again before the trims are back: the first pulse ends there. */
static void test_gas_again_ends_a_pulse(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("aged");
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    help_pulse(p, 30, 0.5, 60, 66);
    help_pulse(p, 66, 0.5, 96, 150);
    assert_int_equal(p->truth.count, 2);
    assert_int_equal(p->truth.list[1].pulse, 2);
    assert_true(p->truth.list[0].cut_t_s < 61 && p->truth.list[1].cut_t_s > 95);
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

/* The same seed and the same valve: the same car to the last bit, in whatever steps it is run. */
static void test_steps_do_not_matter(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("kline");
    struct oxl_plant *a = oxl_plant_new(&s->plant, &s->ecu, 9);
    struct oxl_plant *b = oxl_plant_new(&s->plant, &s->ecu, 9);
    struct oxl_plant *c = oxl_plant_new(&s->plant, &s->ecu, 10);
    struct oxl_random r;
    oxl_random_seed(&r, 4);
    for (double t = 0; t < 30; t += 0.2 * oxl_random_unit(&r)) {
        struct oxl_readout seen;
        help_run_s(b, t);
        oxl_plant_readout(b, &seen);
    }
    help_pulse(a, 30, 0.5, 60, 100);
    help_pulse(b, 30, 0.5, 60, 100);
    help_pulse(c, 30, 0.5, 60, 100);
    assert_int_equal(a->truth.count, 1);
    assert_int_equal(b->truth.count, 1);
    assert_memory_equal(&a->latched, &b->latched, sizeof a->latched);
    assert_memory_equal(&a->truth.list[0], &b->truth.list[0], sizeof a->truth.list[0]);
    assert_true(a->truth.list[0].delay_s != c->truth.list[0].delay_s);
    oxl_plant_free(a);
    oxl_plant_free(b);
    oxl_plant_free(c);
    oxl_scenario_free(s);
}

/* While a pulse is timed the front-lean moment can be asked for: the adapter's plug falls then. */
static void test_front_lean_is_told(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("good");
    struct oxl_plant *p = oxl_plant_new(&s->plant, &s->ecu, 1);
    int64_t since_us = -1;
    help_pulse(p, 30, 0.5, 60, 60.3);
    assert_false(oxl_plant_front_lean(p, &since_us));
    help_run_s(p, 63);
    assert_true(oxl_plant_front_lean(p, &since_us));
    assert_in_range(since_us, 60300000, 61500000);
    help_run_s(p, 150);
    help_near(p->truth.list[0].front_lean_t_s, 1e-6 * (double)since_us, 1e-6);
    assert_false(oxl_plant_front_lean(p, &since_us));
    oxl_plant_free(p);
    oxl_scenario_free(s);
}

static void test_json(void **state)
{
    (void)state;
    struct oxl_truth t = {.pulse = 2,
                          .cut_t_s = 12.5,
                          .front_lean_t_s = 13.25,
                          .rear_lean_t_s = NAN,
                          .delay_s = NAN,
                          .shift_pct = -20.25,
                          .stored_mg = 300,
                          .empty_mg = 410,
                          .removed_mg = 400,
                          .capacity_mg = 500,
                          .air_g_s = 3,
                          .rpm = 750,
                          .front_true_lambda_min = 0.9};
    char text[512];
    size_t n = oxl_sim_truth_json(&t, text, sizeof text);
    assert_int_equal(n, strlen(text));
    assert_string_equal(text, "{\"truth\":\"pulse\",\"pulse\":2,\"cut_t_s\":12.5000,"
                              "\"front_lean_t_s\":13.2500,\"rear_lean_t_s\":null,"
                              "\"delay_s\":null,\"shift_pct\":-20.250,\"stored_mg\":300.00,"
                              "\"empty_mg\":410.00,\"removed_mg\":400.00,\"capacity_mg\":500.00,"
                              "\"air_g_s\":3.0000,\"rpm\":750.0,"
                              "\"front_true_lambda_min\":0.9000}\n");
    for (size_t size = 0; size <= n; size++) {
        char *small = malloc(size + 1);
        assert_int_equal(oxl_sim_truth_json(&t, small, size), 0);
        free(small);
    }
    assert_int_equal(oxl_sim_truth_json(&t, text, n + 1), n);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_intended_delays),
        cmocka_unit_test(test_intended_faults),
        cmocka_unit_test(test_unknowns),
        cmocka_unit_test(test_front_lean_moment),
        cmocka_unit_test(test_stored_is_the_inlet_integral),
        cmocka_unit_test(test_backing_off_is_not_the_cut),
        cmocka_unit_test(test_cut_out_of_backing_off),
        cmocka_unit_test(test_gas_again_ends_a_pulse),
        cmocka_unit_test(test_steps_do_not_matter),
        cmocka_unit_test(test_front_lean_is_told),
        cmocka_unit_test(test_json),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
