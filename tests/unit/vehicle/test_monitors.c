/* Results of monitors (service 06): verdict, margin, titles, the form of K-line. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_vehicle.h"
#include "oxylag/onboard.h"

/* ---- verdict and margin ---- */

static struct oxl_monitor_result can_result(uint8_t scale, unsigned value, unsigned min,
                                            unsigned max)
{
    return (struct oxl_monitor_result){.monitor = 0x21,
                                       .test = 0x80,
                                       .scale = scale,
                                       .value = (uint16_t)value,
                                       .min = (uint16_t)min,
                                       .max = (uint16_t)max};
}

/* ISO 15031-5: both limits belong to the passing range; compared with their sign. */
static void verdicts(void **state)
{
    (void)state;
    struct {
        uint8_t scale;
        unsigned value, min, max;
        enum oxl_monitor_verdict want;
    } rows[] = {
        {0x01, 5, 5, 9, OXL_MONITOR_PASSED},
        {0x01, 9, 5, 9, OXL_MONITOR_PASSED},
        {0x01, 4, 5, 9, OXL_MONITOR_FAILED},
        {0x01, 10, 5, 9, OXL_MONITOR_FAILED},
        {0x01, 0xFFFF, 0, 0xFFFF, OXL_MONITOR_PASSED},
        {0x81, 0xFFFF, 0xFFFE, 0x0001, OXL_MONITOR_PASSED}, /* -1 in -2..1 */
        {0x81, 0x7FFF, 0xFFFE, 0x0001, OXL_MONITOR_FAILED},
        {0x01, 7, 9, 5, OXL_MONITOR_UNKNOWN}, /* limits the wrong way round */
        {0x01, 0, 0, 0, OXL_MONITOR_NOT_RUN},
        {0x81, 0, 0, 0, OXL_MONITOR_NOT_RUN},
        {0x55, 0, 0, 0, OXL_MONITOR_NOT_RUN},
        {0x55, 5, 1, 9, OXL_MONITOR_UNKNOWN}, /* no such scale */
        {0x3A, 5, 1, 9, OXL_MONITOR_UNKNOWN}, /* known by hearsay only */
        {0xFF, 5, 1, 9, OXL_MONITOR_UNKNOWN},
        {0x00, 5, 1, 9, OXL_MONITOR_UNKNOWN},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct oxl_monitor_result r =
            can_result(rows[i].scale, rows[i].value, rows[i].min, rows[i].max);
        if (oxl_monitor_verdict(&r) != rows[i].want)
            fail_msg("row %zu: %s", i, oxl_monitor_verdict_name(oxl_monitor_verdict(&r)));
    }
}

static void margins(void **state)
{
    (void)state;
    /* 0.8 V in 0.6..1.2 V: 0.2 V to the nearer limit, a third of the span. */
    struct oxl_monitor_result r = can_result(0x0B, 800, 600, 1200);
    struct oxl_monitor_figures f = oxl_monitor_figures(&r);
    assert_near(f.value, 0.8, 1e-9);
    assert_near(f.margin, 0.2, 1e-9);
    assert_near(f.margin_pct, 100.0 / 3, 1e-6);
    assert_string_equal(f.unit, "V");
    /* The end of the range is no limit: a quarter below a maximum of 192/256. */
    r = can_result(0x20, 144, 0, 192);
    f = oxl_monitor_figures(&r);
    assert_true(isnan(f.min));
    assert_near(f.max, 0.75, 1e-9);
    assert_near(f.margin_pct, 25, 1e-9);
    r = can_result(0x20, 240, 0, 192);
    assert_near(oxl_monitor_figures(&r).margin_pct, -25, 1e-9);
    r = can_result(0x01, 610, 250, 0xFFFF);
    f = oxl_monitor_figures(&r);
    assert_true(isnan(f.max));
    assert_near(f.margin, 360, 1e-9);
    r = can_result(0x81, 5, 0x8000, 0x7FFF); /* no limit at all */
    f = oxl_monitor_figures(&r);
    assert_true(isnan(f.margin) && isnan(f.margin_pct));
    assert_near(f.value, 5, 1e-9);
    r = can_result(0x55, 5, 1, 9);
    assert_true(isnan(oxl_monitor_figures(&r).value));
    r = can_result(0x01, 0, 0, 0); /* zeros that stand for nothing are no numbers */
    assert_true(isnan(oxl_monitor_figures(&r).value));
}

/* ---- K-line: the form of a vehicle maker's manual (TLT 0: fault when above, 1: when below) ----
 */

static void kline_results(void **state)
{
    (void)state;
    struct help_message h;
    struct oxl_monitor_result r;
    bool clean;
    help_message(&h, "46 01 11 0033 00C0");
    assert_int_equal(oxl_decode_monitor(&h.m, false, &r, 1, &clean), 1);
    assert_true(clean);
    assert_int_equal(r.form, OXL_LIMIT_MAX);
    assert_int_equal(r.test, 0x01);
    assert_int_equal(r.component, 0x11);
    assert_int_equal(oxl_monitor_verdict(&r), OXL_MONITOR_PASSED);
    r.value = 0xC1;
    assert_int_equal(oxl_monitor_verdict(&r), OXL_MONITOR_FAILED);
    help_message(&h, "46 02 A1 009C 0082"); /* at least 82h */
    assert_int_equal(oxl_decode_monitor(&h.m, false, &r, 1, &clean), 1);
    assert_int_equal(r.form, OXL_LIMIT_MIN);
    assert_int_equal(r.component, 0x21);
    assert_int_equal(oxl_monitor_verdict(&r), OXL_MONITOR_PASSED);
    assert_near(oxl_monitor_figures(&r).margin, 0x9C - 0x82, 1e-9);
    r.value = 0x81;
    assert_int_equal(oxl_monitor_verdict(&r), OXL_MONITOR_FAILED);
    help_message(&h, "46 02 A1 0000 0000");
    assert_int_equal(oxl_decode_monitor(&h.m, false, &r, 1, &clean), 1);
    assert_int_equal(oxl_monitor_verdict(&r), OXL_MONITOR_NOT_RUN);
    /* One byte short or long, or a mask: nothing. */
    help_message(&h, "46 02 A1 009C 00");
    assert_int_equal(oxl_decode_monitor(&h.m, false, &r, 1, &clean), 0);
    assert_false(clean);
    help_message(&h, "46 00 FF C0000000");
    assert_int_equal(oxl_decode_monitor(&h.m, false, &r, 1, &clean), 0);
    struct oxl_support s = {{0}};
    assert_true(oxl_decode_monitor_mask(&h.m, false, &s));
    assert_true(oxl_supports(&s, 1) && oxl_supports(&s, 2) && !oxl_supports(&s, 3));
}

static void bad_masks(void **state)
{
    (void)state;
    static const struct {
        const char *hex;
        bool can;
    } bad[] = {{"46 00 C00000", true},         {"45 00 C0000000", true},
               {"46 01 C0000000", true},       {"46 00 C0000000", false},
               {"46 00 FF C000000000", false}, {"46 21 FF C0000000", false}};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct help_message h;
        struct oxl_support s = {{0}};
        help_message(&h, bad[i].hex);
        if (oxl_decode_monitor_mask(&h.m, bad[i].can, &s))
            fail_msg("%s was taken for a mask", bad[i].hex);
    }
}

/* 0B and 0C mean misfires only of the misfire monitors. */
static void titles_of_misfire_tests(void **state)
{
    (void)state;
    char title[80];
    struct oxl_monitor_result r = {.monitor = 0xA2, .test = 0x0B, .form = OXL_LIMITS_BOTH};
    oxl_test_title(&r, title, sizeof title);
    assert_string_equal(title, "Misfires, mean of earlier driving cycles");
    r.test = 0x0C;
    oxl_test_title(&r, title, sizeof title);
    assert_string_equal(title, "Misfires, last or present driving cycle");
    r.test = 0x0D;
    oxl_test_title(&r, title, sizeof title);
    assert_string_equal(title, "Test 0D");
    r = (struct oxl_monitor_result){.monitor = 0x31, .test = 0x0B, .form = OXL_LIMITS_BOTH};
    oxl_test_title(&r, title, sizeof title);
    assert_string_equal(title, "Test 0B");
}

/* Outside CAN a result is a count without a unit, beside one limit (SAE J1979, from memory). */
static void a_count_is_a_plain_number(void **state)
{
    (void)state;
    struct oxl_monitor_result r = {.form = OXL_LIMIT_MAX, .value = 300, .min = 0, .max = 512};
    struct oxl_monitor_figures f = oxl_monitor_figures(&r);
    assert_true(f.value == 300 && f.max == 512 && isnan(f.min) && f.margin == 212);
    assert_string_equal(f.unit, "");
}

static void bad_results(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "46", "4621", "462180", "4621802000330000", "4121802000330000", "46208000000000000000"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct help_message h;
        struct oxl_monitor_result r;
        bool clean;
        help_message(&h, bad[i]);
        assert_int_equal(oxl_decode_monitor(&h.m, true, &r, 1, &clean), 0);
        assert_false(clean);
    }
    /* A whole record, then half of one. */
    struct help_message h;
    struct oxl_monitor_result r[2];
    bool clean;
    help_message(&h, "46 21 80 20 0033 0000 00C0 21 81 20");
    assert_int_equal(oxl_decode_monitor(&h.m, true, r, 2, &clean), 1);
    assert_false(clean);
    h.m.bad_checksum = true;
    assert_int_equal(oxl_decode_monitor(&h.m, true, r, 2, &clean), 0);
}

static void titles(void **state)
{
    (void)state;
    struct {
        unsigned monitor, test;
        const char *title, *words;
    } rows[] = {
        {0x01, 0x05, "Oxygen sensor, bank 1 sensor 1", "Switch time rich to lean"},
        {0x06, 0x07, "Oxygen sensor, bank 2 sensor 2", "Sensor voltage, lowest"},
        {0x21, 0xA9, "Catalyst, bank 1", "Manufacturer's test A9"},
        {0x24, 0x01, "Catalyst, bank 4", "Test 01"}, /* no sensor: 01 means nothing there */
        {0x42, 0x90, "Oxygen sensor heater, bank 1 sensor 2", "Manufacturer's test 90"},
        {0x72, 0x80, "Secondary air 2", "Manufacturer's test 80"},
        {0x3D, 0x80, "Purge flow", "Manufacturer's test 80"},
        {0xA5, 0x0B, "Misfire, cylinder 4", "Misfires, mean of earlier driving cycles"},
        {0xE5, 0x80, "Monitor E5", "Manufacturer's test 80"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct oxl_monitor_result r = {.monitor = (uint8_t)rows[i].monitor,
                                       .test = (uint8_t)rows[i].test};
        char text[64];
        oxl_monitor_title(&r, text, sizeof text);
        assert_string_equal(text, rows[i].title);
        oxl_test_title(&r, text, sizeof text);
        assert_string_equal(text, rows[i].words);
    }
    assert_int_equal(oxl_monitor_bank(0x22), 2);
    assert_int_equal(oxl_monitor_bank(0x05), 2);
    assert_int_equal(oxl_monitor_bank(0xA2), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(verdicts),
        cmocka_unit_test(margins),
        cmocka_unit_test(kline_results),
        cmocka_unit_test(bad_masks),
        cmocka_unit_test(titles_of_misfire_tests),
        cmocka_unit_test(a_count_is_a_plain_number),
        cmocka_unit_test(bad_results),
        cmocka_unit_test(titles),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
