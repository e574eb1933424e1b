#include "parts.h"

/* From injection to the front sensor. The profile's value is for an idle of 750 rpm and 3 g/s: half
 * of it four strokes, which take 120/N seconds, half of it gas on its way, inverse to the flow. */
double oxl_engine_delay_s(const struct run_work *w)
{
    double rpm = w->out->rpm > 0 ? w->out->rpm : 750,
           air = w->out->air_g_s > 0 ? w->out->air_g_s : 3;
    double factor = 0.5 * 750 / rpm + 0.5 * 3 / air;
    return w->in->profile->engine_delay_s * fmin(2, fmax(0.25, factor));
}

/* The mean over a second, or over the last whole swing of a front that dithers: the trims swing
 * with it. */
static double shift_window_s(const struct run_work *w, double to)
{
    const double usual_s = 1.0, most_s = 3.0;
    double swing = w->in->pair.front_kind == OXL_SENSOR_SWITCHING
                       ? oxl_dither_period_s(w->in->front, w->in->profile, to)
                       : 0;
    return swing > 0 && swing < most_s ? fmax(usual_s, swing) : usual_s;
}

void oxl_find_shift(struct run_work *w)
{
    const struct oxl_run_input *in = w->in;
    /* What the trims say at t reaches the front sensor engine_delay later. */
    double to = w->front.t_s - oxl_engine_delay_s(w);
    double mean = oxl_trace_mean_s(in->trim, to - shift_window_s(w, to), to);
    w->out->shift_pct = mean - w->base_pct;
    w->deepest_shift_pct = w->out->shift_pct;
    const double look_s = 2.0;
    for (size_t i = oxl_trace_after(in->trim, micros(to - look_s));
         i < in->trim.count && point_mid_s(&in->trim.points[i]) <= to; i++)
        w->deepest_shift_pct = fmin(w->deepest_shift_pct, in->trim.points[i].value - w->base_pct);
}

/* When a switching front is rich again after its release: whatever the trims say, the lean gas has
 * ended. (They need not come back to where they were: a port may have been closed.) */
static double rich_again_s(const struct run_work *w)
{
    struct oxl_trace t = w->in->front;
    double rich_v = w->in->profile->rich_v;
    for (size_t i = oxl_trace_after(t, w->front.moment.high_us) + 1; i < t.count; i++)
        if (t.points[i].value >= rich_v && t.points[i - 1].value >= rich_v &&
            point_mid_s(&t.points[i]) > w->lean_s)
            return point_mid_s(&t.points[i]);
    return 0;
}

static struct excess make_excess(const struct run_work *w, enum oxl_x_source source)
{
    const struct oxl_run_input *in = w->in;
    const struct oxl_profile *p = in->profile;
    struct excess e = {.source = source, .front = in->front, .trim = in->trim, .base = w->base};
    double end = seconds(in->end_us);
    e.recovery = oxl_fit_recovery(in->trim, w->base_pct, w->lean_s, end);
    e.lean_s = w->lean_s;
    e.over_s = w->in->pair.front_kind == OXL_SENSOR_SWITCHING ? rich_again_s(w) : 0;
    if (source == OXL_XSRC_LAMBDA) {
        e.rest_x = w->rest_x;
        size_t n = oxl_trace_after(in->front, in->end_us);
        e.last_s = n > 0 ? fmin(end, point_mid_s(&in->front.points[n - 1])) : end;
    } else {
        e.lag_s = oxl_engine_delay_s(w) + p->front_tau_s;
        e.tail_s = p->gas_tail_s;
        e.x0 = fmax(0, -w->out->shift_pct / 100 / (1 + w->base));
        size_t n = oxl_trace_after(in->trim, in->end_us);
        e.last_s = n > 0 ? fmin(end, point_mid_s(&in->trim.points[n - 1]) + e.lag_s) : end;
    }
    return e;
}

/* Until when what passed the front is in the store. A held run counts until its lean excess has
 * faded below the step: what follows is zero within the sensor's error. */
double oxl_stored_until(const struct run_work *w, const struct excess *e)
{
    double end = (w->out->dropped ? w->stop_s : w->balance_s) - w->path_s;
    double step = w->in->profile->lambda_step;
    if (w->out->dropped)
        return end;
    bool risen = false;
    int steps = (int)fmin(fmax(0, end - w->lean_s) / 0.05, 100000);
    for (int i = 0; i < steps; i++) {
        double t = w->lean_s + 0.05 * i, x = oxl_excess_at(e, t);
        risen = risen || x > 2 * step;
        if (risen && x < step)
            return t;
    }
    return end;
}

/* Grams between two moments, in mg. */
static double between_mg(const struct run_work *w, const struct excess *e, double from_s,
                         double to_s)
{
    return 1000 * oxl_oxygen_fraction(w->in->profile->humidity_ratio) *
           oxl_excess_air_integral(e, w->air, fmax(w->lean_s, from_s), to_s);
}

/* How long the store has been filling matters by what steam does meanwhile. It fills sites, too
 * (Moeller et al. 2009): up to 0.3 % of them a second (assumed), of a store twice as large as what
 * was fed. Half of that is added, and half of it is the doubt. */
static double steam_half_mg(double value_mg, double span_s)
{
    const double most_per_s = 0.003, sites = 2;
    return 0.5 * most_per_s * sites * span_s * value_mg;
}

/* The parts of the error that do not depend on the moment of the end: each lies anywhere within
 * +- its value. */
enum { STEADY_PARTS = 5 };
static void steady_parts(const struct run_work *w, const struct excess *e, double value_mg,
                         double span, double part[STEADY_PARTS])
{
    const struct oxl_profile *p = w->in->profile;
    double grams_a_second = 1000 * oxl_oxygen_fraction(p->humidity_ratio) * w->out->air_g_s;
    const double humidity = 0.012; /* 0.0038 to 0.0327 kg/kg instead of the assumed 0.008 */
    part[0] =
        value_mg *
        (w->out->air_source == OXL_AIRSRC_METER ? p->air_err : hypot(p->volumetric_eff_err, 0.05));
    part[1] = value_mg * humidity;
    part[2] = steam_half_mg(value_mg, span);
    if (e->source == OXL_XSRC_LAMBDA) {
        /* d(1 - 1/lambda) = d lambda / lambda^2 = (1 - x)^2 d lambda. Balance is known from the
         * sensor's own rest, so the error grows from there to its full size at x = 0.05. */
        double x = span > 0 ? oxl_excess_integral(e, w->lean_s, w->lean_s + span) / span : 0;
        part[3] = grams_a_second * p->lambda_err * square(1 - x) * span * fmin(1, x / 0.05);
        part[4] = 0;
    } else {
        /* Half of the tail's own area; a trim step of 100/128 % and how the two trims join. */
        part[3] = grams_a_second * 0.5 * e->x0 * fmin(p->gas_tail_s, span);
        part[4] = hypot(grams_a_second * 0.005 * span, 0.05 * value_mg);
    }
}

/* Half-widths of the interval of w * integral(air x), below and above; value: the part of both that
 * is the dither's doubt. The end of the integral is
 * known to within the path and the moments of the events. */
static struct oxl_span oxygen_error_mg(const struct run_work *w, const struct excess *e,
                                       double value_mg, double half_s)
{
    const double coverage = 0.95;
    double stop = oxl_stored_until(w, e), span = fmax(0, stop - w->lean_s);
    double part[STEADY_PARTS + 1], late[2] = {w->path_err_s, half_s};
    steady_parts(w, e, value_mg, span, part);
    /* The dither's doubt is as likely at its ends as in its middle: it adds in full. */
    double grams_a_second =
        1000 * oxl_oxygen_fraction(w->in->profile->humidity_ratio) * w->out->air_g_s;
    double doubt = e->source == OXL_XSRC_TRIM ? grams_a_second * e->x0 * 0.5 * w->doubt_s : 0;
    double late_s = w->out->dropped ? oxl_uniform_sum_quantile(late, 2, coverage) : 0;
    struct oxl_span err = {doubt, 0, 0};
    double early_s = w->out->dropped ? late_s + w->stop_s - w->balance_first_s : 0;
    part[STEADY_PARTS] = between_mg(w, e, stop - early_s, stop);
    err.low = doubt + oxl_uniform_sum_quantile(part, STEADY_PARTS + 1, coverage);
    part[STEADY_PARTS] = between_mg(w, e, stop, stop + late_s);
    err.high = doubt + oxl_uniform_sum_quantile(part, STEADY_PARTS + 1, coverage);
    return err;
}

static double stored_mg(const struct run_work *w, const struct excess *e)
{
    if (w->out->air_source == OXL_AIRSRC_NONE)
        return NAN;
    double stop = oxl_stored_until(w, e), fed = between_mg(w, e, w->lean_s, stop);
    return fed + steam_half_mg(fed, fmax(0, stop - w->lean_s));
}

void oxl_find_oxygen(struct run_work *w)
{
    struct oxl_run_result *r = w->out;
    bool wide = w->in->pair.front_kind == OXL_SENSOR_WIDE;
    struct excess trim = make_excess(w, OXL_XSRC_TRIM);
    w->excess = trim;
    if (oxl_known(r->shift_pct)) {
        r->x_source = OXL_XSRC_TRIM;
        r->o2_from_trim_mg = stored_mg(w, &trim);
    }
    if (wide) {
        r->x_source = OXL_XSRC_LAMBDA;
        w->excess = make_excess(w, OXL_XSRC_LAMBDA);
        r->o2_from_lambda_mg = stored_mg(w, &w->excess);
    }
    double value = wide ? r->o2_from_lambda_mg : r->o2_from_trim_mg;
    double half = r->dropped ? 0.5 * (r->delay_s.high - r->delay_s.low) : 0;
    if (r->x_source == OXL_XSRC_NONE || !oxl_known(value))
        return;
    struct oxl_span error = oxygen_error_mg(w, &w->excess, fmax(value, 0), half);
    /* The dither's doubt has hard limits: of that a bound takes no more than all. */
    w->bound_mg = fmax(0, value - error.value - OXL_BOUND_SIGMAS * (error.low - error.value));
    /* A store cannot hold less than nothing: what falls below is error. */
    r->o2_mg.value = r->dropped ? fmax(0, value) : NAN;
    r->o2_mg.low = r->dropped ? fmax(0, value - error.low) : w->bound_mg;
    r->o2_mg.high = r->dropped ? fmax(0, value) + error.high : INFINITY;
    r->o2_is_lower_bound = !r->dropped;
}

void oxl_find_supply(struct run_work *w)
{
    struct oxl_run_result *r = w->out;
    const struct oxl_run_input *in = w->in;
    const struct recovery *fit = &w->excess.recovery;
    r->trim_recovery_pct_s = 100 * fit->ramp_per_s;
    r->trim_recovery_tau_s = fit->tau_s;
    if (r->air_source == OXL_AIRSRC_NONE || r->x_source == OXL_XSRC_NONE)
        return;
    double scale = 1000 * oxl_oxygen_fraction(in->profile->humidity_ratio);
    double end = w->excess.last_s, x_end = oxl_excess_at(&w->excess, end);
    double more = x_end > in->profile->lambda_step ? oxl_excess_to_come(&w->excess, end) : 0;
    double fed = scale * oxl_excess_air_integral(&w->excess, w->air, w->lean_s, end);
    if (isfinite(more))
        r->o2_supply_mg = fed + scale * r->air_g_s * more;
    oxl_find_removed(w);
}
