/* The simulated adapter on each kind of bus, with one ECU and two. In transcripts
 * '|' is CR and '/' is LF. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "help_unit.h"

static struct rig rig;

static int setup(void **state)
{
    (void)state;
    rig_defaults(&rig);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    rig_close(&rig);
    rig.adapter = NULL;
    return 0;
}

struct turn {
    const char *say, *reply;
};

static void hold(const struct turn *turns, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const char *reply = rig_ask(&rig, turns[i].say);
        if (strcmp(reply, turns[i].reply) != 0)
            fail_msg("turn %zu: '%s' gave '%s', not '%s'", i, turns[i].say, reply, turns[i].reply);
    }
}
#define HOLD(turns) hold(turns, sizeof(turns) / sizeof((turns)[0]))

static void test_two_units(void **state)
{
    (void)state;
    rig.ecu.second_ecu = true;
    rig_ready(&rig);
    static const struct turn turns[] = {
        {"ATSH7E0", "OK||>"},   {"010D", "7E803410D00AAAAAAAA||>"},
        {"ATSH7E1", "OK||>"},   {"010D", "7E903410D0055555555||>"},
        {"010C", "NO DATA||>"}, {"ATSH7E5", "OK||>"},
        {"010D", "NO DATA||>"}, {"ATSH7DF", "OK||>"},
        {"ATCRA7E9", "OK||>"},  {"010D1", "7E903410D0055555555||>"},
        {"ATCRA", "OK||>"},
    };
    HOLD(turns);
    static const char *const either[] = {"7E803410D00AAAAAAAA|7E903410D0055555555||>",
                                         "7E903410D0055555555|7E803410D00AAAAAAAA||>"};
    bool seen[2] = {false, false};
    for (int i = 0; i < 40; i++) {
        const char *reply = rig_ask(&rig, "010D");
        bool first = strcmp(reply, either[0]) == 0;
        assert_true(first || strcmp(reply, either[1]) == 0);
        seen[first ? 0 : 1] = true;
    }
    assert_true(seen[0] && seen[1]); /* any order */
}

static void test_wide_identifiers(void **state)
{
    (void)state;
    rig.set.protocol = 7;
    rig.ecu.second_ecu = true;
    rig_ready(&rig);
    static const struct turn turns[] = {
        {"010C", "18DAF11004410C0B99AAAAAA||>"},
        {"ATDPN", "A7||>"},
        {"ATSHDA18F1", "OK||>"},
        {"010D", "18DAF11803410D0055555555||>"},
        {"ATSH18DA10F1", "OK||>"},
        {"ATS1", "OK||>"},
        {"010D", "18 DA F1 10 03 41 0D 00 AA AA AA AA ||>"},
        {"ATSH7DF", "OK||>"},
        {"010D", "NO DATA||>"},
    };
    HOLD(turns);
}

/* Checksums by hand: the sum of all bytes, modulo 256 (ISO 9141-2). */
static void test_kline(void **state)
{
    (void)state;
    rig.set.protocol = 3;
    strcpy(rig.ecu.stored, "P0420 P0143 P0136 P0300");
    rig_open(&rig);
    static const struct turn turns[] = {
        {"ATE0", "ATE0|/OK|/|/>"},
        {"ATL0", "OK||>"},
        {"ATS0", "OK||>"},
        {"ATH1", "OK||>"},
        {"010C1", "SEARCHING...|BUS INIT: ...OK|486B10410C0B99B4||>"},
        {"010C1", "486B10410C0B99B4||>"},
        {"010C0D", "NO DATA||>"},
        {"03", "486B1043042001430136A5|486B104303000000000009||>"},
        {"ATH0", "OK||>"},
        {"010C1", "410C0B99||>"},
        {"09025", "49020100000030|49020258594C41|49020347534D34|49020452303030|49020530303033||>"},
        {"ATSP3", "OK||>"},
        {"ATH1", "OK||>"},
        {"010C1", "BUS INIT: ...OK|486B10410C0B99B4||>"},
        {"ATSH6810F1", "OK||>"},
        {"010C1", "486B10410C0B99B4||>"},
        {"ATSH6811F1", "OK||>"},
        {"010C1", "NO DATA||>"},
    };
    HOLD(turns);
}

static void test_kwp_and_j1850(void **state)
{
    (void)state;
    rig.set.protocol = 5;
    rig_ready(&rig);
    assert_string_equal(rig_ask(&rig, "010C1"), "84F110410C0B9976||>");
    rig_close(&rig);
    rig.set.protocol = 2;
    rig_ready(&rig);
    uint8_t bytes[16];
    assert_int_equal(hex_bytes(rig_ask(&rig, "010C1"), bytes, sizeof bytes), 8);
    assert_memory_equal(bytes, "\x48\x6B\x10\x41\x0C\x0B\x99", 7);
    /* SAE J1850: a whole message with its CRC leaves the residue C4 (before inversion). */
    unsigned crc = 0xFF;
    for (int i = 0; i < 64; i++) {
        unsigned bit = (unsigned)bytes[i / 8] >> (7 - i % 8) & 1;
        crc = (crc << 1 & 0xFF) ^ (((crc >> 7) ^ bit) ? 0x1D : 0);
    }
    assert_int_equal(crc, 0xC4);
}

/* With a count of one and two ECUs, the other ECU's frame comes late: lost when nobody
 * listens, else taken for an answer to the next request. */
static void test_late_frames(void **state)
{
    (void)state;
    rig.ecu.second_ecu = true;
    rig.ecu.answer_ms_min = 5;
    rig.ecu.answer_ms_max = 25;
    rig_ready(&rig);
    int late = 0, lost = 0;
    for (int i = 0; i < 200; i++) {
        rig_ask(&rig, "010D1");
        const char *reply = rig_ask(&rig, "010C1"); /* only the engine ECU knows it */
        late += strncmp(reply, "7E903410D", 9) == 0 || strncmp(reply, "7E803410D", 9) == 0;
        lost += strncmp(reply, "7E804410C", 9) == 0;
        rig_wait(&rig, 100000);
    }
    assert_int_equal(late + lost, 200);
    assert_true(late > 10 && lost > 10);
}

static void test_protocol_is_named(void **state)
{
    (void)state;
    static const struct turn turns[] = {
        {"ATSP0", "OK||>"},
        {"ATDPN", "A0||>"},
        {"ATDP", "AUTO||>"},
        {"010C1", "SEARCHING...|7E804410C0B99AAAAAA||>"},
        {"ATDPN", "A6||>"},
        {"ATDP", "AUTO, ISO 15765-4 (CAN 11/500)||>"},
        {"ATPC", "OK||>"},
        {"ATDPN", "A0||>"},
        {"ATSP6", "OK||>"},
        {"ATDPN", "6||>"},
        {"ATDP", "ISO 15765-4 (CAN 11/500)||>"},
        {"010C1", "7E804410C0B99AAAAAA||>"},
        {"ATSPA6", "OK||>"},
        {"010C1", "7E804410C0B99AAAAAA||>"},
        {"ATDPN", "A6||>"},
        {"ATSPA3", "OK||>"},
        {"010C1", "SEARCHING...|7E804410C0B99AAAAAA||>"},
        {"ATDPN", "A6||>"},
    };
    rig_ready(&rig);
    HOLD(turns);
}

static void test_wrong_protocol(void **state)
{
    (void)state;
    static const struct turn turns[] = {
        {"ATSP8", "OK||>"}, {"0100", "CAN ERROR||>"},
        {"ATSP7", "OK||>"}, {"0100", "NO DATA||>"},
        {"ATSP2", "OK||>"}, {"0100", "NO DATA||>"},
        {"ATSP3", "OK||>"}, {"0100", "BUS INIT: ...ERROR||>"},
    };
    rig_ready(&rig);
    HOLD(turns);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_two_units, setup, teardown),
        cmocka_unit_test_setup_teardown(test_wide_identifiers, setup, teardown),
        cmocka_unit_test_setup_teardown(test_kline, setup, teardown),
        cmocka_unit_test_setup_teardown(test_kwp_and_j1850, setup, teardown),
        cmocka_unit_test_setup_teardown(test_late_frames, setup, teardown),
        cmocka_unit_test_setup_teardown(test_protocol_is_named, setup, teardown),
        cmocka_unit_test_setup_teardown(test_wrong_protocol, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
