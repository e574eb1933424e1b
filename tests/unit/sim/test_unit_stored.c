/* The simulated controller's stored things: codes, freeze frame, monitors, identity. Outside
 * sources are named beside each check. */
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

static const char *can(const char *request)
{
    return unit_hex(&rig.ecu, &rig.readout, true, request);
}

static const char *kline(const char *request)
{
    return unit_hex(&rig.ecu, &rig.readout, false, request);
}

static void two_banks(struct oxl_readout *r)
{
    r->front_v[1] = 0.11;
    r->rear_v[1] = 0.64;
}

static void test_codes(void **state)
{
    (void)state;
    assert_string_equal(can("03"), "4300");
    assert_string_equal(kline("03"), "43000000000000");
    /* ISO 15031-5 Figure 19: 01 43 = P0143; the rest by ISO 15031-6's bit layout. */
    strcpy(rig.ecu.stored, "P0143");
    assert_string_equal(can("03"), "43010143");
    assert_string_equal(kline("03"), "43014300000000");
    strcpy(rig.ecu.stored, "P0420 C0123, B0056 U0158 P2096 nonsense P9999 P02CD");
    assert_string_equal(can("03"), "4306042041238056C158209602CD");
    assert_string_equal(kline("03"), "43042041238056,43C158209602CD");
    strcpy(rig.ecu.pending, "P0136");
    strcpy(rig.ecu.permanent, "P0420");
    assert_string_equal(can("07"), "47010136");
    assert_string_equal(kline("07"), "47013600000000");
    assert_string_equal(can("0A"), "4A010420");
    assert_string_equal(kline("0A"), ""); /* older than the service */
}

static void test_monitor_status_counts_the_codes(void **state)
{
    (void)state;
    assert_string_equal(can("0101"), "410100076100");
    strcpy(rig.ecu.stored, "P0420 P0300");
    assert_string_equal(can("0101"), "410182076100"); /* lamp on, two codes */
    strcpy(rig.ecu.stored, "P0136"); /* a dead rear sensor keeps the catalyst monitor waiting */
    assert_string_equal(can("0101"), "410181076101");
    strcpy(rig.ecu.rear, "none");
    assert_string_equal(can("0101"), "410181076000");
}

static void test_clearing_is_refused_and_clears_nothing(void **state)
{
    (void)state;
    strcpy(rig.ecu.stored, "P0420");
    strcpy(rig.ecu.pending, "P0136");
    const struct oxl_ecu_settings before = rig.ecu;
    assert_string_equal(can("04"), "7F0422");
    assert_string_equal(kline("04"), "7F0422");
    assert_memory_equal(&before, &rig.ecu, sizeof before);
    assert_string_equal(can("03"), "43010420");
    assert_string_equal(can("07"), "47010136");
    assert_string_equal(can("020200"), "4202000420");
}

static void test_freeze_frame(void **state)
{
    (void)state;
    assert_string_equal(can("020200"), "4202000000"); /* ISO 15031-5: 0000 = none stored */
    assert_string_equal(can("020C00"), "");
    assert_string_equal(can("020000"), "42000040000000");
    strcpy(rig.ecu.stored, "P0420");
    assert_string_equal(can("020200"), "4202000420");
    assert_string_equal(can("020000"), "4200007E390000");
    assert_string_equal(can("020C00"), "420C001F40");
    assert_string_equal(can("020C01"), ""); /* only frame 00 */
    assert_string_equal(can("020C00050004005D00"), "");
    assert_string_equal(can("020C0005005D00"), "420C001F40050082");
    assert_string_equal(kline("020500"), "42050082");
    assert_string_equal(kline("020C000500"), "");
    rig.ecu.has_air = false;
    assert_string_equal(can("021000"), "");
    assert_string_equal(can("020000"), "4200007E380000");
}

struct verdict {
    unsigned value, min, max;
};

static unsigned word(const uint8_t *b)
{
    return (unsigned)b[0] * 256 + b[1];
}

static struct verdict catalyst_result(const char *request)
{
    uint8_t b[16];
    assert_int_equal(hex_bytes(can(request), b, sizeof b), 10);
    assert_int_equal(b[0], 0x46);
    assert_int_equal(b[3], 0x20); /* a ratio by its standard scale */
    return (struct verdict){word(b + 4), word(b + 6), word(b + 8)};
}

static void test_monitor_results(void **state)
{
    (void)state;
    assert_string_equal(can("0600"), "4600C0000001");
    assert_string_equal(can("0620"), "462080000000");
    assert_string_equal(can("060020"), "4600C00000012080000000");
    assert_string_equal(can("0622"), "");
    assert_string_equal(can("062122"), ""); /* one monitor a request */
    /* K-line: a fill byte before the mask; each limit in a message of its own, bit 7 of the
     * component for a minimum. */
    assert_string_equal(kline("0600"), "4600FFC0000000");
    assert_string_equal(kline("0601"), "460111003300C0");
    assert_string_equal(kline("0602"), "46022100110028,4602A1009C0082");
    assert_string_equal(kline("0603"), "");
    assert_string_equal(kline("060102"), "");
    struct verdict v = catalyst_result("0621");
    assert_true(v.min <= v.value && v.value <= v.max);
    strcpy(rig.ecu.stored, "P0420");
    v = catalyst_result("0621");
    assert_true(v.value > v.max);
    assert_string_equal(kline("0601"), "46011100EB00C0");
    strcpy(rig.ecu.stored, "P0137"); /* all zero = not run since the codes were cleared */
    assert_string_equal(can("0621"), "46218020000000000000");
    uint8_t b[64];
    assert_int_equal(hex_bytes(can("0601"), b, sizeof b), 19);
    assert_true(b[1] == 0x01 && b[10] == 0x01); /* the number again in each record */
    two_banks(&rig.readout);
    assert_string_equal(can("0600"), "4600CC000001");
    assert_string_equal(can("0620"), "4620C0000000");
    v = catalyst_result("0622");
    assert_true(v.value <= v.max);
}

/* 49 CFR 565.15: weighted sum modulo 11, X for 10. */
static char check_digit(const char *vin)
{
    static const char letters[] = "ABCDEFGHJKLMNPRSTUVWXYZ", worth[] = "12345678123457923456789";
    static const int weight[] = {8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2};
    int sum = 0;
    for (int i = 0; i < 17; i++) {
        const char *letter = strchr(letters, vin[i]);
        assert_true(letter || (vin[i] >= '0' && vin[i] <= '9'));
        sum += weight[i] * (letter ? worth[letter - letters] - '0' : vin[i] - '0');
    }
    return "0123456789X"[sum % 11];
}

static void test_identity(void **state)
{
    (void)state;
    /* Seventeen ones: the well-known test number with the check digit 1. */
    assert_int_equal(check_digit("11111111111111111"), '1');
    assert_int_equal(strlen(rig.ecu.vin), 17);
    assert_int_equal(check_digit(rig.ecu.vin), rig.ecu.vin[8]);
    assert_int_equal(rig.ecu.vin[0], '0'); /* no world region has it (ISO 3780) */
    assert_string_equal(can("0900"), "490054400000");
    assert_string_equal(can("0902"), "490201305859"
                                     "4C4147534D3452"
                                     "30303030303033");
    assert_string_equal(can("0904"), "4904014F58594C41472053494D2043414C3100");
    assert_int_equal(strlen(can("0906")), 2 * 7);
    assert_int_equal(strlen(can("090A")), 2 * 23);
    assert_int_equal(strncmp(can("090A"), "490A0145434D002D", 16), 0); /* ECM 00 - */
    assert_string_equal(can("0901"), ""); /* message counts are for K-line */
    assert_string_equal(can("0908"), "");
    rig.ecu.vin[16] = '\0';
    assert_string_equal(can("0902"), "");
    assert_string_equal(can("0900"), "490014400000");
}

static void test_identity_on_kline(void **state)
{
    (void)state;
    assert_string_equal(kline("0900"), "490001FC000000");
    assert_string_equal(kline("0901"), "490105");
    assert_string_equal(kline("0902"), "49020100000030,49020258594C41,49020347534D34,"
                                       "49020452303030,49020530303033");
    assert_string_equal(kline("0903"), "490304");
    assert_string_equal(kline("0905"), "490501");
    assert_string_equal(kline("090A"), "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_codes, setup),
        cmocka_unit_test_setup(test_monitor_status_counts_the_codes, setup),
        cmocka_unit_test_setup(test_clearing_is_refused_and_clears_nothing, setup),
        cmocka_unit_test_setup(test_freeze_frame, setup),
        cmocka_unit_test_setup(test_monitor_results, setup),
        cmocka_unit_test_setup(test_identity, setup),
        cmocka_unit_test_setup(test_identity_on_kline, setup),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
