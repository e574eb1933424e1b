/* Ends that come from the side: the engine is off, the loop is open, nothing is left to try. What
 * was counted is kept, and the result says whether it is whole. On the scripted car. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_car.h"

/* Two runs counted, before the baseline of the third. */
static struct car *car_after_two(void)
{
    struct car *c = car_new();
    car_survey(c);
    for (int i = 0; i < 2; i++)
        assert_true(car_pulse(c, -20, 3.0));
    assert_true(car_wait(c, OXL_STATE_BASELINE, 40));
    assert_int_equal(c->proc.kept.valid_n, 2);
    return c;
}

/* Gas, and before anything is measured the run is begun anew. */
static void begun_anew(struct car *c, double shift_pct)
{
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    c->rear = 0.8;
    car_gas(c, 3, shift_pct);
    car_restart(c);
    car_shut(c);
    c->rear = 0.7;
}

static const struct oxl_result *result_of(const struct car *c)
{
    const struct oxl_event *ev = car_last(c, OXL_EV_RESULT);
    assert_non_null(ev);
    return &ev->u.result;
}

/* ---- counted runs ---------------------------------------------------------------------------- */
static void counted_runs_are_judged_when_the_engine_is_switched_off(void **state)
{
    (void)state;
    struct car *c = car_after_two();
    c->rpm = 0;
    car_run(c, 1);
    assert_int_equal(c->proc.state, OXL_STATE_PRECHECK); /* it may be started again */
    car_pass(c, 700);
    car_is_judged_early(c, 2);
    car_free(c);
}

static void and_when_closed_loop_does_not_come_back(void **state)
{
    (void)state;
    struct car *c = car_after_two();
    c->fuel_system = 8;
    car_pass(c, 150);
    car_is_judged_early(c, 2);
    car_free(c);
}

/* Nothing is left that needs the engine. */
static void a_whole_test_ends_when_the_engine_is_switched_off(void **state)
{
    (void)state;
    struct car *c = car_on_offer();
    size_t from = c->log_n;
    c->rpm = 0;
    car_run(c, 1);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    assert_true(car_state_at(c, from, OXL_STATE_PRECHECK) == c->log_n);
    assert_int_equal(result_of(c)->valid_runs, 3);
    assert_false(result_of(c)->ended_early);
    assert_null(car_check(c, "ended-early"));
    car_free(c);
}

/* Trims that came back after another run, one that does not count, prove nothing for this one. */
static void a_single_run_is_proven_by_its_own_trims(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_lost_in_gas(c);
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    c->rear = 0.8;
    car_gas(c, 6, -20);
    assert_true(car_wait(c, OXL_STATE_RELEASE, 10));
    car_run(c, 0.5);
    car_glide(c, 0.3, c->stft, 1.2);
    car_glide(c, 3, c->stft * 0.7, 1.15);
    c->rear = 0.05;
    car_run(c, 3.5);
    assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
    assert_int_equal(c->proc.kept.valid_n, 1);
    car_key(c, OXL_KEY_ABORT);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_null(car_last(c, OXL_EV_RESULT));
    car_free(c);
}

/* ---- nothing left to try --------------------------------------------------------------------- */
static void failed_alike_is_told_behind_a_leak_check_too(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_never_cut(c);
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    c->rear = 0.8;
    car_gas(c, 4, -20);
    car_key(c, OXL_KEY_LEAK);
    assert_true(car_wait(c, OXL_STATE_RECOVERY, 40));
    assert_int_not_equal(c->proc.advice, OXL_ADV_LEAK_LATER); /* a note, no instruction */
    car_run(c, 0.2);
    car_shut_stands(c);
    car_shut(c);
    c->rear = 0.7;
    assert_true(car_wait(c, OXL_STATE_LEAK_CHECK, 30));
    assert_null(car_check(c, "repeated-failure"));
    assert_true(car_wait(c, OXL_STATE_DONE, 100));
    assert_int_equal(car_check(c, "repeated-failure")->grade, OXL_GRADE_STOP);
    assert_true(result_of(c)->ended_early);
    car_free(c);
}

static void the_end_is_early_when_the_spare_runs_are_used_up(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->proc.deeper.choice = OXL_DEEPER_NO;
    car_survey(c);
    assert_true(car_pulse(c, -20, 3.0));
    for (int i = 0; i < 5; i++) {
        assert_false(oxl_proc_over(&c->proc));
        car_lost_in_gas(c);
    }
    assert_true(car_wait(c, OXL_STATE_DONE, 30));
    assert_int_equal(c->proc.kept.runs_n, 6);
    assert_int_equal(result_of(c)->valid_runs, 1);
    assert_true(result_of(c)->ended_early);
    car_free(c);
}

static void runs_begun_anew_use_up_no_spare_one(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    for (int i = 0; i < 5; i++)
        begun_anew(c, -18);
    for (int i = 0; i < 3; i++)
        assert_true(car_pulse(c, -20, 3.0));
    assert_int_equal(c->proc.kept.valid_n, 3);
    car_free(c);
}

/* Space pressed with no gas on is a slip of the hand, not a fault of the car. */
static void a_cut_without_gas_is_no_failure_to_be_met_again(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    for (int i = 0; i < 2; i++) {
        assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
        car_run(c, 1);
        car_key(c, OXL_KEY_NOW);
        assert_true(car_wait(c, OXL_STATE_RECOVERY, 20));
    }
    assert_int_equal(c->proc.kept.runs_n, 2);
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    assert_null(car_check(c, "repeated-failure"));
    car_free(c);
}

/* What makes a delay look shorter or longer is no failure; what leaves none is. */
static void only_what_voids_both_runs_is_the_same_failure(void **state)
{
    (void)state;
    struct car *c = car_after_two();
    for (int i = 0; i < 2; i++) {
        c->proc.kept.runs[i].valid = false;
        c->proc.kept.runs[i].reasons = OXL_REASON_BIT(OXL_R_COOL_CONVERTER);
    }
    assert_int_not_equal(oxl_reasons_pushing(c->proc.kept.runs[0].reasons, OXL_PUSH_SHORTER), 0);
    assert_false(oxl_kept_failed_alike(&c->proc));
    for (int i = 0; i < 2; i++)
        c->proc.kept.runs[i].reasons |= OXL_REASON_BIT(OXL_R_REAR_NOT_SEEN_RICH);
    assert_true(oxl_kept_failed_alike(&c->proc));
    car_free(c);
}

/* ---- what is kept ---------------------------------------------------------------------------- */
static void a_declined_deeper_run_does_not_come_after_the_leak_check(void **state)
{
    (void)state;
    struct car *c = car_on_offer();
    assert_true(car_wait(c, OXL_STATE_BASELINE, 60));
    car_key(c, OXL_KEY_LEAK);
    assert_int_equal(c->proc.state, OXL_STATE_LEAK_CHECK);
    car_key(c, OXL_KEY_DEEPER);
    assert_int_equal(c->proc.state, OXL_STATE_LEAK_CHECK); /* which goes on */
    car_run(c, 150);
    assert_int_equal(c->proc.leak.done, 1);
    assert_int_equal(car_heard(c, OXL_ADV_DEEPER_ADD), 0);
    car_free(c);
}

/* There is room for 32 runs: those that do not count make it. */
static void no_counted_run_is_lost_among_many(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->proc.deeper.choice = OXL_DEEPER_NO;
    car_survey(c);
    assert_true(car_pulse(c, -20, 3.0));
    for (int i = 0; i < OXL_PROC_MAX_RUNS + 2; i++) {
        c->log_n = 0; /* the log has less room */
        begun_anew(c, -10);
    }
    assert_int_equal(c->proc.kept.runs_n, OXL_PROC_MAX_RUNS);
    assert_int_equal(c->proc.kept.runs[c->proc.kept.runs_n - 1].run,
                     OXL_PROC_MAX_RUNS + 3); /* the last */
    assert_true(car_pulse(c, -20, 3.0));
    car_wait(c, OXL_STATE_DONE, 60);
    assert_int_equal(result_of(c)->valid_runs, 2);
    assert_true(c->proc.kept.runs[0].valid && c->proc.kept.runs[0].run == 1);
    assert_true(c->proc.kept.runs[c->proc.kept.runs_n - 1].valid);
    assert_true(result_of(c)->ended_early);
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(counted_runs_are_judged_when_the_engine_is_switched_off),
        cmocka_unit_test(and_when_closed_loop_does_not_come_back),
        cmocka_unit_test(a_whole_test_ends_when_the_engine_is_switched_off),
        cmocka_unit_test(a_single_run_is_proven_by_its_own_trims),
        cmocka_unit_test(failed_alike_is_told_behind_a_leak_check_too),
        cmocka_unit_test(the_end_is_early_when_the_spare_runs_are_used_up),
        cmocka_unit_test(runs_begun_anew_use_up_no_spare_one),
        cmocka_unit_test(a_cut_without_gas_is_no_failure_to_be_met_again),
        cmocka_unit_test(only_what_voids_both_runs_is_the_same_failure),
        cmocka_unit_test(a_declined_deeper_run_does_not_come_after_the_leak_check),
        cmocka_unit_test(no_counted_run_is_lost_among_many),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
