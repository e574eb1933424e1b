/* What a verdict rests on, in words that the text page and the printed page share. */
#include <stdio.h>

#include "words.h"

void oxl_limits_words(const struct oxl_test_record *s, char out[OXL_BASIS])
{
    const struct oxl_profile *p = &s->profile;
    snprintf(out, OXL_BASIS,
             "low below %g s, good above %g s, between them questionable; the delay at target is "
             "compared, at a trim shift of %g %%.",
             p->bad_s, p->good_s, p->target_pct);
}

void oxl_limits_mg_words(const struct oxl_test_record *s, char out[OXL_BASIS])
{
    char bad[OXL_SHOWN], good[OXL_SHOWN];
    oxl_show_whole(s->has_result ? s->result.bad_limit_mg : NAN, bad);
    oxl_show_whole(s->has_result ? s->result.good_limit_mg : NAN, good);
    snprintf(out, OXL_BASIS, "%s mg and %s mg at this air flow (%g and %g g for each g/s)", bad,
             good, s->profile.bad_g_per_g_s, s->profile.good_g_per_g_s);
}

void oxl_origin_words(const struct oxl_test_record *s, char out[OXL_BASIS])
{
    const char *origin = s->profile.limits_origin;
    snprintf(out, OXL_BASIS, "%s. Shop limits; no standard sets any.",
             origin[0] ? origin : "not stated");
}

void oxl_profile_words(const struct oxl_test_record *s, char out[OXL_BASIS])
{
    snprintf(out, OXL_BASIS, "%s%s%s%s", s->profile.name, s->profile_why[0] ? " (" : "",
             s->profile_why, s->profile_why[0] ? ")" : "");
}

/* Speed density was used for a run that has it as its source. */
static bool air_estimated(const struct oxl_test_record *s)
{
    for (size_t i = 0; i < s->runs_n; i++)
        if (s->runs[i].air_source == OXL_AIRSRC_SPEED_DENSITY)
            return true;
    return false;
}

void oxl_assumed_words(const struct oxl_test_record *s, char out[OXL_BASIS])
{
    const struct oxl_profile *p = &s->profile;
    size_t at = (size_t)snprintf(
        out, OXL_BASIS,
        "gas volume from front to rear sensor %g l, gas temperature %g C, sensor lags %g s front "
        "and %g s rear, humidity %g kg/kg, air flow within %g %%",
        p->path_volume_l, p->exhaust_c, p->front_tau_s, p->rear_tau_s, p->humidity_ratio,
        100 * p->air_err);
    if (air_estimated(s) && oxl_known(p->displacement_l) && at < OXL_BASIS)
        snprintf(out + at, OXL_BASIS - at,
                 "; air flow by speed density with displacement %g l and volumetric efficiency %g "
                 "within %g %%",
                 p->displacement_l, p->volumetric_eff, 100 * p->volumetric_eff_err);
}

void oxl_runs_with(const struct oxl_test_record *s, enum oxl_reason reason,
                   char out[OXL_RUNS_SHOWN])
{
    const size_t n = OXL_RUNS_SHOWN;
    size_t at = 0, found = 0;
    for (size_t i = 0; i < s->runs_n; i++)
        found += oxl_reasons_has(s->runs[i].reasons, reason) != 0;
    at += (size_t)snprintf(out, n, " (run%s", found > 1 ? "s" : "");
    for (size_t i = 0, k = 0; i < s->runs_n && at + 8 < n; i++)
        if (oxl_reasons_has(s->runs[i].reasons, reason))
            at += (size_t)snprintf(out + at, n - at, "%s %d", k++ ? "," : "", s->runs[i].run);
    snprintf(out + at, n - at, ")");
}
