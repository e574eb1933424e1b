/* docs/events.md and docs/recording.md name every member that is written, and no other. */
#include "oxylag/record.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>
#include <math.h>

#include "help_events.h"

static char *load(const char *name)
{
    char path[512];
    snprintf(path, sizeof path, "%s/docs/%s", OXL_SOURCE_DIR, name);
    FILE *f = fopen(path, "rb");
    if (!f)
        fail_msg("%s is missing", path);
    static char buffer[65536];
    size_t n = fread(buffer, 1, sizeof buffer - 1, f);
    fclose(f);
    buffer[n] = '\0';
    return buffer;
}

/* The text under a heading, up to the next one of its level. */
static void section(const char *doc, const char *heading, char *out, size_t n)
{
    char line[80];
    snprintf(line, sizeof line, "\n## %s\n", heading);
    const char *from = strstr(doc, line);
    if (!from)
        fail_msg("no section \"%s\"", heading);
    from += strlen(line);
    const char *to = strstr(from, "\n## ");
    size_t len = to ? (size_t)(to - from) : strlen(from);
    assert_true(len < n);
    memcpy(out, from, len);
    out[len] = '\0';
}

static bool has_row(const char *doc, const char *member)
{
    char row[80];
    snprintf(row, sizeof row, "\n| `%s` |", member);
    return strstr(doc, row) != NULL;
}

/* Every row's member is in one of the two objects (the second may be NULL). */
static void rows_exist(const char *doc, const json_t *a, const json_t *b)
{
    for (const char *p = doc; (p = strstr(p, "\n| `")) != NULL;) {
        char name[80];
        p += 4;
        size_t n = strcspn(p, "`");
        assert_true(n < sizeof name);
        memcpy(name, p, n);
        name[n] = '\0';
        if (!json_object_get(a, name) && !(b && json_object_get(b, name)))
            fail_msg("\"%s\" is documented but never written", name);
    }
}

static void members_documented(const char *doc, json_t *object, const char *where)
{
    const char *name;
    json_t *value;
    json_object_foreach(object, name, value) if (!has_row(doc, name))
        fail_msg("%s: \"%s\" is not documented", where, name);
}

static void every_event_is_documented(void **state)
{
    (void)state;
    const char *doc = load("events.md");
    static char part[16384], text[OXL_RECORD_LINE_MAX];
    for (unsigned i = 0; i < EXAMPLE_EVENTS; i++) {
        struct oxl_event ev = example_event(i, true);
        assert_true(oxl_event_json(&ev, false, text, sizeof text) > 0);
        json_t *root = json_loads(text, 0, NULL);
        assert_non_null(root);
        const char *kind = json_string_value(json_object_get(root, "event"));
        section(doc, kind, part, sizeof part);
        members_documented(part, root, kind);
        const char *inner = json_object_get(root, "lead") ? "lead" : "readiness";
        json_t *object = json_object_get(root, inner);
        if (object)
            members_documented(part, object, inner);
        rows_exist(part, root, object);
        json_decref(root);
    }
}

/* ---- what an inspection says ---- */

static unsigned inspection_kinds;

static void inspection_line(void *ctx, const char *text, size_t n)
{
    static char part[16384];
    const char *doc = ctx;
    json_t *root = json_loadb(text, n, 0, NULL);
    assert_non_null(root);
    const char *kind = json_string_value(json_object_get(root, "event"));
    section(doc, kind, part, sizeof part);
    members_documented(part, root, kind);
    rows_exist(part, root, NULL);
    inspection_kinds |= 1u << (strcmp(kind, "unit") == 0       ? 0
                               : strcmp(kind, "code") == 0     ? 1
                               : strcmp(kind, "monitor") == 0  ? 2
                               : strcmp(kind, "frozen") == 0   ? 3
                               : strcmp(kind, "readings") == 0 ? 4
                                                               : 5);
    json_decref(root);
}

static void inspection_is_documented(void **state)
{
    (void)state;
    static struct oxl_inspection v;
    struct oxl_ecu_info *u = &v.onboard.ecus[0];
    v.bank = 1;
    v.front_hz = v.rear_hz = v.round_ms = NAN;
    v.onboard.ecus_n = 1;
    u->ecu = 0x7E8;
    u->dtcs[OXL_DTC_STORED] = (struct oxl_dtc_list){.codes = {0x0420}, .n = 1, .known = true};
    v.onboard.results[0] = (struct oxl_monitor_result){
        .ecu = 0x7E8, .monitor = 0x21, .test = 0x80, .scale = 0x20, .value = 51, .max = 192};
    v.onboard.results_n = 1;
    inspection_kinds = 0;
    oxl_inspection_json(&v, 5, inspection_line, load("events.md"));
    assert_int_equal(inspection_kinds, 0x3F);
}

static void count_monitors(void *ctx, const char *text, size_t n)
{
    json_t *root = json_loadb(text, n, 0, NULL);
    *(unsigned *)ctx += strcmp(json_string_value(json_object_get(root, "event")), "monitor") == 0;
    json_decref(root);
}

/* What lies behind the last result is not one. */
static void as_many_results_as_there_are(void **state)
{
    (void)state;
    static struct oxl_inspection v;
    unsigned n = 0;
    for (size_t i = 0; i < 3; i++)
        v.onboard.results[i] = (struct oxl_monitor_result){.ecu = 0x7E8, .monitor = 0x21};
    v.onboard.results_n = 2;
    oxl_inspection_json(&v, 5, count_monitors, &n);
    assert_int_equal(n, 2);
}

static char results_text[OXL_RECORD_LINE_MAX];

/* The members of a monitor result in a vehicle event are those of a monitor event; and the
 * fullest vehicle still fits a line of a recording. */
static void monitor_results_fit(void **state)
{
    (void)state;
    static char part[16384];
    static struct oxl_vehicle v;
    v.results_known = true;
    v.results_n = OXL_KEPT_RESULTS;
    v.dtcs[OXL_DTC_STORED].n = v.dtcs[OXL_DTC_PENDING].n = v.dtcs[OXL_DTC_PERMANENT].n =
        OXL_MAX_DTCS;
    v.dtcs[OXL_DTC_STORED].known = v.dtcs[OXL_DTC_PENDING].known = v.dtcs[OXL_DTC_PERMANENT].known =
        true;
    for (unsigned i = 0; i < OXL_KEPT_RESULTS; i++)
        v.results[i] = (struct oxl_monitor_result){.monitor = 0x10,
                                                   .test = 0x04,
                                                   .scale = 0x8A,
                                                   .value = 0xF123,
                                                   .min = 0xE321,
                                                   .max = 0x7F11};
    struct oxl_event ev = {.kind = OXL_EV_VEHICLE, .u.vehicle = &v};
    size_t n = oxl_event_json(&ev, false, results_text, sizeof results_text);
    assert_true(n > 0);
    json_t *root = json_loadb(results_text, n, 0, NULL);
    json_t *list = json_object_get(root, "monitor_results");
    assert_int_equal(json_array_size(list), OXL_KEPT_RESULTS);
    section(load("events.md"), "monitor", part, sizeof part);
    members_documented(part, json_array_get(list, 0), "monitor_results");
    json_decref(root);
}

/* Full and unknown events have the same members: a reader need not ask whether one is there. */
static void unknown_changes_no_member(void **state)
{
    (void)state;
    static char text[OXL_RECORD_LINE_MAX];
    for (unsigned i = 0; i < EXAMPLE_EVENTS; i++) {
        json_t *root[2], *value;
        const char *name;
        for (int full = 0; full < 2; full++) {
            struct oxl_event ev = example_event(i, full);
            assert_true(oxl_event_json(&ev, false, text, sizeof text) > 0);
            root[full] = json_loads(text, 0, NULL);
        }
        assert_int_equal(json_object_size(root[0]), json_object_size(root[1]));
        json_object_foreach(root[0], name, value) assert_non_null(json_object_get(root[1], name));
        json_decref(root[0]);
        json_decref(root[1]);
    }
}

static void header_is_documented(void **state)
{
    (void)state;
    const char *doc = load("recording.md");
    static char part[16384], text[OXL_RECORD_LINE_MAX];
    struct oxl_record_header h = {
        .version = OXL_RECORD_VERSION, .plate = "AB 1", .odometer = "1 km", .vehicle = "blue"};
    oxl_profile_defaults(&h.profile);
    assert_true(oxl_record_encode_header(&h, text, sizeof text) > 0);
    json_t *root = json_loads(text, 0, NULL);
    assert_non_null(root);
    section(doc, "First line: the header", part, sizeof part);
    members_documented(part, root, "header");
    rows_exist(part, root, NULL);
    json_decref(root);
}

/* The example in the document is read, line by line, and covers most kinds. */
static void documented_example_is_read(void **state)
{
    (void)state;
    char *at = strstr(load("recording.md"), "```json\n");
    assert_non_null(at);
    at += strlen("```json\n");
    unsigned seen = 0, lineno = 1;
    while (strncmp(at, "```", 3) != 0) {
        char scratch[1024];
        struct oxl_line line;
        struct oxl_error err = {0};
        size_t n = strcspn(at, "\n");
        assert_true(n < sizeof scratch);
        if (oxl_record_decode(at, n, scratch, &line, "example", ++lineno, &err) != OXL_OK)
            fail_msg("%s", err.text);
        seen |= 1u << line.kind;
        at += n + 1;
    }
    assert_int_equal(lineno, 11);
    for (unsigned kind = OXL_LINE_RX; kind <= OXL_LINE_END; kind++)
        if (kind != OXL_LINE_SPEED)
            assert_true(seen >> kind & 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(as_many_results_as_there_are), cmocka_unit_test(every_event_is_documented),
        cmocka_unit_test(inspection_is_documented),     cmocka_unit_test(monitor_results_fit),
        cmocka_unit_test(unknown_changes_no_member),    cmocka_unit_test(header_is_documented),
        cmocka_unit_test(documented_example_is_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
