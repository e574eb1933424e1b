/* A port that is open during the baseline and shut when the hose goes in: the shift would be
 * counted from an engine that takes in air it does not have later. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "help_car.h"

static struct car *car_of_runs(unsigned runs, double open_pct)
{
    struct car *c = malloc(sizeof *c);
    struct oxl_profile p;
    assert_non_null(c);
    oxl_profile_defaults(&p);
    p.runs = runs;
    car_start(c, &p);
    c->stft = open_pct;
    car_survey(c);
    return c;
}

/* The air is gone: rich until the trims have followed. */
static void shut_port(struct car *c)
{
    c->rear = 0.8;
    c->front = 0.95;
    car_run(c, 0.6);
    car_glide(c, 4, 0, 1.0);
    car_run(c, 5);
}

/* Half the gas, as 9 % of the shift that is shown are the port's; the rear follows after 8 s. */
static void run_on_a_false_baseline(struct car *c)
{
    car_gas(c, 4, -11);
    for (int i = 0; i < 300 && c->proc.state != OXL_STATE_RELEASE; i++)
        car_run(c, 0.1);
    assert_int_equal(c->proc.state, OXL_STATE_RELEASE);
    car_run(c, 0.5);
    car_glide(c, 0.3, c->stft, 1.12);
    car_glide(c, 8, -5, 1.05);
    c->rear = 0.05;
    car_run(c, 1);
    car_glide(c, 3, 0, 1.0);
    c->rear = 0.7;
}

static struct oxl_run_result last_run(const struct car *c)
{
    const struct oxl_event *ev = car_last(c, OXL_EV_RUN);
    assert_non_null(ev);
    return ev->u.run;
}

static unsigned said_of_run(const struct car *c, int run)
{
    unsigned n = 0;
    for (size_t i = 0; i < c->log_n; i++)
        n += c->log[i].kind == OXL_EV_RUN && c->log[i].u.run.run == run;
    return n;
}

/* Far open: no baseline before it is shut, and none with the open time in its window. */
static void shut_in_time_it_leaves_no_trace(void **state)
{
    (void)state;
    struct car *c = car_of_runs(3, 24);
    car_run(c, 15);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    assert_true(car_heard(c, OXL_ADV_OPENING_TOO_LARGE) >= 1);
    shut_port(c);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    assert_null(car_last(c, OXL_EV_BASELINE));
    car_run(c, 10);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_true(fabs(car_last(c, OXL_EV_BASELINE)->u.baseline.trim_pct - 1) < 0.3);
    car_free(c);
}

static void a_run_from_it_is_taken_back(void **state)
{
    (void)state;
    struct car *c = car_of_runs(3, 9);
    car_run(c, 16);
    assert_true(fabs(c->proc.base.trim_pct - 10) < 0.5);
    shut_port(c);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT); /* it looks as gas does */
    run_on_a_false_baseline(c);
    struct oxl_run_result r = last_run(c);
    assert_true(r.valid && fabs(r.shift_pct + 20) < 1);
    car_run(c, 125);
    struct oxl_run_result again = last_run(c);
    assert_int_equal(again.run, 1);
    assert_false(again.valid);
    assert_true(oxl_reasons_has(again.reasons, OXL_R_BASELINE_DRIFT));
    assert_true(again.delay_s.value == r.delay_s.value); /* what was measured stays */
    assert_true(car_heard(c, OXL_ADV_RUN_INVALID) == 1 && c->proc.kept.valid_n == 0);
    for (int i = 0; i < 3; i++)
        assert_true(car_pulse(c, -20, 3.0));
    assert_int_equal(c->proc.kept.valid_n, 3);
    assert_true(fabs(last_run(c).delay_at_target_s.value - 3.3) < 0.3);
    assert_int_equal(said_of_run(c, 1), 2);
    assert_int_equal(said_of_run(c, 2), 1);
    struct oxl_result v;
    oxl_kept_judge(&c->proc, &v);
    assert_int_equal(v.valid_runs, 3);
    assert_true(v.delay_s.low < 4 && oxl_reasons_has(v.reasons, OXL_R_BASELINE_DRIFT));
    car_free(c);
}

/* No other run would contradict it. */
static void no_verdict_stands_on_it_alone(void **state)
{
    (void)state;
    struct car *c = car_of_runs(1, 9);
    car_run(c, 16);
    shut_port(c);
    run_on_a_false_baseline(c);
    assert_true(last_run(c).valid);
    car_run(c, 100);
    assert_null(car_last(c, OXL_EV_RESULT));
    car_run(c, 25);
    assert_false(last_run(c).valid);
    assert_null(car_last(c, OXL_EV_RESULT));
    assert_int_equal(c->proc.run.number, 2); /* it is tried again */
    assert_true(car_pulse(c, -20, 3.0));
    assert_int_equal(last_run(c).run, 2);
    assert_true(last_run(c).valid);
    car_free(c);
}

/* A single run whose trims come back ends as before; a wide-range front shows it at once. */
static void a_single_sound_run_stands(void **state)
{
    (void)state;
    struct car *c = car_of_runs(1, 0);
    assert_true(car_pulse(c, -20, 5.0)); /* and seconds of looking on */
    assert_int_equal(car_heard(c, OXL_ADV_RECOVER), 0);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    car_free(c);
    c = car_of_runs(1, 0);
    c->ramp_s = 35; /* enough gas for a verdict */
    assert_true(car_pulse(c, -20, 0.3));
    car_run(c, 3);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_OFFER), 1);
    car_run(c, 22);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    assert_int_equal(said_of_run(c, 1), 1);
    assert_int_equal(car_last(c, OXL_EV_RESULT)->u.result.verdict, OXL_VERDICT_BAD);
    car_free(c);
}

/* Nor when the link goes before the trims could tell. */
static void a_lost_link_leaves_no_verdict(void **state)
{
    (void)state;
    struct car *c = car_of_runs(1, 9);
    car_run(c, 16);
    shut_port(c);
    run_on_a_false_baseline(c);
    oxl_proc_link(&c->proc, OXL_LINK_LOST, "", c->t_us);
    c->mute = true;
    car_run(c, 61);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_null(car_last(c, OXL_EV_RESULT));
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shut_in_time_it_leaves_no_trace),
        cmocka_unit_test(a_run_from_it_is_taken_back),
        cmocka_unit_test(no_verdict_stands_on_it_alone),
        cmocka_unit_test(a_single_sound_run_stands),
        cmocka_unit_test(a_lost_link_leaves_no_verdict),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
