/* A test ends when it has decided: two runs that agree end it, unless a number was asked for or it
 * is the replay of a recording made before. Nor is the gas held once nothing is gained by it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "help_car.h"

static struct car *started(unsigned runs, enum oxl_procedure procedure)
{
    struct car *c = malloc(sizeof *c);
    assert_non_null(c);
    struct oxl_session_config config = {
        .bank = 1, .runs = runs, .procedure = procedure, .profile_given = true};
    oxl_profile_defaults(&config.profile);
    car_start_as(c, &config);
    car_survey(c);
    return c;
}

/* A third run is begun, or the test is over. */
static bool goes_on(struct car *c)
{
    while (!oxl_proc_over(&c->proc) && c->proc.run.number < 3)
        car_run(c, 0.5);
    return !oxl_proc_over(&c->proc);
}

static const double middle_s = 3.0, long_s = 7.0; /* each: at least 2.8 s, at least 5.8 s */

static void two_that_agree_end_it(void **state)
{
    (void)state;
    struct car *c = started(0, 0);
    assert_true(car_pulse(c, -20, long_s));
    assert_false(oxl_proc_over(&c->proc));
    assert_true(car_pulse(c, -20, long_s));
    assert_false(goes_on(c));
    const struct oxl_result *r = &car_last(c, OXL_EV_RESULT)->u.result;
    assert_int_equal(r->conclusion, OXL_CONCLUSION_GOOD);
    assert_int_equal(r->valid_runs, 2);
    assert_false(r->ended_early);
    assert_null(car_check(c, "ended-early"));
    car_free(c);
}

/* Both count, but each says something else. */
static void two_that_differ_do_not(void **state)
{
    (void)state;
    struct car *c = started(0, 0);
    assert_true(car_pulse(c, -20, middle_s));
    assert_true(car_pulse(c, -20, long_s));
    assert_true(goes_on(c));
    assert_int_equal(c->proc.kept.valid_n, 2);
    assert_int_equal(oxl_kept_least(&c->proc), 3);
    car_free(c);
}

/* Two pulses too small to tell: the deeper run is offered at once, and a third only without it. */
static void two_too_small_take_the_deeper_one(void **state)
{
    (void)state;
    for (int declined = 0; declined < 2; declined++) {
        struct car *c = started(0, 0);
        if (declined)
            c->proc.deeper.choice = OXL_DEEPER_NO;
        for (int k = 0; k < 2; k++)
            assert_true(car_pulse(c, -20, 0.3));
        assert_int_equal(car_heard(c, OXL_ADV_DEEPER_OFFER), !declined);
        assert_true(goes_on(c));
        assert_int_equal(oxl_run_is_deeper(&c->proc), !declined);
        car_free(c);
    }
}

/* A slow rear makes a dead converter look sound: where it fell slowly each time, a snap is asked
 * for behind the last run, before it is called good. */
static void a_rear_that_fell_slowly_is_proven(void **state)
{
    (void)state;
    enum { SLOW_EACH_TIME, SLOW_IN_A_CUT, QUICK_ONCE, CASES };
    for (int is = 0; is < CASES; is++) {
        struct car *c = started(0, 0);
        for (int k = 0; k < 2; k++) {
            c->fall_s = is == QUICK_ONCE && k == 0 ? 0 : 1.5;
            assert_true(car_pulse(c, -20, long_s));
            c->proc.sensors.rear.fall_in_cut = is == SLOW_IN_A_CUT;
        }
        assert_false(goes_on(c));
        assert_int_equal(car_heard(c, OXL_ADV_PROVE_REAR), is == SLOW_EACH_TIME);
        car_free(c);
    }
}

static void a_number_that_was_asked_for_is_made(void **state)
{
    (void)state;
    struct car *asked = started(3, 0), *before = started(0, OXL_PROCEDURE_1);
    struct car *const both[] = {asked, before};
    for (size_t i = 0; i < 2; i++) {
        assert_int_equal(oxl_kept_least(&both[i]->proc), 3);
        for (int k = 0; k < 2; k++)
            assert_true(car_pulse(both[i], -20, long_s));
        assert_true(goes_on(both[i]));
        car_free(both[i]);
    }
}

/* Two with one that does not count between them. */
static void one_that_does_not_count_agrees_with_nothing(void **state)
{
    (void)state;
    struct car *c = started(0, 0);
    assert_true(car_pulse(c, -20, long_s));
    car_lost_in_gas(c);
    assert_int_equal(c->proc.kept.valid_n, 1);
    assert_true(goes_on(c));
    assert_true(car_pulse(c, -20, long_s));
    while (!oxl_proc_over(&c->proc) && c->proc.run.number < 4)
        car_run(c, 0.5);
    assert_true(oxl_proc_over(&c->proc));
    car_free(c);
}

/* ---- the hold -------------------------------------------------------------------------------- */
/* From the moment when the trims stand at -17 % and the front is at balance again. */
static double held_s(enum oxl_procedure procedure)
{
    struct car *c = started(0, procedure);
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    c->rear = 0.8;
    car_gas(c, 6, -17.3);
    const int64_t from_us = c->t_us;
    assert_true(car_wait(c, OXL_STATE_RELEASE, 40));
    const double s = 1e-6 * (double)(c->t_us - from_us);
    car_free(c);
    return s;
}

static void gas_is_not_held_when_nothing_is_gained(void **state)
{
    (void)state;
    const double now_s = held_s(0), before_s = held_s(OXL_PROCEDURE_1);
    assert_true(now_s > 0.5);
    assert_true(now_s < 3);
    assert_true(before_s > 8); /* five times the hold time, as recorded then */
}

/* Behind a leak the rear is rich for a moment and then lean in all the gas: it does not fall any
 * more, nor has it held. */
static void a_rear_that_lay_lean_did_not_hold(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rear = 0.8;
    car_run(c, 1);
    c->rear = 0.05;
    car_run(c, 1);
    car_gas(c, 4, -20);
    car_run(c, 3);
    car_key(c, OXL_KEY_NOW);
    car_glide(c, 0.15, c->stft, 1.2); /* and the lean gas is soon over */
    car_glide(c, 0.1, 0, 1.0);
    assert_true(car_wait(c, OXL_STATE_RECOVERY, 40));
    const struct oxl_run_result *r = &car_last(c, OXL_EV_RUN)->u.run;
    assert_true(r->front_lean.found);
    assert_false(r->dropped);
    assert_false(oxl_reasons_has(r->reasons, OXL_R_REAR_HELD));
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_that_agree_end_it),
        cmocka_unit_test(two_that_differ_do_not),
        cmocka_unit_test(two_too_small_take_the_deeper_one),
        cmocka_unit_test(a_rear_that_fell_slowly_is_proven),
        cmocka_unit_test(a_number_that_was_asked_for_is_made),
        cmocka_unit_test(one_that_does_not_count_agrees_with_nothing),
        cmocka_unit_test(gas_is_not_held_when_nothing_is_gained),
        cmocka_unit_test(a_rear_that_lay_lean_did_not_hold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
