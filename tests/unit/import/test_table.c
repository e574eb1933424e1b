/* Tables of all sorts: what is read, and what is refused with line and column. */
#include "oxylag/import.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct oxl_import_table *read_as(const char *text, const char *columns,
                                        const char *separator)
{
    struct oxl_import_spec spec = {.columns = columns, .separator = separator, .bank = 1};
    struct oxl_error err = {0};
    struct oxl_import_table *t = NULL;
    if (oxl_table_read(text, strlen(text), &spec, "t.csv", &t, &err) != OXL_OK)
        fail_msg("%s", err.text);
    return t;
}

/* The text must be refused with all the words in the message. */
static void refused(const char *text, const char *columns, enum oxl_status status,
                    const char *const *words)
{
    struct oxl_import_spec spec = {.columns = columns, .bank = 1};
    struct oxl_error err = {0};
    struct oxl_import_table *t = NULL;
    enum oxl_status st = oxl_table_read(text, strlen(text), &spec, "t.csv", &t, &err);
    assert_int_equal(st, status);
    assert_null(t);
    for (; *words; words++)
        if (!strstr(err.text, *words))
            fail_msg("\"%s\" lacks \"%s\"", err.text, *words);
}
#define WORDS(...) ((const char *const[]){__VA_ARGS__, NULL})

static void cell(const struct oxl_import_table *t, size_t row, unsigned channel, double want)
{
    assert_true(fabs(t->values[row * t->about.channels_n + channel] - want) < 1e-9);
}

static void at_us(const struct oxl_import_table *t, size_t row, int64_t want)
{
    assert_int_equal(t->t_us[row], want);
}

static const char plain[] = "time,front,rear,stft";

static void commas(void **state)
{
    (void)state;
    struct oxl_import_table *t = read_as("a,b,c,d,e\n10.0,0.45,0.7,1.5,x\n10.1,0.455,0.71,-2,y\n"
                                         "10.25,0.46,0.72,3,\n",
                                         "time=a,front=b,rear=c,stft=d", NULL);
    const struct oxl_imported *a = &t->about;
    assert_int_equal(t->rows, 3);
    assert_int_equal(a->channels_n, 3);
    assert_true(oxl_channel_same(a->channels[0], oxl_channel(OXL_Q_O2_V, 1, 1)));
    assert_true(oxl_channel_same(a->channels[1], oxl_channel(OXL_Q_O2_V, 1, 2)));
    assert_true(oxl_channel_same(a->channels[2], oxl_channel(OXL_Q_STFT_PCT, 1, 0)));
    at_us(t, 0, 0);
    at_us(t, 1, 100000);
    at_us(t, 2, 250000);
    cell(t, 1, 0, 0.455);
    cell(t, 1, 2, -2);
    assert_false(a->resampled);
    oxl_table_free(t);
}

/* Semicolons, decimal commas, a preamble, a byte order mark, a row of units, CR LF, quotes. */
static void the_other_way(void **state)
{
    (void)state;
    struct oxl_import_table *t =
        read_as("\xEF\xBB\xBF"
                "Exported, by hand\r\n\r\n"
                "\"Zeit; ms\";\"O2 \"\"S1\"\" (mV)\";Lambda hinten;Trim\r\n"
                "ms;mV;;%\r\n"
                "0;455,5;1,002;0,015\r\n"
                "50;\"460\";0,998;-0,21\r\n"
                "100;470;;n/a\r\n"
                "150;470;1,0;-0,20",
                "time=\"Zeit; ms\":ms,front=O2 \"S1\" (mV):mv,rear=Lambda hinten:lambda,"
                "stft=Trim:frac",
                NULL);
    const struct oxl_imported *a = &t->about;
    assert_int_equal(t->rows, 4);
    assert_true(oxl_channel_same(a->channels[1], oxl_channel(OXL_Q_LAMBDA, 1, 2)));
    at_us(t, 1, 50000);
    cell(t, 0, 0, 0.4555);
    cell(t, 0, 1, 1.002);
    cell(t, 0, 2, 1.5);
    cell(t, 1, 2, -21);
    assert_true(isnan(t->values[2 * t->about.channels_n + 1]));
    assert_true(isnan(t->values[2 * t->about.channels_n + 2]));
    oxl_table_free(t);
}

static void clocks_and_units(void **state)
{
    (void)state;
    struct oxl_import_table *t =
        read_as("time\tfront\trear\tstft\tair\ttemp\n"
                "23:59:59.900\t0.1\t0.7\t0.98\t36\t212\n"
                "2024-05-01T23:59:59.950\t0.1\t0.7\t0.79\t36\t212\n"
                "00:00:00,100\t0.1\t0.7\t0.80\t18\t32\n",
                "time=time,front=front,rear=rear,stft=stft:factor,air=#5:kg_h,"
                "coolant=temp:f",
                NULL);
    at_us(t, 1, 50000);
    at_us(t, 2, 200000);
    cell(t, 1, 2, -21);
    cell(t, 0, 3, 10); /* 36 kg/h = 10 g/s */
    cell(t, 0, 4, 100);
    cell(t, 2, 4, 0);
    oxl_table_free(t);
    t = read_as("time|front|rear|stft\n1|0.1|0.7|2\n2|0.1|0.7|2\n3|0.1|0.7|2\n",
                "time=time:us,front=front,rear=rear,stft=stft", "|");
    at_us(t, 2, 2);
    oxl_table_free(t);
}

static void bad_cells(void **state)
{
    (void)state;
    static const char columns[] = "time=time,front=front,rear=rear,stft=stft";
    char text[400];
    static const struct {
        const char *row;
        const char *words[4];
    } cases[] = {
        {"0.2,abc,0.7,1", {"line 4", "\"front\"", "\"abc\"", "number"}},
        {"0.2,0.1,1.234.5,1", {"line 4", "\"rear\"", "1.234.5", "number"}},
        {"0.2,0.1,0x1p3,1", {"line 4", "\"rear\"", "0x1p3", "number"}},
        {"0.2,0.1,inf,1", {"line 4", "\"rear\"", "inf", "number"}},
        {"0.2,455,0.7,1", {"line 4", "\"front\"", "\"455\"", ":mv"}},
        {"0.2,0.1,0.7,120", {"line 4", "\"stft\"", "120", "trim"}},
        {"0.05,0.1,0.7,1", {"line 4", "\"time\"", "0.05", "not before"}},
        {",0.1,0.7,1", {"line 4", "\"time\"", "\"\"", "time"}},
        {"12:00:00,0.1,0.7,1", {"line 4", "\"time\"", "12:00:00", ""}},
        {"0.2,\"0.1,0.7,1", {"line 4", "quote", "", ""}},
        {"1e300,0.1,0.7,1", {"line 4", "\"time\"", ":ms", ""}},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        snprintf(text, sizeof text, "%s\n0,0.1,0.7,1\n0.1,0.1,0.7,1\n%s\n", plain, cases[i].row);
        refused(text, columns, OXL_ERR_FORMAT,
                WORDS(cases[i].words[0], cases[i].words[1], cases[i].words[2], cases[i].words[3]));
    }
}

/* A value that nothing of its kind has, on either side, is refused and says what was expected. */
static void no_value_that_cannot_be(void **state)
{
    (void)state;
    static const struct {
        const char *column, *cell, *expected;
    } rows[] = {{"air", "-0.1", "air flow"},        {"air", "2000", "air flow"},
                {"rpm", "-1", "engine speed"},      {"rpm", "20000", "engine speed"},
                {"map", "-1", "pressure"},          {"map", "1000", ":mbar"},
                {"coolant", "-100", "temperature"}, {"coolant", "2000", "temperature"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[200], columns[80];
        snprintf(text, sizeof text, "%s,x\n0,0.1,0.7,1,%s\n", plain, rows[i].cell);
        snprintf(columns, sizeof columns, "time=time,front=front,rear=rear,stft=stft,%s=x",
                 rows[i].column);
        refused(text, columns, OXL_ERR_FORMAT,
                WORDS("line 2", "\"x\"", rows[i].cell, rows[i].expected));
    }
}

static void bad_tables(void **state)
{
    (void)state;
    static const char columns[] = "time=time,front=front,rear=rear,stft=stft";
    refused("", columns, OXL_ERR_FORMAT, WORDS("empty"));
    /* A text behind the rows is a closing line; what looks like a row behind that is not one. */
    refused("time,front,rear,stft\n0,0.1,0.7,1\n1,0.2,0.7,2\nend of log\n2,0.1,0.7,1\n", columns,
            OXL_ERR_FORMAT, WORDS("line 4", "end of log"));
    refused("\xFF\xFEt", columns, OXL_ERR_FORMAT, WORDS("UTF-16"));
    refused("time,front,back,stft\n0,0.1,0.7,1\n", columns, OXL_ERR_FORMAT,
            WORDS("line 1", "\"rear\"", "time,front,back,stft"));
    refused("time,front,rear,stft\n", columns, OXL_ERR_FORMAT, WORDS("0 rows"));
    refused("time,front,rear,stft\n0,,0.7,1\n1,0.1,0.7,2\n2,,0.7,1\n", columns, OXL_ERR_FORMAT,
            WORDS("\"front\"", "fewer than two"));
    refused("time,front,rear,stft\n0,0.1,0.7,0\n1,0.1,0.7,-0.2\n2,0.1,0.7,0\n", columns,
            OXL_ERR_FORMAT, WORDS("\"stft\"", ":frac"));
    refused("time,front,rear,stft\n0,0.1,0.7,0\n100,0.1,0.7,-2\n200,0.1,0.7,0\n", columns,
            OXL_ERR_FORMAT, WORDS("100 s apart", ":ms"));
}

/* What a name does not settle is asked, not guessed; the number of the column settles it. */
static void columns_that_are_two_or_one(void **state)
{
    (void)state;
    static const char twice[] = "t,o2,o2,s,o2\n0,0.1,0.2,1,9\n1,0.1,0.2,1,9\n2,0.1,0.2,1,9\n";
    refused(twice, "time=t,front=o2,rear=#3,stft=s", OXL_ERR_FORMAT,
            WORDS("t.csv line 1", "two columns are called \"o2\"", "front=#2 or front=#3"));
    struct oxl_import_table *t = read_as(twice, "time=t,front=#2,rear=#3,stft=s", NULL);
    cell(t, 0, 0, 0.1);
    cell(t, 0, 1, 0.2);
    oxl_table_free(t);
    refused("t,f,r,s\n0,0.1,0.2,1\n", "time=t,front=f,rear=f,stft=s", OXL_ERR_FORMAT,
            WORDS("t.csv line 1", "column 2 is named for front and for rear"));
    refused("t,f,r,s\n0,0.1,0.2,1\n", "time=t,front=f,rear=r,stft=#2", OXL_ERR_FORMAT,
            WORDS("column 2 is named for front and for stft"));
}

/* A mark of the byte order, line ends of three kinds, quotes: the same table. */
static void spellings_of_one_table(void **state)
{
    (void)state;
    static const char *const same[] = {
        "t,f,r,s\n0,0.1,0.2,1\n1,0.1,0.2,1\n2,0.1,0.2,1\n",
        "\xEF\xBB\xBFt,f,r,s\r\n0,0.1,0.2,1\r\n1,0.1,0.2,1\r\n2,0.1,0.2,1\r\n",
        "t,f,r,s\r0,0.1,0.2,1\r1,0.1,0.2,1\r2,0.1,0.2,1",
        "\"t\",\"f\",\"r\",\"s\"\n\"0\",\"0.1\",\"0.2\",\"1\"\n\n1,0.1,0.2,1\n2,0.1,0.2,1",
        "\xEF\xBB\xBF\"t\";f;r;s\r\n0;0,1;0,2;1\r\n1;0,1;0,2;1\r\n2;0,1;0,2;1"};
    for (size_t i = 0; i < sizeof same / sizeof same[0]; i++) {
        struct oxl_import_table *t = read_as(same[i], "time=t,front=f,rear=r,stft=s", NULL);
        assert_int_equal(t->rows, 3);
        at_us(t, 2, 2000000);
        cell(t, 2, 0, 0.1);
        cell(t, 2, 1, 0.2);
        cell(t, 2, 2, 1);
        oxl_table_free(t);
    }
}

/* The longest that a recording can hold. */
static void a_month_at_most(void **state)
{
    (void)state;
    char text[200];
    static const char rows[] = "time,front,rear,stft\n0,0.1,0.2,1\n10,0.1,0.2,2\n%s,0.1,0.2,1\n";
    snprintf(text, sizeof text, rows, "2678400.000001");
    refused(text, "time=time,front=front,rear=rear,stft=stft", OXL_ERR_FORMAT,
            WORDS("t.csv line 4", "within 31 days"));
    snprintf(text, sizeof text, rows, "1e10");
    refused(text, "time=time,front=front,rear=rear,stft=stft", OXL_ERR_FORMAT, WORDS("31 days"));
    snprintf(text, sizeof text, rows, "2678400");
    struct oxl_import_table *t = read_as(text, "time=time:s,front=front,rear=rear,stft=stft", NULL);
    at_us(t, 2, INT64_C(2678400000000));
    oxl_table_free(t);
}

static void bad_columns(void **state)
{
    (void)state;
    static const char text[] = "time,front,rear,stft\n0,0.1,0.7,1\n";
    static const struct {
        const char *columns, *word;
    } cases[] = {
        {"", "time=NAME is missing"},      {"time=a,front=b,rear=c", "stft=NAME is missing"},
        {"speed=a", "\"speed=a\""},        {"time", "\"time\""},
        {"time=a,time=b", "twice"},        {"time=", "a name of 1"},
        {"time=\"a", "not closed"},        {"time=\"a\":hours", "\"hours\""},
        {"time=\"a\"b", "after the name"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        refused(text, cases[i].columns, OXL_ERR_USAGE, WORDS("--columns", cases[i].word));
    /* A colon that no unit follows belongs to the name. */
    struct oxl_import_table *t = read_as("t:x,f,r,s\n0,0.1,0.7,2\n1,0.1,0.7,2\n2,0.1,0.7,2\n",
                                         "time=t:x,front=f,rear=r,stft=s", NULL);
    oxl_table_free(t);
    struct oxl_import_spec spec = {"time=time,front=front,rear=rear,stft=stft", "dot", 1};
    struct oxl_error err = {0};
    t = NULL;
    assert_int_equal(oxl_table_read(text, strlen(text), &spec, "t", &t, &err), OXL_ERR_USAGE);
    assert_non_null(strstr(err.text, "--separator"));
}

/* ---- steps ----------------------------------------------------------------------------------- */
/* A rear sensor that falls along an exponential of 0.15 s now and then, read on the 5 mV grid. */
static double sensor(double t)
{
    double phase = fmod(t, 2.0),
           v = phase < 1 ? 0.8 * exp(-phase / 0.15) + 0.05 : 0.85 - 0.8 * exp(-(phase - 1) / 0.15);
    return v;
}

static double on_grid(double v)
{
    return round(v / 0.005) * 0.005;
}

enum kind { AS_READ, HELD, LINES, SMOOTH, OWN_METER };

static struct oxl_import_table *made(enum kind kind, double step_s)
{
    static char text[200000];
    size_t len = (size_t)snprintf(text, sizeof text, "%s\n", plain);
    for (unsigned i = 0; i * step_s < 30; i++) {
        double t = i * step_s, v = sensor(t), sample_s = 0.2;
        double before = floor(t / sample_s + 1e-9) * sample_s, part = (t - before) / sample_s;
        if (kind == AS_READ) {
            t += 0.13 * step_s * ((i * 7) % 5);
            v = on_grid(sensor(t));
        } else if (kind == HELD) {
            v = on_grid(sensor(before));
        } else if (kind == LINES) {
            v = (1 - part) * on_grid(sensor(before)) + part * on_grid(sensor(before + sample_s));
        } else if (kind == SMOOTH) { /* a smooth step between the samples, as splines draw */
            double s = part * part * (3 - 2 * part);
            v = (1 - s) * on_grid(sensor(before)) + s * on_grid(sensor(before + sample_s));
        } else {
            v += 0.0013 * (((i * 5 + i / 3) % 7) - 3.0); /* a meter's own noise, finer steps */
        }
        len += (size_t)snprintf(text + len, sizeof text - len, "%.4f,%.5f,%.5f,2\n", t, v, v);
    }
    return read_as(text, "time=time,front=front,rear=rear,stft=stft", NULL);
}

static void steps_are_found(void **state)
{
    (void)state;
    struct oxl_import_table *t = made(AS_READ, 0.1);
    assert_false(t->about.resampled);
    assert_in_range(t->about.row_us, 80000, 130000);
    assert_in_range(t->about.step_us[1], 80000, 130000);
    oxl_table_free(t);
    /* Rows every 20 ms that repeat what was read every 200 ms: the step is that of the reading. */
    t = made(HELD, 0.02);
    assert_int_equal(t->about.row_us, 20000);
    assert_in_range(t->about.step_us[0], 190000, 210000);
    assert_in_range(t->about.step_us[1], 190000, 210000);
    assert_false(t->about.resampled);
    oxl_table_free(t);
    /* A calm rear that changes every ten seconds is not held for ten seconds. */
    static char text[100000];
    size_t len = (size_t)snprintf(text, sizeof text, "%s\n", plain);
    for (int i = 0; i < 3000; i++)
        len += (size_t)snprintf(text + len, sizeof text - len, "%.2f,%.3f,%.3f,2\n", 0.05 * i,
                                on_grid(sensor(0.05 * i)), i / 200 % 2 ? 0.7 : 0.1);
    t = read_as(text, "time=time,front=front,rear=rear,stft=stft", NULL);
    assert_in_range(t->about.step_us[1], 45000, 60000);
    oxl_table_free(t);
}

static void interpolation_is_recognised(void **state)
{
    (void)state;
    static const struct {
        enum kind kind;
        double step_s;
        bool resampled;
    } cases[] = {{LINES, 0.02, true},      {LINES, 0.05, true},    {SMOOTH, 0.02, true},
                 {OWN_METER, 0.01, false}, {AS_READ, 0.02, false}, {AS_READ, 0.2, false}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct oxl_import_table *t = made(cases[i].kind, cases[i].step_s);
        if (t->about.resampled != cases[i].resampled)
            fail_msg("case %zu: resampled is %d", i, t->about.resampled);
        if (cases[i].resampled)
            assert_true(t->about.step_us[0] >= 5 * t->about.row_us);
        oxl_table_free(t);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(commas),
        cmocka_unit_test(the_other_way),
        cmocka_unit_test(clocks_and_units),
        cmocka_unit_test(bad_cells),
        cmocka_unit_test(no_value_that_cannot_be),
        cmocka_unit_test(bad_tables),
        cmocka_unit_test(bad_columns),
        cmocka_unit_test(columns_that_are_two_or_one),
        cmocka_unit_test(a_month_at_most),
        cmocka_unit_test(spellings_of_one_table),
        cmocka_unit_test(steps_are_found),
        cmocka_unit_test(interpolation_is_recognised),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
