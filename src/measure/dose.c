/* How much oxygen the gas took out before the release. A wide-range front measures it. A switching
 * one does not say how rich it is; the trims show by how much they were behind. docs/method.md,
 * section 6. */
#include "parts.h"

/* The hand stands still since the front fell for good this far from its richest: by RT/4F, 19 mV at
 * 900 K, for each factor e in the excess (Nernst). */
static const double still_v = 0.010;
/* ... and has opened the valve again when it rises by so much; what is less may be noise. */
static const double opens_v = 0.030;

/* From when on the hand stood still: until the front falls for good by this from its richest, the
 * gas was as rich as ever. NAN: nothing was seen. */
static double hand_stands_s(struct oxl_trace front, double *level_v)
{
    double richest = -INFINITY, since_s = NAN;
    for (size_t i = 2; i < front.count; i++)
        richest = fmax(richest, oxl_trace_last_three(front, i));
    *level_v = richest - still_v;
    for (size_t i = 2; i < front.count; i++)
        if (oxl_trace_last_three(front, i) >= *level_v)
            since_s = point_mid_s(&front.points[i]);
    return since_s;
}

/* How long before that the front stood at that level or above it, in gas that was as rich at least.
 */
static double as_rich_s(struct oxl_trace front, double level_v)
{
    double sum_s = 0;
    for (size_t i = 3; i < front.count; i++)
        if (fmin(oxl_trace_last_three(front, i), oxl_trace_last_three(front, i - 1)) >= level_v)
            sum_s += point_mid_s(&front.points[i]) - point_mid_s(&front.points[i - 1]);
    return sum_s;
}

/* While the hand stood once: from there on the trims are behind by what they have yet to take away
 * at the least, and were so before while the gas was as rich. front: that part of it. */
static double once_s(const struct oxl_trim_dose *d, struct oxl_trace front)
{
    const double step_s = 0.05;
    double level_v, since_s = hand_stands_s(front, &level_v), sum = 0, least = INFINITY;
    if (front.count < 3)
        return 0;
    const double to_s = point_mid_s(&front.points[front.count - 1]);
    for (double t = since_s; t < to_s; t += step_s) {
        double now = oxl_trace_at(d->trim, t - d->delay_s);
        least = fmin(least, now);
        sum += step_s * now;
    }
    if (!isfinite(least))
        return 0;
    double behind = fmax(0, oxl_trace_at(d->trim, since_s - d->delay_s) - least);
    double after = fmax(0, sum - least * (to_s - since_s));
    return (after + behind * as_rich_s(front, level_v)) / 100 / (1 + d->baseline_pct / 100);
}

/* A hand that opens, stands, and opens again stood more than once: the front fell and rises. */
static double each_time_s(const struct oxl_trim_dose *d, struct oxl_trace front)
{
    double sum_s = 0, high = -INFINITY, low = INFINITY;
    size_t from = 0, lowest = 0;
    for (size_t i = 2; i < front.count; i++) {
        const double v = oxl_trace_last_three(front, i);
        if (v > high || v < low)
            lowest = i;
        low = v > high ? INFINITY : fmin(low, v);
        high = fmax(high, v);
        if (low > high - still_v || v < low + opens_v)
            continue;
        sum_s += once_s(d, (struct oxl_trace){front.points + from, lowest + 1 - from});
        from = lowest - 2;
        high = v;
        low = INFINITY;
    }
    return sum_s + once_s(d, (struct oxl_trace){front.points + from, front.count - from});
}

/* One stay on the rich side. Either sum is one that was at least taken out. */
static double stay_s(const struct oxl_trim_dose *d, struct oxl_trace front)
{
    return fmax(once_s(d, front), each_time_s(d, front));
}

double oxl_dose_by_trim_s(const struct oxl_trim_dose *d)
{
    const struct oxl_trace all = d->front;
    const size_t end = oxl_trace_after(all, d->to_us);
    double dose_s = 0;
    size_t from = SIZE_MAX, i = oxl_trace_after(all, d->shift_start_us - 3000000);
    for (; i < end; i++) {
        const double v = all.points[i].value;
        if (from == SIZE_MAX && v >= d->profile->rich_v)
            from = i;
        if (from != SIZE_MAX && v < d->profile->lean_v) {
            dose_s += stay_s(d, (struct oxl_trace){all.points + from, i + 1 - from});
            from = SIZE_MAX;
        }
    }
    return from == SIZE_MAX ? dose_s
                            : dose_s + stay_s(d, (struct oxl_trace){all.points + from, end - from});
}

/* Integral of air * x with a wide-range front and an air flow, else of x: the trims do not say
 * when. INFINITY: they did not move. */
static double removed_of(const struct run_work *w, struct oxl_trace air)
{
    const struct oxl_run_input *in = w->in;
    const double before_s = 3.0; /* the front went rich before the trims moved */
    if (in->shift_start_us <= 0)
        return INFINITY;
    if (in->pair.front_kind == OXL_SENSOR_WIDE)
        return oxl_rich_air_integral(in->front, w->excess.rest_x, air,
                                     seconds(in->shift_start_us) - before_s, w->lean_s);
    const struct oxl_trim_dose seen = {.profile = in->profile,
                                       .front = in->front,
                                       .trim = in->trim,
                                       .baseline_pct = w->base_pct,
                                       .shift_start_us = in->shift_start_us,
                                       .to_us = micros(w->front.t_s),
                                       .delay_s = oxl_engine_delay_s(w)};
    return oxl_dose_by_trim_s(&seen);
}

double oxl_removed_s(const struct run_work *w)
{
    return removed_of(w, (struct oxl_trace){NULL, 0});
}

void oxl_find_removed(struct run_work *w)
{
    const double scale = 1000 * oxl_oxygen_fraction(w->in->profile->humidity_ratio);
    const bool wide = w->in->pair.front_kind == OXL_SENSOR_WIDE;
    if (w->in->shift_start_us > 0)
        w->out->o2_removed_mg = scale * removed_of(w, w->air) * (wide ? 1 : w->out->air_g_s);
}
