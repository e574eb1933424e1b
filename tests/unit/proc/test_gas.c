/* Gas on: whatever leaves a run says first that the valve is to be shut, and no baseline is taken
 * until trims and front have shown that the gas is gone. On the scripted car. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "help_car.h"

/* Nothing of what a baseline needs is said or taken while the trims stand at -18 %. */
static void no_baseline_while_it_flows(struct car *c, size_t from, double s)
{
    size_t taken = car_baselines(c);
    car_run(c, s);
    assert_int_equal(car_baselines(c), taken);
    size_t shut_said = car_said_at(c, from, OXL_ADV_SHUT_VALVE);
    assert_true(shut_said < c->log_n);
    assert_true(car_said_at(c, from, OXL_ADV_STEADY) == c->log_n);
    assert_true(car_said_at(c, from, OXL_ADV_ADD_GAS) == c->log_n);
}

static void a_restart_while_holding_says_shut_first(void **state)
{
    (void)state;
    struct car *c = car_holding();
    size_t from = c->log_n;
    car_restart(c);
    no_baseline_while_it_flows(c, from, 60);
    car_shut(c);
    assert_true(oxl_gas_may_flow(&c->proc)); /* not before some seconds of it */
    car_run(c, 14);
    assert_false(oxl_gas_may_flow(&c->proc) && c->proc.state == OXL_STATE_BASELINE);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_true(fabs(car_last(c, OXL_EV_BASELINE)->u.baseline.trim_pct - 1) < 0.3);
    car_free(c);
}

/* Closed loop has been left, so the trims say nothing: the front still shows the gas. */
static void a_rich_front_is_gas_though_the_trims_are_back(void **state)
{
    (void)state;
    struct car *c = car_holding();
    car_restart(c);
    car_glide(c, 1, 0, 0.85);
    size_t taken = car_baselines(c);
    car_run(c, 40);
    assert_int_equal(car_baselines(c), taken);
    assert_true(oxl_gas_may_flow(&c->proc));
    car_free(c);
}

static void the_technician_may_say_that_it_is_shut(void **state)
{
    (void)state;
    struct car *c = car_holding();
    car_restart(c);
    car_run(c, 5);
    size_t taken = car_baselines(c);
    car_key(c, OXL_KEY_NOW);
    assert_int_equal(car_baselines(c), taken); /* it takes no baseline by itself */
    assert_false(oxl_gas_may_flow(&c->proc));
    assert_true(car_has(c, OXL_R_OVERRIDDEN));
    assert_non_null(strstr(car_last(c, OXL_EV_MARK)->u.mark.text, "gas is off"));
    car_free(c);
}

static void gas_that_never_goes_ends_the_test(void **state)
{
    (void)state;
    struct car *c = car_holding();
    car_restart(c);
    car_run(c, 118);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
    car_run(c, 4);
    assert_int_equal(c->proc.outcome, OXL_ERR_STOPPED);
    assert_non_null(strstr(c->proc.outcome_text, "shut the cylinder"));
    car_free(c);
    c = car_in_release(); /* the same where the front never went lean */
    car_run(c, 17);
    assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
    car_run(c, 125);
    assert_int_equal(c->proc.outcome, OXL_ERR_STOPPED);
    assert_int_equal(car_baselines(c), 1);
    car_free(c);
}

static void the_leak_check_waits_for_it_too(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    size_t from = c->log_n;
    car_key(c, OXL_KEY_LEAK); /* gas was asked for, none is seen yet */
    assert_int_equal(c->proc.state, OXL_STATE_LEAK_CHECK);
    assert_true(car_said_at(c, from, OXL_ADV_SHUT_VALVE) < c->log_n);
    assert_true(car_said_at(c, from, OXL_ADV_LEAK_STEADY) == c->log_n);
    car_glide(c, 4, -18, 1.0); /* it was on its way */
    car_run(c, 80);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_COVER), 0);
    car_shut(c);
    car_run(c, 20);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_STEADY), 1);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_COVER), 1);
    car_free(c);
}

/* ---- the end --------------------------------------------------------------------------------- */
static void one_key_does_not_end_a_run(void **state)
{
    (void)state;
    struct car *c = car_holding();
    car_key(c, OXL_KEY_ABORT);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_int_equal(car_heard(c, OXL_ADV_ABORT_AGAIN), 1);
    car_run(c, 6); /* too late to be meant */
    if (c->proc.state == OXL_STATE_ENRICHMENT || c->proc.state == OXL_STATE_RELEASE) {
        car_key(c, OXL_KEY_ABORT);
        assert_int_not_equal(c->proc.state, OXL_STATE_STOPPED);
    }
    size_t from = c->log_n;
    car_run(c, 1);
    car_key(c, OXL_KEY_ABORT);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_true(car_said_at(c, from, OXL_ADV_SHUT_VALVE) <
                car_state_at(c, from, OXL_STATE_STOPPED));
    car_free(c);
}

static void the_first_press_leaves_the_run_as_it_was(void **state)
{
    (void)state;
    struct car *c = car_holding(), *other = car_holding();
    car_key(c, OXL_KEY_ABORT);
    car_run(c, 20);
    car_run(other, 20);
    assert_int_equal(c->proc.state, other->proc.state);
    assert_int_equal(c->proc.run.cut_us, other->proc.run.cut_us);
    car_free(c);
    car_free(other);
}

static void an_end_from_outside_is_at_once_and_says_why(void **state)
{
    (void)state;
    struct car *c = car_holding();
    snprintf(c->proc.outside, sizeof c->proc.outside, "stopped by a signal");
    size_t from = c->log_n;
    car_key(c, OXL_KEY_END);
    assert_int_equal(c->proc.outcome, OXL_ERR_STOPPED);
    assert_string_equal(c->proc.outcome_text, "stopped by a signal");
    assert_true(car_said_at(c, from, OXL_ADV_SHUT_VALVE) <
                car_state_at(c, from, OXL_STATE_STOPPED));
    car_free(c);
}

static void a_lost_link_says_shut_before_all(void **state)
{
    (void)state;
    struct car *c = car_holding();
    size_t from = c->log_n;
    oxl_proc_link(&c->proc, OXL_LINK_LOST, "", c->t_us);
    size_t shut_said = car_said_at(c, from, OXL_ADV_SHUT_VALVE);
    assert_true(shut_said < car_said_at(c, from, OXL_ADV_LINK_TROUBLE));
    assert_true(car_said_at(c, from, OXL_ADV_RECOVER) == c->log_n);
    oxl_proc_link(&c->proc, OXL_LINK_READY, "", c->t_us);
    size_t taken = car_baselines(c);
    car_run(c, 60);
    assert_int_equal(car_baselines(c), taken);
    assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
    car_free(c);
}

/* ---- an engine that stops -------------------------------------------------------------------- */
static void stop_engine_in(struct car *c)
{
    size_t from = c->log_n;
    c->rpm = 0;
    car_run(c, 0.3);
    assert_true(car_said_at(c, from, OXL_ADV_ENGINE_STOPPED) < c->log_n);
    assert_int_equal(c->proc.state, OXL_STATE_PRECHECK);
    car_run(c, 5); /* and stands, before the start is asked for */
    assert_true(car_said_at(c, from, OXL_ADV_START_ENGINE) == c->log_n);
    car_run(c, 6);
    assert_true(car_said_at(c, from, OXL_ADV_START_ENGINE) < c->log_n);
}

static void an_engine_that_stops_while_timing_is_told(void **state)
{
    (void)state;
    struct car *c = car_in_release();
    car_glide(c, 0.3, c->stft, 1.2);
    car_run(c, 1);
    assert_int_equal(c->proc.state, OXL_STATE_TIMING);
    stop_engine_in(c);
    const struct oxl_event *run = car_last(c, OXL_EV_RUN);
    assert_non_null(run);
    assert_true(!run->u.run.valid && oxl_reasons_has(run->u.run.reasons, OXL_R_RPM_DROP));
    car_free(c);
}

static void and_while_gas_flows_and_no_baseline_follows(void **state)
{
    (void)state;
    struct car *c = car_holding();
    stop_engine_in(c);
    c->rpm = 750;
    size_t taken = car_baselines(c);
    car_run(c, 30); /* the trims still at -18 % */
    assert_int_equal(car_baselines(c), taken);
    assert_true(oxl_gas_may_flow(&c->proc));
    car_shut(c);
    car_run(c, 16);
    assert_int_equal(car_baselines(c), taken + 1);
    car_free(c);
}

/* Without a checksum (CAN) one low reading may be a damaged character; on K-line it is not. */
static void one_low_reading_counts_where_it_has_a_checksum(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    car_give(c, OXL_Q_RPM, 0, 0, 0);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    car_run(c, 0.1);
    c->vehicle.protocol = OXL_PROTO_ISO9141;
    car_give(c, OXL_Q_RPM, 0, 0, 0);
    assert_int_equal(c->proc.state, OXL_STATE_PRECHECK);
    car_free(c);
}

/* ---- the drip -------------------------------------------------------------------------------- */
static struct car *car_dripping(double by_pct)
{
    struct car *c = car_new();
    car_survey(c);
    car_run(c, 6);
    car_glide(c, 4, -by_pct, 1.0);
    car_run(c, 14);
    return c;
}

static void a_drip_is_named_when_the_trims_come_back(void **state)
{
    (void)state;
    struct car *c = car_dripping(4);
    assert_int_equal(car_heard(c, OXL_ADV_RESIDUAL_GAS), 1);
    assert_int_equal(car_baselines(c), 0);
    car_glide(c, 3, 0, 1.0); /* the valve is shut better */
    car_run(c, 2);
    assert_int_equal(car_check(c, "gas-drip")->grade, OXL_GRADE_CAUTION);
    car_run(c, 12);
    assert_true(fabs(car_last(c, OXL_EV_BASELINE)->u.baseline.trim_pct - 1) < 0.3);
    assert_true(car_has(c, OXL_R_EARLY_SHIFT));
    car_free(c);
}

static void a_fall_that_stays_is_told_and_taken(void **state)
{
    (void)state;
    struct car *c = car_dripping(4);
    car_run(c, 27);
    assert_int_equal(car_check(c, "gas-drip")->grade, OXL_GRADE_UNKNOWN);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_int_equal(car_heard(c, OXL_ADV_VALVE_DRIPS), 0); /* no run yet: nothing was opened */
    car_free(c);
}

static void small_falls_are_no_drip(void **state)
{
    (void)state;
    struct car *c = car_dripping(2.2);
    assert_int_equal(car_heard(c, OXL_ADV_RESIDUAL_GAS), 0);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    car_free(c);
}

/* After a run the cylinder is asked for next, and what comes back then was the drip. */
static void a_valve_that_drips_after_a_run_is_named(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_pulse(c, -20, 3.0));
    car_glide(c, 1, -3.5, 1.0);
    for (int k = 0; k < 600 && !car_heard(c, OXL_ADV_VALVE_DRIPS); k++)
        car_run(c, 0.1);
    assert_int_equal(car_heard(c, OXL_ADV_RESIDUAL_GAS), 1);
    assert_int_equal(car_heard(c, OXL_ADV_VALVE_DRIPS), 1);
    car_glide(c, 3, 0, 1.0);
    car_run(c, 2);
    assert_int_equal(car_check(c, "gas-drip")->grade, OXL_GRADE_CAUTION);
    car_free(c);
}

/* Not idling: said at once, and not after the ten minutes of a baseline that never comes. */
static void a_raised_speed_is_told_to_idle(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->proc.profile.rpm_max = 1500; /* as the profile for K-line has it */
    car_survey(c);
    car_run(c, 4);
    c->rpm = 2300;
    car_run(c, 3);
    assert_int_equal(car_heard(c, OXL_ADV_LET_IDLE), 1);
    c->rpm = 750;
    car_run(c, 13);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    car_free(c);
}

/* Held at that speed the test ends after a minute, for that reason and not for its trims. */
static void a_speed_held_too_high_ends_the_test(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->proc.profile.rpm_max = 1500;
    c->rpm = 2300;
    car_survey(c);
    car_run(c, 70);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_non_null(strstr(c->proc.outcome_text, "Let the engine idle"));
    car_free(c);
}

/* About the limit, above it for some seconds and a little below for some: the minute goes on. */
static void a_speed_that_swings_about_the_limit_ends_it_too(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->proc.profile.rpm_max = 1500;
    c->rpm = 1540;
    car_survey(c);
    for (int k = 0; k < 14 && !oxl_proc_over(&c->proc); k++) {
        c->rpm = k % 2 ? 1440 : 1540;
        car_run(c, k % 2 ? 2 : 8);
    }
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_non_null(strstr(c->proc.outcome_text, "Let the engine idle"));
    car_free(c);
}

/* Trims at +25 % and nothing that moves: the end names the trims and no purge. */
static void an_opening_that_stays_too_large_is_named_at_the_end(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->proc.profile.baseline_limit_s = 60;
    car_survey(c);
    car_glide(c, 3, 25, 1.0);
    car_run(c, 70);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_non_null(strstr(c->proc.outcome_text, "unmetered air"));
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_restart_while_holding_says_shut_first),
        cmocka_unit_test(a_rich_front_is_gas_though_the_trims_are_back),
        cmocka_unit_test(the_technician_may_say_that_it_is_shut),
        cmocka_unit_test(gas_that_never_goes_ends_the_test),
        cmocka_unit_test(the_leak_check_waits_for_it_too),
        cmocka_unit_test(one_key_does_not_end_a_run),
        cmocka_unit_test(the_first_press_leaves_the_run_as_it_was),
        cmocka_unit_test(an_end_from_outside_is_at_once_and_says_why),
        cmocka_unit_test(a_lost_link_says_shut_before_all),
        cmocka_unit_test(an_engine_that_stops_while_timing_is_told),
        cmocka_unit_test(and_while_gas_flows_and_no_baseline_follows),
        cmocka_unit_test(one_low_reading_counts_where_it_has_a_checksum),
        cmocka_unit_test(a_drip_is_named_when_the_trims_come_back),
        cmocka_unit_test(a_fall_that_stays_is_told_and_taken),
        cmocka_unit_test(small_falls_are_no_drip),
        cmocka_unit_test(a_valve_that_drips_after_a_run_is_named),
        cmocka_unit_test(a_raised_speed_is_told_to_idle),
        cmocka_unit_test(a_speed_held_too_high_ends_the_test),
        cmocka_unit_test(a_speed_that_swings_about_the_limit_ends_it_too),
        cmocka_unit_test(an_opening_that_stays_too_large_is_named_at_the_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
