/* Finding and waking the adapter, and finding the vehicle behind it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_rig.h"

static void test_plain_start(void **state)
{
    struct rig *r = *state;
    assert_int_equal(oxl_link_state_name(OXL_LINK_READY)[0], 'r');
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_READY, 10));
    /* The states come in order, each with a line for a person. */
    const enum oxl_link_state order[] = {OXL_LINK_WAKING, OXL_LINK_WAKING, OXL_LINK_SEARCHING,
                                         OXL_LINK_SURVEY, OXL_LINK_READY};
    assert_int_equal(r->states_n, 5);
    for (unsigned i = 0; i < 5; i++) {
        assert_int_equal(r->states[i], order[i]);
        assert_true(strlen(r->texts[i]) > 5);
        assert_null(strchr(r->texts[i], '\n'));
    }
    assert_string_equal(oxl_poll_vehicle(r->poll)->adapter, "OBD adapter v1.0");
    assert_int_equal(r->fake.interrupts, 0);
    /* Start to first sample: under 2 s beyond the adapter's own reset and search (spec 11). */
    rig_run(r, 0.2);
    assert_true(r->samples_n > 0);
    assert_true(r->samples[0].recv_us - (int64_t)r->fake.reset_us - (int64_t)r->fake.search_us <
                2000000);
}

static void test_every_speed(void **state)
{
    static const unsigned speeds[] = {115200, 38400, 9600, 57600, 230400, 500000};
    (void)state;
    for (unsigned i = 0; i < 6; i++) {
        struct rig *r = rig_new();
        r->fake.baud = speeds[i];
        rig_start(r, NULL);
        assert_true(rig_until(r, OXL_LINK_SEARCHING, 8));
        assert_int_equal(r->fake.line_baud, speeds[i]);
        assert_true(rig_until(r, OXL_LINK_READY, 10));
        rig_free(r);
    }
}

static void test_given_speed(void **state)
{
    struct rig *r = *state;
    const struct oxl_poll_config config = {.bank = 1, .has_speed = true, .speed_baud = 38400};
    rig_start(r, &config);
    assert_true(rig_until(r, OXL_LINK_NO_ADAPTER, 10));
    assert_non_null(strstr(r->out, "speed 38400\n"));
    assert_null(strstr(r->out, "speed 115200\n"));
    assert_non_null(strstr(rig_text(r), "38400"));
}

static void test_link_without_speed(void **state)
{
    struct rig *r = *state;
    const struct oxl_poll_config config = {.bank = 1};
    rig_start(r, &config);
    assert_true(rig_until(r, OXL_LINK_READY, 10));
    assert_null(strstr(r->out, " speed "));
}

static void test_silence_is_no_adapter(void **state)
{
    struct rig *r = *state;
    r->fake.silent = true;
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_NO_ADAPTER, 20));
    assert_non_null(strstr(rig_text(r), "powered"));
    assert_non_null(strstr(rig_text(r), "port"));
    /* Final: nothing more happens. */
    assert_true(oxl_poll_due_us(r->poll) == INT64_MAX);
    unsigned before = r->callbacks;
    rig_run(r, 20);
    assert_int_equal(r->callbacks, before);
}

/* Bytes came: it is looked for in three passes. */
static void test_garbage_is_no_adapter(void **state)
{
    struct rig *r = *state;
    r->fake.garbage = true;
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_NO_ADAPTER, 26));
    assert_non_null(strstr(rig_text(r), "Bytes came"));
}

/* An OK is not trusted: what could not be switched off must not matter. */
static void test_stuck_settings(void **state)
{
    (void)state;
    for (unsigned bits = 1; bits < 8; bits++) {
        struct rig *r = rig_new();
        r->fake.stuck_echo = bits & 1;
        r->fake.stuck_spaces = bits & 2;
        r->fake.stuck_linefeeds = bits & 4;
        rig_start(r, NULL);
        assert_true(rig_until(r, OXL_LINK_READY, 10));
        rig_run(r, 2);
        assert_true(rig_count(r, oxl_channel(OXL_Q_O2_V, 1, 1), 0) > 50);
        rig_free(r);
    }
}

static void test_optional_commands_unknown(void **state)
{
    struct rig *r = *state;
    r->fake.unknown = "ATI ATE0 ATL0 ATS0 ATAT1 ATSP0 ATDPN";
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_READY, 10));
    /* The protocol then shows by the shape of the answers. */
    assert_int_equal(oxl_poll_vehicle(r->poll)->protocol, OXL_PROTO_CAN11_500);
    assert_string_equal(oxl_poll_vehicle(r->poll)->adapter, "OBD adapter v1.0");
    rig_run(r, 1);
    assert_true(r->samples_n > 50);
}

static void test_protocol_name_contradicts_answers(void **state)
{
    struct rig *r = *state;
    r->fake.pull_down_dpn = true; /* says A0 */
    r->fake.protocol = 7;
    r->fake.ecus[0].id = "18DAF110";
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_READY, 10));
    assert_true(oxl_protocol_is_can29(oxl_poll_vehicle(r->poll)->protocol));
    assert_int_equal(oxl_poll_vehicle(r->poll)->ecu, 0x18DAF110);
}

static void test_hidden_headers(void **state)
{
    struct rig *r = *state;
    r->fake.stuck_headers_off = true;
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_NO_ADAPTER, 20));
    assert_non_null(strstr(rig_text(r), "command set"));
}

static void test_ignition_off(void **state)
{
    struct rig *r = *state;
    const struct oxl_poll_config config = {.bank = 1, .has_speed = true, .give_up_ms = 8000};
    r->fake.vehicle_off = true;
    rig_start(r, &config);
    assert_true(rig_until(r, OXL_LINK_SEARCHING, 5));
    int64_t from_us = r->now_us;
    assert_true(rig_until(r, OXL_LINK_NO_VEHICLE, 30));
    assert_int_equal(r->now_us - from_us, 8000000);
    assert_non_null(strstr(rig_text(r), "ignition on?"));
    assert_true(oxl_poll_due_us(r->poll) == INT64_MAX);
}

static void test_ignition_comes_late(void **state)
{
    struct rig *r = *state;
    r->fake.vehicle_off = true;
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_SEARCHING, 5));
    rig_run(r, 7);
    r->fake.vehicle_off = false;
    assert_true(rig_until(r, OXL_LINK_READY, 12));
}

/* A search of ten seconds is waited for: the adapter says that it is searching. */
static void test_long_search(void **state)
{
    struct rig *r = *state;
    r->fake.search_us = 10000000;
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_READY, 15));
    assert_int_equal(r->fake.interrupts, 0);
}

static void test_adapter_hangs_in_search(void **state)
{
    struct rig *r = *state;
    r->fake.hangs_in_search = true;
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_NO_ADAPTER, 60));
    assert_non_null(strstr(rig_text(r), "hung"));
    /* Plugged in again, as it is told to, it is one of which nothing is known. */
    rig_unplug(r);
    r->fake.hangs_in_search = false;
    rig_plug(r);
    unsigned from = r->fake.log_n;
    oxl_poll_link(r->poll, true, r->now_us);
    assert_string_equal(rig_text(r), "Looking for the adapter.");
    assert_true(rig_until(r, OXL_LINK_READY, 10));
    assert_int_equal(fake_count(&r->fake, "ATSP0", from), 1);
}

/* One that comes to itself again is asked by the names of the protocols. */
static void test_adapter_cannot_search(void **state)
{
    struct rig *r = *state;
    r->fake.hangs_in_search = true;
    r->fake.hang_us = 8500000;
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_READY, 30));
    assert_int_equal(fake_count(&r->fake, "ATSP0", 0), 1);
}

static void test_kline_start(void **state)
{
    struct rig *r = *state;
    fake_kline(&r->fake);
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_READY, 15));
    assert_int_equal(oxl_poll_vehicle(r->poll)->protocol, OXL_PROTO_ISO9141);
    assert_int_equal(oxl_poll_vehicle(r->poll)->ecu, 0x10);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, rig_setup, rig_teardown)
    const struct CMUnitTest tests[] = {
        T(test_plain_start),
        cmocka_unit_test(test_every_speed),
        T(test_given_speed),
        T(test_link_without_speed),
        T(test_silence_is_no_adapter),
        T(test_garbage_is_no_adapter),
        cmocka_unit_test(test_stuck_settings),
        T(test_optional_commands_unknown),
        T(test_protocol_name_contradicts_answers),
        T(test_hidden_headers),
        T(test_ignition_off),
        T(test_ignition_comes_late),
        T(test_long_search),
        T(test_adapter_hangs_in_search),
        T(test_adapter_cannot_search),
        T(test_kline_start),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
