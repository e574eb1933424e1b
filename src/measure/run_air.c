#include "parts.h"

static double share_of(const struct oxl_run_input *in)
{
    return in->air_share > 0 ? in->air_share : 1.0;
}

/* The meter measures the engine; a bank of two breathes its share. */
static struct oxl_trace metered_trace(const struct oxl_run_input *in,
                                      struct oxl_point points[MAX_AIR])
{
    struct oxl_trace t = {points, 0};
    if (share_of(in) == 1.0)
        return in->air;
    struct oxl_trace air = oxl_trace_slice(in->air, in->shift_start_us - 5000000, in->end_us);
    size_t stride = air.count / MAX_AIR + 1;
    for (size_t i = 0; i < air.count; i += stride) {
        points[t.count] = air.points[i];
        points[t.count++].value *= share_of(in);
    }
    return t;
}

/* Air by speed density at the times of the manifold pressure. */
static struct oxl_trace speed_density_trace(const struct oxl_run_input *in,
                                            struct oxl_point points[MAX_AIR])
{
    struct oxl_trace t = {points, 0};
    const struct oxl_profile *p = in->profile;
    if (!oxl_known(p->displacement_l) || in->rpm.count == 0 || in->intake.count == 0)
        return t;
    struct oxl_trace map = oxl_trace_slice(in->map, in->shift_start_us - 5000000, in->end_us);
    size_t stride = map.count / MAX_AIR + 1;
    for (size_t i = 0; i < map.count; i += stride) {
        const struct oxl_point *q = &map.points[i];
        double at = point_mid_s(q);
        points[t.count++] = (struct oxl_point){
            q->sent_us, q->recv_us,
            share_of(in) * oxl_speed_density_g_s(q->value, p->displacement_l,
                                                 oxl_trace_at(in->rpm, at), p->volumetric_eff,
                                                 oxl_trace_at(in->intake, at))};
    }
    return t;
}

void oxl_find_air(struct run_work *w, struct oxl_point points[MAX_AIR])
{
    const struct oxl_run_input *in = w->in;
    double from = w->lean_s - 1, to = fmax(w->stop_s, w->lean_s + 1);
    w->air = metered_trace(in, points);
    w->out->air_source = OXL_AIRSRC_METER;
    w->out->air_g_s = oxl_trace_mean_s(w->air, from, to);
    if (!(w->out->air_g_s > 0)) {
        w->air = speed_density_trace(in, points);
        w->out->air_source = OXL_AIRSRC_SPEED_DENSITY;
        w->out->air_g_s = oxl_trace_mean_s(w->air, from, to);
    }
    if (!(w->out->air_g_s > 0)) {
        w->air.count = 0;
        w->out->air_source = OXL_AIRSRC_NONE;
        w->out->air_g_s = NAN;
    }
    w->out->rpm = oxl_trace_mean_s(in->rpm, w->lean_s, fmax(w->stop_s, w->lean_s + 0.5));
}

/* A switching sensor crosses switch_v sooner after the gas than its time constant: in a step from
 * 0.75 to 0.06 V after ln(0.69 / 0.39) = 0.57 of it. Gas that changes slowly against the sensor is
 * followed one whole time constant late, as a wide-range sensor follows all gas. */
static const double step_share = 0.57;

/* A step takes a sensor from 0.6 to 0.3 V in ln(0.54 / 0.24) = 0.81 of its time constant. */
static double rear_lag_s(const struct run_work *w)
{
    const double step_fall = 0.81;
    double tau_s = w->in->profile->rear_tau_s;
    if (w->in->pair.rear_kind != OXL_SENSOR_SWITCHING || !w->rear.found)
        return tau_s;
    double fall_s = oxl_least_fall_s(w);
    double quick = fall_s > 0 ? fmin(1, step_fall * tau_s / fall_s) : 1;
    return tau_s * (1 - (1 - step_share) * quick);
}

static double front_lag_s(const struct run_work *w)
{
    double tau_s = w->in->profile->front_tau_s;
    return w->in->pair.front_kind == OXL_SENSOR_SWITCHING ? step_share * tau_s : tau_s;
}

/* Front to rear: gas time and the difference of the sensors' lags. */
void oxl_find_path(struct run_work *w)
{
    const struct oxl_profile *p = w->in->profile;
    const double usual_air_g_s = 3.0, unknown_air_err_s = 0.3, lag_err_s = 0.05;
    bool known = oxl_known(w->out->air_g_s);
    double gas_s =
        p->path_volume_l / oxl_exhaust_l_s(known ? w->out->air_g_s : usual_air_g_s, p->exhaust_c);
    w->path_s = fmax(0, gas_s + rear_lag_s(w) - front_lag_s(w));
    w->path_err_s = known ? hypot(gas_s * p->path_volume_err, lag_err_s) : unknown_air_err_s;
    w->out->path_s = known ? w->path_s : NAN;
}
