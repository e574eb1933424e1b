#include "parts.h"

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

struct prediction oxl_predict_fill(const struct excess *e, double lean_s, double ratio, double dose,
                                   double limit_s)
{
    const double step_s = 0.01, balance_x = 0.01;
    struct prediction p = {false, 0};
    double peak_s = lean_s, peak_x = 0;
    int steps = (int)(limit_s / step_s);
    for (int i = 0; i <= steps && lean_s + step_s * i <= e->last_s; i++) {
        double t = lean_s + step_s * i, x = oxl_excess_at(e, t);
        if (x > peak_x) {
            peak_x = x;
            peak_s = t;
        }
    }
    double got = 0, before = target_excess(e, lean_s, ratio, peak_s, peak_x);
    if (dose <= 0) {
        p.fills = true;
        return p;
    }
    for (int i = 1; i <= steps; i++) {
        double t = step_s * i, x = target_excess(e, lean_s + t, ratio, peak_s, peak_x);
        double more = 0.5 * (before + x) * step_s;
        if (got + more >= dose) {
            p.fills = true;
            p.time_s = t - step_s * (got + more - dose) / more;
            return p;
        }
        got += more;
        before = x;
        p.time_s = t;
        if (lean_s + t > peak_s && x < balance_x)
            return p;
    }
    return p;
}
