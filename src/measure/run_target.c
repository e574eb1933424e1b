#include "parts.h"

struct target_case {
    double stop_s, path_s, ratio;
    double dose_share; /* of the integral; less than 1 for a bound that must hold */
    bool like_flux;    /* only what came in gas that is as lean in the target run */
    struct recovery recovery;
};

static struct prediction target_time(const struct run_work *w, const struct target_case *c)
{
    struct excess e = w->excess;
    e.recovery = c->recovery;
    double end = w->out->dropped ? c->stop_s - c->path_s : oxl_stored_until(w, &e);
    double dose = c->dose_share * oxl_excess_integral(&e, w->lean_s, end);
    if (c->like_flux)
        dose = fmin(dose, oxl_dose_at_like_flux(&e, w->lean_s, end, c->ratio));
    struct prediction p =
        oxl_predict_fill(&e, w->lean_s, c->ratio, dose, w->in->profile->timing_limit_s);
    p.time_s += fmin(c->path_s, c->stop_s - w->front.t_s);
    return p;
}

/* One thing changed at a time, by as much as it may be off, one way and the other. */
enum { TARGET_CASES = 4 };
static void target_cases(const struct run_work *w, const struct target_case *base,
                         struct target_case less[TARGET_CASES],
                         struct target_case more[TARGET_CASES])
{
    const struct oxl_run_result *r = w->out;
    double early = r->dropped ? r->delay_s.value - r->delay_s.low : 0;
    double late = r->dropped ? r->delay_s.high - r->delay_s.value : 0;
    double baseline_sd = w->in->baseline_trim_sd_pct;
    double shift_err = hypot(0.8, oxl_known(baseline_sd) ? 0.5 * baseline_sd : 0.5);
    for (size_t i = 0; i < TARGET_CASES; i++)
        less[i] = more[i] = *base;
    less[0].stop_s -= early + (r->dropped ? w->balance_s - w->balance_first_s : 0);
    more[0].stop_s += late + (r->dropped ? w->stop_s - w->balance_s : 0);
    less[1].path_s = fmax(0, base->path_s - w->path_err_s);
    more[1].path_s += w->path_err_s;
    less[2].ratio *= 1 - shift_err / fabs(r->shift_pct);
    more[2].ratio *= 1 + shift_err / fabs(r->shift_pct);
    if (w->excess.recovery.kind == RECOVERY_UNKNOWN) {
        less[3].recovery.tau_s = 2;
        more[3].recovery.tau_s = 2;
    }
}

/* Half-widths of the interval, downward and upward, and the least time of all cases. */
struct target_error {
    double down, up, least;
    bool all_fill;
};

/* By how much this release was slower than the gas that leaves in gas_tail_s. The time from 10 to
 * 80 % of the front's rise, which the recovering trim ends, grows as the delay does: by 0.65 s and
 * 0.64 s when the tail grows from 0.35 to 1.4 s (test_run.c). A switching front shows nothing. */
static double slow_release_s(const struct run_work *w)
{
    double ramp_s = w->out->front_ramp_s - oxl_refresh_age_s(&w->in->front_refresh);
    bool seen = w->in->pair.front_kind == OXL_SENSOR_WIDE && oxl_known(ramp_s);
    return seen ? fmax(0, ramp_s - w->in->profile->gas_tail_s) : 0;
}

static struct target_error target_error(const struct run_work *w, const struct target_case *base,
                                        const struct prediction *at)
{
    enum { FLUX = TARGET_CASES, RELEASE, LEFT, PARTS };
    const double coverage = 0.95;
    struct target_case c[2][TARGET_CASES];
    double down[PARTS] = {0}, up[PARTS] = {0};
    struct target_error e = {0, 0, at->time_s, at->fills};
    target_cases(w, base, c[0], c[1]);
    for (size_t k = 0; k < TARGET_CASES; k++)
        for (size_t i = 0; i < 2; i++) {
            struct prediction p = target_time(w, &c[i][k]);
            double d = p.time_s - at->time_s;
            e.all_fill = e.all_fill && p.fills;
            e.least = fmin(e.least, p.time_s);
            down[k] = fmax(down[k], -d);
            up[k] = fmax(up[k], d);
        }
    /* Less is stored at a higher flux; the arithmetic does not know that. */
    down[FLUX] = up[FLUX] =
        OXL_STORE_PER_LOG_FLUX * fabs(log(base->ratio)) * fmax(0, at->time_s - base->path_s);
    /* Another release may be steeper or slower by a part of the time in which the gas leaves, and
     * air and hand vary. */
    down[RELEASE] = up[RELEASE] = hypot(0.25 * w->in->profile->gas_tail_s, 0.05 * at->time_s);
    down[RELEASE] += slow_release_s(w);
    /* A slow share gives its oxygen up late, and the outlet end last: the more was taken out
     * against what went in, the less of them was left full. */
    up[LEFT] = w->unemptied * fmax(0, at->time_s - base->path_s);
    e.down = oxl_uniform_sum_quantile(down, PARTS, coverage);
    e.up = oxl_uniform_sum_quantile(up, PARTS, coverage);
    return e;
}

/* The target run's gas ends before the store is full: how long it lasts at least. Of a run that
 * dropped, nine tenths of the dose stand for several errors at once; a held one has them already.
 */
static double gas_lasts_s(const struct run_work *w, const struct target_case *base,
                          const struct target_error *e)
{
    struct target_case less = *base;
    less.dose_share = 0.9;
    less.like_flux = true;
    return fmin(e->least, target_time(w, &less).time_s);
}

/* A relay on a switching front jumps when it sees the other side. While it chases the gas its trim
 * stands half a jump beyond its ramp, and it is the ramp that goes on from there: per cent, 0 when
 * there is none to be seen. */
static double half_jump_pct(const struct run_work *w)
{
    const double after_s = 0.6, window_s = 0.4, most_pct = 2.5;
    const struct oxl_run_input *in = w->in;
    if (in->pair.front_kind != OXL_SENSOR_SWITCHING)
        return 0;
    double t = w->front.t_s, ramp_s = after_s + window_s;
    double jump = oxl_trace_mean_s(in->trim, t + after_s, t + after_s + window_s) -
                  oxl_trace_mean_s(in->trim, t - window_s, t);
    double late = oxl_trace_mean_s(in->trim, t + ramp_s + window_s, t + ramp_s + 2 * window_s);
    double soon = oxl_trace_mean_s(in->trim, t + after_s, t + after_s + window_s);
    jump -= fmax(0, (late - soon)) / (2 * window_s) * 0.5 * ramp_s;
    if (seconds(in->end_us) < t + ramp_s + 2 * window_s)
        return 0;
    return fmin(most_pct, fmax(0, 0.5 * jump));
}

void oxl_find_target_delay(struct run_work *w)
{
    struct oxl_run_result *r = w->out;
    const struct oxl_profile *p = w->in->profile;
    struct oxl_span *s = &r->delay_at_target_s;
    /* No depth, no prediction; nor from a rear that fell of itself. */
    if (!(r->shift_pct < -3) || r->x_source == OXL_XSRC_NONE)
        return;
    if (oxl_reasons_has(r->reasons, OXL_R_REAR_LEAN_FIRST)) {
        s->low = 0;
        s->high = INFINITY;
        return;
    }
    double ratio = p->target_pct / fmin(-3, r->shift_pct + half_jump_pct(w));
    struct target_case base = {w->balance_s,           w->path_s, ratio,
                               r->dropped ? 1.0 : 0.9, false,     w->excess.recovery};
    if (base.recovery.kind == RECOVERY_UNKNOWN)
        base.recovery = (struct recovery){RECOVERY_EXPONENTIAL, NAN, 5.0};
    struct prediction at = target_time(w, &base);
    struct target_error e = target_error(w, &base, &at);
    double doubt = 0.5 * w->doubt_s * fmax(1, 1 / base.ratio);
    double far = r->o2_is_lower_bound ? OXL_BOUND_SIGMAS : 1;
    s->value = at.fills && r->dropped ? at.time_s : NAN;
    struct target_case sure = base;
    sure.like_flux = r->o2_is_lower_bound;
    s->low = at.fills ? target_time(w, &sure).time_s - far * (e.down + doubt)
                      : gas_lasts_s(w, &base, &e);
    s->low = fmax(s->low, at.time_s < 0 ? at.time_s - e.down : 0);
    s->high = e.all_fill && r->dropped ? at.time_s + e.up + doubt : INFINITY;
}
