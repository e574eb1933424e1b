/* A row from a file: what its first and last lines say, and why it cannot be read. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "help_folder.h"

static char *folder;

static int setup(void **state)
{
    (void)state;
    folder = help_folder();
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    help_folder_remove(folder);
    return 0;
}

static struct oxl_past row_of(const char *lines)
{
    struct oxl_past row;
    const struct oxl_record_header h = help_header("2026-11-30T07:35:00+01:00", "4711");
    help_recording(folder, "a.jsonl", &h, lines);
    oxl_past_read(help_path(folder, "a.jsonl"), &row);
    return row;
}

#define STATE(name) "{\"t\":3,\"event\":{\"event\":\"state\",\"state\":\"" name "\"}}\n"
#define VEHICLE     "{\"t\":1,\"event\":{\"event\":\"vehicle\",\"vin\":\"0XYLAGSM4R0000003\"}}\n"

static void whole(void **state)
{
    (void)state;
    struct oxl_past r =
        row_of(STATE("precheck") VEHICLE STATE("baseline") STATE("done") HELP_RESULT HELP_END);
    assert_string_equal(r.kind, "test");
    assert_string_equal(r.vin, "0XYLAGSM4R0000003");
    assert_string_equal(r.order, "4711");
    assert_string_equal(r.verdict, "good");
    assert_string_equal(r.lead, "a figure");
    assert_string_equal(r.replay, "not-made");
    assert_string_equal(r.why, "");
    assert_true(r.complete);
    assert_true(r.delay_at_target_s.value == 8.5 && r.delay_at_target_s.low == 8.25);
    assert_true(isnan(r.delay_at_target_s.high) && isnan(r.o2_mg.value) && r.o2_mg.low == 541.5);
}

/* Megabytes between the vehicle and the result, and a result that stands farther from the end than
 * the first look. */
static void far_apart(void **state)
{
    (void)state;
    static const char tick[] = "{\"t\":5,\"tick\":true}\n";
    enum { TICKS = 60000 };
    const size_t k = sizeof tick - 1;
    char *lines = malloc(2 * TICKS * k + 4096), *at = lines;
    assert_non_null(lines);
    for (int late = 0; late < 2; late++) {
        at = lines + sprintf(lines, "%s%s%s", VEHICLE, STATE("baseline"), late ? HELP_RESULT : "");
        for (int i = 0; i < TICKS; i++, at += k)
            memcpy(at, tick, k);
        sprintf(at, "%s%s", late ? "" : HELP_RESULT, HELP_END);
        struct oxl_past r = row_of(lines);
        assert_string_equal(r.vin, "0XYLAGSM4R0000003");
        assert_string_equal(r.verdict, "good");
        assert_true(r.complete);
    }
    free(lines);
}

static void without_result(void **state)
{
    (void)state;
    struct oxl_past r = row_of(VEHICLE STATE("baseline"));
    assert_string_equal(r.verdict, "");
    assert_false(r.complete);
    assert_string_equal(r.why, "it is cut off or still being written: there is no result");
    r = row_of(STATE("baseline") "{\"t\":9,\"end\":\"stopped: the cause \\\"X\\\"\"}\n");
    assert_true(r.complete);
    assert_string_equal(r.why, "stopped: the cause \"X\"");
    r = row_of(STATE("stopped") "{\"t\":8,\"event\":{\"event\":\"caution\",\"code\":\"unsuitable\","
                                "\"text\":\"words\",\"detail\":\"no rear sensor\"}}\n" HELP_END);
    assert_string_equal(r.why, "no rear sensor");
    r = row_of(STATE("precheck") "{\"t\":8,\"event\":{\"event\":\"link\",\"state\":\"no vehicle\","
                                 "\"text\":\"silent\"}}\n" HELP_END);
    assert_string_equal(r.why, "silent");
}

/* The last line is cut off in its middle; nothing of it counts. */
static void torn(void **state)
{
    (void)state;
    struct oxl_past r =
        row_of(VEHICLE STATE("baseline") STATE("done") HELP_RESULT "{\"t\":9,\"end\":true}");
    assert_false(r.complete);
    assert_string_equal(r.verdict, "good");
}

/* A result as an older version wrote it is not enough. */
/* A line of it that is no JSON may have been the result: nothing is said of it but that. */
static void damaged(void **state)
{
    (void)state;
    static const char *const lines[] = {
        VEHICLE STATE("baseline") "{\"t\":8,\"event\":{\"event\":\"result\",\"verd}}\n" HELP_END,
        VEHICLE STATE("baseline") HELP_RESULT "{\"t\":9,\"end\":tr\n",
    };
    for (size_t i = 0; i < 2; i++) {
        struct oxl_past r = row_of(lines[i]);
        assert_string_equal(r.kind, "unreadable");
        assert_non_null(strstr(r.why, "it is damaged"));
        assert_string_equal(r.verdict, "");
    }
}

static void older(void **state)
{
    (void)state;
    struct oxl_past row;
    const struct oxl_record_header h = help_header("2026-11-30T07:35:00+01:00", "");
    help_recording(
        folder, "a.jsonl", &h,
        STATE("done") "{\"t\":8,\"event\":{\"event\":\"result\",\"verdict\":\"good\"}}\n" HELP_END);
    assert_false(oxl_past_read(help_path(folder, "a.jsonl"), &row));
    assert_string_equal(row.verdict, "good");
    help_recording(folder, "a.jsonl", &h, STATE("done") HELP_RESULT HELP_END);
    assert_true(oxl_past_read(help_path(folder, "a.jsonl"), &row));
}

static void unreadable(const char *name, const char *why)
{
    struct oxl_past row;
    assert_true(oxl_past_read(help_path(folder, name), &row));
    assert_string_equal(row.kind, "unreadable");
    if (!strstr(row.why, why))
        fail_msg("%s: \"%s\" does not say \"%s\"", name, row.why, why);
}

static void not_a_recording(void **state)
{
    (void)state;
    help_write(folder, "empty.jsonl", "", 0);
    unreadable("empty.jsonl", "empty");
    help_write(folder, "zeros.jsonl", "\0\0\0\n\0", 5);
    unreadable("zeros.jsonl", "not one JSON object");
    help_write(folder, "junk.jsonl", "junk\n", 5);
    unreadable("junk.jsonl", "not one JSON object");
    help_write(folder, "other.jsonl", "{\"a\":1}\n", 8);
    unreadable("other.jsonl", "not a recording");
    help_write(folder, "line.jsonl", "{\"format\"", 9);
    unreadable("line.jsonl", "no end");
    assert_int_equal(mkdir(help_path(folder, "d.jsonl"), 0700), 0);
    unreadable("d.jsonl", "it is a folder");
    assert_int_equal(symlink("nowhere", help_path(folder, "l.jsonl")), 0);
    unreadable("l.jsonl", "No such file");
    assert_int_equal(symlink("c.jsonl", help_path(folder, "c.jsonl")), 0);
    unreadable("c.jsonl", "symbolic links");
    assert_int_equal(mkfifo(help_path(folder, "p.jsonl"), 0600), 0);
    unreadable("p.jsonl", "it is a pipe");
}

static void masked(void **state)
{
    (void)state;
    struct oxl_past r = row_of(VEHICLE HELP_END);
    strcpy(r.plate, "AB 123");
    strcpy(r.vehicle, "the doctor's");
    strcpy(r.technician, "somebody");
    oxl_past_mask(&r);
    assert_string_equal(r.vin, "0XYLAGSM*********");
    assert_string_equal(r.plate, "***");
    assert_string_equal(r.vehicle, "***");
    assert_string_equal(r.technician, "somebody"); /* whose test it is stands on its page */
    assert_string_equal(r.order, "4711");
}

static bool read_back(const char *text, struct oxl_past *row)
{
    return oxl_members_from_json(oxl_past_fields, OXL_PAST_FIELDS, text, strlen(text), row);
}

/* A member that is missing, too long or of another kind makes the whole row no row. */
static void round_trip(void **state)
{
    (void)state;
    char text[OXL_PAST_JSON], bad[OXL_PAST_JSON];
    struct oxl_past a = row_of(VEHICLE STATE("done") HELP_RESULT HELP_END), b;
    strcpy(a.plate, "\xC3\x84 \"1\"\n");
    strcpy(a.before, "before.jsonl");
    assert_true(oxl_members_json(oxl_past_fields, OXL_PAST_FIELDS, &a, text, sizeof text) > 0);
    assert_true(read_back(text, &b));
    for (size_t i = 0; i < OXL_PAST_FIELDS; i++) {
        assert_true(read_back(text, &b));
        const struct oxl_member *f = &oxl_past_fields[i];
        const char *x = (const char *)&a + f->offset, *y = (const char *)&b + f->offset;
        if (f->type == OXL_MEMBER_TEXT)
            assert_string_equal(x, y);
        else if (!(f->type == OXL_MEMBER_NUMBER && isnan(*(const double *)(const void *)x)))
            assert_memory_equal(x, y, f->size);
        snprintf(bad, sizeof bad, "%s", text);
        char name[48], *at;
        snprintf(name, sizeof name, "\"%s\":", f->name);
        assert_non_null(at = strstr(bad, name));
        at[1] = '#';
        assert_false(read_back(bad, &b));
    }
    assert_false(read_back("", &b));
    assert_false(read_back("[]", &b));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(whole, setup, teardown),
        cmocka_unit_test_setup_teardown(far_apart, setup, teardown),
        cmocka_unit_test_setup_teardown(without_result, setup, teardown),
        cmocka_unit_test_setup_teardown(torn, setup, teardown),
        cmocka_unit_test_setup_teardown(damaged, setup, teardown),
        cmocka_unit_test_setup_teardown(older, setup, teardown),
        cmocka_unit_test_setup_teardown(not_a_recording, setup, teardown),
        cmocka_unit_test_setup_teardown(masked, setup, teardown),
        cmocka_unit_test_setup_teardown(round_trip, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
