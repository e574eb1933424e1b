/* The conversation by which the echo proves what does not stand by itself, and adapters that cannot
 * prove it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_harm.h"

#define FRONT oxl_channel(OXL_Q_O2_V, 1, 1)

static bool executed_changes(const struct rig *r)
{
    for (unsigned i = 0; i < r->fake.log_n; i++)
        if (line_changes(r->fake.log[i], strlen(r->fake.log[i])))
            return true;
    return false;
}

static void hurt_once(bool kline, bool echo, int at, int hurt)
{
    struct rig *r = rig_new();
    if (kline)
        fake_kline(&r->fake);
    r->fake.first_pid_only = true;
    rig_ready(r);
    r->fake.hurt_at = at;
    r->fake.hurt = hurt;
    r->fake.hurt_echo = echo;
    rig_run(r, 3.5);
    assert_true(r->fake.hurt_at < 0);
    assert_false(executed_changes(r));
    unsigned from = r->samples_n;
    rig_run(r, 2);
    assert_true(rig_count(r, FRONT, from) >= 2);
    assert_int_equal(r->dishonest, 0);
    assert_int_equal(oxl_poll_state(r->poll), OXL_LINK_READY);
    rig_free(r);
}

/* One damage at each place of the next texts, both ways, of each kind: nothing happens but that the
 * request is asked again. */
static void one_damage_is_seen_and_asked_again(void **state)
{
    (void)state;
    for (int kline = 0; kline < 2; kline++)
        for (int echo = 0; echo < 2; echo++)
            for (int at = 0; at < 13; at++)
                for (int hurt = 0; hurt <= 10; hurt++)
                    hurt_once(kline, echo, at, hurt);
}

/* A line that spoils an echo may spoil a request: all of them are proven from then on, those that
 * stand by themselves, too. */
static void damage_in_an_echo_has_every_request_proven(void **state)
{
    (void)state;
    for (int hurt = 0; hurt <= 8; hurt += 8) { /* a wrong bit, a lost character */
        struct rig *r = rig_new();
        rig_ready(r);
        size_t from = r->out_n;
        rig_run(r, 1);
        assert_true(rig_sent_whole(r, from) > 10);
        r->fake.late_us = 500000; /* PID 00 is asked then, which its echo proves */
        r->fake.hurt_at = 0;
        r->fake.hurt_echo = true;
        r->fake.hurt = hurt;
        rig_run(r, 3);
        assert_true(r->fake.hurt_at < 0);
        from = r->out_n;
        unsigned samples = r->samples_n;
        rig_run(r, 1);
        assert_int_equal(rig_sent_whole(r, from), 0);
        assert_true(rig_count(r, FRONT, samples) > 10);
        rig_free(r);
    }
}

static void an_adapter_without_echo_is_believed_at_first(void **state)
{
    (void)state;
    for (int kline = 0; kline < 2; kline++) {
        struct rig *r = rig_new();
        if (kline)
            fake_kline(&r->fake);
        r->fake.no_echo = true;
        r->fake.first_pid_only = true;
        rig_ready(r);
        unsigned from = r->samples_n;
        rig_run(r, 5);
        assert_true(rig_count(r, FRONT, from) >= 5);
        assert_true(check_sent(r, HARM_LOSS) > 20);
        assert_int_equal(fake_count(&r->fake, "0140", 0) + fake_count(&r->fake, "01401", 0), 0);
        /* The first damage ends it, and says what to do. */
        r->fake.spoil = true;
        assert_true(rig_until(r, OXL_LINK_NO_ADAPTER, 2));
        assert_non_null(strstr(rig_text(r), "repair cable and connector"));
        rig_free(r);
    }
}

/* Another adapter in its place, although it answers late: the vehicle is known, so that it is
 * waited for, and is not asked everything again. */
static void another_adapter_finds_the_vehicle_that_is_known(void **state)
{
    (void)state;
    struct rig *r = rig_new();
    r->fake.no_echo = true;
    r->fake.first_pid_only = true;
    rig_ready(r);
    r->fake.spoil = true;
    assert_true(rig_until(r, OXL_LINK_NO_ADAPTER, 2));
    rig_unplug(r);
    assert_int_equal(oxl_poll_state(r->poll), OXL_LINK_CLOSED);
    unsigned vehicles = r->vehicles, from = r->fake.log_n;
    r->fake.no_echo = false;
    r->fake.silent = true;
    rig_plug(r);
    oxl_poll_link(r->poll, true, r->now_us);
    rig_run(r, 60);
    assert_int_equal(oxl_poll_state(r->poll), OXL_LINK_LOST);
    r->fake.silent = false;
    assert_true(rig_until(r, OXL_LINK_READY, 20));
    assert_int_equal(r->vehicles, vehicles);
    assert_int_equal(fake_count(&r->fake, "03", from), 0);
    assert_true(rig_flows(r));
    rig_free(r);
}

/* Several PIDs in a request stand by themselves, so it goes on. */
static void without_echo_several_pids_go_on(void **state)
{
    (void)state;
    struct rig *r = rig_new();
    r->fake.no_echo = true;
    rig_ready(r);
    r->fake.spoil = true;
    rig_run(r, 1);
    size_t out = r->out_n;
    unsigned from = r->samples_n;
    r->fake.late_us = 500000; /* and PID 00 is asked together with another */
    rig_run(r, 5);
    assert_true(rig_count(r, FRONT, from) > 50);
    assert_non_null(strstr(r->out + out, " send 01"));
    assert_true(rig_flows(r));
    r->out += out;
    assert_true(check_sent(r, HARM_TWO) > 50);
    r->out -= out;
    rig_free(r);
}

/* Echo that stops for good, in the middle: never a CR behind what was not proven, and it is said.
 */
static void echo_that_stops_is_told(void **state)
{
    (void)state;
    struct rig *r = rig_new();
    fake_kline(&r->fake);
    rig_ready(r);
    r->fake.no_echo = true;
    assert_true(rig_until(r, OXL_LINK_NO_ADAPTER, 60));
    assert_non_null(strstr(rig_text(r), "cannot prove"));
    assert_false(executed_changes(r));
    rig_free(r);
}

/* On a link where all requests stand there is no echo to cost time; it comes back for one that
 * does not, and goes again. */
static void echo_is_off_where_nothing_needs_it(void **state)
{
    (void)state;
    struct rig *r = rig_new();
    rig_ready(r);
    assert_false(r->fake.echo);
    unsigned from = r->fake.log_n;
    r->fake.late_us = 500000;
    rig_run(r, 3);
    assert_true(fake_count(&r->fake, "0100", from) >= 1);
    assert_true(fake_count(&r->fake, "ATE1", from) >= 1);
    assert_false(r->fake.echo);
    rig_free(r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_damage_is_seen_and_asked_again),
        cmocka_unit_test(damage_in_an_echo_has_every_request_proven),
        cmocka_unit_test(an_adapter_without_echo_is_believed_at_first),
        cmocka_unit_test(another_adapter_finds_the_vehicle_that_is_known),
        cmocka_unit_test(without_echo_several_pids_go_on),
        cmocka_unit_test(echo_that_stops_is_told),
        cmocka_unit_test(echo_is_off_where_nothing_needs_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
