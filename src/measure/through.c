/* When the lean gas was through: behind a full store the rear stands at the level of the gas that
 * goes in. A bed that is only part empty, or weak, lets some gas through long before that. */
#include "parts.h"

/* RT/4F at 900 K: a switching sensor falls by so much for each factor e in the excess (Nernst). */
static const double volt_per_e = 0.0194;
static const double weak_excess = 0.03;
static const double band_v = 0.020, stay_s = 0.8; /* judgement: deciding bench, docs/method.md */

/* As the gas fades the level behind a full store rises. */
static double rise_v(double from_x, double to_x)
{
    return volt_per_e * log(from_x / to_x);
}

/* The lean gas that the sensor sees at sample i is that of its path before; none is there yet while
 * the rich gas still leaves. */
static double excess_behind(const struct run_work *w, struct oxl_trace t, size_t i)
{
    double at_s = point_mid_s(&t.points[i]) - w->path_s;
    return at_s < w->lean_s ? 0 : oxl_excess_at(&w->excess, at_s);
}

/* As a switching sensor would have it: Nernst of what a wide-range one reads. */
static double level_v(const struct run_work *w, const struct oxl_point *p)
{
    const double least_x = 0.001;
    return w->in->pair.rear_kind == OXL_SENSOR_WIDE ? rise_v(1, fmax(least_x, 1 - 1 / p->value))
                                                    : p->value;
}

/* Where the sensor stands at sample i: the mean of a quarter second, of three samples at least (on
 * a quick link three are hardly less noisy than one), and the middle of that time. */
struct stand {
    double v, t_s;
};
static struct stand stands(const struct run_work *w, struct oxl_trace t, size_t i)
{
    const double mean_s = 0.25;
    double sum = 0, at_s = point_mid_s(&t.points[i]);
    size_t k = i + 1, n = 0;
    while (k > 0 && (n < 3 || at_s - point_mid_s(&t.points[k - 1]) <= mean_s)) {
        sum += level_v(w, &t.points[--k]);
        n++;
    }
    return (struct stand){sum / (double)n, 0.5 * (at_s + point_mid_s(&t.points[k]))};
}

/* The samples in gas lean enough to tell: a rear may fall in the first breath of it. */
static size_t first_telling(const struct run_work *w, struct oxl_trace t)
{
    size_t i = w->rear.after;
    while (i < t.count && !(excess_behind(w, t, i) > weak_excess))
        i++;
    return i + 2;
}

static size_t end_of_telling(const struct run_work *w, struct oxl_trace t, size_t i)
{
    while (i < t.count && excess_behind(w, t, i) > weak_excess)
        i++;
    return i;
}

static size_t lowest(const struct run_work *w, struct oxl_trace t, size_t first, size_t end)
{
    size_t at = first;
    double least = INFINITY;
    for (size_t i = first; i < end; i++) {
        double v = stands(w, t, i).v;
        if (v < least) {
            least = v;
            at = i;
        }
    }
    return at;
}

struct through oxl_find_through(const struct run_work *w)
{
    const struct oxl_run_input *in = w->in;
    struct oxl_trace t = {in->rear.points, oxl_trace_after(in->rear, in->end_us)};
    struct through out = {.seen = false, .t_s = NAN, .above_v = NAN};
    if (!w->out->dropped)
        return out;
    size_t first = first_telling(w, t), end = end_of_telling(w, t, first);
    if (first + 1 >= end)
        return out;
    size_t low = lowest(w, t, first, end), at = first, last;
    double level = stands(w, t, low).v, from_x;
    out.above_v = level - rise_v(1, excess_behind(w, t, low));
    while (stands(w, t, at).v > level + band_v)
        at++;
    from_x = excess_behind(w, t, at);
    for (last = at; last + 1 < end &&
                    stands(w, t, last + 1).v <=
                        level + band_v + fmax(0, rise_v(from_x, excess_behind(w, t, last + 1)));)
        last++;
    out.t_s = fmax(w->rear.t_s, stands(w, t, at).t_s);
    out.seen =
        point_mid_s(&t.points[last]) - out.t_s >= stay_s + oxl_refresh_age_s(&in->rear_refresh);
    return out;
}
