/* What is kept when a test ends before its time, and failures that are not repeated. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "help_car.h"

/* Runs counted, and the trims back at their baseline. */
static struct car *car_after_runs(unsigned n)
{
    struct car *c = car_new();
    car_survey(c);
    for (unsigned i = 0; i < n; i++)
        assert_true(car_pulse(c, -20, 3.0));
    car_run(c, 2);
    return c;
}

static void counted_runs_are_judged_when_it_is_stopped(void **state)
{
    (void)state;
    for (unsigned n = 1; n <= 2; n++) {
        struct car *c = car_after_runs(n);
        car_key(c, OXL_KEY_ABORT);
        car_is_judged_early(c, (int)n);
        assert_non_null(strstr(car_check(c, "ended-early")->advice, "technician"));
        car_free(c);
    }
}

static void and_by_a_signal_in_the_middle_of_a_run(void **state)
{
    (void)state;
    struct car *c = car_after_runs(2);
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 30));
    c->rear = 0.8;
    car_gas(c, 3, -12);
    size_t before = c->log_n;
    car_key(c, OXL_KEY_END);
    car_is_judged_early(c, 2);
    size_t result = before;
    while (result < c->log_n && c->log[result].kind != OXL_EV_RESULT)
        result++;
    assert_true(car_said_at(c, before, OXL_ADV_SHUT_VALVE) < result);
    assert_true(oxl_gas_may_flow(&c->proc));
    car_free(c);
}

static void and_when_the_link_is_lost_for_good(void **state)
{
    (void)state;
    struct car *c = car_after_runs(2);
    oxl_proc_link(&c->proc, OXL_LINK_LOST, "", c->t_us);
    c->mute = true;
    car_run(c, 61);
    car_is_judged_early(c, 2);
    assert_non_null(strstr(car_check(c, "ended-early")->advice, "link"));
    car_free(c);
}

static void without_a_counted_run_there_is_no_result(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    car_key(c, OXL_KEY_END);
    assert_int_equal(c->proc.outcome, OXL_ERR_STOPPED);
    assert_null(car_last(c, OXL_EV_RESULT));
    car_free(c);
}

/* Who ends it from outside may say why before; the last note stands. */
static void an_end_from_outside_says_why(void **state)
{
    (void)state;
    for (int said = 0; said < 2; said++) {
        struct car *c = car_in_enrichment();
        if (said) {
            oxl_proc_outside(&c->proc, "the cable was moved", c->t_us);
            oxl_proc_outside(&c->proc, "the battery is empty", c->t_us);
            assert_string_equal(car_last(c, OXL_EV_MARK)->u.mark.text, "the battery is empty");
        }
        car_key(c, OXL_KEY_END);
        assert_int_equal(c->proc.outcome, OXL_ERR_STOPPED);
        assert_string_equal(c->proc.outcome_text,
                            said ? "the battery is empty" : "Ended from outside.");
        car_free(c);
    }
}

static void a_whole_test_is_not_called_early(void **state)
{
    (void)state;
    struct car *c = car_after_runs(3);
    assert_true(car_wait(c, OXL_STATE_DONE, 90));
    const struct oxl_result *r = &car_last(c, OXL_EV_RESULT)->u.result;
    assert_false(r->ended_early);
    assert_int_equal(r->runs_wanted, 3);
    assert_null(car_check(c, "ended-early"));
    car_free(c);
}

/* ---- failures -------------------------------------------------------------------------------- */
static void two_alike_end_the_test_and_say_what_to_change(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_never_cut(c);
    assert_false(oxl_proc_over(&c->proc));
    car_never_cut(c);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    assert_int_equal(c->proc.kept.runs_n, 2);
    assert_string_equal(car_check(c, "repeated-failure")->advice,
                        oxl_reason_next(OXL_R_NO_FRONT_LEAN));
    car_free(c);
}

static void unlike_failures_and_chance_are_repeated(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_lost_in_gas(c);
    car_lost_in_gas(c); /* twice the same, but by chance */
    car_never_cut(c);
    car_lost_in_gas(c);
    car_never_cut(c); /* not in a row */
    assert_false(oxl_proc_over(&c->proc));
    assert_int_equal(c->proc.kept.runs_n, 5);
    assert_null(car_check(c, "repeated-failure"));
    car_lost_in_gas(c);
    car_wait(c, OXL_STATE_ENRICHMENT, 40);
    assert_int_equal(c->proc.state, OXL_STATE_DONE); /* six: three spare ones */
    car_free(c);
}

/* A counted run between them is a success: what failed before did not fail again. */
static void a_counted_run_between_counts(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_never_cut(c);
    assert_true(car_pulse(c, -20, 3.0));
    car_never_cut(c);
    assert_null(car_check(c, "repeated-failure"));
    car_never_cut(c);
    assert_non_null(car_check(c, "repeated-failure"));
    const struct oxl_result *r = &car_last(c, OXL_EV_RESULT)->u.result;
    assert_int_equal(r->valid_runs, 1); /* and it is judged */
    assert_true(r->ended_early);
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(counted_runs_are_judged_when_it_is_stopped),
        cmocka_unit_test(and_by_a_signal_in_the_middle_of_a_run),
        cmocka_unit_test(and_when_the_link_is_lost_for_good),
        cmocka_unit_test(without_a_counted_run_there_is_no_result),
        cmocka_unit_test(an_end_from_outside_says_why),
        cmocka_unit_test(a_whole_test_is_not_called_early),
        cmocka_unit_test(two_alike_end_the_test_and_say_what_to_change),
        cmocka_unit_test(unlike_failures_and_chance_are_repeated),
        cmocka_unit_test(a_counted_run_between_counts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
