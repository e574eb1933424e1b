/* Conditions of the engine and of its trims, against a scripted car. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "help_car.h"

static void a_trim_at_exactly_0_off_balance_is_frozen(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->front = 0.95; /* rich, and the trim does nothing about it */
    car_survey(c);
    car_run(c, 30);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    assert_int_equal(car_heard(c, OXL_ADV_TRIM_FROZEN), 1);
    c->stft = -0.8;
    c->front = 1.0;
    car_run(c, 16);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    car_free(c);
}

/* A calm engine's trim rests at exactly 0 for minutes, and a noisy front is rich for a moment. */
static void a_calm_trim_is_not_frozen(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_run(c, 16);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    for (int i = 0; i < 3; i++) {
        c->front = 0.95;
        car_run(c, 0.4);
        c->front = 1.0;
        car_run(c, 60);
        car_key(c, OXL_KEY_RESTART);
        car_run(c, 16);
        assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    }
    assert_null(car_last(c, OXL_EV_RUN));
    /* A cut by hand makes it a run, and a void one, for another reason. */
    c->front = 0.95;
    car_run(c, 0.4);
    c->front = 1.0;
    car_run(c, 20);
    car_key(c, OXL_KEY_NOW);
    assert_int_equal(c->proc.state, OXL_STATE_RELEASE);
    car_run(c, 20);
    assert_false(oxl_reasons_has(car_last(c, OXL_EV_RUN)->u.run.reasons, OXL_R_TRIM_FROZEN));
    assert_int_equal(car_heard(c, OXL_ADV_TRIM_FROZEN), 0);
    car_free(c);
}

/* Under a front that is rich for seconds it is: the run is void, and no other one begins. */
static void a_trim_that_no_gas_moves_is_frozen(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_run(c, 16);
    c->rear = 0.8;
    c->front = 0.94;
    car_run(c, 12);
    assert_int_equal(c->proc.state, OXL_STATE_RELEASE);
    c->front = 1.0;
    car_run(c, 5);
    assert_int_equal(car_heard(c, OXL_ADV_TRIM_FROZEN), 1);
    assert_int_equal(car_heard(c, OXL_ADV_STILL_RICH), 0);
    car_run(c, 12);
    assert_true(oxl_reasons_has(car_last(c, OXL_EV_RUN)->u.run.reasons, OXL_R_TRIM_FROZEN));
    car_run(c, 70);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_int_equal(c->proc.outcome, OXL_ERR_UNSUITABLE);
    assert_int_equal(car_heard(c, OXL_ADV_CUT), 1);
    car_free(c);
}

static void long_idling_asks_for_warmth_again(void **state)
{
    (void)state;
    struct oxl_profile p;
    oxl_profile_defaults(&p);
    p.idle_restart_s = 20;
    p.window_s = 30; /* so that the idling is long before the baseline is there */
    struct car *c = malloc(sizeof *c);
    assert_non_null(c);
    car_start(c, &p);
    car_survey(c);
    car_run(c, 30);
    assert_int_equal(car_heard(c, OXL_ADV_REWARM), 1);
    c->rpm = 2300;
    car_run(c, 100);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE); /* not yet two minutes */
    car_run(c, 22);
    c->rpm = 750;
    car_run(c, 15);
    assert_false(oxl_engine_idled_long(&c->proc));
    car_free(c);
    c = malloc(sizeof *c); /* nobody does it: the run goes on and says so */
    assert_non_null(c);
    car_start(c, &p);
    car_survey(c);
    car_run(c, 75);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_true(oxl_reasons_has(oxl_run_reasons(&c->proc), OXL_R_IDLED_LONG));
    size_t told = car_said_at(c, 0, OXL_ADV_REWARM), on = car_state_at(c, 0, OXL_STATE_ENRICHMENT);
    assert_in_range(c->log[on].t_us - c->log[told].t_us, 30000000, 31000000);
    car_free(c);
}

static void room_before_the_trims_limit(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->ltft = -9;
    car_survey(c);
    car_run(c, 16);
    assert_int_equal(car_check(c, "trim-room")->grade, OXL_GRADE_CAUTION);
    car_free(c);
    c = car_in_enrichment();
    assert_int_equal(car_check(c, "trim-room")->grade, OXL_GRADE_PASS);
    car_free(c);
}

static void engine_off_is_said(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->rpm = 0;
    car_survey(c);
    car_run(c, 3);
    assert_int_equal(car_heard(c, OXL_ADV_START_ENGINE), 1);
    assert_int_equal(c->proc.state, OXL_STATE_PRECHECK);
    car_free(c);
}

/* An open loop holds the baseline up while it is told, and 15 s longer. */
static void an_open_loop_is_believed_for_a_while(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_run(c, 4);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    c->fuel_system = 4;
    c->stft = -0.8; /* a trim of 0 might be none */
    car_run(c, 20);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    assert_int_equal(car_heard(c, OXL_ADV_WAIT_CLOSED_LOOP), 1);
    int64_t told_us = c->t_us;
    c->no_status = true;
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 30));
    assert_in_range(c->t_us - told_us, 14800000, 15700000);
    car_free(c);
}

/* Left while the rear was timed: it does not count, though all its moments were seen. */
static void an_open_loop_in_the_timing_voids_the_run(void **state)
{
    (void)state;
    for (int open = 0; open < 2; open++) {
        struct car *c = car_in_release();
        car_glide(c, 0.3, c->stft, 1.2);
        if (open)
            c->fuel_system = 4;
        car_run(c, 3);
        c->rear = 0.05;
        car_run(c, 3.5);
        const struct oxl_event *e = car_last(c, OXL_EV_RUN);
        assert_non_null(e);
        assert_int_equal(oxl_reasons_has(e->u.run.reasons, OXL_R_NOT_CLOSED_LOOP), open);
        assert_int_equal(e->u.run.valid, !open);
        car_free(c);
    }
}

/* That balance is back is seen with a value of the front, and with no other. */
static void balance_is_back_with_the_front(void **state)
{
    (void)state;
    struct car *c = car_in_release();
    car_glide(c, 0.3, c->stft, 1.2);
    car_run(c, 2);
    car_glide(c, 2, 0, 1.0);
    car_run(c, 0.2);
    assert_int_equal(c->proc.state, OXL_STATE_TIMING);
    const struct oxl_sample trim = {.channel = oxl_channel(OXL_Q_STFT_PCT, 1, 0)},
                            front = {.channel = c->proc.pair.front, .value = 1.0};
    c->proc.timing.balance_us = 0;
    oxl_timing_data(&c->proc, &trim);
    assert_true(c->proc.timing.balance_us == 0);
    oxl_timing_data(&c->proc, &front);
    assert_true(c->proc.timing.balance_us == c->proc.now_us);
    car_free(c);
}

/* Nothing is waited for before the survey: it has its own limits. */
static void a_precheck_waits_from_the_survey_on(void **state)
{
    (void)state;
    struct car *c = car_new();
    assert_true(oxl_precheck_due(&c->proc) == INT64_MAX);
    car_free(c);
}

/* Looked for anew at the end of a run: what was found before it may no longer be so. */
static void a_run_goes_by_the_refresh_of_its_own_time(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->proc.refreshes.front = (struct oxl_refresh){.known = true, .period_s = 9};
    assert_true(car_pulse(c, -20, 3.0));
    assert_false(c->proc.refreshes.front.period_s > 8);
    const struct oxl_run_result *r = &car_last(c, OXL_EV_RUN)->u.run;
    assert_true(r->delay_s.high - r->delay_s.low < 1);
    car_free(c);
}

/* Not by a moment of lean: of the last five seconds nearly all are there. */
static void a_front_is_far_lean_for_seconds(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->mute = true;
    car_run(c, 6);
    c->mute = false;
    c->front = 1.2;
    car_run(c, 2);
    assert_false(oxl_engine_front_far_lean(&c->proc));
    car_run(c, 3);
    assert_true(oxl_engine_front_far_lean(&c->proc));
    car_free(c);
}

/* Said once, before the run: a slow link asks for it seldom, and a converter cools slowly. */
static void a_cool_converter_is_remembered(void **state)
{
    (void)state;
    static const struct {
        double above_min_c, ago_s;
        bool said;
    } rows[] = {{-1, 60, true}, {1, 60, false}, {-1, 245, false}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct car *c = car_in_enrichment();
        car_give(c, OXL_Q_CAT_TEMP_C, 1, 1, c->proc.profile.cat_temp_min_c + rows[i].above_min_c);
        car_pass(c, rows[i].ago_s);
        assert_true(car_pulse(c, -20, 3.0));
        const struct oxl_event *run = car_last(c, OXL_EV_RUN);
        assert_non_null(run);
        assert_int_equal(oxl_reasons_has(run->u.run.reasons, OXL_R_COOL_CONVERTER), rows[i].said);
        car_free(c);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_open_loop_in_the_timing_voids_the_run),
        cmocka_unit_test(a_precheck_waits_from_the_survey_on),
        cmocka_unit_test(balance_is_back_with_the_front),
        cmocka_unit_test(a_trim_at_exactly_0_off_balance_is_frozen),
        cmocka_unit_test(a_calm_trim_is_not_frozen),
        cmocka_unit_test(a_trim_that_no_gas_moves_is_frozen),
        cmocka_unit_test(long_idling_asks_for_warmth_again),
        cmocka_unit_test(room_before_the_trims_limit),
        cmocka_unit_test(engine_off_is_said),
        cmocka_unit_test(an_open_loop_is_believed_for_a_while),
        cmocka_unit_test(a_run_goes_by_the_refresh_of_its_own_time),
        cmocka_unit_test(a_front_is_far_lean_for_seconds),
        cmocka_unit_test(a_cool_converter_is_remembered),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
