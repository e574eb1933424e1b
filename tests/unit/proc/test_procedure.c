/* The procedure against a scripted car: the way through, release and timing, every key. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "help_car.h"

/* ---- the way through ------------------------------------------------------------------------- */
static void three_runs_without_a_key(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    for (int i = 0; i < 3; i++)
        assert_true(car_pulse(c, -20, 3.0));
    /* So little gas proves nothing: a deeper run is offered, and not taken. */
    assert_int_equal(car_heard(c, OXL_ADV_DEEPER_OFFER), 1);
    car_run(c, 16);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    car_run(c, 61);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    const struct oxl_event *result = car_last(c, OXL_EV_RESULT);
    assert_non_null(result);
    assert_int_equal(result->u.result.valid_runs, 3);
    const struct oxl_event *run = car_last(c, OXL_EV_RUN);
    assert_true(run->u.run.dropped && run->u.run.valid);
    /* The front passes 1.01 a twenty-fourth into its 0.3 s rise; the rear falls 3 s after it. */
    assert_true(run->u.run.delay_s.low <= 3.29 && run->u.run.delay_s.high >= 3.29);
    assert_true(run->u.run.delay_s.high - run->u.run.delay_s.low < 0.2);
    assert_true(fabs(run->u.run.shift_pct + 20) < 2.5);
    car_free(c);
}

static void states_come_in_their_order(void **state)
{
    (void)state;
    static const enum oxl_state want[] = {OXL_STATE_PRECHECK,   OXL_STATE_BASELINE,
                                          OXL_STATE_ENRICHMENT, OXL_STATE_RELEASE,
                                          OXL_STATE_TIMING,     OXL_STATE_RECOVERY};
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_pulse(c, -20, 3.0));
    size_t at = 0;
    for (size_t i = 0; i < c->log_n && at < 6; i++)
        if (c->log[i].kind == OXL_EV_STATE) {
            assert_int_equal(c->log[i].u.state.state, want[at]);
            at++;
        }
    assert_int_equal(at, 6);
    car_free(c);
}

static void rear_held_is_no_number(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_pulse(c, -20, INFINITY));
    const struct oxl_event *run = car_last(c, OXL_EV_RUN);
    assert_non_null(run);
    assert_false(run->u.run.dropped);
    assert_true(isnan(run->u.run.delay_s.value));
    assert_true(run->u.run.o2_is_lower_bound);
    assert_int_equal(car_heard(c, OXL_ADV_REAR_HELD), 1);
    /* The rear was never seen lean; a fuel cut now would spoil the next run. */
    assert_int_equal(car_heard(c, OXL_ADV_PROVE_REAR), 0);
    car_free(c);
}

/* ---- release and timing ---------------------------------------------------------------------- */
static void a_valve_that_does_not_shut(void **state)
{
    (void)state;
    struct car *c = car_in_release();
    car_run(c, 5);
    assert_int_equal(car_heard(c, OXL_ADV_STILL_RICH), 1);
    car_run(c, 12);
    const struct oxl_event *run = car_last(c, OXL_EV_RUN);
    assert_non_null(run);
    assert_false(run->u.run.valid);
    assert_true(oxl_reasons_has(run->u.run.reasons, OXL_R_NO_FRONT_LEAN));
    assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
    car_free(c);
}

static void dither_around_balance_starts_no_clock(void **state)
{
    (void)state;
    struct car *c = car_in_release();
    for (int i = 0; i < 6; i++) { /* 0.6 % about balance, inside level and step */
        car_glide(c, 0.3, c->stft, 1.006);
        car_glide(c, 0.3, c->stft, 0.994);
    }
    assert_int_equal(c->proc.state, OXL_STATE_RELEASE);
    car_free(c);
}

/* It is said and the seconds stand still while the rear is watched on, and not after that. */
static void the_rear_is_called_lean_at_its_fall(void **state)
{
    (void)state;
    struct car *c = car_in_release();
    car_glide(c, 0.3, -20, 1.24);
    car_run(c, 3);
    assert_int_equal(car_heard(c, OXL_ADV_REAR_LEAN), 0);
    assert_true(oxl_timing_so_far_s(&c->proc, c->t_us) > 2.5);
    c->rear = 0.08;
    car_run(c, 0.5);
    double fell_s = oxl_timing_so_far_s(&c->proc, c->t_us);
    assert_int_equal(car_heard(c, OXL_ADV_REAR_LEAN), 1);
    assert_in_range((int)(10 * fell_s), 28, 34);
    car_run(c, 1.5);
    assert_int_equal(c->proc.state, OXL_STATE_TIMING);
    assert_true(oxl_timing_so_far_s(&c->proc, c->t_us) == fell_s);
    car_run(c, 2);
    assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
    assert_int_equal(car_heard(c, OXL_ADV_REAR_LEAN), 1);
    car_free(c);
}

/* Behind a leak it falls by itself: no negative seconds, and what it points to is said. */
static void a_rear_that_fell_first_has_no_seconds(void **state)
{
    (void)state;
    struct car *c = car_in_release();
    c->rear = 0.08;
    car_run(c, 1.5);
    car_glide(c, 0.3, -20, 1.24);
    for (int k = 0; k < 40 && !car_heard(c, OXL_ADV_REAR_LEAN); k++) {
        car_run(c, 0.1);
        assert_false(oxl_timing_so_far_s(&c->proc, c->t_us) < 0);
    }
    assert_true(isnan(oxl_timing_so_far_s(&c->proc, c->t_us)));
    const struct oxl_event *said = &c->log[car_said_at(c, 0, OXL_ADV_REAR_LEAN)];
    assert_non_null(strstr(said->u.advice.detail, "exhaust leak"));
    car_free(c);
}

static void a_lost_link_voids_the_run(void **state)
{
    (void)state;
    struct car *c = car_in_release();
    car_glide(c, 0.3, -20, 1.24);
    car_run(c, 1.5);
    assert_int_equal(c->proc.state, OXL_STATE_TIMING);
    oxl_proc_link(&c->proc, OXL_LINK_LOST, "", c->t_us);
    assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
    assert_true(oxl_reasons_has(car_last(c, OXL_EV_RUN)->u.run.reasons, OXL_R_LINK_LOST));
    assert_int_equal(car_heard(c, OXL_ADV_LINK_TROUBLE), 1);
    oxl_proc_link(&c->proc, OXL_LINK_READY, "", c->t_us);
    assert_int_equal(car_heard(c, OXL_ADV_LINK_BACK), 1);
    /* It is tried again, not counted. */
    c->stft = 0;
    c->front = 1;
    car_run(c, 20);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_int_equal(c->proc.run.number, 2);
    assert_int_equal(c->proc.kept.valid_n, 0);
    car_free(c);
}

static void a_link_that_stays_away_ends_the_test(void **state)
{
    (void)state;
    struct car *c = car_in_release();
    oxl_proc_link(&c->proc, OXL_LINK_LOST, "", c->t_us);
    c->mute = true;
    car_run(c, 61);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_int_equal(c->proc.outcome, OXL_ERR_LINK_LOST);
    car_free(c);
}

static void invalid_runs_do_not_go_on_for_ever(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    for (int i = 0; i < 12 && !oxl_proc_over(&c->proc); i++) {
        for (int k = 0; k < 300 && c->proc.state != OXL_STATE_ENRICHMENT; k++)
            car_run(c, 0.1);
        c->rear = 0.8;
        car_gas(c, 4, -20);
        car_run(c, 25); /* never cut */
        car_glide(c, 1, 0, 1);
        c->rear = 0.7;
    }
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    assert_int_equal(car_last(c, OXL_EV_RESULT)->u.result.verdict, OXL_VERDICT_INCONCLUSIVE);
    /* Two that fail for the same reason are enough; unlike ones go on (test_end.c). */
    assert_int_equal(c->proc.kept.runs_n, 2);
    assert_int_equal(car_check(c, "repeated-failure")->grade, OXL_GRADE_STOP);
    assert_string_equal(car_check(c, "repeated-failure")->advice,
                        oxl_reason_next(OXL_R_NO_FRONT_LEAN));
    car_free(c);
}

/* ---- every state with every key -------------------------------------------------------------- */
static void keys_in_every_state(void **state)
{
    (void)state;
    static const enum oxl_key keys[] = {OXL_KEY_NONE, OXL_KEY_NOW, OXL_KEY_RESTART, OXL_KEY_MARK,
                                        OXL_KEY_ABORT};
    for (unsigned s = 0; s < OXL_STATE_COUNT; s++)
        for (size_t k = 0; k < 5; k++) {
            struct car *c = car_in_release();
            bool over = s == OXL_STATE_DONE || s == OXL_STATE_STOPPED;
            bool guarded = !over && s != OXL_STATE_PRECHECK;
            c->proc.state = (enum oxl_state)s;
            size_t before = c->log_n;
            car_key(c, keys[k]);
            if (over || keys[k] == OXL_KEY_NONE)
                assert_int_equal(c->log_n, before);
            bool in_run = s >= OXL_STATE_ENRICHMENT && s <= OXL_STATE_TIMING;
            if (in_run && keys[k] == OXL_KEY_ABORT) { /* once more, soon */
                assert_int_equal(c->proc.state, s);
                assert_int_equal(car_heard(c, OXL_ADV_ABORT_AGAIN), 1);
                car_key(c, OXL_KEY_ABORT);
            }
            if (!over && keys[k] == OXL_KEY_ABORT)
                assert_int_equal(c->proc.outcome, OXL_ERR_STOPPED);
            if (keys[k] == OXL_KEY_RESTART)
                assert_int_equal(c->proc.state, guarded ? OXL_STATE_BASELINE : s);
            if (!over && keys[k] == OXL_KEY_MARK)
                assert_int_equal(car_last(c, OXL_EV_MARK)->t_us, c->t_us);
            car_free(c);
        }
}

/* Before the gas nothing is lost by it, however often; with gas in, the run is void. */
static void a_restart_before_the_gas_costs_no_run(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    for (int i = 0; i < 8; i++) {
        car_key(c, OXL_KEY_RESTART);
        assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
        car_run(c, 16);
        assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
        assert_int_equal(c->proc.run.number, 1);
    }
    assert_null(car_last(c, OXL_EV_RUN));
    car_glide(c, 3, -12, 0.97);
    car_key(c, OXL_KEY_RESTART);
    const struct oxl_event *ev = car_last(c, OXL_EV_RUN);
    assert_non_null(ev);
    assert_true(!ev->u.run.valid && oxl_reasons_has(ev->u.run.reasons, OXL_R_RESTARTED));
    assert_int_equal(c->proc.kept.runs_n, 1);
    car_free(c);
}

/* ---- replay rule ----------------------------------------------------------------------------- */
static void idle_ticks_change_nothing(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    size_t before = c->log_n;
    struct oxl_proc copy = c->proc;
    for (int i = 0; i < 100; i++)
        oxl_proc_tick(&c->proc, c->t_us + i);
    assert_int_equal(c->log_n, before);
    assert_memory_equal(&copy, &c->proc, sizeof copy);
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_runs_without_a_key),
        cmocka_unit_test(states_come_in_their_order),
        cmocka_unit_test(rear_held_is_no_number),
        cmocka_unit_test(a_valve_that_does_not_shut),
        cmocka_unit_test(dither_around_balance_starts_no_clock),
        cmocka_unit_test(the_rear_is_called_lean_at_its_fall),
        cmocka_unit_test(a_rear_that_fell_first_has_no_seconds),
        cmocka_unit_test(a_lost_link_voids_the_run),
        cmocka_unit_test(a_link_that_stays_away_ends_the_test),
        cmocka_unit_test(invalid_runs_do_not_go_on_for_ever),
        cmocka_unit_test(keys_in_every_state),
        cmocka_unit_test(a_restart_before_the_gas_costs_no_run),
        cmocka_unit_test(idle_ticks_change_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
