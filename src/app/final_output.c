#include "output.h"

#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdio_ext.h>
#include <sys/time.h>
#include <unistd.h>

#include "clock.h"

enum { HURRIED_MS = 200, SCREEN_MS = 1000, LINES_MS = 10000 };

/* Outside the stack as a signal handler and the C library's streams need them. */
static volatile sig_atomic_t exit_code;
static bool live, screen, hurried;

void oxl_final_output_live(bool dashboard)
{
    static char out[65536], err[8192];
    screen = dashboard;
    if (live) /* a stream is set up once, before it is used */
        return;
    live = true;
    setvbuf(stdout, out, _IOFBF, sizeof out);
    setvbuf(stderr, err, _IOFBF, sizeof err);
}

void oxl_final_output_hurry(void)
{
    hurried = true;
}

static void on_alarm(int number)
{
    (void)number;
    _exit((int)exit_code);
}

static void set_alarm(long ms)
{
    struct itimerval t = {.it_value = {ms / 1000, ms % 1000 * 1000}};
    setitimer(ITIMER_REAL, &t, NULL);
}

bool oxl_final_output_begin(int code)
{
    struct sigaction a = {.sa_handler = on_alarm};
    exit_code = code;
    sigaction(SIGALRM, &a, NULL);
    bool now = hurried || oxl_signal_seen();
    if (now)
        set_alarm(HURRIED_MS);
    else if (live)
        set_alarm(screen ? SCREEN_MS : LINES_MS);
    return now;
}

static void pass(FILE *f)
{
    struct pollfd p = {.fd = fileno(f), .events = POLLOUT};
    if (poll(&p, 1, HURRIED_MS) == 0)
        __fpurge(f);
    fflush(f);
}

void oxl_final_output_pass(void)
{
    pass(stdout);
    pass(stderr);
}

void oxl_final_output_end(void)
{
    set_alarm(0);
}
