/* What a verdict rests on: limits, method, assumptions; cautions, and what to verify. */
#include <stdio.h>
#include <string.h>

#include "oxylag/safe.h"
#include "page.h"
#include "words.h"

enum { LINE = 480, FEW = 20 };

static void limits_mg(struct oxl_page *p, const struct oxl_test_record *s)
{
    const struct oxl_profile *f = &s->profile;
    if (!s->has_result || !oxl_known(s->result.bad_limit_mg))
        oxl_page_field(p, "Milligrams", "not known: no air flow; %g and %g g for each g/s",
                       f->bad_g_per_g_s, f->good_g_per_g_s);
    else
        oxl_page_field(
            p, "Milligrams", "%.0f mg and %.0f mg at this air flow (%g and %g g for each g/s)",
            s->result.bad_limit_mg, s->result.good_limit_mg, f->bad_g_per_g_s, f->good_g_per_g_s);
}

/* Speed density was used for a run that has it as its source. */
static bool air_estimated(const struct oxl_test_record *s)
{
    for (size_t i = 0; i < s->runs_n; i++)
        if (s->runs[i].air_source == OXL_AIRSRC_SPEED_DENSITY)
            return true;
    return false;
}

static void assumed(struct oxl_page *p, const struct oxl_test_record *s)
{
    const struct oxl_profile *f = &s->profile;
    char text[LINE];
    snprintf(
        text, sizeof text,
        "gas volume from front to rear sensor %g l, gas temperature %g C, sensor lags %g s front "
        "and %g s rear, humidity %g kg/kg, air flow within %g %%",
        f->path_volume_l, f->exhaust_c, f->front_tau_s, f->rear_tau_s, f->humidity_ratio,
        100 * f->air_err);
    if (air_estimated(s) && oxl_known(f->displacement_l))
        oxl_append(
            text, sizeof text,
            "; air flow by speed density with displacement %g l and volumetric efficiency %g "
            "within %g %%",
            f->displacement_l, f->volumetric_eff, 100 * f->volumetric_eff_err);
    oxl_page_field(p, "Assumed", "%s", text);
}

static void baseline(struct oxl_page *p, const struct oxl_test_record *s)
{
    if (oxl_known(s->baseline_trim_pct))
        oxl_page_field(p, "Baseline", "%.1f %% total trim before the last run",
                       s->baseline_trim_pct);
    else
        oxl_page_field(p, "Baseline", "not known");
}

static void limits(struct oxl_page *p, const struct oxl_test_record *s, const char *name)
{
    const struct oxl_profile *f = &s->profile;
    oxl_page_heading(p, "Limits and assumptions", name);
    oxl_page_field(p, "Seconds",
                   "bad below %g s, good above %g s, between them questionable; the delay at "
                   "target is compared, at a trim shift of %g %%.",
                   f->bad_s, f->good_s, f->target_pct);
    limits_mg(p, s);
    oxl_page_field(p, "Origin", "%s. Shop limits; no standard sets any.",
                   f->limits_origin[0] ? f->limits_origin : "not stated");
    oxl_page_field(p, "Profile", "%s%s%s%s", f->name, s->profile_why[0] ? " (" : "", s->profile_why,
                   s->profile_why[0] ? ")" : "");
    assumed(p, s);
    baseline(p, s);
}

static void cautions(struct oxl_page *p)
{
    oxl_page_heading(p, "Cautions", "");
    if (p->detail > OXL_DETAIL_WHOLE) {
        oxl_page_text(p, "%s", oxl_cautions_short);
        return;
    }
    for (size_t i = 0; i < OXL_CAUTIONS; i++) {
        char label[8];
        snprintf(label, sizeof label, "%zu.", (i + 1) % 100);
        oxl_page_point(p, label, "%s", oxl_cautions[i]);
    }
}

void oxl_part_basis(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    const struct oxl_test_record *s = tests[n - 1].record;
    const bool both = p->comparison.unlikes >> OXL_UNLIKE_LIMITS & 1u ||
                      strcmp(tests[0].record->profile.name, s->profile.name) != 0;
    /* Two tests fill both columns above; beside one there is room at the right, and at the left
     * where few checks are listed. */
    size_t listed = 0;
    for (size_t i = 0; i < p->blocks_n; i++)
        listed += p->blocks[i].area == OXL_AREA_CHECK_LEFT;
    const enum oxl_area right = n > 1 ? OXL_AREA_BASIS_RIGHT : OXL_AREA_CHECK_RIGHT;
    const enum oxl_area left = n > 1          ? OXL_AREA_BASIS_LEFT
                               : listed < FEW ? OXL_AREA_CHECK_LEFT
                                              : OXL_AREA_CHECK_RIGHT;
    p->area = right;
    if (both)
        limits(p, tests[0].record, p->names[0]);
    limits(p, s, both ? p->names[1] : "");
    p->area = left;
    oxl_page_heading(p, "Method", "");
    oxl_page_text(p, "%s", oxl_method_words);
    if (n > 1)
        oxl_page_text(p, "%s", oxl_compared_method);
    p->area = n > 1 ? left : right;
    cautions(p);
    p->area = right;
    oxl_page_heading(p, "Emission warranty and documents", "");
    oxl_page_text(p, "%s", oxl_verify_words);
}
