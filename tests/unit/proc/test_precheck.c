/* Precheck and baseline against a scripted car: what they wait for, say and refuse. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "help_car.h"

/* ---- precheck -------------------------------------------------------------------------------- */
static void cold_engine_waits(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->coolant = 45;
    car_survey(c);
    car_run(c, 20);
    assert_int_equal(c->proc.state, OXL_STATE_PRECHECK);
    assert_int_equal(car_check(c, "coolant")->grade, OXL_GRADE_STOP);
    assert_true(car_heard(c, OXL_ADV_WAIT_WARM) >= 1);
    c->coolant = 80;
    car_run(c, 3);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    assert_int_equal(car_check(c, "coolant")->grade, OXL_GRADE_PASS);
    car_free(c);
}

static void open_loop_for_ever_is_unsuitable(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->fuel_system = 1;
    car_survey(c);
    car_run(c, c->proc.profile.baseline_limit_s + 5);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_int_equal(c->proc.outcome, OXL_ERR_UNSUITABLE);
    assert_non_null(strstr(c->proc.outcome_text, "closed loop"));
    car_free(c);
}

static void override_is_recorded(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->coolant = 45;
    car_survey(c);
    car_run(c, 3);
    car_key(c, OXL_KEY_NOW);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    assert_true(car_has(c, OXL_R_OVERRIDDEN));
    assert_string_equal(car_last(c, OXL_EV_MARK)->u.mark.text, "overridden: coolant temperature");
    car_free(c);
}

/* With every gate open there is nothing to override; the key only saves the second of waiting. */
static void a_key_at_open_gates_overrides_nothing(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_run(c, 0.5);
    assert_int_equal(c->proc.state, OXL_STATE_PRECHECK);
    car_key(c, OXL_KEY_NOW);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    assert_false(car_has(c, OXL_R_OVERRIDDEN));
    assert_int_equal(car_heard(c, OXL_ADV_OVERRIDE), 0);
    car_free(c);
}

/* No value of the rear, or of the front: no baseline, not even by hand, so no gas. */
static void no_baseline_without_both_sensors(void **state)
{
    (void)state;
    for (int front = 0; front < 2; front++) {
        struct car *c = car_new();
        *(front ? &c->front : &c->rear) = NAN;
        car_survey(c);
        car_run(c, 10);
        car_key(c, OXL_KEY_NOW);
        assert_int_equal(c->proc.state, OXL_STATE_PRECHECK);
        car_pass(c, c->proc.profile.baseline_limit_s);
        assert_int_equal(c->proc.outcome, OXL_ERR_UNSUITABLE);
        assert_non_null(strstr(c->proc.outcome_text, "No value of the front or rear sensor"));
        assert_int_equal(car_heard(c, OXL_ADV_ADD_GAS), 0);
        car_free(c);
    }
    struct car *c = car_new(); /* it falls silent in the baseline */
    car_survey(c);
    car_run(c, 3);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    c->rear = NAN;
    car_run(c, 30);
    car_key(c, OXL_KEY_NOW);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    car_pass(c, c->proc.profile.baseline_limit_s);
    assert_non_null(strstr(c->proc.outcome_text, "gives no value any more"));
    assert_int_equal(car_heard(c, OXL_ADV_ADD_GAS), 0);
    car_free(c);
}

/* The poll has found another PID for the rear: the pre-check is made again, with its lines. */
static void another_choice_of_sensors_is_checked_again(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_run(c, 3);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    oxl_support_put(&c->vehicle.support, 0x15, false);
    oxl_support_put(&c->vehicle.silent, 0x15, true);
    oxl_support_put(&c->vehicle.support, 0x25, true);
    oxl_proc_vehicle(&c->proc, &c->vehicle, c->t_us);
    assert_int_equal(c->proc.state, OXL_STATE_PRECHECK);
    assert_int_equal(c->proc.pair.rear_pid, 0x25);
    assert_string_equal(car_check(c, "pids")->found, "announced, never answered: 15");
    oxl_support_put(&c->vehicle.support, 0x25, false); /* nor does that one answer */
    oxl_proc_vehicle(&c->proc, &c->vehicle, c->t_us);
    assert_int_equal(c->proc.outcome, OXL_ERR_UNSUITABLE);
    assert_string_equal(
        c->proc.outcome_text,
        "Bank 1 has no rear sensor that answers (announced: 15). See its wiring and "
        "trouble codes: \"oxylag inspect\".");
    car_free(c);
}

/* Once gas was asked for, the sensors are those of the test. */
static void no_other_choice_of_sensors_after_gas(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    oxl_support_put(&c->vehicle.support, 0x35, true);
    oxl_proc_vehicle(&c->proc, &c->vehicle, c->t_us);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_int_equal(c->proc.pair.rear_pid, 0x15);
    car_free(c);
}

static void missing_rear_sensor_is_unsuitable(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->vehicle.decoding.sensors = 0x01;
    /* PID 15 is not supported: masks are rebuilt without it. */
    memset(&c->vehicle.support, 0, sizeof c->vehicle.support);
    static const uint8_t front_only[4] = {0, 0, 0x20, 0x01}, second[4] = {0x10, 0, 0, 0};
    oxl_support_add(&c->vehicle.support, 0x00, front_only);
    oxl_support_add(&c->vehicle.support, 0x20, second);
    car_survey(c);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_int_equal(c->proc.outcome, OXL_ERR_UNSUITABLE);
    assert_int_equal(car_check(c, "sensors")->grade, OXL_GRADE_STOP);
    car_free(c);
}

static void unknown_condition_is_said_to_be_unknown(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_run(c, 4);
    /* No catalyst temperature PID: the line says so and does not hold the test up. */
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    assert_int_equal(car_check(c, "catalyst-temperature")->grade, OXL_GRADE_UNKNOWN);
    car_free(c);
}

static void disturbing_codes_are_a_caution(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->vehicle.dtcs[OXL_DTC_STORED].codes[0] = 0x0420;
    c->vehicle.dtcs[OXL_DTC_STORED].codes[1] = 0x0171;
    c->vehicle.dtcs[OXL_DTC_STORED].n = 2;
    c->vehicle.dtcs[OXL_DTC_PENDING].codes[0] = 0x0301;
    c->vehicle.dtcs[OXL_DTC_PENDING].n = 1;
    c->vehicle.dtcs[OXL_DTC_PENDING].known = true;
    car_survey(c);
    assert_int_equal(car_check(c, "codes-stored")->grade, OXL_GRADE_CAUTION);
    assert_string_equal(car_check(c, "codes-stored")->found, "stored trouble codes: P0420 P0171");
    assert_int_equal(car_check(c, "codes-pending")->grade, OXL_GRADE_CAUTION);
    assert_int_equal(car_check(c, "codes-permanent")->grade, OXL_GRADE_UNKNOWN);
    assert_true(car_has(c, OXL_R_CODES_PRESENT));
    car_free(c);
}

/* As in an inspection, and it stops: until it is passed by hand, which is recorded. */
static void a_stored_misfire_is_a_stop(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->vehicle.dtcs[OXL_DTC_STORED].codes[0] = 0x0301;
    c->vehicle.dtcs[OXL_DTC_STORED].codes[1] = 0x0171;
    c->vehicle.dtcs[OXL_DTC_STORED].n = 2;
    car_survey(c);
    assert_int_equal(car_check(c, "codes-stored")->grade, OXL_GRADE_STOP);
    assert_non_null(strstr(car_check(c, "codes-stored")->advice, "misfire"));
    assert_true(car_has(c, OXL_R_MISFIRE));
    car_run(c, 100);
    assert_int_equal(c->proc.state, OXL_STATE_PRECHECK);
    assert_int_equal(car_heard(c, OXL_ADV_CHECK_STOPS), 1);
    car_key(c, OXL_KEY_NOW);
    assert_string_equal(car_last(c, OXL_EV_MARK)->u.mark.text,
                        "overridden: stored trouble codes: P0301 P0171");
    car_run(c, 4);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    assert_true(car_has(c, OXL_R_OVERRIDDEN));
    car_free(c);
}

/* Nobody passes it: the vehicle is unsuitable as it stands, and no gas was asked for. */
static void a_stop_that_nobody_passes_ends_the_test(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->vehicle.dtcs[OXL_DTC_STORED].codes[0] = 0x0301;
    c->vehicle.dtcs[OXL_DTC_STORED].n = 1;
    car_survey(c);
    car_run(c, 125);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_int_equal(c->proc.outcome, OXL_ERR_UNSUITABLE);
    assert_non_null(strstr(c->proc.outcome_text, "misfire"));
    assert_false(car_was_in(c, OXL_STATE_ENRICHMENT));
    car_free(c);
}

static void compression_ignition_gets_no_gas(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->vehicle.readiness.known = c->vehicle.readiness.compression_ignition = true;
    car_survey(c);
    assert_int_equal(c->proc.outcome, OXL_ERR_UNSUITABLE);
    assert_int_equal(car_check(c, "ignition")->grade, OXL_GRADE_STOP);
    car_key(c, OXL_KEY_NOW); /* no override */
    car_run(c, 30);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_int_equal(car_heard(c, OXL_ADV_ADD_GAS), 0);
    car_free(c);
}

/* PID 03 of SAE J1979: 1 not yet, 8 because of a fault. */
static void open_loop_is_said_soon(void **state)
{
    (void)state;
    static const struct {
        uint8_t status;
        double not_yet_s, then_s;
    } rows[] = {{1, 55, 10}, {4, 55, 10}, {8, 7, 8}};
    for (size_t i = 0; i < 3; i++) {
        struct car *c = car_new();
        c->fuel_system = rows[i].status;
        car_survey(c);
        car_run(c, rows[i].not_yet_s);
        assert_int_equal(c->proc.state, OXL_STATE_PRECHECK);
        car_run(c, rows[i].then_s);
        assert_int_equal(c->proc.outcome, OXL_ERR_UNSUITABLE);
        assert_non_null(strstr(c->proc.outcome_text, "No closed loop"));
        car_free(c);
        c = car_new(); /* lost again after the pre-check */
        car_survey(c);
        car_run(c, 4);
        assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
        c->fuel_system = rows[i].status;
        car_run(c, rows[i].not_yet_s + rows[i].then_s + 2);
        assert_int_equal(c->proc.outcome, OXL_ERR_UNSUITABLE);
        car_free(c);
    }
}

static void the_efficiency_code_alone_is_no_obstacle(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->vehicle.dtcs[OXL_DTC_STORED].codes[0] = 0x0420;
    c->vehicle.dtcs[OXL_DTC_STORED].n = 1;
    car_survey(c);
    assert_int_equal(car_check(c, "codes-stored")->grade, OXL_GRADE_PASS);
    car_free(c);
}

/* ---- baseline -------------------------------------------------------------------------------- */
static void unsteady_trims_wait(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    for (int i = 0; i < 12; i++) { /* 12 % peak to peak, beyond the 8 % band */
        car_glide(c, 1, 6, 1.0);
        car_glide(c, 1, -6, 1.0);
    }
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    assert_true(car_heard(c, OXL_ADV_NOT_STEADY) + car_heard(c, OXL_ADV_RESIDUAL_GAS) >= 1);
    car_run(c, 13);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    car_free(c);
}

static void opening_too_large_is_said(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_run(c, 2);
    c->stft = 24;
    car_run(c, 15);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    assert_true(car_heard(c, OXL_ADV_OPENING_TOO_LARGE) >= 1);
    /* It says the trims that are too far, not a mean with those before. */
    const struct oxl_event *ev = car_last(c, OXL_EV_ADVICE);
    assert_int_equal(ev->u.advice.advice, OXL_ADV_OPENING_TOO_LARGE);
    double said_pct = strtod(ev->u.advice.detail + strlen("total trim "), NULL);
    assert_true(said_pct >= c->proc.profile.opening_max_pct); /* in whole per cent */
    car_free(c);
}

static void opened_port_takes_the_baseline_again(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    assert_int_equal(c->proc.run.number, 1);
    c->stft = 9;
    car_run(c, 4);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    car_run(c, 12);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_int_equal(c->proc.run.number, 1);
    assert_true(fabs(c->proc.base.trim_pct - 10) < 0.5);
    car_free(c);
}

static void rear_at_rest_lean_is_noted(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->rear = 0.15;
    car_survey(c);
    car_run(c, 16);
    assert_true(car_has(c, OXL_R_REAR_RESTS_LEAN));
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cold_engine_waits),
        cmocka_unit_test(open_loop_for_ever_is_unsuitable),
        cmocka_unit_test(override_is_recorded),
        cmocka_unit_test(a_key_at_open_gates_overrides_nothing),
        cmocka_unit_test(no_baseline_without_both_sensors),
        cmocka_unit_test(another_choice_of_sensors_is_checked_again),
        cmocka_unit_test(no_other_choice_of_sensors_after_gas),
        cmocka_unit_test(missing_rear_sensor_is_unsuitable),
        cmocka_unit_test(unknown_condition_is_said_to_be_unknown),
        cmocka_unit_test(disturbing_codes_are_a_caution),
        cmocka_unit_test(a_stored_misfire_is_a_stop),
        cmocka_unit_test(the_efficiency_code_alone_is_no_obstacle),
        cmocka_unit_test(a_stop_that_nobody_passes_ends_the_test),
        cmocka_unit_test(compression_ignition_gets_no_gas),
        cmocka_unit_test(open_loop_is_said_soon),
        cmocka_unit_test(unsteady_trims_wait),
        cmocka_unit_test(opening_too_large_is_said),
        cmocka_unit_test(opened_port_takes_the_baseline_again),
        cmocka_unit_test(rear_at_rest_lean_is_noted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
