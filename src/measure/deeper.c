/* The deeper run: how much it is to take out, so that what it finds is the whole store.
 * docs/method.md, section 6. */
#include "parts.h"

/* What the runs before have shown to be needed, and something to spare; the largest of them, since
 * no run's level is quite like another's. */
static double by_level_mg(const struct oxl_run_result *runs, size_t n)
{
    const double to_spare = 1.1;
    double most = NAN;
    for (size_t i = 0; i < n; i++)
        if (runs[i].valid)
            most = fmax(most, to_spare * runs[i].o2_needed_mg);
    return most;
}

double oxl_deeper_needed_mg(const struct oxl_profile *profile, double air_g_s,
                            const struct oxl_run_result *runs, size_t n)
{
    const double of_shown = 2.6;
    const double most = 2; /* times `deeper_dose`: what heat allows */
    double shown_mg = 0;
    const double usual_mg = 1000 * profile->deeper_dose * profile->good_g_per_g_s * air_g_s;
    const double level_mg = by_level_mg(runs, n);
    if (level_mg <= most * usual_mg)
        return level_mg;
    for (size_t i = 0; i < n; i++)
        if (runs[i].valid && runs[i].dropped)
            shown_mg = fmax(shown_mg, runs[i].o2_mg.value);
    return isnan(air_g_s) ? NAN : fmax(usual_mg, of_shown * shown_mg);
}

static double mg_per_excess_s(const struct oxl_profile *profile, double air_g_s)
{
    return 1000 * oxl_oxygen_fraction(profile->humidity_ratio) * air_g_s;
}

double oxl_removal_mg_s(const struct oxl_profile *profile, double rest_lambda, double lambda,
                        double air_g_s)
{
    return mg_per_excess_s(profile, air_g_s) * (1 / lambda - 1 + offset_x(profile, rest_lambda));
}

double oxl_removal_by_trim_mg(const struct oxl_trim_dose *seen, double air_g_s)
{
    return mg_per_excess_s(seen->profile, air_g_s) * oxl_dose_by_trim_s(seen);
}
