/* The deeper run: over target and long enough that no store could hold more than was taken out of
 * it unless it is sound. docs/method.md, section 6. */
#include "parts.h"

/* The enrichment aims at the whole dose; three quarters of it still prove the same where lambda has
 * measured it. */
static const double least_share = 0.75;

double oxl_deeper_needed_mg(const struct oxl_profile *profile, double air_g_s, double shown_mg)
{
    const double to_spare = 1.1;
    if (isnan(air_g_s))
        return NAN;
    double condemns_mg = 1000 * profile->deeper_dose * profile->good_g_per_g_s * air_g_s;
    return fmax(condemns_mg, OXL_RICH_SLIP * 2 * to_spare * shown_mg);
}

static double mg_per_excess_s(const struct oxl_profile *profile, double air_g_s)
{
    return 1000 * oxl_oxygen_fraction(profile->humidity_ratio) * air_g_s;
}

double oxl_removal_mg_s(const struct oxl_profile *profile, double rest_lambda, double lambda,
                        double air_g_s)
{
    return mg_per_excess_s(profile, air_g_s) * (1 / lambda - 1 + offset_x(profile, rest_lambda));
}

double oxl_removal_by_trim_mg(const struct oxl_profile *profile, double baseline_pct,
                              double behind_pct_s, double air_g_s)
{
    return mg_per_excess_s(profile, air_g_s) * fmax(0, behind_pct_s) / 100 /
           (1 + baseline_pct / 100);
}

/* From when on the hand stood still: until the front falls for good by this from its richest, the
 * gas was as rich as ever. NAN: nothing was seen. */
static double hand_stands_s(struct oxl_trace front, double *level_v)
{
    double richest = -INFINITY, since_s = NAN;
    for (size_t i = 2; i < front.count; i++)
        richest = fmax(richest, oxl_trace_last_three(front, i));
    *level_v = richest - OXL_HAND_STILL_V;
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

/* One stay on the rich side, [from_s, to_s] at the front: integral of x that the trims show. */
static double stay_dose(const struct run_work *w, double from_s, double to_s, double delay_s)
{
    const struct oxl_trace front = oxl_trace_slice(w->in->front, micros(from_s), micros(to_s));
    const double step_s = 0.05;
    double level_v, since_s = hand_stands_s(front, &level_v), sum = 0, least = INFINITY;
    for (double t = since_s; t < to_s; t += step_s) {
        double now = oxl_trace_at(w->in->trim, t - delay_s);
        least = fmin(least, now);
        sum += step_s * now;
    }
    if (!isfinite(least))
        return 0;
    double behind = fmax(0, oxl_trace_at(w->in->trim, since_s - delay_s) - least);
    double after = fmax(0, sum - least * (to_s - since_s));
    return (after + behind * as_rich_s(front, level_v)) / 100 / (1 + w->base);
}

double oxl_dose_by_trim(const struct run_work *w, double delay_s)
{
    const struct oxl_run_input *in = w->in;
    double dose = 0, from_s = NAN;
    size_t i = oxl_trace_after(in->front, in->shift_start_us - 3000000);
    for (; i < in->front.count && point_mid_s(&in->front.points[i]) <= w->front.t_s; i++) {
        double v = in->front.points[i].value, t = point_mid_s(&in->front.points[i]);
        if (isnan(from_s) && v >= in->profile->rich_v)
            from_s = t;
        if (!isnan(from_s) && v < in->profile->lean_v) {
            dose += stay_dose(w, from_s, t, delay_s);
            from_s = NAN;
        }
    }
    return isnan(from_s) ? dose : dose + stay_dose(w, from_s, w->front.t_s, delay_s);
}

void oxl_find_needed(struct run_work *w)
{
    if (w->in->deeper)
        w->out->o2_needed_mg =
            oxl_deeper_needed_mg(w->in->profile, w->out->air_g_s, w->in->shown_mg);
}

bool oxl_dose_enough(const struct run_work *w, double removed_s)
{
    const struct oxl_profile *p = w->in->profile;
    double needed_s = p->deeper_dose * p->good_g_per_g_s / oxl_oxygen_fraction(p->humidity_ratio);
    double share = w->in->pair.front_kind == OXL_SENSOR_WIDE ? least_share : 1;
    return removed_s >= share * needed_s;
}
