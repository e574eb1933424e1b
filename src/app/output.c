#include "output.h"

#include <errno.h>
#include <stdio.h>
#include <unistd.h>

bool oxl_output_open(struct oxl_output *o, bool json, bool live)
{
    *o = (struct oxl_output){.json = json};
    if (live)
        o->writer = oxl_writer_new(STDOUT_FILENO);
    return o->writer || !live;
}

/* Whoever drives the test waits for these lines. */
static void print(struct oxl_output *o, const char *text, size_t n)
{
    bool bad = fwrite(text, 1, n, stdout) != n;
    if ((fflush(stdout) != 0 || bad) && !o->error)
        o->error = errno;
}

static uint64_t lines_in(const char *text, size_t n)
{
    uint64_t lines = 0;
    for (size_t i = 0; i < n; i++)
        lines += text[i] == '\n';
    return lines;
}

/* docs/events.md, "missed" */
static size_t missed_text(const struct oxl_output *o, int64_t t_us, char *out, size_t room)
{
    unsigned long long n = o->missed;
    double t_s = (double)t_us / 1e6;
    int len =
        o->json
            ? snprintf(out, room, "{\"event\":\"missed\",\"t_s\":%.6f,\"lines\":%llu}\n", t_s, n)
            : snprintf(out, room, "%9.3f  ! %llu lines are missing here, as they were not read\n",
                       t_s, n);
    return len > 0 && (size_t)len < room ? (size_t)len : 0;
}

void oxl_output_tick(struct oxl_output *o, int64_t t_us)
{
    char text[128];
    if (!o->missed || oxl_writer_waiting(o->writer) > 0)
        return;
    if (oxl_writer_put(o->writer, text, missed_text(o, t_us, text, sizeof text)))
        o->missed = 0;
}

void oxl_output_lines(struct oxl_output *o, const char *text, size_t n, int64_t t_us)
{
    if (!o->writer) {
        print(o, text, n);
        return;
    }
    oxl_output_tick(o, t_us);
    /* One gap, said once: nothing more until it has been. */
    if (o->missed || !oxl_writer_put(o->writer, text, n))
        o->missed += lines_in(text, n);
}

bool oxl_output_done(struct oxl_output *o)
{
    return !o->writer || oxl_writer_error(o->writer) ||
           (!o->missed && oxl_writer_waiting(o->writer) == 0);
}

int oxl_output_error(const struct oxl_output *o)
{
    return o->writer ? oxl_writer_error(o->writer) : o->error;
}

void oxl_output_close(struct oxl_output *o)
{
    oxl_writer_free(o->writer);
    o->writer = NULL;
}
