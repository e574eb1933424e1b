#include "parts.h"

double oxl_oxygen_fraction(double humidity_ratio)
{
    /* The meter and speed density see moist air. */
    return OXL_AIR_O2 / (1 + (oxl_known(humidity_ratio) ? humidity_ratio : 0.0));
}

double oxl_speed_density_g_s(double map_kpa, double displacement_l, double rpm, double ve,
                             double intake_c)
{
    const double r_air = 287.05; /* J/(kg K), 8.314462618 / 0.028965 (CODATA 2018) */
    return 1000.0 * map_kpa * 1000.0 * displacement_l * 1e-3 * rpm * ve /
           (120.0 * r_air * (intake_c + 273.15));
}

double oxl_exhaust_l_s(double air_g_s, double exhaust_c)
{
    /* Air plus fuel at the stoichiometric 14.6; 29.0 g/mol; 101.325 kPa. */
    const double r_gas = 8.314462618;
    return air_g_s * (1 + 1 / 14.6) / 29.0 * r_gas * (exhaust_c + 273.15) / 101.325;
}

/* The excess after the last measured moment. */
static double extrapolate(const struct recovery *r, double x, double after_s, double base)
{
    if (r->kind == RECOVERY_RAMP)
        return fmax(0, x - r->ramp_per_s / (1 + base) * after_s);
    if (r->kind == RECOVERY_EXPONENTIAL)
        return x * exp(-after_s / r->tau_s);
    return x;
}

static double measured_excess(const struct excess *e, double t_s)
{
    if (e->source == OXL_XSRC_LAMBDA)
        return 1 - 1 / oxl_trace_at(e->front, t_s) - e->rest_x;
    if (e->source == OXL_XSRC_TRIM) {
        double shift = e->base - oxl_trace_at(e->trim, t_s - e->lag_s) / 100.0;
        double gas =
            t_s >= e->lean_s && e->tail_s > 0 ? e->x0 * exp(-(t_s - e->lean_s) / e->tail_s) : 0.0;
        return shift / (1 + e->base) - gas;
    }
    return NAN;
}

double oxl_excess_at(const struct excess *e, double t_s)
{
    if (e->over_s > 0 && t_s > e->over_s)
        return 0;
    if (t_s <= e->last_s)
        return measured_excess(e, t_s);
    double x = fmax(0, measured_excess(e, e->last_s));
    return extrapolate(&e->recovery, x, t_s - e->last_s, e->base);
}

/* Simpson with steps well under any sample distance: the integrand is smooth between samples,
 * and a bend inside a step costs less than a millionth. */
static int steps_for(double span_s)
{
    double n = ceil(span_s / 0.02);
    return n < 2 ? 2 : (n > 20000 ? 20000 : (int)n);
}

double oxl_excess_air_integral(const struct excess *e, struct oxl_trace air, double from_s,
                               double to_s)
{
    if (!(to_s > from_s))
        return 0;
    int n = steps_for(to_s - from_s);
    double h = (to_s - from_s) / n, sum = 0;
    for (int i = 0; i <= 2 * n; i++) {
        double t = from_s + 0.5 * h * i;
        double weight = i == 0 || i == 2 * n ? 1 : (i % 2 == 1 ? 4 : 2);
        double m = air.count > 0 ? oxl_trace_at(air, t) : 1.0;
        sum += weight * m * oxl_excess_at(e, t);
    }
    return sum * h / 6;
}

double oxl_excess_integral(const struct excess *e, double from_s, double to_s)
{
    struct oxl_trace none = {NULL, 0};
    return oxl_excess_air_integral(e, none, from_s, to_s);
}

double oxl_rich_air_integral(struct oxl_trace lambda, double rest_x, struct oxl_trace air,
                             double from_s, double to_s)
{
    if (!(to_s > from_s))
        return 0;
    int n = steps_for(to_s - from_s);
    double h = (to_s - from_s) / n, sum = 0;
    for (int i = 0; i <= 2 * n; i++) {
        double t = from_s + 0.5 * h * i;
        double weight = i == 0 || i == 2 * n ? 1 : (i % 2 == 1 ? 4 : 2);
        double m = air.count > 0 ? oxl_trace_at(air, t) : 1.0;
        sum += weight * m * (1 / oxl_trace_at(lambda, t) - 1 + rest_x);
    }
    return sum * h / 6;
}

double oxl_excess_to_come(const struct excess *e, double t_s)
{
    double x = fmax(0, oxl_excess_at(e, t_s));
    if (e->recovery.kind == RECOVERY_RAMP)
        return x * x / (2 * e->recovery.ramp_per_s / (1 + e->base));
    if (e->recovery.kind == RECOVERY_EXPONENTIAL)
        return x * e->recovery.tau_s;
    return INFINITY;
}
