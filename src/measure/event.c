#include "parts.h"

static const int64_t early_hand_us = 1500000, leak_proof_us = 2000000;
/* A rear that copies the front's dither may come up a last time, not far enough to fall again. */
static const int64_t echo_us = 800000;

struct crossing oxl_run_find_release(struct oxl_trace front, const struct oxl_lean_rule *rule,
                                     int64_t shift_start_us, int64_t cut_us, int64_t to_us)
{
    int64_t from_us = cut_us > 0 ? cut_us - early_hand_us : shift_start_us;
    if (from_us < shift_start_us)
        from_us = shift_start_us;
    struct crossing c = oxl_find_crossing(front, rule, from_us, to_us);
    /* Before the call the gas was only taken back a little when the front was rich once more. */
    while (c.found && rule->kind == OXL_SENSOR_SWITCHING && c.moment.t_us < cut_us) {
        struct crossing next = oxl_find_crossing(front, rule, c.moment.high_us, to_us);
        if (!next.found)
            break;
        c = next;
    }
    return c;
}

struct oxl_moment oxl_find_release(struct oxl_trace front, const struct oxl_lean_rule *rule,
                                   int64_t shift_start_us, int64_t cut_us, int64_t to_us,
                                   double *ramp_s)
{
    struct crossing c = oxl_run_find_release(front, rule, shift_start_us, cut_us, to_us);
    if (ramp_s)
        *ramp_s = NAN;
    if (c.found && ramp_s)
        oxl_find_lean(front, rule, c.moment.low_us - 1, to_us, ramp_s);
    return c.moment;
}

bool oxl_lean_since(struct oxl_trace rear, const struct oxl_lean_rule *rule,
                    const struct oxl_moment *front_lean, int64_t to_us)
{
    for (size_t i = oxl_trace_after(rear, front_lean->high_us); i < rear.count; i++) {
        int64_t at_us = rear.points[i].recv_us;
        if (at_us > to_us ||
            (at_us - front_lean->high_us > echo_us && !oxl_is_lean(rear, rule, at_us, 0)))
            return false;
        if (at_us - front_lean->high_us >= leak_proof_us)
            return true;
    }
    return false;
}

struct crossing oxl_run_find_drop(struct oxl_trace rear, const struct oxl_lean_rule *rule,
                                  const struct oxl_moment *front_lean, int64_t shift_start_us,
                                  int64_t to_us)
{
    struct crossing c = oxl_find_crossing(rear, rule, front_lean->low_us, to_us);
    bool in_time = c.found && c.moment.t_us - front_lean->high_us < leak_proof_us;
    if (in_time || !oxl_lean_since(rear, rule, front_lean, to_us))
        return c;
    /* It fell earlier and stayed: the last fall of the enrichment. */
    struct crossing next = oxl_find_crossing(rear, rule, shift_start_us, to_us);
    c.found = c.moment.found = false;
    while (next.found && next.moment.t_us <= front_lean->high_us) {
        c = next;
        next = oxl_find_crossing(rear, rule, c.moment.high_us, to_us);
    }
    return c;
}

struct oxl_moment oxl_find_drop(struct oxl_trace rear, const struct oxl_lean_rule *rule,
                                const struct oxl_moment *front_lean, int64_t shift_start_us,
                                int64_t to_us)
{
    return oxl_run_find_drop(rear, rule, front_lean, shift_start_us, to_us).moment;
}

void oxl_reach_to(struct oxl_trace t, struct crossing *c, size_t i)
{
    if (i <= c->after || i >= t.count)
        return;
    double more_s = point_mid_s(&t.points[i]) - c->after_s;
    if (!(more_s > 0))
        return;
    c->after_s += more_s;
    c->later_s += more_s;
    c->moment.high_us = t.points[i].recv_us + micros(c->noise_s);
}
