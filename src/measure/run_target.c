#include "parts.h"

struct target_case {
    double stop_s, path_s, ratio;
    double dose_share; /* of the integral; less than 1 for a bound that must hold */
    struct recovery recovery;
};

static struct prediction target_time(const struct run_work *w, const struct target_case *c)
{
    struct excess e = w->excess;
    e.recovery = c->recovery;
    double end = w->out->dropped ? c->stop_s - c->path_s : stored_until(w, &e);
    double dose = c->dose_share * excess_integral(&e, w->lean_s, end);
    struct prediction p =
        predict_fill(&e, w->lean_s, c->ratio, dose, w->in->profile->timing_limit_s);
    p.time_s += fmin(c->path_s, fmax(0, c->stop_s - w->lean_s));
    return p;
}

/* The same case with one thing changed at a time. */
static size_t target_cases(const struct run_work *w, const struct target_case *base,
                           struct target_case *out)
{
    const struct oxl_run_result *r = w->out;
    size_t n = 0;
    double early = r->dropped ? r->delay_s.value - r->delay_s.low : 0;
    double late = r->dropped ? r->delay_s.high - r->delay_s.value : 0;
    for (size_t i = 0; i < 7; i++)
        out[i] = *base;
    out[n++].stop_s -= early;
    out[n++].stop_s += late;
    out[n++].path_s = fmax(0, base->path_s - w->path_err_s);
    out[n++].path_s += w->path_err_s;
    double shift_err = hypot(
        0.8, oxl_known(w->in->baseline_trim_sd_pct) ? w->in->baseline_trim_sd_pct * 0.5 : 0.5);
    out[n++].ratio *= 1 - shift_err / fabs(r->shift_pct);
    out[n++].ratio *= 1 + shift_err / fabs(r->shift_pct);
    if (w->excess.recovery.kind == RECOVERY_UNKNOWN)
        out[n++].recovery.tau_s = 2;
    return n;
}

void find_target_delay(struct run_work *w)
{
    struct oxl_run_result *r = w->out;
    const struct oxl_profile *p = w->in->profile;
    /* No depth, no prediction. */
    if (!(r->shift_pct < -3) || r->x_source == OXL_XSRC_NONE)
        return;
    struct target_case base = {w->stop_s, w->path_s, p->target_pct / r->shift_pct,
                               r->dropped ? 1.0 : 0.9, w->excess.recovery},
                       cases[7];
    if (base.recovery.kind == RECOVERY_UNKNOWN)
        base.recovery = (struct recovery){RECOVERY_EXPONENTIAL, NAN, 5.0};
    struct prediction at = target_time(w, &base);
    double down = 0, up = 0, least = at.time_s;
    bool all_fill = at.fills;
    size_t n = target_cases(w, &base, cases);
    for (size_t i = 0; i < n; i++) {
        struct prediction c = target_time(w, &cases[i]);
        double d = c.time_s - at.time_s;
        all_fill = all_fill && c.fills;
        least = fmin(least, c.time_s);
        down += d < 0 ? d * d : 0;
        up += d > 0 ? d * d : 0;
    }
    /* Less is stored at a higher flux; the arithmetic does not know that. */
    double flux = 0.4 * fabs(log(base.ratio)) * fmax(0, at.time_s - base.path_s);
    /* Another release may be steeper or slower by a part of the time in which the gas leaves. */
    double release = hypot(0.25 * p->gas_tail_s, 0.04 * at.time_s); /* and air and hand vary */
    down += release * release;
    up += release * release;
    double doubt = 0.5 * w->doubt_s * fmax(1, 1 / base.ratio);
    down += flux * flux;
    up += flux * flux;
    struct oxl_span *s = &r->delay_at_target_s;
    s->value = at.fills && r->dropped ? at.time_s : NAN;
    double far = r->o2_is_lower_bound ? OXL_BOUND_SIGMAS : 1;
    s->low = fmax(0, at.fills ? at.time_s - far * (sqrt(down) + doubt) : least);
    s->high = all_fill && r->dropped ? at.time_s + sqrt(up) + doubt : INFINITY;
    if (r->dropped && r->delay_s.value < 0)
        *s = r->delay_s;
}
