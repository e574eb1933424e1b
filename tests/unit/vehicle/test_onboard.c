/* Service 02, 06 and 09: against what other programs and published texts give (tests/data/
 * onboard_vectors.csv and onboard_scales.csv, which name each source), and their form on K-line. */
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

/* What a raw number is by a scale; NAN where the scale is not known. */
static double scaled(uint8_t id, uint16_t raw)
{
    struct oxl_scale s;
    if (!oxl_scale_of(id, &s))
        return NAN;
    return (s.is_signed ? (int16_t)raw : raw) * s.step + s.offset;
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
        near(id, "value", scaled(got[i].scale, got[i].value), value);
        near(id, "min", scaled(got[i].scale, got[i].min), min);
        near(id, "max", scaled(got[i].scale, got[i].max), max);
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
    assert_true(oxl_decode_freeze_frame_dtc(&h.m, &code));
    if (code)
        oxl_dtc_text(code, text);
    assert_string_equal(text, expected);
}

static void check_frozen_value(const char *id, const char *payload, char *expected)
{
    struct help_message h;
    struct oxl_sample out[4];
    bool clean;
    char name[32];
    help_message(&h, payload);
    assert_int_equal(oxl_decode_freeze_frame(&h.m, &nothing_known, out, 4, &clean), 1);
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
        near(line, "lowest", scaled((uint8_t)id, is_signed ? 0x8000 : 0x0000), min);
        near(line, "highest", scaled((uint8_t)id, is_signed ? 0x7FFF : 0xFFFF), max);
        listed[id] = true;
        rows++;
    }
    fclose(f);
    assert_true(rows >= 77);
    /* And no other: what is not in the file has no scale. */
    for (unsigned id = 0; id < 256; id++)
        assert_int_equal(isfinite(scaled((uint8_t)id, 1)), listed[id]);
}

/* ---- frozen values and identity ---- */

static void frozen_values(void **state)
{
    (void)state;
    struct help_message h;
    struct oxl_sample out[8];
    bool clean;
    help_message(&h, "42 0C 00 1F40 05 00 82");
    assert_int_equal(oxl_decode_freeze_frame(&h.m, &nothing_known, out, 8, &clean), 2);
    assert_true(clean);
    assert_near(out[0].value, 2000, 1e-9);
    assert_near(out[1].value, 90, 1e-9);
    assert_int_equal(oxl_decode_freeze_frame(&h.m, &nothing_known, out, 1, &clean), 1);
    help_message(&h, "42 06 00 81 90"); /* two banks' trims in one PID */
    assert_int_equal(oxl_decode_freeze_frame(&h.m, &nothing_known, out, 8, &clean), 2);
    help_message(&h, "42 0C 01 1F40"); /* another frame */
    assert_int_equal(oxl_decode_freeze_frame(&h.m, &nothing_known, out, 8, &clean), 0);
    assert_false(clean);
    help_message(&h, "42 0C 00 1F"); /* cut off */
    assert_int_equal(oxl_decode_freeze_frame(&h.m, &nothing_known, out, 8, &clean), 0);
    assert_false(clean);
    help_message(&h, "42 0C 00 1F40 68 00 1111"); /* an PID of unknown length */
    assert_int_equal(oxl_decode_freeze_frame(&h.m, &nothing_known, out, 8, &clean), 1);
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
    struct oxl_info padded = {.bytes = "CAL 1           ", .len = 16};
    assert_int_equal(oxl_info_calibrations(&padded, out), 1);
    assert_string_equal(out[0], "CAL 1");
}

/* Of a limit of 0 there is no share: how far beyond it is stays unknown. By component, in counts.
 */
static void a_limit_of_nothing_has_no_margin(void **state)
{
    const struct oxl_monitor_result r = {
        .form = OXL_LIMIT_MAX, .test = 0x03, .component = 0x01, .value = 256};
    struct oxl_monitor_figures f = oxl_monitor_figures(&r);
    (void)state;
    assert_int_equal(oxl_monitor_verdict(&r), OXL_MONITOR_FAILED);
    assert_true(f.margin == -256);
    assert_true(isnan(f.margin_pct));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vectors),       cmocka_unit_test(scales),
        cmocka_unit_test(frozen_values), cmocka_unit_test(a_limit_of_nothing_has_no_margin),
        cmocka_unit_test(kline_info),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
