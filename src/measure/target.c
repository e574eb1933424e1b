#include "parts.h"

static const double step_s = 0.01;

/* The highest excess that was measured. */
struct peak {
    double s, x;
};

static struct peak find_peak(const struct excess *e, double from_s, double to_s)
{
    struct peak k = {from_s, 0};
    for (double t = from_s; t <= fmin(to_s, e->last_s); t += step_s)
        if (oxl_excess_at(e, t) > k.x)
            k = (struct peak){t, oxl_excess_at(e, t)};
    return k;
}

/* The excess that a run at `ratio` times the shift would have shown. Linear loop: everything
 * scales. Ramp loop: the ramp has the same rate from another start, so the difference stays;
 * the rise before the peak is the gas leaving and scales in both. */
static double target_excess(const struct excess *e, double t_s, double ratio, double peak_s,
                            double peak_x)
{
    double x = oxl_excess_at(e, t_s);
    if (e->recovery.kind == RECOVERY_RAMP && t_s > peak_s)
        return fmax(0, x - peak_x * (1 - ratio));
    return fmax(0, x * ratio);
}

double oxl_dose_at_like_flux(const struct excess *e, double lean_s, double end_s, double ratio)
{
    const double most = 1.3;
    struct peak k = find_peak(e, lean_s, end_s);
    double own = 0, theirs = 0, then_s = lean_s, x20 = 0, dose = 0;
    for (double t = lean_s; t < end_s; t += step_s) {
        double x = oxl_excess_at(e, t);
        own += step_s * fmax(0, x);
        while (theirs < own && then_s < t) {
            then_s += step_s;
            x20 = target_excess(e, then_s, ratio, k.s, k.x);
            theirs += step_s * x20;
        }
        if (x20 <= most * x)
            dose = own;
    }
    return dose;
}

struct prediction oxl_predict_fill(const struct excess *e, double lean_s, double ratio, double dose,
                                   double limit_s)
{
    const double balance_x = 0.01;
    struct prediction p = {false, 0};
    int steps = (int)(limit_s / step_s);
    const struct peak k = find_peak(e, lean_s, lean_s + limit_s);
    double got = 0, before = target_excess(e, lean_s, ratio, k.s, k.x);
    if (dose <= 0) {
        p.fills = true;
        return p;
    }
    for (int i = 1; i <= steps; i++) {
        double t = step_s * i, x = target_excess(e, lean_s + t, ratio, k.s, k.x);
        double more = 0.5 * (before + x) * step_s;
        if (got + more >= dose) {
            p.fills = true;
            p.time_s = t - step_s * (got + more - dose) / more;
            return p;
        }
        got += more;
        before = x;
        p.time_s = t;
        if (lean_s + t > k.s && x < balance_x)
            return p;
    }
    return p;
}
