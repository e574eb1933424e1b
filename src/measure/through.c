/* How much of the lean gas came through: behind a full store the rear stands at the level of the
 * gas that goes in. A bed that is only part empty, or weak, lets some through long before that. */
#include "parts.h"

static const double weak_excess = 0.03;

/* As the gas fades the level behind a full store rises. */
static double rise_v(double from_x, double to_x)
{
    return OXL_V_PER_E * log(from_x / to_x);
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

/* While the rich gas leaves, how lean it is already is not well known: from then on it is at least
 * not taken for weaker than it becomes. */
size_t oxl_find_levels(const struct run_work *w, struct rear_level levels[MAX_LEVELS])
{
    const double settle = 2.5; /* time constants of the rear */
    const struct oxl_run_input *in = w->in;
    const struct oxl_trace t = {in->rear.points, oxl_trace_after(in->rear, in->end_us)};
    const size_t first = first_telling(w, t);
    const size_t end = end_of_telling(w, t, first), n = end > first ? end - first : 0;
    double x = weak_excess;
    for (size_t k = n < MAX_LEVELS ? n : MAX_LEVELS; k-- > 0;) {
        const struct stand s = stands(w, t, first + k);
        x = fmax(x, excess_behind(w, t, first + k));
        levels[k] = (struct rear_level){
            .above_v = s.v - rise_v(1, x),
            .full_s = fmax(w->balance_s, s.t_s - settle * in->profile->rear_tau_s) - w->path_s};
    }
    return n < MAX_LEVELS ? n : MAX_LEVELS;
}
