/* Stalls, losses, restarts of the adapter, and the way back. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_rig.h"

#define FRONT oxl_channel(OXL_Q_O2_V, 1, 1)

/* The stall shows 1 s after the last reply. */
static void test_stall_shows_within_a_second(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    r->fake.silent = true;
    r->fake.n = 0;
    int64_t last = r->samples[r->samples_n - 1].recv_us;
    assert_true(rig_until(r, OXL_LINK_STALLED, 3));
    assert_true(r->now_us - last <= 1000000 + 20000);
    assert_true(rig_until(r, OXL_LINK_LOST, 10));
    assert_true(r->now_us - last > 3000000 && r->now_us - last < 4500000);
    assert_non_null(strstr(rig_text(r), "adapter"));
    assert_int_equal(r->reopens, 0);
    rig_run(r, 0.6);
    assert_int_equal(r->reopens, 1); /* nothing came: the port is opened again */
}

static void test_ignition_off_and_on(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    r->fake.vehicle_off = true;
    assert_true(rig_until(r, OXL_LINK_STALLED, 2));
    assert_true(rig_until(r, OXL_LINK_LOST, 4));
    assert_non_null(strstr(rig_text(r), "ignition on?"));
    rig_run(r, 12);
    assert_int_equal(oxl_poll_state(r->poll), OXL_LINK_LOST); /* never final once it was known */
    r->fake.vehicle_off = false;
    unsigned from = r->fake.log_n, vehicles = r->vehicles;
    assert_true(rig_until(r, OXL_LINK_READY, 8));
    /* Known: no survey again, only a look whether it is the same. */
    assert_int_equal(r->vehicles, vehicles);
    assert_int_equal(fake_count(&r->fake, "03", from), 0);
    assert_int_equal(r->reopens, 0);
    assert_true(rig_flows(r));
}

/* A short failure loses no PID and no ability. */
static void test_short_failure_forgets_nothing(void **state)
{
    (void)state;
    for (int single = 0; single < 2; single++) {
        struct rig *r = rig_new();
        r->fake.first_pid_only = single;
        r->fake.wait_us = 20000;
        rig_ready(r);
        r->fake.vehicle_off = true;
        rig_run(r, 3.5);
        assert_int_equal(oxl_poll_state(r->poll), OXL_LINK_STALLED);
        r->fake.vehicle_off = false;
        rig_run(r, 1);
        unsigned from = r->samples_n, log = r->fake.log_n;
        rig_run(r, 14);
        assert_true(single || fake_count(&r->fake, "01141506072", log) > 100);
        assert_true(rig_count(r, oxl_channel(OXL_Q_COOLANT_C, 0, 0), from) >= 2);
        assert_true(rig_count(r, oxl_channel(OXL_Q_RPM, 0, 0), from) >= 20);
        assert_true(rig_count(r, oxl_channel(OXL_Q_SPEED_KMH, 0, 0), from) >= 5);
        rig_free(r);
    }
}

static void test_unplugged_and_plugged(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    rig_unplug(r);
    assert_int_equal(oxl_poll_state(r->poll), OXL_LINK_LOST);
    assert_non_null(strstr(rig_text(r), "plugged in"));
    rig_run(r, 6);
    /* 0.5 s, then 1, 2, 4, 5 s apart. */
    assert_int_equal(r->reopens, 3);
    rig_plug(r);
    assert_true(rig_until(r, OXL_LINK_READY, 10));
    assert_string_equal(oxl_poll_vehicle(r->poll)->vin, "1A9BB0CD0EF123456");
    assert_true(rig_flows(r));
}

static void test_port_that_stays_away(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    r->no_reopen = true;
    rig_unplug(r);
    rig_run(r, 60);
    assert_int_equal(r->reopens, 4 + 10); /* 0.5 1.5 3.5 7.5, then every 5 s: 12.5 .. 57.5 */
    assert_int_equal(oxl_poll_state(r->poll), OXL_LINK_LOST);
    /* Each attempt is told. */
    unsigned told = 0;
    for (unsigned i = 0; i < r->states_n; i++)
        told += strstr(r->texts[i], "(attempt ") != NULL;
    assert_int_equal(told, r->reopens);
}

static unsigned told(const struct rig *r, const char *words, unsigned from)
{
    unsigned n = 0;
    for (unsigned i = from; i < r->states_n; i++)
        n += strstr(r->texts[i], words) != NULL;
    return n;
}

static bool reopened_within(struct rig *r, double seconds)
{
    unsigned before = r->reopens;
    for (int i = 0; i < seconds * 10 && r->reopens == before; i++)
        rig_run(r, 0.1);
    return r->reopens == before + 1;
}

/* The vehicle first and then the adapter: it is asked once, in vain, then the port is opened again.
 */
static void test_adapter_falls_silent_behind_the_vehicle(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    r->fake.vehicle_off = true;
    assert_true(rig_until(r, OXL_LINK_LOST, 6));
    r->fake.silent = true;
    r->fake.n = 0;
    unsigned from = r->states_n;
    assert_true(reopened_within(r, 20));
    assert_int_equal(told(r, "plugged in and powered?", from), 1);
}

/* Plugged in again at once, and dead: what came before it was pulled out says nothing of it now. */
static void test_plugged_in_again_and_silent(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    rig_unplug(r);
    rig_run(r, 0.1);
    r->fake.silent = true;
    rig_plug(r);
    oxl_poll_link(r->poll, true, r->now_us);
    unsigned from = r->states_n;
    assert_true(reopened_within(r, 60));
    assert_int_equal(told(r, "plugged in and powered?", from), 1);
}

/* An adapter that falls silent in the middle of a search may have lost its settings: it is looked
 * for from the beginning. */
static void test_silent_in_the_search(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    r->fake.vehicle_off = true;
    assert_true(rig_until(r, OXL_LINK_LOST, 6));
    unsigned from = r->fake.log_n;
    while (fake_count(&r->fake, "0100", from) + fake_count(&r->fake, "01001", from) == 0)
        rig_run(r, 0.001);
    r->fake.silent = true;
    r->fake.n = 0;
    from = r->states_n;
    while (told(r, "fell silent", from) == 0)
        rig_run(r, 0.1);
    r->fake.silent = false;
    from = r->fake.log_n;
    rig_run(r, 3);
    assert_int_equal(fake_count(&r->fake, "ATZ", from), 1);
}

static void test_adapter_restarts_itself(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    r->fake.self_reset = true;
    unsigned from = r->fake.log_n;
    rig_run(r, 0.4);
    assert_true(rig_saw_state(r, OXL_LINK_STALLED));
    assert_non_null(strstr(r->out, "The adapter restarted"));
    assert_true(rig_until(r, OXL_LINK_READY, 3));
    assert_int_equal(fake_count(&r->fake, "ATZ", from), 0);
    assert_int_equal(fake_count(&r->fake, "ATH1", from), 1);
    assert_false(rig_saw_state(r, OXL_LINK_LOST));
    size_t out = r->out_n;
    assert_true(rig_flows(r));
    assert_true(rig_sent_whole(r, out) > 3); /* the banner was no damage of the line */
}

static void test_low_voltage_reset(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    fake_power(&r->fake);
    fake_say(&r->fake, "LV RESET", r->now_us + 1000);
    rig_run(r, 0.1);
    assert_true(rig_saw_state(r, OXL_LINK_STALLED));
    assert_true(rig_until(r, OXL_LINK_READY, 3));
    assert_true(rig_flows(r));
}

static void test_another_vehicle(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    rig_unplug(r);
    rig_run(r, 1);
    r->fake.ecus[0].vin = "1A9BB0CD9EF654321";
    rig_plug(r);
    assert_true(rig_until(r, OXL_LINK_SURVEY, 10));
    assert_true(rig_until(r, OXL_LINK_READY, 10));
    assert_string_equal(oxl_poll_vehicle(r->poll)->vin, "1A9BB0CD9EF654321");
}

/* Without a number it shows by what it supports. */
static void test_another_vehicle_without_a_number(void **state)
{
    struct rig *r = *state;
    r->fake.ecus[0].vin = NULL;
    rig_ready(r);
    assert_int_equal(r->vehicles, 2);
    rig_unplug(r);
    rig_run(r, 1);
    r->fake.ecus[0].pids = "01 03 05 06 07 0C 0D 10 13 14 15 1F";
    rig_plug(r);
    assert_true(rig_until(r, OXL_LINK_SURVEY, 10));
    assert_true(rig_until(r, OXL_LINK_READY, 10));
    assert_int_equal(r->vehicles, 4);
    assert_false(oxl_supports(&oxl_poll_vehicle(r->poll)->support, 0x04));
}

/* What is known of how long a vehicle's frames are is forgotten with it: none of the other's counts
 * as cut, so that each thing is asked once. */
static void test_another_vehicle_with_shorter_frames(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    rig_unplug(r);
    rig_run(r, 1);
    r->fake.ecus[0].vin = "1A9BB0CD9EF654321";
    r->fake.bare = true;
    unsigned from = r->fake.log_n;
    rig_plug(r);
    assert_true(rig_until(r, OXL_LINK_SURVEY, 10));
    assert_int_equal(fake_count(&r->fake, "0100", from) + fake_count(&r->fake, "01001", from), 2);
    assert_true(rig_until(r, OXL_LINK_READY, 10));
    assert_string_equal(oxl_poll_vehicle(r->poll)->vin, "1A9BB0CD9EF654321");
}

/* One that goes away while the vehicle is looked for does not: that is said. */
static void test_port_goes_away_in_the_search(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    r->fake.vehicle_off = true;
    assert_true(rig_until(r, OXL_LINK_LOST, 6));
    unsigned from = r->fake.log_n;
    while (fake_count(&r->fake, "0100", from) + fake_count(&r->fake, "01001", from) == 0)
        rig_run(r, 0.001);
    rig_unplug(r);
    assert_non_null(strstr(rig_text(r), "The port went away"));
    r->fake.vehicle_off = false;
    rig_plug(r);
    assert_true(rig_until(r, OXL_LINK_READY, 10));
}

/* A port that is opened again goes away first: that is no new loss, and the attempts become no more
 * frequent. */
static void test_port_goes_away_to_be_opened_again(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    r->fake.silent = true;
    r->fake.n = 0;
    r->no_reopen = true;
    assert_true(rig_until(r, OXL_LINK_LOST, 10));
    assert_true(reopened_within(r, 2));
    oxl_poll_link(r->poll, false, r->now_us);
    unsigned from = r->states_n;
    rig_run(r, 5);
    assert_int_equal(told(r, "(attempt 1)", from), 0);
    assert_int_equal(told(r, "(attempt ", from), 2); /* after 1 s and 2 s */
}

static void test_loss_during_the_survey(void **state)
{
    struct rig *r = *state;
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_SURVEY, 10));
    r->fake.silent = true;
    r->fake.n = 0;
    assert_true(rig_until(r, OXL_LINK_LOST, 20));
    r->fake.silent = false;
    assert_true(rig_until(r, OXL_LINK_READY, 20));
    assert_true(oxl_poll_vehicle(r->poll)->survey_done);
}

static void test_port_closed_before_the_start(void **state)
{
    struct rig *r = *state;
    const struct oxl_poll_config config = {.bank = 1, .has_speed = true, .give_up_ms = 3000};
    r->fake.vehicle_off = true;
    rig_start(r, &config);
    assert_true(rig_until(r, OXL_LINK_NO_VEHICLE, 30));
    unsigned before = r->callbacks;
    rig_unplug(r);
    assert_int_equal(oxl_poll_state(r->poll), OXL_LINK_CLOSED);
    assert_int_equal(r->callbacks, before + 1);
    oxl_poll_link(r->poll, false, r->now_us); /* changes nothing, says nothing */
    assert_int_equal(r->callbacks, before + 1);
    rig_plug(r);
    r->fake.vehicle_off = false;
    oxl_poll_link(r->poll, true, r->now_us);
    assert_true(rig_until(r, OXL_LINK_READY, 10));
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, rig_setup, rig_teardown)
    const struct CMUnitTest tests[] = {
        T(test_stall_shows_within_a_second),
        T(test_ignition_off_and_on),
        cmocka_unit_test(test_short_failure_forgets_nothing),
        T(test_unplugged_and_plugged),
        T(test_port_that_stays_away),
        T(test_adapter_falls_silent_behind_the_vehicle),
        T(test_plugged_in_again_and_silent),
        T(test_silent_in_the_search),
        T(test_adapter_restarts_itself),
        T(test_low_voltage_reset),
        T(test_another_vehicle),
        T(test_another_vehicle_without_a_number),
        T(test_another_vehicle_with_shorter_frames),
        T(test_port_goes_away_in_the_search),
        T(test_port_goes_away_to_be_opened_again),
        T(test_loss_during_the_survey),
        T(test_port_closed_before_the_start),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
