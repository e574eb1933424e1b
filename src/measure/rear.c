/* What else than its bracket makes the moment of rear-lean uncertain. */
#include "parts.h"

/* The fall itself is over by then; later the gas fades. */
static const double watched_s = 1.2;

/* It rose again and fell again: an exhaust that draws air, a mixture that swings. Which fall was
 * the store's own is not to be seen. */
static void reach_to_last_fall(struct oxl_trace t, const struct oxl_lean_rule *rule,
                               struct crossing *c)
{
    size_t last = c->after;
    for (size_t i = c->after + 1; i < t.count && point_mid_s(&t.points[i]) < c->after_s + watched_s;
         i++)
        if (t.points[i].value >= rule->switch_v + 3 * rule->noise)
            last = i + 1 < t.count ? i + 1 : i;
    oxl_reach_to(t, c, last);
}

/* Rich gas takes a sound sensor beyond 0.8 V (Nernst: 848 mV at lambda 0.99). Where it stayed far
 * below, switch_v is not balance: the middle of its own swing is. */
static void reach_to_own_middle(struct oxl_trace t, double top_v, struct crossing *c)
{
    const double full_rich_v = 0.63, lean_end_v = 0.06;
    if (!(top_v < full_rich_v))
        return;
    double middle_v = 0.5 * (top_v + lean_end_v);
    size_t i = c->after;
    while (i + 1 < t.count && t.points[i].value > middle_v)
        i++;
    oxl_reach_to(t, c, i);
}

double oxl_least_fall_s(const struct run_work *w)
{
    return oxl_fall_time_s(w->in->rear, &w->rear, 0.6, 0.3) -
           oxl_refresh_age_s(&w->in->rear_refresh);
}

static double excess_of(const struct oxl_trace t, size_t i)
{
    return 1 - 1 / oxl_trace_last_three(t, i);
}

static double leanest_x(const struct run_work *w, struct oxl_trace t, size_t first)
{
    double most = 0;
    for (size_t i = first; i < t.count; i++)
        most = fmax(most, oxl_excess_at(&w->excess, point_mid_s(&t.points[i]) - w->path_s));
    return most;
}

/* No gas behind the store is leaner than that ahead of it. So while such a sensor rises its time
 * constant is at most what it had left to rise over how quickly it rose. */
static double tau_at_most_s(const struct run_work *w, struct oxl_trace t, size_t first, double x)
{
    const double apart_s = 0.6, least_x = 0.01, noise_x = 0.004;
    double tau_s = INFINITY, age_s = oxl_refresh_age_s(&w->in->rear_refresh);
    for (size_t i = first, k = first; i < t.count; i++) {
        double at_s = point_mid_s(&t.points[i]);
        while (k < t.count && point_mid_s(&t.points[k]) - at_s < apart_s + age_s)
            k++;
        if (k == t.count)
            break;
        double before = excess_of(t, i), rise = excess_of(t, k) - before;
        double took_s = point_mid_s(&t.points[k]) - at_s;
        if (rise > least_x)
            tau_s = fmin(tau_s, fmax(0, x - before - 0.5 * rise) * took_s / (rise - noise_x));
    }
    return tau_s;
}

double oxl_wide_rear_lag_s(const struct run_work *w)
{
    const struct oxl_run_input *in = w->in;
    const double step = in->profile->lambda_step;
    struct oxl_trace t = {in->rear.points, oxl_trace_after(in->rear, in->end_us)};
    size_t first = oxl_trace_after(t, micros(w->front.t_s));
    if (in->pair.rear_kind != OXL_SENSOR_WIDE || !w->out->dropped || first < 2 || first >= t.count)
        return 0;
    double x = leanest_x(w, t, first), tau_s = tau_at_most_s(w, t, first, x);
    if (!(x > 2 * step) || !isfinite(tau_s))
        return INFINITY;
    double to_rise = fmax(1, (x - excess_of(t, first)) / (x - step));
    return fmax(0, tau_s * log(to_rise) - in->profile->rear_tau_s);
}

void oxl_widen_rear(struct run_work *w, const struct oxl_lean_rule *rule)
{
    const struct oxl_run_input *in = w->in;
    struct oxl_trace t = in->rear;
    t.count = oxl_trace_after(t, in->end_us);
    if (rule->kind != OXL_SENSOR_SWITCHING)
        return;
    reach_to_last_fall(t, rule, &w->rear);
    if (in->shift_start_us > 0)
        reach_to_own_middle(t, oxl_trace_window(t, in->shift_start_us, w->front.moment.low_us).max,
                            &w->rear);
    w->out->rear_lean = w->rear.moment;
}
