#include "clock.h"

#include <poll.h>
#include <signal.h>
#include <time.h>

/* Outside the stack: a signal handler has no other place to write to. */
static volatile sig_atomic_t signal_seen, continued;

static int64_t time_us(const struct timespec *t)
{
    return (int64_t)t->tv_sec * 1000000 + t->tv_nsec / 1000;
}

/* CLOCK_MONOTONIC stands still while the machine sleeps: a run with a sleep in it would look
 * shorter than it was. CLOCK_BOOTTIME goes on, so the sleep shows as a gap. */
int64_t oxl_wall_us(void)
{
    struct timespec t;
#ifdef CLOCK_BOOTTIME
    if (clock_gettime(CLOCK_BOOTTIME, &t) != 0)
#endif
        clock_gettime(CLOCK_MONOTONIC, &t);
    return time_us(&t);
}

int64_t oxl_awake_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return time_us(&t);
}

static void local_time(char *out, size_t room, const char *format)
{
    time_t now = time(NULL);
    struct tm tm;
    localtime_r(&now, &tm);
    out[strftime(out, room, format, &tm)] = '\0';
}

void oxl_wall_iso(char out[32])
{
    local_time(out, 32, "%Y-%m-%dT%H:%M:%S%z");
}

void oxl_wall_stamp(char out[24])
{
    local_time(out, 24, "%Y%m%d-%H%M%S");
}

/* poll(2) passes over a descriptor that is negative. */
bool oxl_wait(int link_fd, bool want_write, int keys_fd, int64_t until_us)
{
    struct pollfd fds[2] = {{link_fd, (short)(POLLIN | (want_write ? POLLOUT : 0)), 0},
                            {keys_fd, POLLIN, 0}};
    int64_t left_us = until_us - oxl_wall_us();
    if (left_us < 0)
        left_us = 0;
    struct timespec t = {(time_t)(left_us / 1000000), (long)(left_us % 1000000) * 1000};
    if (ppoll(fds, 2, &t, NULL) <= 0)
        return false;
    /* A terminal that is gone does not always send its signal (a session without a leader). */
    if (fds[1].revents & (POLLHUP | POLLERR | POLLNVAL) && !signal_seen)
        signal_seen = SIGHUP;
    return fds[1].revents != 0;
}

static void on_signal(int number)
{
    signal_seen = number;
}

static void on_continue(int number)
{
    (void)number;
    continued = 1;
}

bool oxl_was_stopped(void)
{
    bool so = continued != 0;
    continued = 0;
    return so;
}

/* What was ignored at the start stays so: nohup(1), and SIGINT of a shell's background job. */
static void catch_signal(int number)
{
    struct sigaction a = {.sa_handler = on_signal}, old;
    sigemptyset(&a.sa_mask);
    if (sigaction(number, NULL, &old) == 0 && old.sa_handler != SIG_IGN)
        sigaction(number, &a, NULL);
}

void oxl_signals_catch(void)
{
    catch_signal(SIGINT);
    catch_signal(SIGTERM);
    catch_signal(SIGHUP);
    struct sigaction a = {.sa_handler = on_continue, .sa_flags = SA_RESTART};
    sigemptyset(&a.sa_mask);
    sigaction(SIGCONT, &a, NULL);
    signal(SIGPIPE, SIG_IGN);
}

int oxl_signal_seen(void)
{
    return signal_seen;
}

const char *oxl_signal_words(void)
{
    switch (signal_seen) {
    case 0:
        return NULL;
    case SIGINT:
        return "stopped from the keyboard (SIGINT)";
    case SIGHUP:
        return "stopped: the terminal is gone (SIGHUP)";
    default:
        return "stopped: the system asked the program to end (SIGTERM)";
    }
}
