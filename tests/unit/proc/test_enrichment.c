/* Enrichment against a scripted car: what is said of the gas, and when the cut is called. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "help_car.h"

/* ---- enrichment ------------------------------------------------------------------------------ */
static void advice_follows_the_gauge(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    assert_int_equal(car_heard(c, OXL_ADV_ADD_GAS), 1);
    c->rear = 0.3; /* not rich: no cut may be called */
    car_gas(c, 6, -16.5);
    assert_true(car_heard(c, OXL_ADV_SLOW) >= 1);
    assert_int_equal(car_heard(c, OXL_ADV_HOLD), 0);
    car_glide(c, 1, -19, 1);
    assert_true(car_heard(c, OXL_ADV_HOLD) >= 1);
    assert_int_equal(car_heard(c, OXL_ADV_TOO_MUCH), 0);
    car_glide(c, 2, -27, 1);
    assert_true(car_heard(c, OXL_ADV_TOO_MUCH) >= 1);
    assert_int_equal(car_heard(c, OXL_ADV_BACK_OFF), 0);
    car_glide(c, 1, -32, 1);
    assert_true(car_heard(c, OXL_ADV_BACK_OFF) >= 1);
    assert_false(car_was_in(c, OXL_STATE_RELEASE));
    car_free(c);
}

static void no_cut_while_the_rear_is_lean(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rear = 0.2;
    car_gas(c, 5, -20);
    car_run(c, 10);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_true(car_heard(c, OXL_ADV_WAIT_RICH) >= 1);
    c->rear = 0.8;
    car_run(c, 1);
    assert_int_equal(c->proc.state, OXL_STATE_RELEASE);
    assert_int_equal(car_heard(c, OXL_ADV_CUT), 1);
    car_free(c);
}

static void the_hold_is_two_seconds(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rear = 0.8;
    car_gas(c, 3, -20);
    int64_t reached_us = c->proc.enrich.in_range_us;
    assert_true(reached_us > 0);
    car_run(c, 5);
    assert_int_equal(c->proc.state, OXL_STATE_RELEASE);
    double held_s = (double)(c->proc.run.cut_us - reached_us) / 1e6;
    assert_true(held_s >= 2.0 && held_s < 2.6);
    car_free(c);
}

static void heat_limit_cuts(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rear = 0.2;
    car_gas(c, 5, -20);
    int64_t start_us = c->proc.run.shift_start_us;
    car_run(c, 70);
    assert_true(car_heard(c, OXL_ADV_CUT_HEAT) == 1);
    assert_true(fabs((double)(c->proc.run.cut_us - start_us) / 1e6 - 60) < 0.2);
    car_free(c);
}

static void no_gas_is_said_and_then_given_up(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    car_run(c, 22);
    assert_int_equal(car_heard(c, OXL_ADV_NO_EFFECT), 1);
    car_run(c, 600);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_int_equal(c->proc.outcome, OXL_ERR_STOPPED);
    car_free(c);
}

static void stumble_is_said(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    car_glide(c, 2, -12, 0.97);
    c->rpm = 600; /* 20 % down */
    car_run(c, 1);
    assert_true(car_heard(c, OXL_ADV_STUMBLE) >= 1);
    assert_true(oxl_reasons_has(c->proc.run.flaws, OXL_R_RPM_DROP));
    car_free(c);
}

static void frozen_trims_go_by_the_front(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rear = 0.8;
    c->front = 0.93;
    car_run(c, 10);
    assert_int_equal(car_heard(c, OXL_ADV_DEPTH_UNKNOWN), 1);
    assert_int_equal(c->proc.state, OXL_STATE_RELEASE);
    assert_true(oxl_reasons_has(c->proc.run.flaws, OXL_R_DEPTH_UNKNOWN));
    car_free(c);
}

static void a_cut_without_the_call_is_seen(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rear = 0.8;
    car_gas(c, 4, -14);
    car_run(c, 1);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    car_glide(c, 0.3, -14, 1.16);
    car_run(c, 2);
    assert_int_equal(c->proc.state, OXL_STATE_TIMING);
    car_free(c);
}

/* A hand that takes half of the gas away: the front is a little lean for seconds, and while the
 * trims come back that is ever more of what a full release would show. It is none. */
static void a_little_less_gas_is_no_cut(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rear = 0.8;
    car_gas(c, 4, -14);
    car_run(c, 1);
    car_glide(c, 0.3, -14, 1.06);
    car_glide(c, 8, -6, 1.045);
    car_run(c, 1);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    car_free(c);
}

static void space_cuts(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    car_glide(c, 3, -12, 1);
    car_key(c, OXL_KEY_NOW);
    assert_int_equal(c->proc.state, OXL_STATE_RELEASE);
    car_free(c);
}

/* The front stays rich and the trims go no further: a little less gas, whatever else is to be said
 * at this depth. */
static void trims_at_their_limit_ask_for_less(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rear = 0.8;
    car_glide(c, 4, -12, 0.93);
    car_run(c, 6);
    assert_true(car_heard(c, OXL_ADV_TRIM_LIMIT) >= 1);
    assert_int_equal(c->proc.advice, OXL_ADV_TRIM_LIMIT);
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trims_at_their_limit_ask_for_less),
        cmocka_unit_test(advice_follows_the_gauge),
        cmocka_unit_test(no_cut_while_the_rear_is_lean),
        cmocka_unit_test(the_hold_is_two_seconds),
        cmocka_unit_test(heat_limit_cuts),
        cmocka_unit_test(no_gas_is_said_and_then_given_up),
        cmocka_unit_test(stumble_is_said),
        cmocka_unit_test(frozen_trims_go_by_the_front),
        cmocka_unit_test(a_cut_without_the_call_is_seen),
        cmocka_unit_test(a_little_less_gas_is_no_cut),
        cmocka_unit_test(space_cuts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
