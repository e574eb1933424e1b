/* Events as JSON; read back by jansson and held against the struct. */
#include "oxylag/record.h"

#include <locale.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "help_events.h"
#include "record/json_out.h"

static char text[OXL_RECORD_LINE_MAX];

static json_t *parsed(const struct oxl_event *ev, bool mask)
{
    json_error_t e;
    size_t n = oxl_event_json(ev, mask, text, sizeof text);
    assert_true(n > 0);
    assert_int_equal(n, strlen(text));
    assert_null(strchr(text, '\n'));
    json_t *root = json_loadb(text, n, JSON_REJECT_DUPLICATES, &e);
    if (!root)
        fail_msg("%s: %s", e.text, text);
    return root;
}

static double number(const json_t *root, const char *name)
{
    const json_t *v = json_object_get(root, name);
    if (!json_is_number(v))
        fail_msg("%s is no number in %s", name, text);
    return json_number_value(v);
}

static void is_text(const json_t *root, const char *name, const char *value)
{
    const char *found = json_string_value(json_object_get(root, name));
    if (!found)
        fail_msg("%s is no text in %s", name, text);
    assert_string_equal(found, value);
}

static void is_null(const json_t *root, const char *name)
{
    if (!json_is_null(json_object_get(root, name)))
        fail_msg("%s is not null in %s", name, text);
}

static void run_in_full(void **state)
{
    (void)state;
    struct oxl_event ev = example_event(5, true);
    json_t *root = parsed(&ev, false);
    is_text(root, "event", "run");
    assert_true(number(root, "t_s") == 61.000001);
    assert_int_equal(number(root, "run"), 2);
    assert_true(json_is_true(json_object_get(root, "dropped")));
    assert_true(json_is_true(json_object_get(root, "valid")));
    assert_true(number(root, "delay_s") == ev.u.run.delay_s.value);
    assert_true(number(root, "delay_low_s") == ev.u.run.delay_s.low);
    assert_true(number(root, "delay_high_s") == ev.u.run.delay_s.high);
    assert_true(number(root, "delay_at_target_low_s") == ev.u.run.delay_at_target_s.low);
    assert_true(number(root, "shift_pct") == -20.3);
    assert_true(number(root, "front_lean_t_s") == 50.0);
    assert_true(number(root, "rear_lean_t_s") == 53.250001);
    assert_true(number(root, "rear_lean_high_t_s") == 53.280001);
    assert_true(number(root, "o2_high_mg") == ev.u.run.o2_mg.high);
    is_text(root, "air_source", "speed-density");
    is_text(root, "x_source", "lambda");
    const json_t *reasons = json_object_get(root, "reasons");
    assert_int_equal(json_array_size(reasons), 2);
    assert_string_equal(json_string_value(json_array_get(reasons, 0)), "over-enriched");
    assert_string_equal(json_string_value(json_array_get(reasons, 1)), "air-estimated");
    json_decref(root);
}

/* Unknown is null, never 0: no number may appear that was not known. */
static void unknown_run_is_null(void **state)
{
    (void)state;
    static const char *const known[] = {"event",  "t_s",    "run",       "dropped",
                                        "valid",  "deeper", "o2_low_mg", "o2_is_lower_bound",
                                        "reasons"};
    struct oxl_event ev = example_event(5, false);
    json_t *root = parsed(&ev, false), *value;
    const char *name;
    unsigned nulls = 0;
    json_object_foreach(root, name, value)
    {
        bool should_be_known = false;
        for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
            should_be_known |= strcmp(name, known[i]) == 0;
        if (should_be_known == json_is_null(value))
            fail_msg("%s", name);
        nulls += json_is_null(value);
    }
    assert_true(nulls > 20);
    assert_true(number(root, "o2_low_mg") == 180.25);
    is_null(root, "o2_high_mg");
    assert_true(json_is_true(json_object_get(root, "o2_is_lower_bound")));
    json_decref(root);
}

static void result_names_its_next_checks(void **state)
{
    (void)state;
    struct oxl_event ev = example_event(6, true);
    json_t *root = parsed(&ev, false);
    is_text(root, "verdict", "bad");
    assert_int_equal(number(root, "valid_runs"), 3);
    assert_true(number(root, "bad_limit_mg") == 132);
    const json_t *next = json_object_get(root, "next");
    assert_int_equal(json_array_size(next), 2);
    const json_t *lead = json_object_get(root, "lead");
    is_text(lead, "figure", "oxygen");
    is_text(lead, "in", "mg");
    is_null(lead, "value");
    assert_true(number(lead, "low") == 541.5);
    assert_true(number(lead, "good_limit") == 411);
    assert_int_equal(number(lead, "run"), 4);
    is_text(lead, "text", "stored oxygen at least 542 mg (good above 411 mg), run 4");
    assert_string_equal(json_string_value(json_array_get(next, 0)),
                        oxl_reason_next(OXL_R_LEAK_CHECK_FIRST));
    json_decref(root);
    ev = example_event(6, false);
    root = parsed(&ev, false);
    is_text(root, "verdict", "inconclusive");
    is_null(root, "delay_s");
    is_null(root, "bad_limit_mg");
    is_null(json_object_get(root, "lead"), "figure");
    is_null(json_object_get(root, "lead"), "run");
    json_decref(root);
}

static void small_events(void **state)
{
    (void)state;
    struct oxl_event ev = example_event(0, true);
    json_t *root = parsed(&ev, false);
    is_text(root, "event", "state");
    is_text(root, "state", "release");
    assert_int_equal(number(root, "run"), 1);
    json_decref(root);

    ev = example_event(1, true);
    root = parsed(&ev, false);
    is_text(root, "channel", "lambda_b1s1");
    assert_true(number(root, "value") == 0.9973);
    assert_true(number(root, "sent_s") == 1.2);
    is_text(root, "unit", "7E8");
    json_decref(root);
    ev = example_event(1, false);
    root = parsed(&ev, false);
    is_null(root, "value");
    is_null(root, "unit");
    json_decref(root);

    ev = example_event(2, true);
    root = parsed(&ev, false);
    is_text(root, "event", "advice");
    is_text(root, "code", "cut");
    is_text(root, "text", "CUT THE GAS NOW: shut the valve, pull the hose clear.");
    json_decref(root);
    ev = example_event(3, true);
    root = parsed(&ev, false);
    is_text(root, "event", "caution");
    is_text(root, "code", "too-much");
    is_text(root, "detail", "-26 %");
    json_decref(root);

    ev = example_event(10, false);
    root = parsed(&ev, false);
    is_null(root, "trim_pct");
    is_null(root, "rear_level");
    json_decref(root);
}

static void vehicle_and_its_number(void **state)
{
    (void)state;
    struct oxl_event ev = example_event(8, true);
    json_t *root = parsed(&ev, false);
    is_text(root, "vin", "ZZZTEST0X00000042");
    is_text(root, "protocol", "can11-500");
    is_text(root, "unit", "7E8");
    is_text(root, "layout", "13");
    const json_t *stored = json_object_get(root, "stored");
    assert_int_equal(json_array_size(stored), 2);
    /* SAE J2012: the two highest bits choose P, C, B, U. */
    assert_string_equal(json_string_value(json_array_get(stored, 0)), "P0420");
    assert_string_equal(json_string_value(json_array_get(stored, 1)), "U0123");
    assert_int_equal(json_array_size(json_object_get(root, "pending")), 0);
    assert_true(json_is_array(json_object_get(root, "pending")));
    is_null(root, "permanent");
    const json_t *monitors = json_object_get(json_object_get(root, "readiness"), "monitors");
    assert_int_equal(json_object_size(monitors), 2);
    assert_true(json_is_false(json_object_get(monitors, "catalyst")));
    assert_true(json_is_true(json_object_get(monitors, "o2_sensor")));
    json_decref(root);
    root = parsed(&ev, true);
    is_text(root, "vin", "ZZZTEST0*********");
    assert_null(strstr(text, "0042"));
    json_decref(root);
    ev = example_event(8, false);
    root = parsed(&ev, true);
    is_null(root, "vin");
    is_null(root, "protocol");
    is_null(root, "readiness");
    is_null(root, "stored");
    is_null(root, "unit");
    json_decref(root);
}

static void texts_cannot_break_the_line(void **state)
{
    (void)state;
    struct oxl_event ev = {.kind = OXL_EV_MARK};
    strcpy(ev.u.mark.text, "a\"b\\c\nd\x1b[2J\xff\xc3\xa9\xed\xa0\x80");
    json_t *root = parsed(&ev, false);
    /* Bytes that are no UTF-8 (RFC 3629: FF, a surrogate) become one ? each. */
    is_text(root, "text", "a\"b\\c\nd\x1b[2J?\xc3\xa9???");
    json_decref(root);
}

/* What cannot be seen, or steers, is in the line as an escape, and to a program the same text. */
static void nothing_hides_in_the_line(void **state)
{
    (void)state;
    static const char hidden[] = "a\xF3\xA0\x81\xA1" /* U+E0061, a tag */
                                 "\xEF\xB8\x8F"      /* U+FE0F, a variation selector */
                                 "\xE2\x80\x8B"      /* U+200B, no width */
                                 "\xE2\x80\xAE"      /* U+202E, turns the writing */
                                 "\xEF\xBB\xBF"      /* U+FEFF */
                                 "\xC2\xAD"          /* U+00AD, soft hyphen */
                                 "\xF0\x9F\x94\xA7"; /* U+1F527, seen */
    char line[400];
    struct oxl_event ev = {.kind = OXL_EV_MARK};
    strcpy(ev.u.mark.text, hidden);
    assert_true(oxl_event_json(&ev, false, line, sizeof line) > 0);
    assert_non_null(
        strstr(line, "\"a\\uDB40\\uDC61\\uFE0F\\u200B\\u202E\\uFEFF\\u00AD\xF0\x9F\x94\xA7\""));
    json_t *root = parsed(&ev, false);
    is_text(root, "text", hidden);
    json_decref(root);
}

static void no_buffer_is_overrun(void **state)
{
    (void)state;
    for (unsigned i = 0; i < EXAMPLE_EVENTS; i++) {
        struct oxl_event ev = example_event(i, true);
        size_t n = oxl_event_json(&ev, false, text, sizeof text);
        for (size_t room = 0; room <= n; room += 7) {
            char *small = malloc(room ? room : 1);
            assert_non_null(small);
            assert_int_equal(oxl_event_json(&ev, false, small, room), 0);
            free(small);
        }
    }
}

/* The same bits come back, whatever the number; and with no more digits than needed. */
static void numbers_read_back_bit_identical(void **state)
{
    (void)state;
    static const struct {
        double v;
        const char *text;
    } cases[] = {
        {0.1, "0.1"}, {-20, "-20"},  {1e300, "1e+300"},  {0.1 + 0.2, "0.30000000000000004"},
        {-0.0, "-0"}, {NAN, "null"}, {INFINITY, "null"}, {-INFINITY, "null"}};
    char out[32];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_int_equal(oxl_number_text(cases[i].v, out), strlen(cases[i].text));
        assert_string_equal(out, cases[i].text);
    }
    uint64_t bits = 88172645463325252u;
    for (int i = 0; i < 20000; i++) {
        double v, back;
        bits ^= bits << 13;
        bits ^= bits >> 7;
        bits ^= bits << 17; /* xorshift: every exponent, subnormals included */
        memcpy(&v, &bits, sizeof v);
        if (!isfinite(v))
            continue;
        size_t n = oxl_number_text(v, out);
        assert_true(n < 32 && n == strlen(out));
        back = strtod(out, NULL);
        assert_memory_equal(&v, &back, sizeof v);
    }
}

static void times_are_exact(void **state)
{
    (void)state;
    static const struct {
        int64_t us;
        const char *text;
    } cases[] = {{0, "0.000000"},
                 {1, "0.000001"},
                 {-1, "-0.000001"},
                 {61000001, "61.000001"},
                 {-1500000, "-1.500000"},
                 {INT64_MAX, "9223372036854.775807"},
                 {INT64_MIN, "-9223372036854.775808"}};
    char out[32];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        oxl_seconds_text(cases[i].us, out);
        assert_string_equal(out, cases[i].text);
    }
}

/* A locale with a decimal comma must not leak into the JSON. */
static void no_locale_gets_in(void **state)
{
    (void)state;
    static const char *const comma[] = {"de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8", "ps_AF.UTF-8"};
    bool found = false;
    for (size_t i = 0; i < 4 && !found; i++)
        found = setlocale(LC_NUMERIC, comma[i]) != NULL;
    if (!found)
        skip();
    char out[32];
    oxl_number_text(-20.25, out);
    setlocale(LC_NUMERIC, "C");
    assert_string_equal(out, "-20.25");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(run_in_full),
        cmocka_unit_test(unknown_run_is_null),
        cmocka_unit_test(result_names_its_next_checks),
        cmocka_unit_test(small_events),
        cmocka_unit_test(vehicle_and_its_number),
        cmocka_unit_test(texts_cannot_break_the_line),
        cmocka_unit_test(nothing_hides_in_the_line),
        cmocka_unit_test(no_buffer_is_overrun),
        cmocka_unit_test(numbers_read_back_bit_identical),
        cmocka_unit_test(times_are_exact),
        cmocka_unit_test(no_locale_gets_in),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
