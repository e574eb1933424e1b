/* How lean: in lean gas a switching sensor falls by RT/4F, some 19 mV, for each factor e in the
 * oxygen excess (Nernst, 900 K). Its level itself is worth little (offsets, temperature), but
 * within one run it tells a mixture that still hovers about balance from one that the gas has left.
 */
#include "parts.h"

/* This far above the run's own lean level the excess is a tenth of what it becomes: 19.4 mV ln 10,
 * 17 to 21 mV at 800 to 970 K. */
static const double tenth_v = 0.045;

/* Level of the leanest three samples running. */
static double leanest_v(struct oxl_trace t, size_t first, size_t end)
{
    double least = NAN;
    for (size_t i = first + 2; i < end; i++)
        least =
            fmin(least, (t.points[i].value + t.points[i - 1].value + t.points[i - 2].value) / 3);
    return least;
}

/* How far above the lean level of this run the lean halves of the dither before it stood; NAN when
 * the front did not come to lean then. */
static double dither_above_v(struct oxl_trace t, const struct oxl_lean_rule *rule,
                             const struct crossing *c, double level)
{
    const double look_back_s = 8.0;
    double least = NAN;
    for (size_t i = c->before; i > 0 && c->t_s - point_mid_s(&t.points[i]) < look_back_s; i--)
        if (t.points[i].value <= rule->lean_v)
            least = fmin(least, t.points[i].value);
    return least - level;
}

struct lean_start oxl_clearly_lean(struct oxl_trace t, const struct oxl_lean_rule *rule,
                                   const struct crossing *c, double tau_s, double to_s)
{
    const double look_s = 4.0, plateau_s = 0.3;
    const double lean_v = 0.15; /* gas at balance leaves a sensor above it */
    const double tells_v = 0.01;
    struct lean_start none = {.seen = false};
    size_t first = c->after, end = first;
    while (end < t.count && point_mid_s(&t.points[end]) <= fmin(to_s, c->t_s + look_s))
        end++;
    double level = leanest_v(t, first, end);
    /* A sensor that fell as low in the small swings of the dither does not tell how lean it is. */
    if (!(level < lean_v) || dither_above_v(t, rule, c, level) < tells_v)
        return none;
    size_t i = first;
    while (i + 1 < end &&
           (t.points[i].value > level + tenth_v || t.points[i + 1].value > level + tenth_v))
        i++;
    if (i + 1 >= end || point_mid_s(&t.points[end - 1]) - point_mid_s(&t.points[i]) < plateau_s)
        return none;
    const struct oxl_point *a = &t.points[i - 1], *b = &t.points[i];
    double ta = point_mid_s(a), tb = point_mid_s(b), fall = a->value - b->value;
    double part = fall > 0 ? (a->value - level - tenth_v) / fall : 0.5;
    /* A sensor of one time constant gets there by itself so much later than through switch_v. */
    double own_s = tau_s * log((rule->switch_v - level) / tenth_v);
    struct lean_start s = {.seen = true};
    s.late_s = ta + fmin(1, fmax(0, part)) * (tb - ta) - own_s - c->t_s;
    s.err_s = hypot(0.5 * (tb - ta), 0.35 * own_s);
    return s;
}

/* A wide-range rear reads balance to a thousandth only, and noise is as large: half a second's
 * mean. */
static double smooth(struct oxl_trace t, size_t i)
{
    const double reach_s = 0.25;
    double at = point_mid_s(&t.points[i]), sum = 0;
    size_t n = 0;
    for (size_t k = i; k < t.count && point_mid_s(&t.points[k]) <= at + reach_s; k++, n++)
        sum += t.points[k].value;
    for (size_t k = i; k-- > 0 && point_mid_s(&t.points[k]) >= at - reach_s; n++)
        sum += t.points[k].value;
    return sum / (double)n;
}

double oxl_within_level_s(struct oxl_trace t, double from_s, double to_s, double level, double err)
{
    for (size_t i = oxl_trace_after(t, micros(from_s)); i < t.count; i++) {
        struct crossing c = {.after = i, .t_s = point_mid_s(&t.points[i])};
        if (c.t_s > to_s)
            break;
        if (smooth(t, i) > level + err)
            return oxl_passes_level_s(t, &c, from_s, level);
    }
    return to_s;
}

double oxl_passes_level_s(struct oxl_trace t, const struct crossing *c, double from_s, double level)
{
    double after = INFINITY;
    for (size_t i = c->after + 1; i-- > 0 && point_mid_s(&t.points[i]) > from_s;) {
        double v = smooth(t, i);
        double ta = point_mid_s(&t.points[i]);
        if (v <= level) {
            double tb = i < c->after ? point_mid_s(&t.points[i + 1]) : ta;
            double part = after > v && isfinite(after) ? (level - v) / (after - v) : 0;
            return fmin(c->t_s, ta + part * (tb - ta));
        }
        after = v;
    }
    return fmin(c->t_s, from_s);
}
