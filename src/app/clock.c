#include "clock.h"

#include <poll.h>
#include <signal.h>
#include <stdio.h>
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

void oxl_wall_iso(char out[32])
{
    time_t now = time(NULL);
    struct tm tm;
    localtime_r(&now, &tm);
    size_t n = strftime(out, 32, "%Y-%m-%dT%H:%M:%S%z", &tm);
    out[n] = '\0';
}

void oxl_wall_stamp(char out[24])
{
    time_t now = time(NULL);
    struct tm tm;
    localtime_r(&now, &tm);
    size_t n = strftime(out, 24, "%Y%m%d-%H%M%S", &tm);
    out[n] = '\0';
}

int oxl_wait(int link_fd, int want_write, int keys_fd, int64_t until_us)
{
    struct pollfd fds[2];
    nfds_t n = 0;
    int link_at = -1, keys_at = -1;
    if (link_fd >= 0) {
        link_at = (int)n;
        fds[n++] = (struct pollfd){link_fd, (short)(POLLIN | (want_write ? POLLOUT : 0)), 0};
    }
    if (keys_fd >= 0) {
        keys_at = (int)n;
        fds[n++] = (struct pollfd){keys_fd, POLLIN, 0};
    }
    int64_t left_us = until_us - oxl_wall_us();
    if (left_us < 0)
        left_us = 0;
    struct timespec t = {(time_t)(left_us / 1000000), (long)(left_us % 1000000) * 1000};
    if (ppoll(fds, n, &t, NULL) <= 0)
        return 0;
    int out = 0;
    if (link_at >= 0) {
        out |= fds[link_at].revents & POLLIN ? OXL_WAIT_READ : 0;
        out |= fds[link_at].revents & POLLOUT ? OXL_WAIT_WRITE : 0;
        out |= fds[link_at].revents & (POLLHUP | POLLERR | POLLNVAL) ? OXL_WAIT_HUP : 0;
    }
    if (keys_at >= 0 && fds[keys_at].revents)
        out |= OXL_WAIT_KEYS;
    /* A terminal that is gone does not always send its signal (a session without a leader). */
    if (keys_at >= 0 && fds[keys_at].revents & (POLLHUP | POLLERR | POLLNVAL) && !signal_seen)
        signal_seen = SIGHUP;
    return out;
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
