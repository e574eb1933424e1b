#include "parts.h"

/* Sums of a weighted straight line y = a + b t. */
struct line {
    double w, t, y, tt, ty;
};

static void line_add(struct line *l, double weight, double t, double y)
{
    l->w += weight;
    l->t += weight * t;
    l->y += weight * y;
    l->tt += weight * t * t;
    l->ty += weight * t * y;
}

static bool line_solve(const struct line *l, double *a, double *b)
{
    double det = l->w * l->tt - l->t * l->t;
    if (!(det > 1e-12 * l->w * l->tt))
        return false;
    *b = (l->w * l->ty - l->t * l->y) / det;
    *a = (l->y - *b * l->t) / l->w;
    return true;
}

/* The part of the recovery that is fitted: from the release until a tenth of the shift is left. */
static struct oxl_trace fit_part(struct oxl_trace trim, double base_pct, double from_s, double to_s)
{
    struct oxl_trace s = oxl_trace_slice(trim, micros(from_s), micros(to_s));
    if (s.count == 0)
        return s;
    double start = base_pct - s.points[0].value;
    size_t n = 0;
    while (n < s.count && base_pct - s.points[n].value > 0.1 * start)
        n++;
    s.count = n;
    return s;
}

struct recovery oxl_fit_recovery(struct oxl_trace trim, double base_pct, double from_s, double to_s)
{
    struct recovery r = {RECOVERY_UNKNOWN, NAN, NAN};
    struct oxl_trace s = fit_part(trim, base_pct, from_s, to_s);
    if (s.count < 4)
        return r;
    struct line ramp = {0}, fall = {0};
    for (size_t i = 0; i < s.count; i++) {
        double t = point_mid_s(&s.points[i]) - from_s;
        double shift = (base_pct - s.points[i].value) / 100.0;
        line_add(&ramp, 1, t, shift);
        /* The weight makes errors of ln S count as errors of S. */
        line_add(&fall, shift * shift, t, log(shift));
    }
    double a, b, c, d, ramp_err = 0, fall_err = 0;
    double first = (base_pct - s.points[0].value) / 100.0;
    if (!(first > 0) || !line_solve(&ramp, &a, &b) || !line_solve(&fall, &c, &d) || b >= 0 ||
        d >= 0)
        return r;
    double span = point_mid_s(&s.points[s.count - 1]) - point_mid_s(&s.points[0]);
    if (-b * span < 0.15 * first)
        return r; /* has hardly moved: any curve fits */
    for (size_t i = 0; i < s.count; i++) {
        double t = point_mid_s(&s.points[i]) - from_s;
        double shift = (base_pct - s.points[i].value) / 100.0;
        ramp_err += square(shift - a - b * t);
        fall_err += square(shift - exp(c + d * t));
    }
    r.kind = ramp_err <= fall_err ? RECOVERY_RAMP : RECOVERY_EXPONENTIAL;
    if (r.kind == RECOVERY_RAMP)
        r.ramp_per_s = -b;
    else
        r.tau_s = -1 / d;
    return r;
}

double oxl_recovery_half_s(const struct recovery *r, double shift)
{
    if (r->kind == RECOVERY_RAMP)
        return 0.5 * shift / r->ramp_per_s;
    if (r->kind == RECOVERY_EXPONENTIAL)
        return r->tau_s * log(2.0);
    return NAN;
}
