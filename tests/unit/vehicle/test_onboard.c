/* Service 02, 06 and 09: against what other programs and published texts give (tests/data/
 * onboard_vectors.csv and onboard_scales.csv, which name each source), and the forms of K-line. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "help_vehicle.h"
#include "oxylag/onboard.h"

static const struct oxl_decoding nothing_known;

/* ---- the files ---- */

static char *field(char **rest, char end)
{
    char *start = *rest, *at = start ? strchr(start, end) : NULL;
    if (at)
        *at++ = '\0';
    *rest = at;
    return start;
}

/* scapy prints its steps, and the ends of the ranges, rounded: 0.12 % of the value. */
static void near(const char *id, const char *what, double got, double want)
{
    double tolerance = fmax(1e-9, fabs(want) * 1.2e-3);
    if (!(fabs(got - want) <= tolerance))
        fail_msg("%s: %s is %.9g, expected %.9g", id, what, got, want);
}

static void check_monitor(const char *id, const char *payload, char *expected)
{
    struct help_message h;
    struct oxl_monitor_result got[4];
    bool clean;
    help_message(&h, payload);
    size_t n = oxl_decode_monitor(&h.m, true, got, 4, &clean), i = 0;
    assert_true(clean);
    for (char *rec; expected && (rec = field(&expected, ';')); i++) {
        unsigned mid, tid, scale;
        double value, min, max;
        char unit[16];
        assert_int_equal(sscanf(rec, " %x/%x/%x/%lf/%lf/%lf/%15[^;]", &mid, &tid, &scale, &value,
                                &min, &max, unit),
                         7);
        assert_true(i < n);
        struct oxl_scale s;
        assert_int_equal(got[i].monitor, mid);
        assert_int_equal(got[i].test, tid);
        assert_int_equal(got[i].scale, scale);
        assert_true(oxl_scale_of(got[i].scale, &s));
        assert_string_equal(s.unit[0] ? s.unit : "-", unit);
        near(id, "value", oxl_scaled(got[i].scale, got[i].value), value);
        near(id, "min", oxl_scaled(got[i].scale, got[i].min), min);
        near(id, "max", oxl_scaled(got[i].scale, got[i].max), max);
        bool zero = value == 0 && min == 0 && max == 0;
        assert_int_equal(oxl_monitor_verdict(&got[i]), zero ? OXL_MONITOR_NOT_RUN
                                                       : value >= min && value <= max
                                                           ? OXL_MONITOR_PASSED
                                                           : OXL_MONITOR_FAILED);
    }
    assert_int_equal(i, n);
}

static void check_masks(const char *id, const char *payload, char *expected)
{
    (void)id;
    struct help_message h;
    struct oxl_support s = {{0}};
    char text[256] = "";
    help_message(&h, payload);
    assert_true(oxl_decode_monitor_mask(&h.m, true, &s));
    for (unsigned i = 0; i < 256; i++)
        if (oxl_supports(&s, (uint8_t)i))
            snprintf(text + strlen(text), sizeof text - strlen(text), "%s%02X", text[0] ? " " : "",
                     i);
    assert_string_equal(text, expected);
}

static void check_frozen(const char *id, const char *payload, char *expected)
{
    (void)id;
    struct help_message h;
    uint16_t code = 0xFFFF;
    char text[6] = "none";
    help_message(&h, payload);
    assert_true(oxl_decode_frozen_code(&h.m, &code));
    if (code)
        oxl_code_text(code, text);
    assert_string_equal(text, expected);
}

static void check_frozen_value(const char *id, const char *payload, char *expected)
{
    struct help_message h;
    struct oxl_sample out[4];
    bool clean;
    char name[32];
    help_message(&h, payload);
    assert_int_equal(oxl_decode_frozen(&h.m, &nothing_known, out, 4, &clean), 1);
    assert_true(clean);
    oxl_channel_name(out[0].channel, name, sizeof name);
    assert_string_equal(name, field(&expected, '='));
    near(id, name, out[0].value, atof(expected));
}

static void check_calibrations(const char *id, const char *payload, char *expected)
{
    (void)id;
    struct help_message h;
    struct oxl_info info = {.len = 0};
    char out[OXL_MAX_CALIBRATIONS][17], text[128] = "";
    help_message(&h, payload);
    assert_true(oxl_decode_info(&h.m, true, 0x04, &info));
    size_t n = oxl_info_calibrations(&info, out);
    for (size_t i = 0; i < n; i++)
        snprintf(text + strlen(text), sizeof text - strlen(text), "%s%s", i ? " " : "", out[i]);
    assert_string_equal(text, expected);
}

static void check_verifications(const char *id, const char *payload, char *expected)
{
    (void)id;
    struct help_message h;
    struct oxl_info info = {.len = 0};
    uint32_t out[OXL_MAX_CALIBRATIONS];
    help_message(&h, payload);
    assert_true(oxl_decode_info(&h.m, true, 0x06, &info));
    assert_int_equal(oxl_info_verifications(&info, out), 1);
    assert_int_equal(out[0], strtoul(expected, NULL, 16));
}

static void check_name(const char *id, const char *payload, char *expected)
{
    (void)id;
    struct help_message h;
    struct oxl_info info = {.len = 0};
    char out[24];
    help_message(&h, payload);
    assert_true(oxl_decode_info(&h.m, true, 0x0A, &info));
    oxl_info_name(&info, out);
    assert_string_equal(out, expected);
}

static const struct {
    const char *kind;
    void (*check)(const char *id, const char *payload, char *expected);
    unsigned least;
} kinds[] = {{"monitor", check_monitor, 14},
             {"masks", check_masks, 2},
             {"frozen", check_frozen, 4},
             {"frozen-value", check_frozen_value, 1},
             {"calibrations", check_calibrations, 2},
             {"verifications", check_verifications, 1},
             {"name", check_name, 2}};
enum { KINDS = sizeof kinds / sizeof *kinds };

static void vectors(void **state)
{
    (void)state;
    char line[512];
    unsigned done[KINDS] = {0};
    FILE *f = fopen(OXL_TEST_DATA "/onboard_vectors.csv", "r");
    assert_non_null(f);
    while (fgets(line, sizeof line, f)) {
        if (line[0] == '#')
            continue;
        char *rest = line;
        char *id = field(&rest, '|'), *kind = field(&rest, '|'), *payload = field(&rest, '|');
        char *expected = field(&rest, '|');
        unsigned k = 0;
        while (k < KINDS && strcmp(kinds[k].kind, kind))
            k++;
        if (k == KINDS)
            fail_msg("%s: no such kind of row: %s", id, kind);
        kinds[k].check(id, payload, expected);
        done[k]++;
    }
    fclose(f);
    for (unsigned k = 0; k < KINDS; k++)
        assert_true(done[k] >= kinds[k].least);
}

static void scales(void **state)
{
    (void)state;
    char line[256];
    unsigned rows = 0;
    bool listed[256] = {false};
    FILE *f = fopen(OXL_TEST_DATA "/onboard_scales.csv", "r");
    assert_non_null(f);
    while (fgets(line, sizeof line, f)) {
        if (line[0] == '#')
            continue;
        unsigned id, is_signed;
        char unit[16];
        double step, offset, min, max;
        struct oxl_scale s;
        assert_int_equal(sscanf(line, "%x|%15[^|]|%lf|%lf|%u|%lf|%lf", &id, unit, &step, &offset,
                                &is_signed, &min, &max),
                         7);
        if (!oxl_scale_of((uint8_t)id, &s))
            fail_msg("scale %02X is not known here", id);
        assert_string_equal(s.unit[0] ? s.unit : "-", unit);
        assert_int_equal(s.is_signed, is_signed);
        near(line, "step", s.step, step);
        near(line, "offset", s.offset, offset);
        near(line, "lowest", oxl_scaled((uint8_t)id, is_signed ? 0x8000 : 0x0000), min);
        near(line, "highest", oxl_scaled((uint8_t)id, is_signed ? 0x7FFF : 0xFFFF), max);
        listed[id] = true;
        rows++;
    }
    fclose(f);
    assert_true(rows >= 77);
    /* And no other: what is not in the file has no scale. */
    for (unsigned id = 0; id < 256; id++)
        assert_int_equal(isfinite(oxl_scaled((uint8_t)id, 1)), listed[id]);
}

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
        {0x21, 0xA9, "Catalyst, bank 1", "Maker's test A9"},
        {0x24, 0x01, "Catalyst, bank 4", "Test 01"}, /* no sensor: 01 means nothing there */
        {0x42, 0x90, "Oxygen sensor heater, bank 1 sensor 2", "Maker's test 90"},
        {0xA5, 0x0B, "Misfire, cylinder 4", "Misfires, mean of earlier driving cycles"},
        {0xE5, 0x80, "Monitor E5", "Maker's test 80"},
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

/* ---- frozen values and identity ---- */

static void frozen_values(void **state)
{
    (void)state;
    struct help_message h;
    struct oxl_sample out[8];
    bool clean;
    help_message(&h, "42 0C 00 1F40 05 00 82");
    assert_int_equal(oxl_decode_frozen(&h.m, &nothing_known, out, 8, &clean), 2);
    assert_true(clean);
    assert_near(out[0].value, 2000, 1e-9);
    assert_near(out[1].value, 90, 1e-9);
    assert_int_equal(oxl_decode_frozen(&h.m, &nothing_known, out, 1, &clean), 1);
    help_message(&h, "42 06 00 81 90"); /* two banks' trims in one item */
    assert_int_equal(oxl_decode_frozen(&h.m, &nothing_known, out, 8, &clean), 2);
    help_message(&h, "42 0C 01 1F40"); /* another frame */
    assert_int_equal(oxl_decode_frozen(&h.m, &nothing_known, out, 8, &clean), 0);
    assert_false(clean);
    help_message(&h, "42 0C 00 1F"); /* cut off */
    assert_int_equal(oxl_decode_frozen(&h.m, &nothing_known, out, 8, &clean), 0);
    assert_false(clean);
    help_message(&h, "42 0C 00 1F40 68 00 1111"); /* an item of unknown length */
    assert_int_equal(oxl_decode_frozen(&h.m, &nothing_known, out, 8, &clean), 1);
    assert_false(clean);
}

/* K-line: numbered messages of four bytes; nothing before the gap is closed. */
static void kline_info(void **state)
{
    (void)state;
    static const char *const parts[] = {"49 04 01 54455354", "49 04 03 2D303030",
                                        "49 04 04 30303031", "49 04 02 43414C31"};
    struct oxl_info info = {.len = 0};
    struct help_message h;
    char out[OXL_MAX_CALIBRATIONS][17];
    for (unsigned i = 0; i < 4; i++) {
        assert_int_equal(oxl_info_calibrations(&info, out), 0);
        help_message(&h, parts[i]);
        assert_true(oxl_decode_info(&h.m, false, 0x04, &info));
    }
    assert_int_equal(oxl_info_calibrations(&info, out), 1);
    assert_string_equal(out[0], "TESTCAL1-0000001");
    help_message(&h, "49 04 21 30303031"); /* part 33 */
    assert_false(oxl_decode_info(&h.m, false, 0x04, &info));
    help_message(&h, "49 04 00 30303031");
    assert_false(oxl_decode_info(&h.m, false, 0x04, &info));
    assert_false(oxl_decode_info(&h.m, false, 0x06, &info));
    /* Nothing of a unit may steer a terminal. */
    struct oxl_info evil = {.bytes = "A\x1B[2J\x07", .len = 16};
    assert_int_equal(oxl_info_calibrations(&evil, out), 1);
    assert_string_equal(out[0], "A?[2J?");
}

/* ---- codes ---- */

static void code_words(void **state)
{
    (void)state;
    /* Numbers and subjects by SAE J2012, from memory. */
    struct {
        unsigned code, bank;
        const char *family, *words;
    } rows[] = {
        {0x0420, 1, "catalyst", "Catalyst efficiency below its threshold, bank 1"},
        {0x0430, 2, "catalyst", "Catalyst efficiency below its threshold, bank 2"},
        {0x0130, 1, "front-sensor", "Circuit, bank 1 sensor 1"},
        {0x0133, 1, "front-sensor", "Slow response, bank 1 sensor 1"},
        {0x0135, 1, "heater", "Heater circuit, bank 1 sensor 1"},
        {0x0139, 1, "rear-sensor", "Slow response, bank 1 sensor 2"},
        {0x0140, 1, "rear-sensor", "No activity, bank 1 sensor 2"},
        {0x0141, 1, "heater", "Heater circuit, bank 1 sensor 2"},
        {0x0155, 2, "heater", "Heater circuit, bank 2 sensor 1"},
        {0x0161, 2, "heater", "Heater circuit, bank 2 sensor 2"},
        {0x013A, 1, "rear-sensor", "Slow response rich to lean, bank 1 sensor 2"},
        {0x0148, 0, "other", "Powertrain code: see the maker's list"},
        {0x0171, 1, "fuel-trim", "System too lean, bank 1"},
        {0x0304, 0, "misfire", "Misfire, cylinder 4"},
        {0x0312, 0, "misfire", "Misfire, cylinder 12"},
        {0x030A, 0, "other", "Powertrain code: see the maker's list"},
        {0x0102, 0, "air-metering", "Mass or volume air flow, circuit or range"},
        {0x0118, 0, "coolant", "Coolant temperature, circuit or range"},
        {0x0128, 0, "thermostat", "Coolant stays below the thermostat's temperature"},
        {0x0411, 0, "secondary-air", "Secondary air injection"},
        {0x0441, 0, "purge", "Purge flow is not what it should be"},
        {0x2096, 1, "rear-trim", "Too lean behind the catalyst, bank 1"},
        {0x0040, 0, "sensors-swapped", "Front sensors swapped between the banks"},
        {0x1420, 0, "other", "Powertrain code of the maker: see the maker's list"},
        {0x4123, 0, "other", "Chassis code: see the maker's list"},
        {0xC158, 0, "other", "Network code: see the maker's list"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[64];
        oxl_code_words((uint16_t)rows[i].code, text, sizeof text);
        assert_string_equal(text, rows[i].words);
        assert_string_equal(oxl_code_family((uint16_t)rows[i].code)->id, rows[i].family);
        assert_int_equal(oxl_code_bank((uint16_t)rows[i].code), rows[i].bank);
    }
}

/* Whatever the code: words that fit a line, and something to do where it bears on the test. */
static void every_code_is_spoken_of(void **state)
{
    (void)state;
    for (unsigned code = 1; code < 0x10000; code++) {
        char text[64];
        const struct oxl_code_family *f = oxl_code_family((uint16_t)code);
        oxl_code_words((uint16_t)code, text, sizeof text);
        assert_true(strlen(text) > 5 && strlen(text) < sizeof text - 1);
        assert_int_equal(f->effect[0] != 0, f->weight != OXL_CODE_NEUTRAL);
        assert_int_equal(f->next[0] != 0, f->weight != OXL_CODE_NEUTRAL);
        assert_true(oxl_code_bank((uint16_t)code) <= 2);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vectors),
        cmocka_unit_test(scales),
        cmocka_unit_test(verdicts),
        cmocka_unit_test(margins),
        cmocka_unit_test(kline_results),
        cmocka_unit_test(bad_results),
        cmocka_unit_test(titles),
        cmocka_unit_test(frozen_values),
        cmocka_unit_test(kline_info),
        cmocka_unit_test(code_words),
        cmocka_unit_test(every_code_is_spoken_of),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
