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
