/* The writer: what is in the file after each kind of end. */
#include "oxylag/link.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "help_file.h"
#include "oxylag/record.h"

static struct oxl_recorder *opened(const char *path)
{
    struct oxl_recorder *r = NULL;
    struct oxl_error err = {0};
    if (oxl_recorder_open(path, &r, &err) != OXL_OK)
        fail_msg("%s", err.text);
    return r;
}

static void lines_stand_in_the_file(void **state)
{
    const char *path = in_folder(state, "a.jsonl");
    struct oxl_error err = {0};
    struct stat st;
    mode_t before = umask(0);
    struct oxl_recorder *r = opened(path);
    umask(before);
    oxl_recorder_line(r, "one\n", 4);
    oxl_recorder_line(r, "two", 3); /* the newline is added */
    oxl_recorder_line(r, "", 0);
    assert_int_equal(oxl_recorder_bytes(r), 8);
    assert_int_equal(oxl_recorder_close(r, &err), OXL_OK);
    size_t n;
    char *text = slurp(path, &n);
    assert_string_equal(text, "one\ntwo\n");
    free(text);
    assert_int_equal(stat(path, &st), 0);
    assert_int_equal(st.st_mode & 0777, 0600);
}

static void refusal(const char *path, const char *says)
{
    struct oxl_recorder *r = (struct oxl_recorder *)(uintptr_t)1;
    struct oxl_error err = {0};
    assert_int_equal(oxl_recorder_open(path, &r, &err), OXL_ERR_IO);
    assert_null(r);
    if (!strstr(err.text, says) || !strstr(err.text, path))
        fail_msg("%s gave: %s", path, err.text);
}

static void nothing_is_overwritten(void **state)
{
    const char *path = in_folder(state, "a.jsonl");
    size_t n;
    spill(path, "precious\n", 9);
    refusal(path, "it exists already and is never overwritten");
    char *text = slurp(path, &n);
    assert_string_equal(text, "precious\n");
    free(text);
    assert_int_equal(mkfifo(in_folder(state, "pipe"), 0600), 0);
    refusal(in_folder(state, "pipe"), "it is not a file"); /* and does not wait for a reader */
    refusal(*state, "Is a directory");
    refusal(in_folder(state, "no/such/folder.jsonl"), "No such file or directory");
}

static void an_empty_file_is_taken(void **state)
{
    const char *path = in_folder(state, "empty.jsonl");
    size_t n;
    spill(path, "", 0);
    struct oxl_recorder *r = opened(path);
    oxl_recorder_line(r, "x\n", 2);
    assert_int_equal(oxl_recorder_close(r, NULL), OXL_OK);
    char *text = slurp(path, &n);
    assert_string_equal(text, "x\n");
    free(text);
}

/* A file that was made for nothing is taken away, one that was there is not, nor another of its
 * name. */
static void nothing_written_leaves_nothing(void **state)
{
    const char *path = in_folder(state, "none.jsonl");
    assert_int_equal(oxl_recorder_close(opened(path), NULL), OXL_OK);
    assert_int_equal(access(path, F_OK), -1);
    struct oxl_recorder *r = opened(path);
    assert_int_equal(unlink(path), 0);
    spill(path, "", 0);
    assert_int_equal(oxl_recorder_close(r, NULL), OXL_OK);
    assert_int_equal(access(path, F_OK), 0);
    assert_int_equal(oxl_recorder_close(opened(path), NULL), OXL_OK); /* was there, empty */
    assert_int_equal(access(path, F_OK), 0);
}

static void two_recorders_do_not_share(void **state)
{
    const char *path = in_folder(state, "a.jsonl");
    struct oxl_recorder *r = opened(path);
    refusal(path, "another program is recording to it");
    assert_int_equal(oxl_recorder_close(r, NULL), OXL_OK);
}

static void a_device_is_nobodys(void **state)
{
    (void)state;
    struct oxl_recorder *first = opened("/dev/null"), *second = opened("/dev/null");
    assert_int_equal(oxl_recorder_close(first, NULL), OXL_OK);
    assert_int_equal(oxl_recorder_close(second, NULL), OXL_OK);
}

static size_t size_of(const char *path)
{
    struct stat st;
    assert_int_equal(stat(path, &st), 0);
    return (size_t)st.st_size;
}

/* Bytes go out with the clock, not with each line. */
static void written_in_time(void **state)
{
    const char *path = in_folder(state, "a.jsonl");
    struct oxl_recorder *r = opened(path);
    int64_t t = 5000000;
    oxl_recorder_tick(r, t);
    oxl_recorder_line(r, "one\n", 4);
    assert_int_equal(size_of(path), 0);
    oxl_recorder_tick(r, t + 10000);
    assert_int_equal(size_of(path), 0);
    oxl_recorder_tick(r, t + 1000000);
    assert_int_equal(size_of(path), 4);
    oxl_recorder_line(r, "two\n", 4);
    oxl_recorder_tick(r, t + 1010000);
    assert_int_equal(size_of(path), 4);
    oxl_recorder_tick(r, t + 2000000);
    assert_int_equal(size_of(path), 8);
    assert_int_equal(oxl_recorder_close(r, NULL), OXL_OK);
}

/* More than the buffer holds goes out without a tick, in whole and in order. */
static void a_flood_is_kept(void **state)
{
    const char *path = in_folder(state, "a.jsonl");
    struct oxl_recorder *r = opened(path);
    char line[64];
    for (int i = 0; i < 20000; i++) {
        int n = snprintf(line, sizeof line, "line %d of the flood\n", i);
        oxl_recorder_line(r, line, (size_t)n);
    }
    uint64_t bytes = oxl_recorder_bytes(r);
    assert_int_equal(oxl_recorder_close(r, NULL), OXL_OK);
    size_t n, lines = 0;
    char *text = slurp(path, &n);
    assert_int_equal(n, bytes);
    for (char *p = text; *p; p = strchr(p, '\n') + 1, lines++) {
        snprintf(line, sizeof line, "line %zu of the flood\n", lines);
        assert_memory_equal(p, line, strlen(line));
    }
    assert_int_equal(lines, 20000);
    free(text);
}

/* The longest line of ours, exactly as long as the buffer, and one that is too long for it. */
static void very_long_lines(void **state)
{
    static char line[70000];
    memset(line, 'x', sizeof line);
    const char *why = "";
    struct oxl_recorder *r = opened(in_folder(state, "a.jsonl"));
    oxl_recorder_line(r, line, OXL_RECORD_LINE_MAX);
    oxl_recorder_line(r, line, 65535);
    assert_false(oxl_recorder_failed(r, &why));
    assert_null(why);
    oxl_recorder_line(r, line, 65536); /* and its newline */
    assert_true(oxl_recorder_failed(r, &why));
    assert_int_equal(oxl_recorder_bytes(r), OXL_RECORD_LINE_MAX + 1 + 65536);
    assert_int_equal(oxl_recorder_close(r, NULL), OXL_ERR_IO);
    assert_int_equal(size_of(in_folder(state, "a.jsonl")), OXL_RECORD_LINE_MAX + 1 + 65536);
}

static void full_disk_is_kept_in_mind(void **state)
{
    (void)state;
    const char *why = NULL;
    struct oxl_error err = {0};
    struct oxl_recorder *r = opened("/dev/full");
    oxl_recorder_line(r, "one\n", 4);
    assert_false(oxl_recorder_failed(r, NULL));
    oxl_recorder_tick(r, 0);
    oxl_recorder_tick(r, 2000000);
    assert_true(oxl_recorder_failed(r, &why));
    assert_non_null(strstr(why, "No space left on device"));
    assert_int_equal(oxl_recorder_bytes(r), 0);
    oxl_recorder_line(r, "two\n", 4); /* the test goes on; nothing more is tried */
    oxl_recorder_tick(r, 4000000);
    assert_int_equal(oxl_recorder_bytes(r), 0);
    assert_int_equal(oxl_recorder_close(r, &err), OXL_ERR_IO);
    assert_non_null(strstr(err.text, "No space left on device"));
}

static void full_disk_at_the_end_is_told(void **state)
{
    (void)state;
    struct oxl_error err = {0};
    struct oxl_recorder *r = opened("/dev/full");
    oxl_recorder_line(r, "one\n", 4);
    assert_int_equal(oxl_recorder_close(r, &err), OXL_ERR_IO);
    assert_non_null(strstr(err.text, "No space left"));
}

static _Noreturn void record_into_limit(const char *path, rlim_t limit)
{
    struct rlimit l = {limit, limit};
    const char *why = "";
    struct oxl_recorder *r = NULL;
    signal(SIGXFSZ, SIG_IGN);
    if (setrlimit(RLIMIT_FSIZE, &l) != 0 || oxl_recorder_open(path, &r, NULL) != OXL_OK)
        _exit(90);
    for (int i = 0; i < 100; i++) {
        char line[32];
        int n = snprintf(line, sizeof line, "{\"line\":%06d}\n", i);
        oxl_recorder_line(r, line, (size_t)n);
        if (i % 10 == 9)
            oxl_recorder_tick(r, i * 1000000LL);
    }
    bool told = oxl_recorder_failed(r, &why) && strstr(why, "File too large");
    _exit(oxl_recorder_close(r, NULL) == OXL_ERR_IO && told ? 42 : 91);
}

/* The limit falls inside a line: that line is cut off again, the ones before it stay. */
static void a_half_line_is_taken_back(void **state)
{
    for (rlim_t limit = 500; limit < 516; limit++) { /* lines have 16 bytes: every offset in one */
        char name[32];
        int status = 0;
        snprintf(name, sizeof name, "limit%d", (int)limit);
        const char *path = in_folder(state, name);
        pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0)
            record_into_limit(path, limit);
        assert_int_equal(waitpid(child, &status, 0), child);
        assert_true(WIFEXITED(status));
        assert_int_equal(WEXITSTATUS(status), 42);
        size_t n, lines = 0;
        char *text = slurp(path, &n);
        assert_int_equal(n, limit / 16 * 16);
        for (char *p = text; *p; p = strchr(p, '\n') + 1, lines++) {
            char line[32];
            snprintf(line, sizeof line, "{\"line\":%06zu}\n", lines);
            assert_memory_equal(p, line, strlen(line));
        }
        free(text);
    }
}

static int64_t now_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

static _Noreturn void record_until_killed(const char *path)
{
    char text[OXL_RECORD_LINE_MAX];
    struct oxl_recorder *r = NULL;
    if (oxl_recorder_open(path, &r, NULL) != OXL_OK)
        _exit(90);
    oxl_recorder_line(r, text, header_line(text, sizeof text));
    for (;;) {
        struct oxl_line line = {.kind = OXL_LINE_RX, .t_us = now_us(), .bytes = "7E8\r", .n = 4};
        struct timespec nap = {0, 1000000};
        oxl_recorder_line(r, text, oxl_record_encode(&line, text, sizeof text));
        oxl_recorder_tick(r, line.t_us);
        nanosleep(&nap, NULL);
    }
}

/* How much of its time is lost; no end of it where the child hardly ran. */
static int64_t lost_us(const char *path, int64_t killed_us)
{
    struct oxl_recording rec;
    struct oxl_error err = {0};
    char scratch[256];
    unsigned lineno = 1;
    int64_t last_us = 0;
    if (oxl_recording_load(path, &rec, &err) != OXL_OK)
        fail_msg("%s", err.text);
    const char *p = strchr(rec.text, '\n') + 1;
    for (; *p; lineno++) {
        struct oxl_line line;
        const char *end = strchr(p, '\n');
        assert_non_null(end);
        if (oxl_record_decode(p, (size_t)(end - p), scratch, &line, "f", lineno, &err) != OXL_OK)
            fail_msg("%s", err.text);
        assert_true(line.t_us > last_us);
        last_us = line.t_us;
        p = end + 1;
    }
    oxl_recording_free(&rec);
    return lineno > 100 ? killed_us - last_us : INT64_MAX;
}

enum { AT_ONCE = 3 };

/* Three that record beside each other, killed at different moments of their second: the least that
 * one lost. */
static int64_t least_lost_us(void **state, int round)
{
    const char *path[AT_ONCE];
    pid_t child[AT_ONCE];
    int64_t least_us = INT64_MAX;
    for (int i = 0; i < AT_ONCE; i++) {
        char name[32];
        snprintf(name, sizeof name, "killed%d", AT_ONCE * round + i);
        path[i] = in_folder(state, name); /* it keeps four */
        child[i] = fork();
        assert_true(child[i] >= 0);
        if (child[i] == 0)
            record_until_killed(path[i]);
    }
    for (int i = 0; i < AT_ONCE; i++) {
        int status = 0;
        struct timespec run = {i == 0, i == 0 ? 100000000 : 137000000};
        nanosleep(&run, NULL);
        int64_t killed_us = now_us();
        kill(child[i], SIGKILL);
        assert_int_equal(waitpid(child[i], &status, 0), child[i]);
        assert_true(WIFSIGNALED(status));
        int64_t us = lost_us(path[i], killed_us);
        least_us = us < least_us ? us : least_us;
    }
    return least_us;
}

/* Other programs may have the processors for a while, but not every time. */
static void killed_loses_at_most_a_second(void **state)
{
    int64_t least_us = INT64_MAX;
    for (int round = 0; round < 7 && least_us >= 1000000; round++)
        least_us = least_lost_us(state, round);
    assert_true(least_us < 1000000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(lines_stand_in_the_file, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(nothing_is_overwritten, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(an_empty_file_is_taken, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(nothing_written_leaves_nothing, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(two_recorders_do_not_share, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(a_device_is_nobodys, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(written_in_time, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(a_flood_is_kept, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(very_long_lines, make_folder, remove_folder),
        cmocka_unit_test(full_disk_is_kept_in_mind),
        cmocka_unit_test(full_disk_at_the_end_is_told),
        cmocka_unit_test_setup_teardown(a_half_line_is_taken_back, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(killed_loses_at_most_a_second, make_folder, remove_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
