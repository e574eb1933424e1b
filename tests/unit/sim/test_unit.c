/* The simulated controller's bytes. Outside sources are named beside each check. */
#include <math.h>
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
    r->stft_pct[1] = 1.6;
    r->ltft_pct[1] = -0.8;
    r->front_v[1] = 0.11;
    r->rear_v[1] = 0.64;
    r->front_lambda[0] = r->front_lambda[1] = 0.98;
    r->rear_lambda[0] = r->rear_lambda[1] = 1.0;
    r->cat_temp_c[1] = 498;
    r->fuel_system[1] = 2;
}

static void test_values_of_the_tables(void **state)
{
    (void)state;
    struct oxl_readout *r = &rig.readout;
    /* ISO 15765-2's example first frame 10 0F 41 0B 21 0C 0C 38: 33 kPa, 782 rpm. */
    r->map_kpa = 33;
    r->rpm = 782;
    assert_string_equal(can("010B0C"), "410B210C0C38");
    /* SAE J1979 scalings, at the ends and in the middle. */
    r->stft_pct[0] = 0;
    assert_string_equal(can("0106"), "410680");
    r->stft_pct[0] = -100;
    assert_string_equal(can("0106"), "410600");
    r->stft_pct[0] = 25;
    assert_string_equal(can("0106"), "4106A0");
    r->ltft_pct[0] = -25;
    assert_string_equal(can("0107"), "410760");
    r->coolant_c = -40;
    assert_string_equal(can("0105"), "410500");
    r->coolant_c = 90;
    assert_string_equal(can("0105"), "410582");
    r->air_g_s = 10;
    assert_string_equal(can("0110"), "411003E8");
    r->rpm = 1726;
    assert_string_equal(can("010C"), "410C1AF8");
    r->throttle_pct = 100;
    assert_string_equal(can("0111"), "4111FF");
    r->load_pct = 50;
    assert_string_equal(can("0104"), "410480");
    r->speed_kmh = 50;
    assert_string_equal(can("010D"), "410D32");
    r->run_time_s = 1e6; /* stops at 65535 */
    assert_string_equal(can("011F"), "411FFFFF");
    assert_string_equal(can("0103"), "41030200");
    assert_string_equal(can("014F"), "414F00000000");
    assert_string_equal(can("0150"), "415000000000");
    assert_string_equal(can("0144"), "41448000");
    assert_string_equal(can("0151"), "415101");
}

static void test_values_beyond_the_range_stop_at_its_ends(void **state)
{
    (void)state;
    struct oxl_readout *r = &rig.readout;
    r->stft_pct[0] = 140;
    r->front_v[0] = 3;
    r->rear_v[0] = -0.1;
    r->air_g_s = -3;
    r->rpm = 20000;
    assert_string_equal(can("0106"), "4106FF");
    assert_string_equal(can("0114"), "4114FFFE"); /* FF would say: no trim */
    assert_string_equal(can("0115"), "411500FF");
    assert_string_equal(can("0110"), "41100000");
    assert_string_equal(can("010C"), "410CFFFF");
}

static void test_switching_sensors(void **state)
{
    (void)state;
    rig.readout.front_v[0] = 0.45;
    rig.readout.rear_v[0] = 0.8;
    rig.readout.stft_pct[0] = -10.15625;
    assert_string_equal(can("011415"), "41145A7315A0FF"); /* seven bytes: one CAN frame */
    assert_string_equal(can("0124"), "");
    assert_string_equal(can("0134"), "");
}

static void test_wide_sensors(void **state)
{
    (void)state;
    struct oxl_readout *r = &rig.readout;
    strcpy(rig.ecu.front, "wide-current");
    r->front_lambda[0] = 1;
    r->front_ma[0] = 0;
    assert_string_equal(can("0134"), "413480008000"); /* ISO 15031-5: 8000 = 0 mA */
    r->front_lambda[0] = 0.75;
    r->front_ma[0] = -1.5;
    assert_string_equal(can("0134"), "413460007E80");
    assert_string_equal(can("0114"), "");
    assert_string_equal(can("0124"), "");
    strcpy(rig.ecu.front, "wide-volts");
    r->front_wide_v[0] = 2;
    assert_string_equal(can("0124"), "412460004000");
    assert_string_equal(can("0134"), "");
    r->front_lambda[0] = 3;
    assert_int_equal(strncmp(can("0124"), "4124FFFF", 8), 0);
    r->front_lambda[0] = NAN; /* such a vehicle has no such sensor */
    assert_string_equal(can("0124"), "");
}

static void test_sensor_layouts(void **state)
{
    (void)state;
    assert_string_equal(can("0113"), "411303");
    assert_string_equal(can("011D"), "");
    two_banks(&rig.readout);
    assert_string_equal(can("0113"), "411333");
    assert_int_equal(strncmp(can("0118"), "411816", 6), 0); /* bank 2 front, 0.11 V */
    assert_string_equal(can("0116"), "");
    strcpy(rig.ecu.layout, "1D");
    assert_string_equal(can("011D"), "411D0F");
    assert_string_equal(can("0113"), "");
    assert_int_equal(strncmp(can("0116"), "411616", 6), 0);
    assert_int_equal(strncmp(can("0117"), "411780FF", 8), 0);
    assert_string_equal(can("0118"), "");
    /* COVESA VSS: 13 = 11h means PIDs 14 and 18. */
    strcpy(rig.ecu.layout, "13");
    strcpy(rig.ecu.rear, "none");
    assert_string_equal(can("0113"), "411311");
}

/* SAE J1979: bit (32 - n) of the mask of base says whether base + n is supported. */
static bool in_mask(unsigned pid)
{
    char request[8];
    uint8_t bytes[8];
    snprintf(request, sizeof request, "01%02X", (unsigned)(uint8_t)((pid - 1) / 32 * 32));
    assert_int_equal(hex_bytes(can(request), bytes, sizeof bytes), 6);
    uint32_t mask =
        (uint32_t)bytes[2] << 24 | (uint32_t)bytes[3] << 16 | (uint32_t)bytes[4] << 8 | bytes[5];
    return mask >> (32 - ((pid - 1) % 32 + 1)) & 1;
}

static unsigned count_supported(void)
{
    unsigned n = 0;
    for (unsigned pid = 1; pid <= 0x60; pid++) {
        char request[8];
        snprintf(request, sizeof request, "01%02X", pid);
        bool answered = can(request)[0] != '\0';
        assert_int_equal(in_mask(pid), answered);
        n += answered;
    }
    return n;
}

static void test_masks_agree_with_answers(void **state)
{
    (void)state;
    static const char *const kinds[] = {"switching", "wide-volts", "wide-current", "none"};
    for (unsigned i = 0; i < 256; i++) {
        rig_defaults(&rig);
        if (i & 1)
            two_banks(&rig.readout);
        rig.readout.front_lambda[0] = rig.readout.rear_lambda[0] = 1;
        strcpy(rig.ecu.front, kinds[i >> 1 & 3]);
        strcpy(rig.ecu.rear, kinds[i >> 3 & 3]);
        strcpy(rig.ecu.layout, i & 32 ? "1D" : "13");
        rig.ecu.has_air = i & 64;
        rig.ecu.has_map = rig.ecu.has_cat_temp = rig.ecu.has_ltft = i & 128;
        assert_true(count_supported() >= 14);
    }
    rig_defaults(&rig);
    assert_string_equal(can("0100"), "4100BE3BB813");
    assert_string_equal(can("0120"), "412000000001");
    assert_string_equal(can("0140"), "414090038000");
    assert_string_equal(can("0160"), "");
    rig.ecu.has_air = false;
    assert_string_equal(can("0110"), "");
}

static void test_several_items_in_a_request(void **state)
{
    (void)state;
    rig.readout.rpm = 782;
    rig.readout.speed_kmh = 7;
    assert_string_equal(can("010D5D0C5E"), "410D070C0C38"); /* as asked, unknown ones left out */
    assert_string_equal(can("015D5E"), "");
    assert_string_equal(can("010C0D0C0D0C0D"), "410C0C380D070C0C380D070C0C380D07");
    assert_string_equal(can("010C0D0C0D0C0D0C"), ""); /* ISO 15031-5: six at most */
    assert_string_equal(can("01"), "");
    assert_string_equal(kline("010C"), "410C0C38");
    assert_string_equal(kline("010C0D"), ""); /* one on K-line */
    rig.ecu.multi_pid = false;
    assert_string_equal(can("010C0D"), "");
    assert_string_equal(can("010D"), "410D07");
}

static void test_second_unit(void **state)
{
    (void)state;
    rig.ecu.second_ecu = true;
    rig.readout.speed_kmh = 7;
    assert_string_equal(can("0100"), "4100BE3BB813,7E9:410080080000");
    assert_string_equal(can("010D"), "410D07,7E9:410D07");
    assert_string_equal(can("010C0D"), "410C0B990D07,7E9:410D07");
    assert_string_equal(can("0101"), "410100076100,7E9:410100040000");
    assert_string_equal(can("03"), "4300,7E9:4300");
    assert_string_equal(can("010C"), "410C0B99");
    assert_string_equal(kline("0100"), "4100BE3BB813,18:410080080000");
    assert_string_equal(can("015D"), "");
}

static void test_silence(void **state)
{
    (void)state;
    static const char *const unknown[] = {"05", "0501", "08", "0800", "10",   "22F190",
                                          "3E", "3E00", "81", "0300", "0A00", "FF"};
    for (size_t i = 0; i < sizeof unknown / sizeof unknown[0]; i++) {
        assert_string_equal(can(unknown[i]), "");
        assert_string_equal(kline(unknown[i]), "");
    }
    rig.ecu.answers = false;
    rig.ecu.second_ecu = true;
    assert_string_equal(can("0100"), "");
    assert_string_equal(can("04"), "");
}

/* Unknown is a value: a vehicle whose readout knows nothing offers nothing measured. */
static void test_unknown_values_are_not_offered(void **state)
{
    (void)state;
    rig_quiet(&rig.readout);
    rig.ecu.has_cat_temp = true;
    static const char *const pids[] = {"04", "05", "06", "07", "08", "09", "0B", "0C", "0D", "0F",
                                       "10", "11", "14", "15", "1F", "24", "34", "3C", "3D"};
    for (size_t i = 0; i < sizeof pids / sizeof pids[0]; i++) {
        char request[8];
        snprintf(request, sizeof request, "01%s", pids[i]);
        assert_string_equal(can(request), "");
    }
    assert_string_equal(can("0113"), "411300");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_values_of_the_tables, setup),
        cmocka_unit_test_setup(test_values_beyond_the_range_stop_at_its_ends, setup),
        cmocka_unit_test_setup(test_switching_sensors, setup),
        cmocka_unit_test_setup(test_wide_sensors, setup),
        cmocka_unit_test_setup(test_sensor_layouts, setup),
        cmocka_unit_test_setup(test_masks_agree_with_answers, setup),
        cmocka_unit_test_setup(test_several_items_in_a_request, setup),
        cmocka_unit_test_setup(test_second_unit, setup),
        cmocka_unit_test_setup(test_silence, setup),
        cmocka_unit_test_setup(test_unknown_values_are_not_offered, setup),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
