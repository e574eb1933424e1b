/* A folder as rows: order, pairs, what is wanted; and a cache that never changes what they say. */
#define _GNU_SOURCE /* memmem(3) */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "help_folder.h"

#define VIN_A "0XYLAGSM4R0000003"
#define VIN_B "0XYLAGSM4R0000004"

static char *folder, *apart;
static char cache[300];
static unsigned replays;

static int setup(void **state)
{
    (void)state;
    folder = help_folder();
    apart = help_folder();
    snprintf(cache, sizeof cache, "%s/cache.sqlite", apart);
    replays = 0;
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    help_folder_remove(folder);
    help_folder_remove(apart);
    return 0;
}

static void on_replay(void *ctx, const char *path, struct oxl_past *row)
{
    (void)ctx;
    (void)path;
    replays++;
    strcpy(row->verdict, "not bad");
    strcpy(row->replay, "identical");
}

static struct oxl_catalogue list(const char *with)
{
    struct oxl_catalogue c;
    struct oxl_error err;
    const struct oxl_catalogue_source from = {.cache = with, .replay = on_replay};
    assert_int_equal(oxl_catalogue_read(folder, &from, &c, &err), OXL_OK);
    return c;
}

static const struct oxl_past *find(const struct oxl_catalogue *c, const char *file)
{
    for (size_t i = 0; i < c->n; i++)
        if (strcmp(c->rows[i].file, file) == 0)
            return &c->rows[i];
    fail_msg("%s is not listed", file);
    return NULL;
}

static void three(void)
{
    help_test(folder, "old.jsonl", "2026-11-28T09:00:00+01:00", VIN_A, "bad");
    help_test(folder, "new.jsonl", "2026-11-30T09:00:00+01:00", VIN_A, "good");
    help_test(folder, "other.jsonl", "2026-11-29T09:00:00+01:00", VIN_B, "questionable");
}

static void newest_first_and_pairs(void **state)
{
    (void)state;
    three();
    help_test(folder, "new2.jsonl", "2026-11-30T09:30:00+02:00", VIN_A, "good"); /* before new */
    help_test(folder, "hid1.jsonl", "2026-11-01T09:00:00+0000", "0XYLAGSM*********", "bad");
    help_test(folder, "hid2.jsonl", "2026-11-02T09:00:00+0000", "0XYLAGSM*********", "bad");
    const struct oxl_record_header h = help_header("2026-11-30T20:00:00+01:00", "");
    help_recording(folder, "none.jsonl", &h,
                   "{\"t\":1,\"event\":{\"event\":\"vehicle\",\"vin\":\"" VIN_A "\"}}\n");
    help_write(folder, "junk.jsonl", "x", 1);
    help_write(folder, "notes.txt", "x", 1);
    help_write(folder, ".jsonl", "x", 1);
    struct oxl_catalogue c = list(NULL);
    static const char *const order[] = {"none.jsonl", "new.jsonl",  "new2.jsonl", "other.jsonl",
                                        "old.jsonl",  "hid2.jsonl", "hid1.jsonl", "junk.jsonl"};
    static const char *const before[] = {"", "new2.jsonl", "old.jsonl", "", "", "", "", ""};
    assert_int_equal(c.n, 8);
    for (size_t i = 0; i < c.n; i++) {
        assert_string_equal(c.rows[i].file, order[i]);
        assert_string_equal(c.rows[i].before, before[i]);
    }
    oxl_catalogue_free(&c);
}

/* Another bank, and a simulated test beside a real one, are no pair. */
static void no_pairs(void **state)
{
    (void)state;
    struct oxl_record_header h = help_header("2026-11-30T09:00:00+01:00", "");
    static const char lines[] =
        "{\"t\":1,\"event\":{\"event\":\"vehicle\",\"vin\":\"" VIN_A "\"}}\n" HELP_RESULT HELP_END;
    help_recording(folder, "a.jsonl", &h, lines);
    h.bank = 2;
    help_recording(folder, "b.jsonl", &h, lines);
    h.bank = 1;
    h.simulated = true;
    help_recording(folder, "c.jsonl", &h, lines);
    struct oxl_catalogue c = list(NULL);
    for (size_t i = 0; i < c.n; i++)
        assert_string_equal(c.rows[i].before, "");
    oxl_catalogue_free(&c);
}

static void wanted(void **state)
{
    (void)state;
    three();
    struct oxl_catalogue c = list(NULL);
    const struct {
        struct oxl_past_filter f;
        int n;
    } cases[] = {
        {{0}, 3},
        {{.vin = "r0000003"}, 2},
        {{.vin = VIN_B, .order = "471"}, 1},
        {{.order = "4712"}, 0},
        {{.verdict = "good"}, 1},
        {{.verdict = "goo"}, 0},
        {{.since = "2026-11-29"}, 2},
        {{.since = "2026-11-30", .vin = VIN_B}, 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        int n = 0;
        for (size_t k = 0; k < c.n; k++)
            n += oxl_past_matches(&c.rows[k], &cases[i].f);
        assert_int_equal(n, cases[i].n);
    }
    oxl_catalogue_free(&c);
    assert_true(oxl_past_is_date("2026-11-30"));
    assert_false(oxl_past_is_date("2026-13-30") || oxl_past_is_date("26-11-30") ||
                 oxl_past_is_date("2026-11-3x") || oxl_past_is_date("2026-11-300"));
}

static void assert_same(const struct oxl_catalogue *a, const struct oxl_catalogue *b)
{
    char x[OXL_PAST_JSON], y[OXL_PAST_JSON];
    assert_int_equal(a->n, b->n);
    for (size_t i = 0; i < a->n; i++) {
        assert_true(oxl_members_json(oxl_past_fields, OXL_PAST_FIELDS, &a->rows[i], x, sizeof x) >
                    0);
        assert_true(oxl_members_json(oxl_past_fields, OXL_PAST_FIELDS, &b->rows[i], y, sizeof y) >
                    0);
        assert_string_equal(x, y);
    }
}

/* What is kept is not read again; what has changed, is; what is gone leaves no trace. */
static void kept(void **state)
{
    (void)state;
    three();
    struct oxl_catalogue first = list(cache), second = list(cache), third;
    assert_int_equal(first.read, 3);
    assert_int_equal(second.read, 0);
    assert_same(&first, &second);
    assert_string_equal(second.note, "");
    help_test(folder, "new.jsonl", "2026-11-30T09:00:00+01:00", VIN_B, "inconclusive");
    unlink(help_path(folder, "old.jsonl"));
    third = list(cache);
    assert_int_equal(third.read, 1);
    assert_string_equal(find(&third, "new.jsonl")->verdict, "inconclusive");
    assert_string_equal(find(&third, "new.jsonl")->before, "other.jsonl");
    oxl_catalogue_free(&first);
    oxl_catalogue_free(&second);
    oxl_catalogue_free(&third);
    FILE *f = fopen(cache, "r");
    char all[65536];
    assert_non_null(f);
    const size_t n = fread(all, 1, sizeof all, f);
    fclose(f);
    struct stat st;
    assert_int_equal(stat(cache, &st), 0);
    assert_int_equal(st.st_mode & 0777, 0600);
    assert_non_null(memmem(all, n, VIN_B, 17));
    assert_null(memmem(all, n, "old.jsonl", 9));
}

/* A row that a check computed stands in the list until the file changes. */
static void computed(void **state)
{
    (void)state;
    const struct oxl_record_header h = help_header("2026-11-30T07:35:00+01:00", "");
    help_recording(folder, "a.jsonl", &h,
                   "{\"t\":8,\"event\":{\"event\":\"result\",\"verdict\":\"good\"}}\n" HELP_END);
    three();
    struct oxl_catalogue c = list(cache);
    assert_int_equal(replays, 1); /* the older one, and no other */
    struct oxl_past row = *find(&c, "new.jsonl");
    oxl_catalogue_free(&c);
    strcpy(row.replay, "identical");
    strcpy(row.sha256, "abc");
    assert_true(oxl_catalogue_keep(cache, folder, &row));
    c = list(cache);
    assert_int_equal(replays, 1);
    assert_string_equal(find(&c, "a.jsonl")->verdict, "not bad");
    assert_string_equal(find(&c, "new.jsonl")->sha256, "abc");
    oxl_catalogue_free(&c);
}

/* Whatever byte of the cache goes over, the rows are those of the files. */
static void damaged(void **state)
{
    (void)state;
    static char good[65536], bad[65536];
    unsigned rebuilt = 0;
    three();
    struct oxl_catalogue truth = list(NULL), c = list(cache);
    oxl_catalogue_free(&c);
    FILE *f = fopen(cache, "r");
    assert_non_null(f);
    const size_t n = fread(good, 1, sizeof good, f);
    fclose(f);
    assert_in_range(n, 4096, sizeof good - 1);
    srand(20261130);
    for (int i = 0; i < 300; i++) {
        memcpy(bad, good, n);
        /* Half of them in what is in use: the header and the rows at the pages' ends. */
        const int flips = 1 + rand() % 8;
        for (int k = 0; k < flips; k++)
            bad[i % 2 ? (size_t)rand() % n : n - 1 - (size_t)rand() % 2048] = (char)(rand() % 256);
        const size_t left = i % 7 ? n : (size_t)rand() % n;
        help_write(apart, "cache.sqlite", bad, left);
        c = list(cache);
        assert_same(&truth, &c);
        rebuilt += strstr(c.note, "damaged") != NULL;
        oxl_catalogue_free(&c);
        c = list(cache);
        assert_same(&truth, &c);
        oxl_catalogue_free(&c);
        c = list(cache); /* by now it works again, without a word */
        assert_same(&truth, &c);
        assert_string_equal(c.note, "");
        assert_int_equal(c.read, 0);
        oxl_catalogue_free(&c);
    }
    assert_true(rebuilt > 20);
    help_write(apart, "cache.sqlite", "no database at all, but long enough to be looked at", 51);
    c = list(cache);
    assert_same(&truth, &c);
    assert_non_null(strstr(c.note, "damaged"));
    oxl_catalogue_free(&c);
    oxl_catalogue_free(&truth);
}

static void no_cache_can_be(void **state)
{
    (void)state;
    three();
    struct oxl_catalogue truth = list(NULL), c = list("/proc/nothere/cache.sqlite");
    assert_same(&truth, &c);
    assert_non_null(strstr(c.note, "not kept"));
    oxl_catalogue_free(&c);
    assert_int_equal(mkdir(cache, 0700), 0); /* a folder has the name */
    c = list(cache);
    assert_same(&truth, &c);
    assert_non_null(strstr(c.note, "not kept"));
    oxl_catalogue_free(&c);
    oxl_catalogue_free(&truth);
}

static void no_folder(void **state)
{
    (void)state;
    struct oxl_catalogue c;
    struct oxl_error err = {OXL_OK, ""};
    const struct oxl_catalogue_source from = {0};
    assert_int_equal(oxl_catalogue_read("/nothere", &from, &c, &err), OXL_ERR_FORMAT);
    assert_non_null(strstr(err.text, "/nothere"));
    struct oxl_catalogue empty = list(cache);
    assert_int_equal(empty.n, 0);
    oxl_catalogue_free(&empty);
}

/* Names are the folder's own, whatever is in them. */
static void names(void **state)
{
    (void)state;
    static const char odd[] = "a\n\x1b[31m\xff.jsonl";
    help_test(folder, odd, "2026-11-30T09:00:00+01:00", VIN_A, "good");
    for (int i = 0; i < 2; i++) {
        struct oxl_catalogue c = list(cache);
        assert_string_equal(c.rows[0].file, odd);
        assert_int_equal(c.read, i == 0);
        oxl_catalogue_free(&c);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(newest_first_and_pairs, setup, teardown),
        cmocka_unit_test_setup_teardown(no_pairs, setup, teardown),
        cmocka_unit_test_setup_teardown(wanted, setup, teardown),
        cmocka_unit_test_setup_teardown(kept, setup, teardown),
        cmocka_unit_test_setup_teardown(computed, setup, teardown),
        cmocka_unit_test_setup_teardown(damaged, setup, teardown),
        cmocka_unit_test_setup_teardown(no_cache_can_be, setup, teardown),
        cmocka_unit_test_setup_teardown(no_folder, setup, teardown),
        cmocka_unit_test_setup_teardown(names, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
