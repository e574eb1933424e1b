/* The lines of --json and --plain before a reader who pauses longer than they are kept. */
#include "../../../src/app/output.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>

#include <cmocka.h>

#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { LINE = 100, MUCH = 60000 }; /* 6 MB in all */

static int out_before;

/* Standard output is a pipe, whose other end is returned. */
static int paused_reader(void)
{
    int fd[2];
    assert_int_equal(pipe(fd), 0);
    fflush(stdout);
    out_before = dup(STDOUT_FILENO);
    dup2(fd[1], STDOUT_FILENO);
    close(fd[1]);
    return fd[0];
}

static void output_back(void)
{
    fflush(stdout);
    dup2(out_before, STDOUT_FILENO);
    close(out_before);
}

static void say(struct oxl_output *o, int number)
{
    char line[LINE + 1];
    snprintf(line, sizeof line, "%08d%*s\n", number, LINE - 9, "");
    oxl_output_lines(o, line, LINE, (int64_t)number * 1000);
}

/* Reads until nothing has come for half a second; the ticks go on, as in the loop. */
static char *read_on(int fd, struct oxl_output *o, int64_t t_us, size_t *n)
{
    char *text = malloc(8 << 20);
    struct pollfd p = {fd, POLLIN, 0};
    *n = 0;
    for (int idle = 0; idle < 50; idle++) {
        if (poll(&p, 1, 10) > 0) {
            *n += (size_t)read(fd, text + *n, 65536);
            idle = 0;
        }
        oxl_output_tick(o, t_us);
    }
    text[*n] = '\0';
    return text;
}

/* Whole lines, in order and without a hole, then the notice, then what came after it. */
static void check_told(const char *text, size_t n, const char *notice_form, int all, int after)
{
    const char *end = text + n;
    int number = 0, got = 0, notices = 0;
    unsigned long long missed = 0;
    for (const char *at = text; at < end;) {
        double t_s;
        size_t len = strcspn(at, "\n") + 1;
        char line[LINE + 1]; /* alone: sscanf measures all that is behind it each time */
        snprintf(line, sizeof line, "%.*s", (int)(len < LINE ? len : LINE), at);
        if (len == LINE && sscanf(line, "%8d ", &got) == 1 && line[8] == ' ') {
            assert_int_equal(got, number);
            number++;
        } else {
            assert_int_equal(sscanf(line, notice_form, &t_s, &missed), 2);
            assert_true(t_s > 0);
            notices++;
            number = all;
        }
        at += len;
    }
    assert_int_equal(notices, 1);
    assert_int_equal(number, all + after);
    /* What is not there is what was told, and 4 MiB are there. */
    assert_int_equal(missed + n / LINE, all + after);
    assert_true(((unsigned long long)all - missed) * LINE + LINE > OXL_WRITER_ROOM);
}

static void missed(bool json, const char *notice_form)
{
    struct oxl_output o;
    size_t n, more;
    int fd = paused_reader();
    assert_true(oxl_output_open(&o, json, true));
    for (int i = 0; i < MUCH; i++)
        say(&o, i);
    assert_false(oxl_output_done(&o));
    char *text = read_on(fd, &o, 777000000, &n);
    assert_true(oxl_output_done(&o));
    for (int i = MUCH; i < MUCH + 3; i++)
        say(&o, i);
    char *rest = read_on(fd, &o, 778000000, &more);
    memcpy(text + n, rest, more + 1);
    oxl_output_close(&o);
    output_back();
    close(fd);
    check_told(text, n + more, notice_form, MUCH, 3);
    free(text);
    free(rest);
}

static void a_gap_is_told_once(void **state)
{
    (void)state;
    missed(true, "{\"event\":\"missed\",\"t_s\":%lf,\"lines\":%llu}");
    missed(false, " %lf  ! %llu lines are missing here, as they were not read");
}

/* Nobody is held up in virtual time: there the lines wait for their reader. */
static void without_haste_nothing_is_missed(void **state)
{
    (void)state;
    struct oxl_output o;
    int fd = paused_reader();
    assert_true(oxl_output_open(&o, true, false));
    assert_null(o.writer);
    say(&o, 0);
    char line[LINE];
    ssize_t got = read(fd, line, sizeof line);
    assert_true(oxl_output_done(&o));
    oxl_output_close(&o);
    output_back();
    close(fd);
    assert_int_equal(got, LINE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_gap_is_told_once),
        cmocka_unit_test(without_haste_nothing_is_missed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
