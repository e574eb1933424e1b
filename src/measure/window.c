#include "parts.h"

/* Nearly every question is about the newest points: so a stretch that reaches back from the end is
 * doubled until it holds the answer, and only then halved. */
size_t oxl_trace_after(struct oxl_trace t, int64_t t_us)
{
    size_t high = t.count, back = 1;
    for (; back <= high && t.points[high - back].recv_us > t_us; back *= 2)
        high -= back;
    size_t low = back <= high ? high - back + 1 : 0;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (t.points[mid].recv_us > t_us)
            high = mid;
        else
            low = mid + 1;
    }
    return low;
}

struct oxl_trace oxl_trace_slice(struct oxl_trace t, int64_t from_us, int64_t to_us)
{
    struct oxl_trace out = {NULL, 0};
    if (t.count == 0 || to_us < from_us)
        return out;
    size_t first = from_us == INT64_MIN ? 0 : oxl_trace_after(t, from_us - 1);
    size_t end = oxl_trace_after(t, to_us);
    if (end > first) {
        out.points = t.points + first;
        out.count = end - first;
    }
    return out;
}

/* A trace holds numbers only, so plain comparisons do, and times stay in microseconds until the
 * end; these are the hottest loops of a replay. */
static void window_moments(struct oxl_trace t, struct oxl_window_stats *w)
{
    const struct oxl_point *p = t.points;
    double n = (double)t.count, sum = 0, sum_us = 0;
    w->min = w->max = p[0].value;
    for (size_t i = 0; i < t.count; i++) {
        double v = p[i].value;
        sum += v;
        sum_us += (double)(p[i].recv_us - p[0].recv_us);
        w->min = v < w->min ? v : w->min;
        w->max = v > w->max ? v : w->max;
    }
    w->mean = sum / n;
    double mean_us = sum_us / n, vv = 0, tt = 0, tv = 0;
    for (size_t i = 0; i < t.count; i++) {
        double dv = p[i].value - w->mean;
        double dt = (double)(p[i].recv_us - p[0].recv_us) - mean_us;
        vv += dv * dv;
        tt += dt * dt;
        tv += dt * dv;
    }
    if (t.count > 1)
        w->sd = sqrt(vv / (n - 1));
    if (tt > 0)
        w->slope_per_s = 1e6 * tv / tt;
}

struct oxl_window_stats oxl_trace_window(struct oxl_trace t, int64_t from_us, int64_t to_us)
{
    struct oxl_window_stats w = {0, NAN, NAN, NAN, NAN, NAN, 0, 0};
    struct oxl_trace s = oxl_trace_slice(t, from_us, to_us);
    w.count = s.count;
    if (s.count == 0)
        return w;
    window_moments(s, &w);
    w.span_us = s.points[s.count - 1].recv_us - s.points[0].recv_us;
    for (size_t i = 1; i < s.count; i++) {
        int64_t gap = s.points[i].recv_us - s.points[i - 1].recv_us;
        if (gap > w.longest_gap_us)
            w.longest_gap_us = gap;
    }
    return w;
}

double oxl_trace_mean(struct oxl_trace t, int64_t from_us, int64_t to_us)
{
    struct oxl_trace s = oxl_trace_slice(t, from_us, to_us);
    double sum = 0;
    for (size_t i = 0; i < s.count; i++)
        sum += s.points[i].value;
    return s.count ? sum / (double)s.count : NAN;
}

/* Index of the first point whose middle is later than t_s. */
static size_t after_middle(struct oxl_trace t, double t_s)
{
    size_t low = 0, high = t.count;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (point_mid_s(&t.points[mid]) > t_s)
            high = mid;
        else
            low = mid + 1;
    }
    return low;
}

double oxl_trace_at(struct oxl_trace t, double t_s)
{
    if (t.count == 0)
        return NAN;
    size_t i = after_middle(t, t_s);
    if (i == 0)
        return t.points[0].value;
    if (i == t.count)
        return t.points[t.count - 1].value;
    const struct oxl_point *a = &t.points[i - 1], *b = &t.points[i];
    double ta = point_mid_s(a), tb = point_mid_s(b);
    if (tb <= ta)
        return b->value;
    return a->value + (b->value - a->value) * (t_s - ta) / (tb - ta);
}

double oxl_trace_mean_s(struct oxl_trace t, double from_s, double to_s)
{
    enum { STEPS = 64 };
    const double reach_s = 5.0; /* a value older than this says nothing of the window */
    if (oxl_trace_slice(t, micros(from_s - reach_s), micros(to_s + reach_s)).count == 0)
        return NAN;
    if (!(to_s > from_s))
        return oxl_trace_at(t, from_s);
    double sum = 0;
    for (int i = 0; i < STEPS; i++)
        sum += oxl_trace_at(t, from_s + (to_s - from_s) * (i + 0.5) / STEPS);
    return sum / STEPS;
}
