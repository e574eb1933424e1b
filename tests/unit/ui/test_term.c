/* The curses file on a pseudo-terminal: a child draws, this side reads what would be seen. Escape
 * sequences are those of ECMA-48 and of terminfo(5) for TERM=xterm. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include "oxylag/ui.h"

enum { STEPS = 16, BYTES = 65536, NO_TERMINAL = 3 };

/* What the terminal got until the child said that a step was over, and the number it said. */
struct record {
    int steps, status;
    int said[STEPS];
    size_t length[STEPS];
    char bytes[STEPS][BYTES];
};

struct talk {
    int say, wait; /* the child's ends */
};

static void step(struct talk t, int value)
{
    char ack;
    if (write(t.say, &value, sizeof value) != sizeof value || read(t.wait, &ack, 1) != 1)
        _exit(9);
}

static void become_terminal_user(const char *name, const char *term)
{
    setsid();
    int tty = open(name, O_RDWR);
    struct winsize size = {.ws_row = 24, .ws_col = 80};
    if (tty < 0 || ioctl(tty, TIOCSCTTY, 0) < 0 || ioctl(tty, TIOCSWINSZ, &size) < 0)
        _exit(8);
    dup2(tty, STDIN_FILENO);
    dup2(tty, STDOUT_FILENO);
    setenv("TERM", term, 1);
    setenv("LC_ALL", "C", 1);
    unsetenv("NO_COLOR");
    unsetenv("LINES");
    unsetenv("COLUMNS");
}

/* Reads until the terminal has been silent for a while. */
static void drain(int master, char *out, size_t *n)
{
    struct pollfd p = {.fd = master, .events = POLLIN};
    while (poll(&p, 1, 80) > 0 && (p.revents & POLLIN)) {
        ssize_t got = read(master, out + *n, BYTES - 1 - *n);
        if (got <= 0)
            break;
        *n += (size_t)got;
    }
    out[*n] = '\0';
}

/* Runs the child; after step `type_after` the keys are typed. */
static struct record *play(void (*child)(struct talk), const char *term, int type_after,
                           const char *keys)
{
    struct record *r = calloc(1, sizeof *r);
    int master = posix_openpt(O_RDWR | O_NOCTTY), say[2], ack[2];
    assert_true(master >= 0 && grantpt(master) == 0 && unlockpt(master) == 0);
    assert_true(pipe(say) == 0 && pipe(ack) == 0);
    pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0) {
        struct talk t = {say[1], ack[0]};
        close(say[0]);
        close(ack[1]);
        become_terminal_user(ptsname(master), term);
        child(t);
        _exit(0);
    }
    close(say[1]);
    close(ack[0]);
    while (r->steps < STEPS &&
           read(say[0], &r->said[r->steps], sizeof(int)) == (ssize_t)sizeof(int)) {
        drain(master, r->bytes[r->steps], &r->length[r->steps]);
        if (r->steps == type_after) {
            ssize_t typed = write(master, keys, strlen(keys));
            assert_int_equal(typed, strlen(keys));
            poll(NULL, 0, 50);
        }
        r->steps++;
        if (write(ack[1], "k", 1) != 1)
            break;
    }
    waitpid(pid, &r->status, 0);
    close(master);
    close(say[0]);
    close(ack[1]);
    return r;
}

static int count(const char *text, char ch)
{
    int n = 0;
    for (; *text; text++)
        n += *text == ch;
    return n;
}

static void child_draws(struct talk t)
{
    struct oxl_term *term = oxl_term_open(OXL_THEME_AUTO);
    if (!term)
        _exit(NO_TERMINAL);
    int rows, cols;
    oxl_term_size(term, &rows, &cols);
    step(t, rows * 1000 + cols);
    struct oxl_canvas *c = oxl_canvas_new(rows, cols);
    oxl_canvas_text(c, 3, 5, 70, OXL_INK_BAND_STOP, "CUT THE GAS NOW");
    oxl_canvas_put(c, rows - 1, cols - 1, 'Z', OXL_INK_TEXT);
    oxl_term_show(term, c);
    step(t, 0);
    oxl_term_show(term, c); /* nothing new */
    step(t, 0);
    oxl_canvas_text(c, 10, 10, 70, OXL_INK_TEXT, "7");
    oxl_term_show(term, c);
    step(t, 0);
    oxl_term_close(term);
    oxl_canvas_free(c);
    step(t, 0);
}

static void only_changes_are_written(void **state)
{
    (void)state;
    struct record *r = play(child_draws, "xterm", -1, "");
    assert_int_equal(r->steps, 5);
    assert_int_equal(WEXITSTATUS(r->status), 0);
    assert_int_equal(r->said[0], 24080);
    assert_non_null(strstr(r->bytes[1], "CUT THE GAS NOW"));
    assert_non_null(strchr(r->bytes[1], 'Z'));
    assert_non_null(strstr(r->bytes[1], "\x1b[37m\x1b[41m")); /* white on red */
    assert_int_equal(r->length[2], 0);
    assert_non_null(strchr(r->bytes[3], '7'));
    assert_in_range(r->length[3], 1, 40);
    assert_non_null(strstr(r->bytes[4], "\x1b[?1049l")); /* the screen from before is back */
    free(r);
}

static void monochrome_has_attributes(void **state)
{
    (void)state;
    struct record *r = play(child_draws, "vt100", -1, "");
    assert_int_equal(r->steps, 5);
    assert_non_null(strstr(r->bytes[1], "CUT THE GAS NOW"));
    assert_null(strstr(r->bytes[1], "\x1b[41m"));
    assert_non_null(strstr(r->bytes[1], "7m")); /* reverse, SGR 7 */
    free(r);
}

static void child_rings(struct talk t)
{
    static const enum oxl_cue cues[] = {OXL_CUE_NONE, OXL_CUE_HOLD, OXL_CUE_REAR_LEAN, OXL_CUE_CUT};
    struct oxl_term *term = oxl_term_open(OXL_THEME_MONO);
    if (!term)
        _exit(NO_TERMINAL);
    step(t, 0);
    for (int i = 0; i < 4; i++) {
        int64_t now = i * INT64_C(10000000);
        oxl_term_bell(term, cues[i], now);
        for (int k = 0; k < 40; k++)
            oxl_term_tick(term, now + k * INT64_C(50000));
        step(t, i);
    }
    oxl_term_close(term);
}

static void bells_have_patterns(void **state)
{
    (void)state;
    struct record *r = play(child_rings, "xterm", -1, "");
    assert_int_equal(r->steps, 5);
    for (int i = 0; i < 4; i++)
        assert_int_equal(count(r->bytes[1 + i], '\a'), i);
    free(r);
}

static void child_reads(struct talk t)
{
    struct oxl_term *term = oxl_term_open(OXL_THEME_MONO);
    if (!term)
        _exit(NO_TERMINAL);
    step(t, oxl_term_key(term));
    for (int i = 0; i < 6; i++)
        step(t, oxl_term_key(term));
    struct winsize size = {.ws_row = 30, .ws_col = 100};
    ioctl(STDIN_FILENO, TIOCSWINSZ, &size);
    raise(SIGWINCH);
    step(t, oxl_term_key(term));
    int rows, cols;
    oxl_term_size(term, &rows, &cols);
    step(t, rows * 1000 + cols);
    oxl_term_close(term);
}

static void keys_and_resize(void **state)
{
    (void)state;
    struct record *r = play(child_reads, "xterm", 0, " q\x1bOC\x1bOA\r");
    static const int want[] = {OXL_TERM_NONE, ' ',  'q',           OXL_TERM_RIGHT,
                               OXL_TERM_UP,   '\n', OXL_TERM_NONE, OXL_TERM_RESIZED,
                               30100};
    assert_int_equal(r->steps, sizeof want / sizeof want[0]);
    for (size_t i = 0; i < sizeof want / sizeof want[0]; i++)
        assert_int_equal(r->said[i], want[i]);
    free(r);
}

static void child_without_stdin(struct talk t)
{
    int nothing = open("/dev/null", O_RDONLY);
    dup2(nothing, STDIN_FILENO);
    step(t, oxl_term_open(OXL_THEME_AUTO) == NULL);
}

static void child_without_stdout(struct talk t)
{
    int nothing = open("/dev/null", O_WRONLY);
    dup2(nothing, STDOUT_FILENO);
    step(t, oxl_term_open(OXL_THEME_AUTO) == NULL);
}

static void no_terminal_is_refused(void **state)
{
    (void)state;
    void (*const children[])(struct talk) = {child_without_stdin, child_without_stdout};
    for (int i = 0; i < 2; i++) {
        struct record *r = play(children[i], "xterm", -1, "");
        assert_int_equal(r->steps, 1);
        assert_int_equal(r->said[0], 1);
        free(r);
    }
    struct record *r = play(child_rings, "no-such-terminal", -1, "");
    assert_int_equal(r->steps, 0);
    assert_int_equal(WEXITSTATUS(r->status), NO_TERMINAL);
    free(r);
    oxl_term_close(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(only_changes_are_written), cmocka_unit_test(monochrome_has_attributes),
        cmocka_unit_test(bells_have_patterns),      cmocka_unit_test(keys_and_resize),
        cmocka_unit_test(no_terminal_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
