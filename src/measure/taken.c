/* When the ECU took the values that it answered with: struct oxl_point's interval becomes that of
 * the refresh. A value that differs from the one before was taken between the two; refreshes are
 * whole periods apart, so each change that is seen narrows the moments of its neighbours. */
#include <string.h>

#include "parts.h"

/* loose: how far a refresh may be from where the one before puts it, in periods. A crystal's is
 * nothing, but a task that waits for others comes when it can. */
struct grid {
    double period_s, loose;
};

/* Keeps what both say; the first where they exclude each other: the grid has slipped. */
static bool narrow(struct oxl_point *p, double low_s, double high_s)
{
    int64_t low = micros(low_s), high = micros(high_s);
    low = low > p->sent_us ? low : p->sent_us;
    high = high < p->recv_us ? high : p->recv_us;
    if (low > high)
        return false;
    p->sent_us = low;
    p->recv_us = high;
    return true;
}

/* Periods from a refresh at `a` to one at `b`, how few and how many fit. */
static void periods_between(const struct oxl_point *a, const struct oxl_point *b,
                            const struct grid *g, double *few, double *many)
{
    *few = ceil(seconds(b->sent_us - a->recv_us) / g->period_s / (1 + g->loose));
    *many = floor(seconds(b->recv_us - a->sent_us) / g->period_s / (1 - g->loose));
}

/* False: no grid goes through both. */
static bool narrow_both(struct oxl_point *a, struct oxl_point *b, const struct grid *g)
{
    double n, most;
    periods_between(a, b, g, &n, &most);
    if (n != most || n < 1)
        return n < most;
    double least_s = n * g->period_s * (1 - g->loose), most_s = n * g->period_s * (1 + g->loose);
    return narrow(b, seconds(a->sent_us) + least_s, seconds(a->recv_us) + most_s) &&
           narrow(a, seconds(b->sent_us) - most_s, seconds(b->recv_us) - least_s);
}

/* One of a run of equal values; `first` brought it, `next` ended it. NULL: not in the trace. */
static void place(struct oxl_point *p, const struct oxl_point *first, const struct oxl_point *next,
                  const struct grid *g)
{
    double sent = seconds(p->sent_us), recv = seconds(p->recv_us), period_s = g->period_s,
           least_s = period_s * (1 - g->loose), most_s = period_s * (1 + g->loose);
    p->sent_us -= micros(period_s);
    if (first) {
        double a = seconds(first->sent_us), b = seconds(first->recv_us);
        narrow(p, a + fmax(0, floor((sent - b) / period_s)) * least_s,
               b + fmax(0, floor((recv - a) / period_s)) * most_s);
    }
    if (next) {
        double a = seconds(next->sent_us), b = seconds(next->recv_us);
        narrow(p, a - fmax(1, ceil((b - sent) / period_s)) * most_s,
               b - fmax(1, ceil((a - recv) / period_s)) * least_s);
    }
}

static bool brings_news(const struct oxl_point *p, size_t n, size_t i)
{
    return i > 0 && i < n && p[i].value != p[i - 1].value;
}

static size_t next_news(const struct oxl_point *p, size_t n, size_t i)
{
    while (i < n && !brings_news(p, n, i))
        i++;
    return i;
}

/* The change to p[i], which was asked for after `before_us`. */
static struct oxl_point change_at(const struct oxl_point *p, int64_t before_us,
                                  const struct grid *g)
{
    struct oxl_point c = *p;
    int64_t old_us = p->sent_us - micros(g->period_s);
    c.sent_us = old_us > before_us ? old_us : before_us;
    return c;
}

/* Do nearly all changes go on with the grid of those before? */
static bool fits(const struct oxl_point *p, size_t n, const struct grid *g)
{
    struct oxl_point last, now;
    size_t bad = 0, all = 0;
    for (size_t i = 1; i < n; i++) {
        if (!brings_news(p, n, i))
            continue;
        now = change_at(&p[i], p[i - 1].sent_us, g);
        bad += all++ > 0 && !narrow_both(&last, &now, g);
        last = now;
    }
    return bad * 200 <= all;
}

/* As loose as the changes need. What a clock stumbles by less than the step between samples does
 * not show, and does no more harm than that. */
static struct grid grid_of(const struct oxl_point *p, size_t n, double period_s)
{
    const double least = 0.01, most = 0.3; /* the period itself is found to half a per cent */
    struct grid g = {period_s, least};
    while (g.loose < most && !fits(p, n, &g))
        g.loose *= 2;
    return g;
}

/* The moments of the changes, each narrowed by those before and then by those after. */
static void find_changes(struct oxl_point *p, size_t n, const struct grid *g)
{
    int64_t before_us = n > 0 ? p[0].sent_us : 0;
    size_t last = n;
    for (size_t i = 1; i < n; i++) {
        int64_t sent_us = p[i].sent_us;
        if (brings_news(p, n, i)) {
            p[i] = change_at(&p[i], before_us, g);
            if (last < n)
                narrow_both(&p[last], &p[i], g);
            last = i;
        }
        before_us = sent_us;
    }
    for (size_t i = n; i-- > 1;) {
        if (!brings_news(p, n, i))
            continue;
        if (last > i && last < n)
            narrow_both(&p[i], &p[last], g);
        last = i;
    }
}

static void keep_order(struct oxl_point *p, size_t n)
{
    for (size_t i = 1; i < n; i++) {
        p[i].sent_us = p[i].sent_us > p[i - 1].sent_us ? p[i].sent_us : p[i - 1].sent_us;
        p[i].recv_us = p[i].recv_us > p[i - 1].recv_us ? p[i].recv_us : p[i - 1].recv_us;
    }
}

static void use_grid(struct oxl_point *p, size_t n, double period_s)
{
    struct grid g = grid_of(p, n, period_s);
    const struct oxl_point *first = NULL;
    find_changes(p, n, &g);
    size_t next = next_news(p, n, 1);
    for (size_t i = 0; i < n; i++) {
        if (i == next) {
            first = &p[i];
            next = next_news(p, n, i + 1);
        } else {
            place(&p[i], first, next < n ? &p[next] : NULL, &g);
        }
    }
    keep_order(p, n);
}

size_t oxl_taken_moments(struct oxl_trace t, const struct oxl_refresh *r, struct oxl_point *out,
                         size_t max)
{
    size_t n = t.count < max ? t.count : max;
    if (n == 0)
        return 0;
    memmove(out, t.points + (t.count - n), n * sizeof *out);
    if (r->known)
        use_grid(out, n, r->period_s);
    else
        for (size_t i = 0; i < n; i++)
            out[i].sent_us -= micros(oxl_refresh_age_s(r));
    return n;
}
