/* Outside check: answers and meanings that other programs and published texts give
 * (tests/data/vehicle_vectors.csv, whose last column names each source). */
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

struct row {
    char *id, *kind, *payload, *expected;
};

static const struct oxl_decoding nothing_known;

static void check_live(const struct row *r)
{
    struct help_samples got = help_decode(r->payload, &nothing_known);
    size_t wanted = 0;
    if (!got.clean)
        fail_msg("%s %s: not clean", r->id, r->payload);
    char *rest = r->expected;
    for (char *part; strcmp(r->expected, "none") && (part = strtok_r(rest, ";", &rest));) {
        char name[48];
        double value;
        assert_int_equal(sscanf(part, " %47[^=]=%lf", name, &value), 2);
        double ours = help_value(&got, name);
        if (!(fabs(ours - value) <= 1e-6))
            fail_msg("%s %s: %s is %.9g here, expected %.9g", r->id, r->payload, name, ours, value);
        wanted++;
    }
    if (got.n != wanted)
        fail_msg("%s %s: %zu samples, expected %zu", r->id, r->payload, got.n, wanted);
}

static void check_masks(const struct row *r)
{
    struct help_message h;
    struct oxl_support s = {{0}};
    char text[32 * 3 * 8] = "";
    size_t len;
    help_message(&h, r->payload);
    for (unsigned mask = 0; mask <= 0x60; mask += 0x20) {
        const uint8_t *bytes = oxl_find_pid(&h.m, &nothing_known, (uint8_t)mask, &len);
        if (bytes) {
            assert_int_equal(len, 4);
            oxl_support_add(&s, (uint8_t)mask, bytes);
        }
    }
    for (unsigned pid = 0; pid < 256; pid++)
        if (oxl_supports(&s, (uint8_t)pid))
            snprintf(text + strlen(text), sizeof text - strlen(text), "%s%02X", text[0] ? " " : "",
                     pid);
    assert_string_equal(text, r->expected);
}

static void check_layout(const struct row *r)
{
    struct help_message h;
    char text[80] = "";
    help_message(&h, r->payload);
    enum oxl_layout_kind kind = h.bytes[1] == 0x13 ? OXL_LAYOUT_13 : OXL_LAYOUT_1D;
    for (unsigned bit = 0; bit < 8; bit++) {
        if (!(h.bytes[2] >> bit & 1))
            continue;
        struct oxl_channel c = oxl_sensor_channel((uint8_t)(0x14 + bit), kind);
        snprintf(text + strlen(text), sizeof text - strlen(text), "%sB%uS%u", text[0] ? " " : "",
                 (unsigned)c.bank, (unsigned)c.sensor);
    }
    assert_string_equal(text[0] ? text : "none", r->expected);
}

/* The words after "key=" up to ';', each with a space before and behind it. */
static void words_of(const char *text, const char *key, char out[256])
{
    const char *at = strstr(text, key);
    assert_non_null(at);
    at += strlen(key);
    snprintf(out, 256, " %.*s ", (int)strcspn(at, ";"), at);
}

static void check_readiness(const struct row *r)
{
    static const char *const names[OXL_MON_COUNT] = {
        " misfire ",  " fuel ",          " components ", " catalyst ",  " heated_catalyst ",
        " evap ",     " secondary_air ", " ac ",         " o2_sensor ", " o2_heater ",
        " egr ",      " nmhc_catalyst ", " nox_scr ",    " boost ",     " exhaust_gas_sensor ",
        " pm_filter "};
    struct help_message h;
    struct oxl_readiness got;
    char supported[256], open[256];
    help_message(&h, r->payload);
    assert_true(oxl_decode_readiness(h.bytes + 2, &got));
    assert_true(got.known);
    if (h.bytes[1] == 0x01) {
        assert_int_equal(got.mil_on, strstr(r->expected, "mil=1") != NULL);
        assert_int_equal(got.stored_dtcs, atoi(strstr(r->expected, "dtc_count=") + 10));
    }
    words_of(r->expected, h.bytes[1] == 0x01 ? "supported=" : "enabled=", supported);
    words_of(r->expected, "not_complete=", open);
    assert_int_equal(got.compression_ignition, strstr(r->expected, "=compression") != NULL);
    for (unsigned i = 0; i < OXL_MON_COUNT; i++) {
        bool want = strstr(supported, names[i]) != NULL;
        bool done = want && !strstr(open, names[i]);
        if (got.supported[i] != want || got.complete[i] != done)
            fail_msg("%s %s: monitor%sdiffers", r->id, r->payload, names[i]);
    }
}

static void check_scaling(const struct row *r)
{
    struct help_message h;
    size_t len = 0;
    help_message(&h, r->payload);
    const uint8_t *data = oxl_find_pid(&h.m, &nothing_known, h.bytes[1], &len);
    assert_non_null(data);
    assert_int_equal(len, 4);
    /* The full scale is what the largest raw value then means. */
    struct oxl_decoding d = {.layout = OXL_LAYOUT_UNKNOWN};
    struct help_samples got;
    double want;
    if (h.bytes[1] == 0x50) {
        d.scaling.air_max_10g_s = data[0];
        got = help_decode("4110FFFF", &d);
        assert_int_equal(sscanf(r->expected, "max_maf=%lf", &want), 1);
        assert_near(help_value(&got, "air_g_s"), want > 0 ? want : 655.35, 1e-9);
        return;
    }
    double lambda, volts, current, map;
    assert_int_equal(sscanf(r->expected,
                            "max_lambda=%lf; max_o2_voltage=%lf V; max_o2_current=%lf mA; "
                            "max_map=%lf",
                            &lambda, &volts, &current, &map),
                     4);
    d.scaling = (struct oxl_scaling){data[0], data[1], data[2], data[3], 0};
    got = help_decode("4124FFFFFFFF 34FFFF0000 0BFF", &d);
    assert_near(help_value(&got, "lambda_b1s1"), lambda > 0 ? lambda : 131070. / 65536, 1e-9);
    assert_near(help_value(&got, "wide_b1s1_v"), volts > 0 ? volts : 524280. / 65536, 1e-9);
    assert_near(help_value(&got, "wide_b1s1_ma"), current > 0 ? -current : -128, 1e-9);
    assert_near(help_value(&got, "map_kpa"), map > 0 ? map : 255, 1e-9);
}

static void check_codes(const struct row *r)
{
    struct help_message h;
    uint16_t list[OXL_MAX_DTCS];
    size_t n = 0;
    char text[OXL_MAX_DTCS * 6 + 1] = "";
    help_message(&h, r->payload);
    bool ok = oxl_decode_dtcs(&h.m, true, list, &n, OXL_MAX_DTCS);
    assert_int_equal(ok, strcmp(r->expected, "malformed") != 0);
    for (size_t i = 0; i < n; i++) {
        if (i)
            strcat(text, " ");
        oxl_dtc_text(list[i], text + strlen(text));
    }
    assert_string_equal(!ok ? "malformed" : n ? text : "none", r->expected);
}

static void check_vin(const struct row *r)
{
    struct help_message h;
    char vin[18];
    unsigned have = 0;
    help_message(&h, r->payload);
    assert_true(oxl_decode_vin(&h.m, true, vin, &have));
    assert_string_equal(vin, r->expected);
}

static const struct {
    const char *kind;
    void (*check)(const struct row *r);
    unsigned least; /* rows that the file holds at least, so that none is lost unseen */
} checks[] = {{"live", check_live, 229},     {"masks", check_masks, 21},
              {"layout", check_layout, 14},  {"readiness", check_readiness, 13},
              {"scaling", check_scaling, 5}, {"codes", check_codes, 12},
              {"vin", check_vin, 4}};
enum { KINDS = sizeof checks / sizeof checks[0] };

/* The next '|'-separated field; strtok would lose empty ones. */
static char *field(char **rest)
{
    char *start = *rest, *bar = start ? strchr(start, '|') : NULL;
    if (bar)
        *bar++ = '\0';
    *rest = bar;
    return start;
}

static bool next_row(FILE *f, char *line, int size, struct row *r)
{
    while (fgets(line, size, f)) {
        if (line[0] == '#')
            continue;
        char *rest = line;
        r->id = field(&rest);
        r->kind = field(&rest);
        r->payload = field(&rest);
        r->expected = field(&rest);
        assert_non_null(r->expected);
        return true;
    }
    return false;
}

static void every_row_of_the_file(void **state)
{
    (void)state;
    char line[1024];
    struct row r;
    unsigned done[KINDS] = {0};
    FILE *f = fopen(OXL_TEST_DATA "/vehicle_vectors.csv", "r");
    assert_non_null(f);
    while (next_row(f, line, sizeof line, &r)) {
        unsigned k = 0;
        while (k < KINDS && strcmp(checks[k].kind, r.kind))
            k++;
        if (k == KINDS)
            fail_msg("%s: no such kind of row: %s", r.id, r.kind);
        checks[k].check(&r);
        done[k]++;
    }
    fclose(f);
    for (unsigned k = 0; k < KINDS; k++)
        assert_true(done[k] >= checks[k].least);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_row_of_the_file)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
