/* A table of another program's values ends somewhere: what is there is judged. And what is left of
 * a leak check's phase. On the scripted car. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>

#include <string.h>

#include "help_car.h"
#include "proc/proc.h"

/* What it is stands among the checks. It holds as many runs as were made, unless a number was asked
 * for. */
static void a_table_is_named_and_holds_every_run(void **state)
{
    (void)state;
    for (unsigned runs = 0; runs <= 2; runs += 2) {
        struct oxl_session_config config = {
            .bank = 1, .runs = runs, .imported = {.on = true, .row_us = 250000}};
        struct car *c = malloc(sizeof *c);
        assert_non_null(c);
        oxl_profile_defaults(&config.profile);
        car_start_as(c, &config);
        assert_int_equal(c->proc.runs_wanted, runs ? runs : OXL_PROC_MAX_RUNS);
        car_survey(c);
        car_run(c, 3);
        const struct oxl_check *table = car_check(c, "imported");
        assert_non_null(table);
        assert_int_equal(table->grade, OXL_GRADE_CAUTION);
        assert_string_equal(table->found, "imported table, rows 250 ms apart");
        assert_null(car_check(c, "link"));
        car_free(c);
    }
}

static void a_table_without_a_run_holds_no_test(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_wait(c, OXL_STATE_BASELINE, 20));
    oxl_proc_table_end(&c->proc, c->t_us);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_int_equal(c->proc.outcome, OXL_ERR_STOPPED);
    assert_non_null(strstr(c->proc.outcome_text, "No test was found in the table"));
    size_t said = c->log_n;
    oxl_proc_table_end(&c->proc, c->t_us); /* it is over: nothing more is said */
    assert_int_equal(c->log_n, said);
    car_free(c);
}

/* Gas, or a release, and no more values: the run was begun and says nothing. */
static void a_run_that_the_table_cuts_off_is_void(void **state)
{
    (void)state;
    for (int released = 0; released < 2; released++) {
        struct car *c = released ? car_in_release() : car_in_enrichment();
        if (!released) {
            c->rear = 0.8;
            car_gas(c, 4, -15);
        }
        oxl_proc_table_end(&c->proc, c->t_us);
        assert_int_equal(c->proc.state, OXL_STATE_DONE);
        const struct oxl_event *run = car_last(c, OXL_EV_RUN);
        assert_non_null(run);
        assert_false(run->u.run.valid);
        assert_true(oxl_reasons_has(run->u.run.reasons, OXL_R_TABLE_ENDS));
        assert_int_equal(car_last(c, OXL_EV_RESULT)->u.result.valid_runs, 0);
        car_free(c);
    }
}

static void the_runs_before_its_end_are_judged(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_pulse(c, -20, 3.0));
    assert_true(car_wait(c, OXL_STATE_BASELINE, 40));
    oxl_proc_table_end(&c->proc, c->t_us);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    assert_int_equal(car_last(c, OXL_EV_RESULT)->u.result.valid_runs, 1);
    assert_false(oxl_reasons_has(car_last(c, OXL_EV_RUN)->u.run.reasons, OXL_R_TABLE_ENDS));
    car_free(c);
}

/* Between two runs there is nothing to void, and an enrichment without gas is no run. */
static void an_end_before_gas_voids_nothing(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_pulse(c, -20, 3.0));
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 90));
    oxl_proc_table_end(&c->proc, c->t_us);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    assert_int_equal(c->proc.kept.runs_n, 1);
    assert_true(c->proc.kept.runs[0].valid);
    car_free(c);
}

/* What the screen counts down: second by second, and never below nothing. */
static void a_phase_of_the_leak_check_runs_down(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_wait(c, OXL_STATE_BASELINE, 20));
    car_key(c, OXL_KEY_LEAK);
    assert_true(car_wait(c, OXL_STATE_LEAK_CHECK, 5));
    for (int i = 0; i < 600 && c->proc.leak.phase == OXL_LEAK_BEFORE; i++)
        car_run(c, 0.1);
    assert_int_equal(c->proc.leak.phase, OXL_LEAK_COVERED);
    double first = oxl_leak_left_s(&c->proc, c->t_us);
    assert_true(first > 15 && first <= 20); /* 20 s are covered */
    assert_true(fabs(oxl_leak_left_s(&c->proc, c->t_us + 5000000) - (first - 5)) < 1e-6);
    assert_true(oxl_leak_left_s(&c->proc, c->t_us + 90000000) == 0);
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_table_is_named_and_holds_every_run),
        cmocka_unit_test(a_table_without_a_run_holds_no_test),
        cmocka_unit_test(a_run_that_the_table_cuts_off_is_void),
        cmocka_unit_test(the_runs_before_its_end_are_judged),
        cmocka_unit_test(an_end_before_gas_voids_nothing),
        cmocka_unit_test(a_phase_of_the_leak_check_runs_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
