/* Gas that may flow while an engine stands, a loop is open, or keys and links come at the wrong
 * moment. On the scripted car. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "help_car.h"

static bool marked(const struct car *c, const char *part)
{
    const struct oxl_event *ev = car_last(c, OXL_EV_MARK);
    return ev && strstr(ev->u.mark.text, part);
}

/* ---- space ----------------------------------------------------------------------------------- */
static void space_right_after_a_restart_takes_no_baseline(void **state)
{
    (void)state;
    struct car *c = car_holding();
    size_t taken = car_baselines(c);
    car_run(c, 6); /* a window full of trims in gas */
    car_restart(c);
    car_key(c, OXL_KEY_NOW);
    assert_true(marked(c, "gas is off"));
    assert_false(oxl_gas_may_flow(&c->proc));
    assert_int_equal(car_baselines(c), taken);
    car_run(c, 3.5);
    car_key(c, OXL_KEY_NOW);
    assert_int_equal(car_baselines(c), taken + 1);
    car_free(c);
}

static void nor_does_a_second_press(void **state)
{
    (void)state;
    struct car *c = car_holding();
    size_t taken = car_baselines(c);
    car_restart(c);
    car_run(c, 8);
    car_key(c, OXL_KEY_NOW);
    assert_true(marked(c, "gas is off"));
    car_key(c, OXL_KEY_NOW); /* trims from before the first one are those of the gas */
    assert_true(marked(c, "too little data"));
    assert_int_equal(car_baselines(c), taken);
    car_free(c);
}

/* Its window would be that of the run before. */
static void nor_where_no_gas_was_seen(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_pulse(c, -20, 3.0));
    assert_true(car_wait(c, OXL_STATE_BASELINE, 40));
    car_run(c, 8);
    assert_false(c->proc.gas.asked);
    size_t taken = car_baselines(c);
    car_restart(c);
    car_run(c, 1);
    car_key(c, OXL_KEY_NOW);
    assert_true(marked(c, "too little data"));
    assert_int_equal(car_baselines(c), taken);
    car_free(c);
}

static void nor_on_a_link_that_has_stalled(void **state)
{
    (void)state;
    struct car *c = car_holding();
    size_t taken = car_baselines(c);
    oxl_proc_link(&c->proc, OXL_LINK_STALLED, "", c->t_us);
    car_restart(c);
    c->mute = true;
    car_run(c, 3);
    car_key(c, OXL_KEY_NOW);
    assert_true(marked(c, "no data"));
    assert_true(oxl_gas_may_flow(&c->proc));
    assert_int_equal(car_baselines(c), taken);
    car_free(c);
}

static void nor_on_one_that_is_lost(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    car_run(c, 6);
    oxl_proc_link(&c->proc, OXL_LINK_LOST, "", c->t_us);
    car_key(c, OXL_KEY_NOW);
    assert_true(marked(c, "no data"));
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    assert_int_equal(car_heard(c, OXL_ADV_ADD_GAS), 0);
    oxl_proc_link(&c->proc, OXL_LINK_READY, "", c->t_us);
    car_key(c, OXL_KEY_NOW); /* there are data again, and it is the technician's word */
    assert_int_equal(car_heard(c, OXL_ADV_ADD_GAS), 1);
    car_free(c);
}

/* ---- what proves nothing --------------------------------------------------------------------- */
static void trims_of_an_engine_that_stands_prove_nothing(void **state)
{
    (void)state;
    struct car *c = car_holding();
    size_t taken = car_baselines(c);
    c->rpm = 0;
    c->stft = 0; /* the unit has set it back */
    car_run(c, 12);
    assert_true(oxl_gas_may_flow(&c->proc));
    c->rpm = 750;
    car_glide(c, 2, -18, 1.0); /* it was open all the time */
    car_run(c, 40);
    assert_int_equal(car_baselines(c), taken);
    car_shut_stands(c);
    car_free(c);
}

static void nor_do_those_of_an_open_loop(void **state)
{
    (void)state;
    struct car *c = car_holding();
    size_t taken = car_baselines(c);
    car_restart(c);
    car_run(c, 2);
    c->fuel_system = 1;
    c->stft = 0;
    car_run(c, 6);
    assert_true(oxl_gas_may_flow(&c->proc));
    c->fuel_system = 2;
    car_glide(c, 4, -18, 1.0);
    car_run(c, 40);
    assert_int_equal(car_baselines(c), taken);
    car_shut_stands(c);
    car_free(c);
}

/* The engine turns again, in open loop: waiting for the loop is not what the hand has to do. */
static void an_engine_started_again_in_gas_is_told_to_shut(void **state)
{
    (void)state;
    struct car *c = car_holding();
    c->rpm = 0;
    car_run(c, 10);
    assert_int_equal(c->proc.state, OXL_STATE_PRECHECK);
    c->rpm = 750;
    c->fuel_system = 1;
    size_t from = c->log_n;
    car_run(c, 40);
    car_shut_stands(c);
    assert_true(car_said_at(c, from, OXL_ADV_WAIT_CLOSED_LOOP) == c->log_n);
    car_free(c);
}

/* Nothing is heard of the trims any more: no sample brings the step on. */
static void a_hold_ends_though_no_trims_come(void **state)
{
    (void)state;
    struct car *c = car_holding();
    car_restart(c);
    for (int s = 0; s < 119; s++) {
        c->t_us += 1000000;
        car_give(c, OXL_Q_RPM, 0, 0, 750);
        oxl_proc_tick(&c->proc, c->t_us);
    }
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    car_shut_stands(c);
    c->t_us += 2000000;
    oxl_proc_tick(&c->proc, c->t_us);
    assert_int_equal(c->proc.outcome, OXL_ERR_STOPPED);
    assert_non_null(strstr(c->proc.outcome_text, "shut the cylinder"));
    car_free(c);
}

/* The same patience in a leak check, counted from its begin and not from when data came. */
static void nor_does_a_leak_check_wait_longer(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    car_key(c, OXL_KEY_LEAK);
    c->mute = true;
    car_run(c, 60);
    c->mute = false;
    c->stft = -18;
    car_run(c, 59);
    assert_int_equal(c->proc.state, OXL_STATE_LEAK_CHECK);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_COVER), 0);
    car_shut_stands(c);
    car_run(c, 2);
    assert_int_equal(c->proc.outcome, OXL_ERR_STOPPED);
    car_free(c);
}

/* ---- what the hand has to do stands ---------------------------------------------------------- */
static void a_link_that_is_back_says_it_again(void **state)
{
    (void)state;
    struct car *c = car_holding();
    car_lost_in_gas(c); /* trims at rest after it, but for no 3 s */
    size_t back = car_said_at(c, 0, OXL_ADV_LINK_BACK);
    assert_true(back < c->log_n);
    assert_true(car_said_at(c, back, OXL_ADV_SHUT_VALVE) == back + 1);
    car_free(c);
    c = car_in_release();
    oxl_proc_link(&c->proc, OXL_LINK_STALLED, "", c->t_us);
    size_t from = c->log_n;
    oxl_proc_link(&c->proc, OXL_LINK_READY, "", c->t_us);
    assert_true(car_said_at(c, from, OXL_ADV_LINK_BACK) == from);
    assert_true(car_said_at(c, from, OXL_ADV_CUT) == from + 1);
    assert_int_equal(c->proc.advice, OXL_ADV_CUT);
    car_free(c);
}

static void the_leak_key_does_not_replace_it(void **state)
{
    (void)state;
    struct car *c = car_in_release();
    car_key(c, OXL_KEY_LEAK);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_LATER), 1);
    assert_int_equal(c->proc.advice, OXL_ADV_CUT);
    car_run(c, 16); /* void: the front never went lean */
    assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
    car_shut_stands(c);
    car_key(c, OXL_KEY_LEAK);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_LATER), 2);
    car_shut_stands(c);
    size_t from = c->log_n;
    car_run(c, 10);
    car_shut_stands(c); /* and it was not said twice in turns */
    assert_true(car_said_at(c, from, OXL_ADV_SHUT_VALVE) == c->log_n);
    car_free(c);
}

/* Void in timing: the valve is shut, the trims are on their way. */
static void a_restart_after_the_cut_waits_for_the_trims(void **state)
{
    (void)state;
    struct car *c = car_in_release();
    car_glide(c, 0.3, c->stft, 1.2);
    car_run(c, 1);
    assert_int_equal(c->proc.state, OXL_STATE_TIMING);
    size_t from = c->log_n;
    car_restart(c);
    assert_int_equal(c->proc.advice, OXL_ADV_RECOVER);
    assert_true(car_said_at(c, from, OXL_ADV_STEADY) == c->log_n);
    assert_true(car_said_at(c, from, OXL_ADV_SHUT_VALVE) == c->log_n);
    car_free(c);
}

/* ---- the deeper run -------------------------------------------------------------------------- */
/* Gas goes on after the deeper run: it is called to be shut, nothing is offered, the runs stay. */
static void is_shut_before_anything_is_offered(struct car *c)
{
    assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
    car_shut_stands(c);
    car_run(c, 118);
    car_shut_stands(c);
    car_run(c, 4);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    assert_int_equal(car_heard(c, OXL_ADV_DEEPER_OFFER), 1); /* the one that was taken */
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_OFFER), 0);
    assert_int_equal(car_last(c, OXL_EV_RESULT)->u.result.valid_runs, 3);
    car_free(c);
}

static struct car *car_in_the_deeper_run(double shift_pct)
{
    struct car *c = car_on_offer();
    c->proc.deeper.choice = OXL_DEEPER_YES; /* a second try would be offered */
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    c->rear = 0.8;
    car_gas(c, 6, shift_pct);
    return c;
}

static void a_deeper_run_without_release_offers_nothing(void **state)
{
    (void)state;
    struct car *c = car_in_the_deeper_run(-32);
    assert_true(car_wait(c, OXL_STATE_RELEASE, 40));
    assert_true(car_wait(c, OXL_STATE_RECOVERY, 20));
    is_shut_before_anything_is_offered(c);
}

static void nor_does_one_whose_link_was_lost(void **state)
{
    (void)state;
    struct car *c = car_in_the_deeper_run(-18);
    oxl_proc_link(&c->proc, OXL_LINK_LOST, "", c->t_us);
    oxl_proc_link(&c->proc, OXL_LINK_READY, "", c->t_us);
    is_shut_before_anything_is_offered(c);
}

/* The hand shut the valve when no data came: it is told to open it again, and has its time for it.
 */
static void a_link_that_is_back_before_any_gas_asks_for_it_again(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    car_run(c, 19);
    size_t from = c->log_n;
    oxl_proc_link(&c->proc, OXL_LINK_STALLED, "", c->t_us);
    oxl_proc_link(&c->proc, OXL_LINK_READY, "", c->t_us);
    assert_true(car_said_at(c, from, OXL_ADV_ADD_GAS) < c->log_n);
    car_run(c, 15);
    assert_true(car_said_at(c, from, OXL_ADV_NO_EFFECT) == c->log_n);
    car_run(c, 6);
    assert_true(car_said_at(c, from, OXL_ADV_NO_EFFECT) < c->log_n);
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(space_right_after_a_restart_takes_no_baseline),
        cmocka_unit_test(nor_does_a_second_press),
        cmocka_unit_test(nor_where_no_gas_was_seen),
        cmocka_unit_test(nor_on_a_link_that_has_stalled),
        cmocka_unit_test(nor_on_one_that_is_lost),
        cmocka_unit_test(trims_of_an_engine_that_stands_prove_nothing),
        cmocka_unit_test(nor_do_those_of_an_open_loop),
        cmocka_unit_test(an_engine_started_again_in_gas_is_told_to_shut),
        cmocka_unit_test(a_hold_ends_though_no_trims_come),
        cmocka_unit_test(nor_does_a_leak_check_wait_longer),
        cmocka_unit_test(a_link_that_is_back_says_it_again),
        cmocka_unit_test(the_leak_key_does_not_replace_it),
        cmocka_unit_test(a_restart_after_the_cut_waits_for_the_trims),
        cmocka_unit_test(a_deeper_run_without_release_offers_nothing),
        cmocka_unit_test(nor_does_one_whose_link_was_lost),
        cmocka_unit_test(a_link_that_is_back_before_any_gas_asks_for_it_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
