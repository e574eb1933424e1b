/* Lines of a recording, one by one. JSON as such is judged by jansson, which is not ours. */
#include "oxylag/record.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

static char scratch[OXL_RECORD_LINE_MAX + 1];

static void decode_ok(const char *text, struct oxl_line *line)
{
    struct oxl_error err = {0};
    if (oxl_record_decode(text, strlen(text), scratch, line, "f", 7, &err) != OXL_OK)
        fail_msg("%s: %s", text, err.text);
}

static void every_byte_survives(void **state)
{
    (void)state;
    char all[256], text[2048];
    for (int i = 0; i < 256; i++)
        all[i] = (char)i;
    const enum oxl_line_kind kinds[] = {OXL_LINE_RX, OXL_LINE_TX};
    for (size_t k = 0; k < 2; k++) {
        struct oxl_line in = {.kind = kinds[k], .t_us = 123456, .bytes = all, .n = sizeof all};
        struct oxl_line out;
        size_t n = oxl_record_encode(&in, text, sizeof text);
        assert_true(n > 0);
        assert_int_equal(text[n - 1], '\n');
        text[n - 1] = '\0';
        for (size_t i = 0; i < n - 1; i++)
            assert_in_range(text[i], 0x20, 0x7e);
        decode_ok(text, &out);
        assert_int_equal(out.kind, kinds[k]);
        assert_int_equal(out.t_us, 123456);
        assert_int_equal(out.n, sizeof all);
        assert_memory_equal(out.bytes, all, sizeof all);
    }
}

/* jansson reads the same code points from our escapes. */
static void escapes_mean_the_same_to_another_reader(void **state)
{
    (void)state;
    char all[256], text[2048];
    for (int i = 0; i < 256; i++)
        all[i] = (char)i;
    struct oxl_line in = {.kind = OXL_LINE_RX, .bytes = all, .n = sizeof all};
    size_t n = oxl_record_encode(&in, text, sizeof text);
    json_t *root = json_loadb(text, n, JSON_ALLOW_NUL, NULL);
    assert_non_null(root);
    const json_t *rx = json_object_get(root, "rx");
    const unsigned char *u = (const unsigned char *)json_string_value(rx);
    assert_int_equal(json_string_length(rx), 128 + 2 * 128);
    for (size_t i = 0; i < 128; i++)
        assert_int_equal(u[i], i);
    for (size_t i = 0; i < 128; i++)
        assert_int_equal((u[128 + 2 * i] & 0x1f) << 6 | (u[129 + 2 * i] & 0x3f), 128 + i);
    json_decref(root);
}

static void lines_are_written_as_documented(void **state)
{
    (void)state;
    static const struct {
        struct oxl_line line;
        const char *text;
    } cases[] = {
        {{.kind = OXL_LINE_RX, .t_us = 1003954, .bytes = "7E8\r\r>", .n = 6},
         "{\"t\":1003954,\"rx\":\"7E8\\r\\r>\"}\n"},
        {{.kind = OXL_LINE_TX, .t_us = 0, .bytes = "\0\"\\\x7f\xff", .n = 5},
         "{\"t\":0,\"tx\":\"\\u0000\\\"\\\\\\u007F\\u00FF\"}\n"},
        {{.kind = OXL_LINE_RX, .t_us = 9, .bytes = "", .n = 0}, "{\"t\":9,\"rx\":\"\"}\n"},
        {{.kind = OXL_LINE_TICK, .t_us = 5}, "{\"t\":5,\"tick\":true}\n"},
        {{.kind = OXL_LINE_KEY, .t_us = 5, .key = OXL_KEY_NOW}, "{\"t\":5,\"key\":\" \"}\n"},
        {{.kind = OXL_LINE_KEY, .t_us = 5, .key = OXL_KEY_ABORT}, "{\"t\":5,\"key\":\"a\"}\n"},
        {{.kind = OXL_LINE_LINK, .t_us = 5, .link_up = true}, "{\"t\":5,\"port\":\"up\"}\n"},
        {{.kind = OXL_LINE_LINK, .t_us = 5}, "{\"t\":5,\"port\":\"down\"}\n"},
        {{.kind = OXL_LINE_SPEED, .t_us = 5, .speed_baud = 38400}, "{\"t\":5,\"speed\":38400}\n"},
        {{.kind = OXL_LINE_NOTE, .t_us = 5, .bytes = "5 \xc2\xb5m\t\xff", .n = 7},
         "{\"t\":5,\"note\":\"5 \xc2\xb5m\\t?\"}\n"},
        {{.kind = OXL_LINE_EVENT, .t_us = 5, .bytes = "{\"event\":\"x\"}", .n = 13},
         "{\"t\":5,\"event\":{\"event\":\"x\"}}\n"},
        {{.kind = OXL_LINE_END, .t_us = OXL_RECORD_T_MAX_US},
         "{\"t\":2678400000000,\"end\":true}\n"},
        {{.kind = OXL_LINE_END, .t_us = 5, .bytes = "stopped (SIGTERM)", .n = 17},
         "{\"t\":5,\"end\":\"stopped (SIGTERM)\"}\n"},
    };
    char text[256];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct oxl_line back;
        size_t n = oxl_record_encode(&cases[i].line, text, sizeof text);
        assert_string_equal(text, cases[i].text);
        assert_int_equal(n, strlen(cases[i].text));
        text[n - 1] = '\0';
        decode_ok(text, &back);
        assert_int_equal(back.kind, cases[i].line.kind);
        assert_int_equal(back.t_us, cases[i].line.t_us);
        assert_int_equal(back.n, cases[i].line.n);
        assert_int_equal(back.key, cases[i].line.key);
        assert_int_equal(back.link_up, cases[i].line.link_up);
        assert_int_equal(back.speed_baud, cases[i].line.speed_baud);
        if (back.n && back.kind != OXL_LINE_NOTE)
            assert_memory_equal(back.bytes, cases[i].line.bytes, back.n);
        /* Any smaller buffer is refused, and never overrun (exact-size heap block). */
        for (size_t room = 0; room <= n; room++) {
            char *small = malloc(room ? room : 1);
            assert_non_null(small);
            assert_int_equal(oxl_record_encode(&cases[i].line, small, room), 0);
            free(small);
        }
    }
}

static void what_would_not_read_back_is_not_written(void **state)
{
    (void)state;
    static const struct oxl_line bad[] = {
        {.kind = OXL_LINE_TICK, .t_us = -1},
        {.kind = OXL_LINE_TICK, .t_us = OXL_RECORD_T_MAX_US + 1},
        {.kind = OXL_LINE_TICK, .t_us = INT64_MAX},
        {.kind = OXL_LINE_SAMPLES, .n = 1, .values = {1e300}},
        {.kind = OXL_LINE_END, .bytes = "a\0b", .n = 3},
        {.kind = OXL_LINE_KEY, .key = OXL_KEY_NONE},
        {.kind = OXL_LINE_KEY, .key = (enum oxl_key)'x'},
        {.kind = OXL_LINE_SPEED, .speed_baud = 0},
        {.kind = OXL_LINE_EVENT, .bytes = "", .n = 0},
        {.kind = OXL_LINE_EVENT, .bytes = "{\n}", .n = 3},
        {.kind = OXL_LINE_EVENT, .bytes = "1", .n = 1},
        {.kind = OXL_LINE_NOTE, .bytes = "a\0b", .n = 3},
        {.kind = OXL_LINE_HEADER},
    };
    char text[128];
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_int_equal(oxl_record_encode(&bad[i], text, sizeof text), 0);
}

static void other_spellings_are_read(void **state)
{
    (void)state;
    struct oxl_line line;
    decode_ok(" { \"rx\" : \"A\\u000d\\u00ffB\" , \"t\" : 12 } ", &line);
    assert_int_equal(line.kind, OXL_LINE_RX);
    assert_int_equal(line.t_us, 12);
    assert_int_equal(line.n, 4);
    assert_memory_equal(line.bytes,
                        "A\r\xff"
                        "B",
                        4);
    decode_ok("{\"t\":1,\"tx\":\"\xc3\xa9\x7f\\/\\u0041\"}", &line);
    assert_int_equal(line.n, 4);
    assert_memory_equal(line.bytes, "\xe9\x7f/A", 4);
    decode_ok("{\"t\":1,\"note\":\"\\u00e9\\n\"}", &line);
    assert_int_equal(line.kind, OXL_LINE_NOTE);
    assert_string_equal(line.bytes, "\xc3\xa9\n");
    decode_ok("{\"t\": 1, \"tick\": true}", &line);
    assert_int_equal(line.kind, OXL_LINE_TICK);
}

static void events_are_handed_on_as_they_stand(void **state)
{
    (void)state;
    static const char *const events[] = {"{}", "{\"event\":\"mark\",\"text\":\"a } \\\" { b\"}",
                                         "{\"a\":{\"b\":[{\"c\":1.50}]},\"d\":2}",
                                         "{ \"x\" : 1e5 }"};
    for (size_t i = 0; i < sizeof events / sizeof events[0]; i++) {
        char text[256];
        struct oxl_line line;
        for (int order = 0; order < 3; order++) {
            static const char *const shapes[] = {"{\"t\":3,\"event\":%s}", "{\"event\":%s,\"t\":3}",
                                                 " { \"t\":3 , \"event\" : %s } "};
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
            snprintf(text, sizeof text, shapes[order], events[i]);
#pragma GCC diagnostic pop
            decode_ok(text, &line);
            assert_int_equal(line.kind, OXL_LINE_EVENT);
            assert_int_equal(line.n, strlen(events[i]));
            assert_memory_equal(line.bytes, events[i], line.n);
            assert_ptr_equal(line.bytes, strstr(text, events[i]));
        }
    }
}

/* Each wrong line, and a part of the sentence that must say why. */
static void wrong_lines_are_told(void **state)
{
    (void)state;
    static const struct {
        const char *text, *says;
    } cases[] = {
        {"", "not one JSON object"},
        {"   ", "not one JSON object"},
        {"{\"t\":1,\"rx\":\"7E8", "not one JSON object"},
        {"{\"t\":1,\"rx\":\"a\"} x", "not one JSON object"},
        {"{\"t\":1,\"rx\":\"a\"}}", "not one JSON object"},
        {"{\"t\":1,\"rx\":\"\\q\"}", "not one JSON object"},
        {"{\"t\":1,\"rx\":\"\\ud800\"}", "not one JSON object"},
        {"{\"t\":1,\"rx\":\"a\tb\"}", "not one JSON object"},
        {"{\"t\":1,\"rx\":\"\xff\"}", "not one JSON object"},
        {"{\"t\":1,\"t\":2,\"tick\":true}", "not one JSON object"},
        {"{\"t\":01,\"tick\":true}", "not one JSON object"},
        {"{\"t\":99999999999999999999,\"tick\":true}", "not one JSON object"},
        {"[1,2]", "\"t\" should be"},
        {"{\"tick\":true}", "\"t\" should be"},
        {"{\"t\":-1,\"tick\":true}", "\"t\" should be"},
        {"{\"t\":1.5,\"tick\":true}", "\"t\" should be"},
        {"{\"t\":\"1\",\"tick\":true}", "\"t\" should be"},
        {"{\"t\":1}", "expected \"t\" and one of"},
        {"{\"t\":1,\"what\":true}", "expected \"t\" and one of"},
        {"{\"t\":1,\"rx\":\"a\",\"tx\":\"b\"}", "expected \"t\" and one of"},
        {"{\"t\":1,\"rx\":5}", "\"rx\" should be a text"},
        {"{\"t\":1,\"tx\":\"\\u0100\"}", "\"tx\" should be a text of characters up to U+00FF"},
        {"{\"t\":1,\"rx\":\"\xe2\x82\xac\"}", "\"rx\" should be a text of characters up to U+00FF"},
        {"{\"t\":1,\"tick\":false}", "\"tick\" should be true"},
        {"{\"t\":1,\"end\":1}", "\"end\" should be true"},
        {"{\"t\":1,\"key\":\"x\"}", "\"key\" should be one of"},
        {"{\"t\":1,\"key\":\"\"}", "\"key\" should be one of"},
        {"{\"t\":1,\"key\":\"rm\"}", "\"key\" should be one of"},
        {"{\"t\":1,\"key\":\"\\u0000\"}", "\"key\" should be one of"},
        {"{\"t\":1,\"port\":\"sideways\"}", "\"port\" should be"},
        {"{\"t\":1,\"speed\":0}", "\"speed\" should be"},
        {"{\"t\":1,\"speed\":99999999999}", "\"speed\" should be"},
        {"{\"t\":1,\"note\":\"a\\u0000b\"}", "\"note\" should be"},
        {"{\"t\":1,\"event\":[]}", "\"event\" should be an object"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct oxl_line line;
        struct oxl_error err = {0};
        enum oxl_status s = oxl_record_decode(cases[i].text, strlen(cases[i].text), scratch, &line,
                                              "demo.jsonl", 42, &err);
        if (s != OXL_ERR_FORMAT)
            fail_msg("accepted: %s", cases[i].text);
        assert_non_null(strstr(err.text, "demo.jsonl line 42: "));
        if (!strstr(err.text, cases[i].says))
            fail_msg("%s gave: %s", cases[i].text, err.text);
    }
}

static enum oxl_status decoded(const char *text, struct oxl_error *err)
{
    struct oxl_line line;
    *err = (struct oxl_error){0};
    return oxl_record_decode(text, strlen(text), scratch, &line, "f", 7, err);
}

/* Sums and differences of what is taken can overflow nowhere (docs/recording.md). */
static void extreme_numbers_are_refused(void **state)
{
    (void)state;
    static const char *const shapes[] = {"{\"t\":%s,\"tick\":true}", "{\"t\":%s,\"rx\":\"a\"}",
                                         "{\"t\":%s,\"end\":true}", " {\"t\":%s,\"rx\":\"a\"}"};
    static const char *const times[] = {"9223372036854775807",
                                        "9223372036854775808",
                                        "-9223372036854775808",
                                        "2678400000001",
                                        "999999999999999999",
                                        "-1",
                                        "1e3",
                                        "1e999",
                                        "1.5"};
    struct oxl_error err;
    char text[80];
    for (size_t i = 0; i < sizeof shapes / sizeof shapes[0]; i++) {
        for (size_t k = 0; k < sizeof times / sizeof times[0]; k++) {
            snprintf(text, sizeof text, shapes[i], times[k]);
            if (decoded(text, &err) != OXL_ERR_FORMAT || !strstr(err.text, "f line 7: "))
                fail_msg("%s: %s", text, err.text);
        }
        snprintf(text, sizeof text, shapes[i], "2678400000000"); /* 31 days */
        assert_int_equal(decoded(text, &err), OXL_OK);
    }
    static const char *const others[] = {
        "{\"t\":1,\"samples\":[1e300]}", "{\"t\":1,\"samples\":[-1000000001]}",
        "{\"t\":1,\"samples\":[9223372036854775807]}", "{\"t\":1,\"speed\":9223372036854775807}",
        "{\"t\":1,\"speed\":-9223372036854775808}"};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++)
        assert_int_equal(decoded(others[i], &err), OXL_ERR_FORMAT);
}

/* ---- one test from beginning to end ---------------------------------------------------------- */
static enum oxl_status in_order(const char *const *lines, size_t n, unsigned *at,
                                struct oxl_error *err)
{
    struct oxl_record_order order = {0};
    enum oxl_status st = OXL_OK;
    *err = (struct oxl_error){0};
    for (*at = 2; *at < n + 2 && st == OXL_OK; ++*at) {
        struct oxl_line line;
        decode_ok(lines[*at - 2], &line);
        st = oxl_record_in_order(&order, &line, "f", *at, err);
    }
    --*at;
    return st;
}

#define STATE(t, name)                                                                             \
    "{\"t\":" #t ",\"event\":{\"event\":\"state\",\"t_s\":1,\"state\":\"" name "\",\"run\":0}}"

static void one_test_in_order(void **state)
{
    (void)state;
    static const char *const lines[] = {
        "{\"t\":0,\"port\":\"up\"}", STATE(0, "precheck"), "{\"t\":5,\"tick\":true}",
        STATE(5, "baseline"),        STATE(9, "baseline"), "{\"t\":9,\"note\":\"state precheck\"}",
        "{\"t\":9,\"end\":true}"};
    struct oxl_error err;
    unsigned at;
    if (in_order(lines, sizeof lines / sizeof lines[0], &at, &err) != OXL_OK)
        fail_msg("%s", err.text);
}

static void what_is_no_single_test_is_told(void **state)
{
    (void)state;
    static const struct {
        const char *lines[4];
        size_t n;
        unsigned at;
        const char *says;
    } cases[] = {
        {{"{\"t\":5,\"tick\":true}", "{\"t\":4,\"rx\":\"a\"}"}, 2, 3, "its time runs backwards"},
        {{"{\"t\":5000000,\"tx\":\"a\"}", "{\"t\":4999999,\"tx\":\"a\"}"},
         2,
         3,
         "from 5.000000 to 4.999999 s"},
        {{"{\"t\":5,\"end\":true}", "{\"t\":6,\"tick\":true}"}, 2, 3, "goes on after the end"},
        {{"{\"t\":5,\"end\":\"SIGTERM\"}", "{\"t\":5,\"end\":true}"}, 2, 3, "holds two recordings"},
        {{STATE(1, "precheck"), STATE(2, "baseline"), STATE(3, "precheck")},
         3,
         4,
         "a second test begins here"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct oxl_error err;
        unsigned at;
        assert_int_equal(in_order(cases[i].lines, cases[i].n, &at, &err), OXL_ERR_FORMAT);
        assert_int_equal(at, cases[i].at);
        if (!strstr(err.text, cases[i].says))
            fail_msg("\"%s\" lacks \"%s\"", err.text, cases[i].says);
    }
    struct oxl_error err;
    assert_int_equal(decoded("{\"format\":\"oxylag-recording\",\"version\":1}", &err),
                     OXL_ERR_FORMAT);
    assert_non_null(strstr(err.text, "a second recording begins here"));
}

/* The quick and the thorough reader agree: a blank before the brace forces the thorough one. */
static void both_readers_agree(void **state)
{
    (void)state;
    uint32_t seed = 20240611;
    for (int round = 0; round < 3000; round++) {
        char bytes[40], text[400], spaced[402], copy[40];
        size_t n = (size_t)(round % 40);
        for (size_t i = 0; i < n; i++) {
            seed = seed * 1664525u + 1013904223u;
            bytes[i] = (char)(seed >> 24);
        }
        struct oxl_line in = {.kind = round & 1 ? OXL_LINE_TX : OXL_LINE_RX,
                              .t_us = (int64_t)(seed >> 3),
                              .bytes = bytes,
                              .n = n};
        struct oxl_line a, b;
        size_t len = oxl_record_encode(&in, text, sizeof text);
        assert_true(len > 0);
        text[len - 1] = '\0';
        decode_ok(text, &a);
        assert_int_equal(a.n, n);
        memcpy(copy, a.bytes, a.n);
        snprintf(spaced, sizeof spaced, " %s", text);
        decode_ok(spaced, &b);
        assert_int_equal(a.kind, b.kind);
        assert_int_equal(a.t_us, b.t_us);
        assert_int_equal(b.n, n);
        assert_memory_equal(copy, bytes, n);
        assert_memory_equal(b.bytes, bytes, n);
    }
}

/* A row of an imported table: numbers to the last bit, empty cells. */
static void samples_survive(void **state)
{
    (void)state;
    char text[512];
    struct oxl_error err = {0};
    struct oxl_line back, line = {.kind = OXL_LINE_SAMPLES, .t_us = 7, .n = 4};
    line.values[0] = 0.1 + 0.2;
    line.values[1] = NAN;
    line.values[2] = -1e-9;
    line.values[3] = 4;
    size_t n = oxl_record_encode(&line, text, sizeof text);
    assert_true(n > 0);
    if (oxl_record_decode(text, n - 1, scratch, &back, "f", 1, &err) != OXL_OK)
        fail_msg("%s", err.text);
    assert_int_equal(back.kind, OXL_LINE_SAMPLES);
    assert_int_equal(back.n, 4);
    assert_true(isnan(back.values[1]));
    for (size_t i = 0; i < 4; i++)
        assert_true(i == 1 || back.values[i] == line.values[i]);
    static const char *const wrongs[] = {"{\"t\":1,\"samples\":[]}",
                                         "{\"t\":1,\"samples\":[\"1\"]}", "{\"t\":1,\"samples\":3}",
                                         "{\"t\":1,\"samples\":[1,2,3,4,5,6,7,8,9,10,11,12,13]}"};
    for (size_t i = 0; i < sizeof wrongs / sizeof wrongs[0]; i++)
        assert_int_equal(
            oxl_record_decode(wrongs[i], strlen(wrongs[i]), scratch, &back, "f", 1, &err),
            OXL_ERR_FORMAT);
    line.n = 0;
    assert_int_equal(oxl_record_encode(&line, text, sizeof text), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(samples_survive),
        cmocka_unit_test(every_byte_survives),
        cmocka_unit_test(escapes_mean_the_same_to_another_reader),
        cmocka_unit_test(lines_are_written_as_documented),
        cmocka_unit_test(what_would_not_read_back_is_not_written),
        cmocka_unit_test(other_spellings_are_read),
        cmocka_unit_test(events_are_handed_on_as_they_stand),
        cmocka_unit_test(wrong_lines_are_told),
        cmocka_unit_test(extreme_numbers_are_refused),
        cmocka_unit_test(one_test_in_order),
        cmocka_unit_test(what_is_no_single_test_is_told),
        cmocka_unit_test(both_readers_agree),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
