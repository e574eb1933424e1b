/* Was the store empty when the gas was cut? Only then is a short delay that of a small store.
 * docs/method.md, section 6. */
#include "parts.h"

/* Of a bed that is sound at the target so much open store, at 3 g/s, weakens the lean gas by no
 * less than a factor of e. A stronger flow finds the bed weaker: of what is known (as the flow to
 * the power 0 to 1) the middle. Chosen on the campaign: docs/method.md, "The constants that
 * decide". */
static const double fold_mg = 400, at_g_s = 3;
static const double level_err_v = 0.010;

/* The same as integral of x. Without an air flow: of an engine that idles on little, for which it
 * is the most. */
static double fold_s(const struct run_work *w)
{
    const double little_g_s = 1.5;
    const double air_g_s = w->out->air_g_s > 0 ? w->out->air_g_s : little_g_s;
    return fold_mg * sqrt(air_g_s / at_g_s) /
           (1000 * oxl_oxygen_fraction(w->in->profile->humidity_ratio) * air_g_s);
}

/* To be taken out, so that of a sound bed, when so much is full again as was fed until then, more
 * is open than a rear can be behind that stands so low; by the moment that asks for least. NAN: no
 * level was seen. */
static double needed_s(const struct run_work *w, double *lowest_v)
{
    struct rear_level levels[MAX_LEVELS];
    const size_t n = oxl_find_levels(w, levels);
    const double each_s = fold_s(w);
    double least_s = NAN;
    *lowest_v = NAN;
    for (size_t i = 0; i < n; i++) {
        const double filled_s = oxl_excess_integral(&w->excess, w->lean_s, levels[i].full_s);
        const double folds = (fmax(0, levels[i].above_v) + level_err_v) / OXL_V_PER_E;
        least_s = fmin(least_s, OXL_RICH_SLIP * filled_s + each_s * folds);
        *lowest_v = fmin(*lowest_v, levels[i].above_v);
    }
    return least_s;
}

/* In integrals of x, so that it works without an air flow. */
void oxl_find_part_emptied(struct run_work *w)
{
    struct oxl_run_result *r = w->out;
    if (!r->dropped || r->x_source == OXL_XSRC_NONE)
        return;
    const double scale = 1000 * oxl_oxygen_fraction(w->in->profile->humidity_ratio) * r->air_g_s;
    /* Until it let gas through at balance, whichever sensor is behind it. */
    const double stored_s = oxl_excess_integral(&w->excess, w->lean_s, w->balance_s - w->path_s);
    const double removed_s = oxl_removed_s(w);
    const double needs_s = needed_s(w, &r->rear_above_v);
    w->unemptied = stored_s > 0 ? stored_s / removed_s : 0;
    r->o2_needed_mg = scale * needs_s;
    if (removed_s >= needs_s) /* never of a level that was not seen */
        return;
    r->reasons = oxl_reasons_add(r->reasons, OXL_R_PART_EMPTIED);
    r->o2_is_lower_bound = true;
    if (oxl_known(r->o2_mg.value))
        r->o2_mg.low = w->bound_mg;
    r->o2_mg.high = oxl_known(r->o2_mg.high) ? INFINITY : NAN;
}
