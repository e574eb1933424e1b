/* The deeper run: over target and long enough that no store could hold more than was taken out of
 * it unless it is sound. docs/method.md, section 7. */
#include "parts.h"

/* The run-time sum that ended the enrichment and the integral of the measured run differ by a few
 * samples. */
static const double nearly = 0.95;

double oxl_deeper_needed_mg(const struct oxl_profile *profile, double air_g_s)
{
    return 1000 * profile->deeper_dose * profile->good_g_per_g_s * air_g_s;
}

static double mg_per_excess_s(const struct oxl_profile *profile, double air_g_s)
{
    return 1000 * oxygen_fraction(profile->humidity_ratio) * air_g_s;
}

double oxl_removal_mg_s(const struct oxl_profile *profile, double rest_lambda, double lambda,
                        double air_g_s)
{
    /* As in run_oxygen.c: a small resting excess is the sensor's own. */
    double rest_x = 1 - 1 / rest_lambda;
    if (!(fabs(rest_x) <= 2 * profile->lambda_err))
        rest_x = 0;
    return mg_per_excess_s(profile, air_g_s) * (1 / lambda - 1 + rest_x);
}

double oxl_removal_by_trim_mg(const struct oxl_profile *profile, double baseline_pct,
                              double sum_pct_s, double span_s, double shift_pct, double air_g_s)
{
    double behind = fmax(0, sum_pct_s - shift_pct * span_s) / 100;
    return OXL_TRIM_DOSE_SHARE * mg_per_excess_s(profile, air_g_s) * behind /
           (1 + baseline_pct / 100);
}

void find_needed(struct run_work *w)
{
    if (w->in->deeper)
        w->out->o2_needed_mg = oxl_deeper_needed_mg(w->in->profile, w->out->air_g_s);
}

bool deeper_enough(const struct run_work *w, double removed_s)
{
    const struct oxl_profile *p = w->in->profile;
    double needed_s = p->deeper_dose * p->good_g_per_g_s / oxygen_fraction(p->humidity_ratio);
    return !w->in->deeper || removed_s >= nearly * needed_s;
}
