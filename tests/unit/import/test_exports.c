/* Tables as other programs export them: times, header names, units in cells, closing lines, UTF-16.
 */
#include "oxylag/import.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

static const char columns[] = "time=t,front=f,rear=r,stft=s";

static enum oxl_status read_bytes(const char *text, size_t n, const char *named,
                                  struct oxl_import_table **out, struct oxl_error *err)
{
    struct oxl_import_spec spec = {.columns = named, .bank = 1};
    *out = NULL;
    return oxl_table_read(text, n, &spec, "t.csv", out, err);
}

static struct oxl_import_table *read_as(const char *text, const char *named)
{
    struct oxl_error err = {0};
    struct oxl_import_table *t;
    if (read_bytes(text, strlen(text), named, &t, &err) != OXL_OK)
        fail_msg("%s\n%s", err.text, text);
    return t;
}

static void refused(const char *text, const char *named, enum oxl_status status, const char *word)
{
    struct oxl_error err = {0};
    struct oxl_import_table *t;
    enum oxl_status st = read_bytes(text, strlen(text), named, &t, &err);
    if (st != status || !strstr(err.text, word))
        fail_msg("status %d, \"%s\" lacks \"%s\" for\n%s", st, err.text, word, text);
}

static int64_t at_us(const struct oxl_import_table *t, size_t row)
{
    return t->t_us[row];
}

static double value(const struct oxl_import_table *t, size_t row, unsigned channel)
{
    return t->values[row * t->about.channels_n + channel];
}

/* ---- times ----------------------------------------------------------------------------------- */
/* Three rows with these times: how far the second and the third are from the first. */
static const struct {
    const char *at[3];
    int64_t after_ms[2];
} times[] = {
    {{"2024-05-01T12:00:00Z", "2024-05-01T12:00:00.25Z", "2024-05-01T12:00:01,5Z"}, {250, 1500}},
    {{"2024-05-01T12:00:00+02:00", "2024-05-01t11:30:01+0130", "2024-05-01T09:00:02-01"},
     {1000, 2000}},
    {{"2024-05-01T00:30:00.0+01:00", "2024-05-01T00:59:59.9+01:00", "2024-05-01T01:00:00.0+01:00"},
     {1799900, 1800000}},
    {{"2024-12-31 23:59:59.9Z", "2025-01-01 00:00:00Z", "2025-01-01 00:00:00.1Z"}, {100, 200}},
    {{"11:59:59.5 AM", "12:00:00.0 PM", "1:00:00.5 pm"}, {500, 3601000}},
    {{"5/1/2024 11:59:59 PM", "5/2/2024 12:00:00 AM", "5/2/2024 12:00:01 AM"}, {1000, 2000}},
    {{"9:59:59 a.m.",
      "10:00:00\xE2\x80\xAF"
      "a.m.",
      "10:00:01\xC2\xA0"
      "AM"},
     {1000, 2000}},
    {{"59:59.8", "00:00.1", "00:01.0"}, {300, 1200}},
    {{"3:07.0", "3:07.1", "12:00.0"}, {100, 533000}},
    {{"59:59.5", "1:00:00.5", "1:00:01"}, {1000, 1500}},
    {{"12:00:00:900", "12:00:01:000", "12:00:01:005"}, {100, 105}},
    {{"12:00:00:9", "12:00:00:100", "12:00:00:250000"}, {91, 241}},
    {{"0 s", "100 ms", "200 ms"}, {0, 0}},
    {{"12.5 s", "12.6 s", "13"}, {100, 500}},
    {{"1250 ms", "1350 ms", "1650"}, {100, 400}},
};

static void times_of_exports(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof times / sizeof times[0]; i++) {
        char text[300];
        const char *const *at = times[i].at;
        snprintf(text, sizeof text, "t;f;r;s\n%s;0.1;0.7;2\n%s;0.1;0.7;2\n%s;0.1;0.7;2\n", at[0],
                 at[1], at[2]);
        if (times[i].after_ms[1] == 0) {
            refused(text, columns, OXL_ERR_FORMAT, "the column's unit, which is s");
            continue;
        }
        struct oxl_import_table *t = read_as(text, columns);
        for (size_t k = 0; k < 2; k++)
            if (at_us(t, k + 1) != 1000 * times[i].after_ms[k])
                fail_msg("%s to %s: %lld us", at[0], at[k + 1], (long long)at_us(t, k + 1));
        oxl_table_free(t);
    }
}

static void times_that_are_none(void **state)
{
    (void)state;
    static const char *const wrong[] = {
        "12:05",         "12:60:00",          "24:00:00",       "12:00:00 XM",
        "13:00:00 PM",   "0:00:00 AM",        "1:2:3:4:5",      "12:00:00:1234",
        "12:00:00:5.5",  "12:00:00+1",        "12:00:00+15:00", "12:00:00ZZ",
        "12::00",        "noon 12:00:00",     "12:00:00.",      "12:00:00 PM PM",
        "12:00:00+02:0", "99999999999:00:00", "12:00:61"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        char text[200];
        snprintf(text, sizeof text, "t;f;r;s\n%s;0.1;0.7;2\n%s;0.1;0.7;2\n%s;0.1;0.7;2\n", wrong[i],
                 wrong[i], wrong[i]);
        refused(text, columns, OXL_ERR_FORMAT, "expected a clock time: hh:mm:ss.fff");
    }
}

/* The outside check: libc writes the clock (strftime, POSIX.1-2017), and the distance of two
 * moments is that of their time_t. */
static void clocks_as_libc_writes_them(void **state)
{
    (void)state;
    static const char *const ways[] = {"%Y-%m-%dT%H:%M:%SZ", "%d.%m.%Y %H:%M:%S", "%I:%M:%S %p",
                                       "%m/%d/%Y, %r", "%H:%M:%S%z"};
    uint64_t random = 12;
    for (unsigned i = 0; i < 2000; i++) {
        random = random * 6364136223846793005u + 1442695040888963407u;
        time_t first = (time_t)(random >> 34);
        long step = 1 + (long)(random >> 20 & 0x3FFF); /* under half a day */
        char text[400] = "t;f;r;s\n", cell[64];
        for (long k = 0; k < 3; k++) {
            time_t at = first + k * step;
            struct tm tm;
            assert_non_null(gmtime_r(&at, &tm));
            assert_true(strftime(cell, sizeof cell, ways[i % 5], &tm) > 0);
            snprintf(text + strlen(text), sizeof text - strlen(text), "%s;0.1;0.7;2\n", cell);
        }
        struct oxl_import_table *t = read_as(text, "time=t:clock,front=f,rear=r,stft=s");
        if (at_us(t, 1) != 1000000 * step || at_us(t, 2) != 2000000 * step)
            fail_msg("%ld s apart, read as %lld us:\n%s", step, (long long)at_us(t, 1), text);
        oxl_table_free(t);
    }
}

/* A spreadsheet's days: 2024-05-01 is day 45413 from 1899-12-30 (by time_t below). */
static void spreadsheet_days(void **state)
{
    (void)state;
    char text[4000] = "t;f;r;s\n";
    double day = 25569 + (double)1714521600 / 86400; /* 1970-01-01 is day 25569 */
    assert_true(day == 45413);
    for (int i = 0; i < 40; i++)
        snprintf(text + strlen(text), sizeof text - strlen(text), "%.10f;0.1;0.7;2\n",
                 day + 0.5 + 0.1 * i / 86400);
    refused(text, columns, OXL_ERR_FORMAT, "add :day");
    struct oxl_import_table *t = read_as(text, "time=t:day,front=f,rear=r,stft=s");
    for (size_t i = 0; i < 40; i++) /* ten decimals are 9 us */
        assert_true(llabs((long long)at_us(t, i) - 100000 * (long long)i) <= 20);
    oxl_table_free(t);
    /* An oscilloscope's 20 kHz are no days when the unit says so. */
    t = read_as(text, "time=t:s,front=f,rear=r,stft=s");
    oxl_table_free(t);
}

/* ---- names ----------------------------------------------------------------------------------- */
static void names_in_any_case(void **state)
{
    (void)state;
    oxl_table_free(
        read_as("TIME,\"Front \"\"O2\"\"\",REAR,Stft\n0,0.1,0.7,2\n1,0.1,0.7,2\n2,0.1,0.7,2\n",
                "time=Time,front=FRONT \"o2\",rear=rear,stft=STFT"));
}

/* As it is written comes first; two that differ only in their letters are asked about. */
static void names_alike(void **state)
{
    (void)state;
    static const char text[] = "t,o2,O2,s\n0,0.1,0.7,2\n1,0.1,0.7,2\n2,0.1,0.7,2\n";
    struct oxl_import_table *t = read_as(text, "time=T,front=o2,rear=O2,stft=S");
    assert_true(value(t, 0, 0) == 0.1 && value(t, 0, 1) == 0.7);
    oxl_table_free(t);
    refused("t,Oxy,oxy,s\n0,0.1,0.7,2\n", "time=t,front=OXY,rear=#3,stft=s", OXL_ERR_FORMAT,
            "two columns are called \"OXY\"");
}

static void units_that_nobody_knows(void **state)
{
    (void)state;
    static const char text[] = "preamble\nt,o2,r,s\n0,0.1,0.7,2\n1,0.1,0.7,2\n2,0.1,0.7,2\n";
    refused(text, "time=t:hours,front=o2,rear=r,stft=s", OXL_ERR_USAGE,
            "time: unit \"hours\" is not known: expected s, ms, us, clock, day");
    refused(text, "time=t,front=o2:volts,rear=r,stft=s", OXL_ERR_USAGE,
            "front: unit \"volts\" is not known");
    refused(text, "time=t,front=O2,rear=#3:x,stft=s", OXL_ERR_USAGE, "unit \"x\" is not known");
    refused(text, "time=t,front=gone:volts,rear=r,stft=s", OXL_ERR_FORMAT,
            "no column \"gone:volts\"");
}

/* ---- cells ----------------------------------------------------------------------------------- */
static void values_with_their_unit(void **state)
{
    (void)state;
    struct oxl_import_table *t =
        read_as("t;f;r;s;a;k;p\n0 s;0.98;680 mV;-2.5 %;3.6 kg/h;176 \xC2\xB0"
                "F;1000 hPa\n1 s;0.99;690mV;0,5%;3.6 KG/H;212 \xB0"
                "F;1000\n2 s;1.01;700 ;0.4;n/a;;1000 hpa\n",
                "time=t,front=f:lambda,rear=r,stft=s,air=a,coolant=k,map=p");
    assert_true(fabs(value(t, 0, 1) - 0.68) < 1e-9 && fabs(value(t, 1, 1) - 0.69) < 1e-9);
    assert_true(fabs(value(t, 2, 1) - 0.7) <
                1e-9); /* the column's unit from the first that says it */
    assert_true(value(t, 0, 2) == -2.5 && value(t, 1, 2) == 0.5);
    assert_true(fabs(value(t, 0, 3) - 1) < 1e-9); /* air */
    assert_true(fabs(value(t, 1, 5) - 100) < 1e-9);
    assert_true(fabs(value(t, 2, 4) - 100) < 1e-9); /* pressure */
    oxl_table_free(t);
}

static void units_that_contradict(void **state)
{
    (void)state;
    static const struct {
        const char *front, *named, *word;
    } cases[] = {
        {"680 mV", "time=t,front=f:v,rear=r,stft=s", "the column's unit, which is v"},
        {"0.68 bananas", "time=t,front=f,rear=r,stft=s", "one of the units v, mv, lambda"},
        {"0.98 lambda", "time=t,front=f,rear=r,stft=s", "add :lambda"},
        {"V 0.68", "time=t,front=f,rear=r,stft=s", "expected a number"},
        {"0.6 8 V", "time=t,front=f,rear=r,stft=s", "one of the units"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[200];
        snprintf(text, sizeof text, "t,f,r,s\n0,0.1,0.7,2\n1,%s,0.7,2\n2,0.1,0.7,2\n",
                 cases[i].front);
        refused(text, cases[i].named, OXL_ERR_FORMAT, cases[i].word);
        refused(text, cases[i].named, OXL_ERR_FORMAT, "t.csv line 3, column \"f\"");
    }
    refused("t,f,r,s\n12:00:00,0.1,0.7,2\n12:00:01,0.1,0.7,2\n5 clock,0.1,0.7,2\n", columns,
            OXL_ERR_FORMAT, "line 4, column \"t\"");
}

/* Below the rows: words are left out, as long as no row follows; empty cells are no row. */
static void closing_lines(void **state)
{
    (void)state;
    static const char rows[] = "t,f,r,s\n0,0.1,0.7,2\n1,0.1,0.7,2\n2,0.1,0.7,2\n";
    static const struct {
        const char *end;
        size_t lines;
    } taken[] = {{"End of log\n", 1},
                 {"--- end ---\n\n3 rows, 2 s\n", 2},
                 {",,,\n,,,\n", 0},
                 {"Average,0.1,0.7,2\nSaved at 12:00:01\n", 2},
                 {"\n  \nend of log", 1}};
    char text[400];
    for (size_t i = 0; i < sizeof taken / sizeof taken[0]; i++) {
        snprintf(text, sizeof text, "%s%s", rows, taken[i].end);
        struct oxl_import_table *t = read_as(text, columns);
        assert_int_equal(t->rows, 3);
        assert_int_equal(t->closing_lines, taken[i].lines);
        oxl_table_free(t);
    }
    snprintf(text, sizeof text, "%sEnd\n3,0.1,0.7,2\n", rows);
    refused(text, columns, OXL_ERR_FORMAT, "line 5, column \"t\": found \"End\", expected a time");
    snprintf(text, sizeof text, "%s3x,0.1,0.7,2\n", rows);
    refused(text, columns, OXL_ERR_FORMAT, "line 5, column \"t\": found \"3x\"");
    snprintf(text, sizeof text, "%sa\nb\nc\nd\ne\nf\ng\nh\ni\nj\nk\n", rows);
    refused(text, columns, OXL_ERR_FORMAT, "line 5, column \"t\": found \"a\"");
}

/* ---- UTF-16 ---------------------------------------------------------------------------------- */
/* What `printf 'tä€𝄞,f,r,s\n...' | iconv -t UTF-16LE` gives (GNU libc 2.36), cut to the header. */
static const unsigned char header_le[] = {0xFF, 0xFE, 't',  0,    0xE4, 0, 0xAC, 0x20,
                                          0x34, 0xD8, 0x1E, 0xDD, ',',  0, 'f',  0,
                                          ',',  0,    'r',  0,    ',',  0, 's',  0};

static size_t utf16(const char *ascii_rows, bool big_endian, char *out)
{
    size_t n = sizeof header_le;
    memcpy(out, header_le, n);
    for (const char *p = ascii_rows; *p; p++) {
        out[n++] = *p;
        out[n++] = 0;
    }
    for (size_t i = 0; big_endian && i < n; i += 2) {
        char first = out[i];
        out[i] = out[i + 1];
        out[i + 1] = first;
    }
    return n;
}

static void utf16_with_its_mark(void **state)
{
    (void)state;
    static const char rows[] = "\r\n0,0.1,0.7,2\r\n1,0.1,0.7,2\r\n2,0.1,0.7,2\r\n";
    char text[400];
    struct oxl_error err;
    struct oxl_import_table *t;
    for (int big = 0; big < 2; big++) {
        size_t n = utf16(rows, big, text);
        if (read_bytes(text, n, "time=t\xC3\xA4\xE2\x82\xAC\xF0\x9D\x84\x9E,front=f,rear=r,stft=s",
                       &t, &err) != OXL_OK)
            fail_msg("%s", err.text);
        assert_int_equal(t->rows, 3);
        assert_int_equal(at_us(t, 2), 2000000);
        oxl_table_free(t);
        assert_int_equal(read_bytes(text, n - 1, columns, &t, &err), OXL_ERR_FORMAT);
        assert_non_null(strstr(err.text, "ends within a character"));
    }
    size_t n = utf16(rows, false, text); /* without the mark nobody knows */
    assert_int_equal(read_bytes(text + 2, n - 2, columns, &t, &err), OXL_ERR_FORMAT);
    assert_non_null(strstr(err.text, "NUL bytes"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(times_of_exports),           cmocka_unit_test(times_that_are_none),
        cmocka_unit_test(clocks_as_libc_writes_them), cmocka_unit_test(spreadsheet_days),
        cmocka_unit_test(names_in_any_case),          cmocka_unit_test(names_alike),
        cmocka_unit_test(units_that_nobody_knows),    cmocka_unit_test(values_with_their_unit),
        cmocka_unit_test(units_that_contradict),      cmocka_unit_test(closing_lines),
        cmocka_unit_test(utf16_with_its_mark),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
