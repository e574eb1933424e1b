/* How long a line of a recording may be. */
#include "oxylag/record.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static char scratch[OXL_RECORD_LINE_MAX + 1];

static void an_endless_line_is_refused(void **state)
{
    (void)state;
    static char text[OXL_RECORD_LINE_MAX + 64];
    struct oxl_line line;
    struct oxl_error err = {0};
    memset(text, 'x', sizeof text);
    memcpy(text, "{\"t\":1,\"rx\":\"", 13);
    memcpy(text + sizeof text - 2, "\"}", 2);
    assert_int_equal(oxl_record_decode(text, sizeof text, scratch, &line, "f", 1, &err),
                     OXL_ERR_FORMAT);
    assert_non_null(strstr(err.text, "longer than"));
}

/* The longest line that is allowed, in a spelling that only the thorough way reads. */
static void a_line_of_the_greatest_length(void **state)
{
    (void)state;
    static char text[OXL_RECORD_LINE_MAX + 2];
    struct oxl_line line;
    struct oxl_error err = {0};
    memset(text, ' ', sizeof text - 1);
    memcpy(text, "{\"t\":5,\"rx\":\"41\"", 16);
    text[OXL_RECORD_LINE_MAX - 1] = '}';
    assert_int_equal(oxl_record_decode(text, OXL_RECORD_LINE_MAX, scratch, &line, "f", 7, &err),
                     OXL_OK);
    assert_int_equal(line.n, 2);
    assert_int_equal(oxl_record_decode(text, OXL_RECORD_LINE_MAX + 1, scratch, &line, "f", 7, &err),
                     OXL_ERR_FORMAT);
}

/* One letter beside it is another member, which says nothing of the line. */
static void a_member_that_is_nearly_rx(void **state)
{
    static const char *const texts[] = {"{\"t\":5,\"ry\":\"41\"}", "{\"t\":5,\"sx\":\"41\"}",
                                        "{\"t\":5,\"qx\":\"41\"}", "{\"u\":5,\"rx\":\"41\"}"};
    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct oxl_line line;
        struct oxl_error err = {0};
        assert_int_equal(
            oxl_record_decode(texts[i], strlen(texts[i]), scratch, &line, "f", 1, &err),
            OXL_ERR_FORMAT);
    }
}

/* scratch has a byte more than the line: what is read ends with NUL, whatever was in it before. */
static void what_is_read_ends(void **state)
{
    static const char *const texts[] = {"{\"t\":5,\"rx\":\"41\"}", "{\"t\":5,\"rx\":\"4\\u0031\"}",
                                        "{\"t\":5, \"rx\":\"41\"}"};
    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct oxl_line line;
        struct oxl_error err = {0};
        memset(scratch, 'Z', sizeof scratch);
        assert_int_equal(
            oxl_record_decode(texts[i], strlen(texts[i]), scratch, &line, "f", 1, &err), OXL_OK);
        assert_int_equal(line.n, 2);
        assert_string_equal(line.bytes, "41");
    }
}

/* 1e9 is the greatest value, written and read; what is beyond it is neither. */
static void the_greatest_value(void **state)
{
    static const struct {
        double value;
        bool fits;
    } rows[] = {{1e9, true}, {-1e9, true}, {1.0000001e9, false}, {-1.0000001e9, false}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[OXL_RECORD_LINE_MAX + 1];
        struct oxl_error err = {0};
        struct oxl_line read, line = {.kind = OXL_LINE_SAMPLES, .t_us = 5, .n = 1};
        line.values[0] = rows[i].value;
        size_t len = oxl_record_encode(&line, text, sizeof text);
        assert_int_equal(len > 0, rows[i].fits);
        len = (size_t)snprintf(text, sizeof text, "{\"t\":5,\"samples\":[%.10g]}", rows[i].value);
        enum oxl_status s = oxl_record_decode(text, len, scratch, &read, "f", 1, &err);
        assert_int_equal(s == OXL_OK, rows[i].fits);
        if (rows[i].fits)
            assert_true(read.values[0] == rows[i].value);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_endless_line_is_refused),
        cmocka_unit_test(a_line_of_the_greatest_length),
        cmocka_unit_test(a_member_that_is_nearly_rx),
        cmocka_unit_test(what_is_read_ends),
        cmocka_unit_test(the_greatest_value),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
