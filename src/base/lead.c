/* The figure that leads and the steps that follow, for every output alike. */
#include <stdio.h>
#include <string.h>

#include "oxylag/measure.h"

/* The limit that it has passed; both where it has passed none. */
static void limit_text(const struct oxl_lead *lead, int decimals, const char *unit,
                       char out[OXL_FIGURE_TEXT])
{
    const double bad = lead->bad_limit, good = lead->good_limit;
    const bool nothing = !oxl_known(lead->span.low) && !oxl_known(lead->span.high);
    if (nothing || !oxl_known(bad) || !oxl_known(good))
        out[0] = '\0';
    else if (lead->span.low > good)
        snprintf(out, OXL_FIGURE_TEXT, " (good above %.*f %s)", decimals, good, unit);
    else if (lead->span.high < bad)
        snprintf(out, OXL_FIGURE_TEXT, " (bad below %.*f %s)", decimals, bad, unit);
    else
        snprintf(out, OXL_FIGURE_TEXT, " (bad below %.*f, good above %.*f %s)", decimals, bad,
                 decimals, good, unit);
}

void oxl_lead_text(const struct oxl_lead *lead, char out[OXL_LEAD_TEXT])
{
    static const char *const names[] = {
        [OXL_LEAD_NONE] = "nothing was measured",
        [OXL_LEAD_DELAY_AT_TARGET] = "delay at target",
        [OXL_LEAD_DELAY] = "delay",
        [OXL_LEAD_OXYGEN] = "stored oxygen",
    };
    char figure[OXL_FIGURE_TEXT], limit[OXL_FIGURE_TEXT], run[24] = "";
    const bool mass = lead->figure == OXL_LEAD_OXYGEN;
    if (lead->figure == OXL_LEAD_NONE) {
        snprintf(out, OXL_LEAD_TEXT, "%s", names[OXL_LEAD_NONE]);
        return;
    }
    oxl_figure_span(&lead->span, mass ? 0 : 2, mass ? "mg" : "s", figure);
    limit_text(lead, mass ? 0 : 1, mass ? "mg" : "s", limit);
    if (lead->run > 0)
        snprintf(run, sizeof run, ", run %d", lead->run);
    snprintf(out, OXL_LEAD_TEXT, "%s %.60s%.60s%s", names[lead->figure], figure, limit, run);
}

void oxl_o2_run_text(const struct oxl_result *r, char out[OXL_RUN_TEXT])
{
    out[0] = '\0';
    if (r->o2_run > 0)
        snprintf(out, OXL_RUN_TEXT, ", %srun %d",
                 r->o2_run == r->deeper_run ? "by the deeper " : "", r->o2_run);
}

void oxl_result_lead(const struct oxl_result *r, char out[OXL_RESULT_LEAD])
{
    const bool known = r->lead.figure != OXL_LEAD_NONE && oxl_figure_known(&r->lead.span);
    char figure[OXL_LEAD_TEXT];
    oxl_lead_text(&r->lead, figure);
    if (known)
        snprintf(out, OXL_RESULT_LEAD, "%s%s",
                 r->conclusion == OXL_CONCLUSION_NONE ? "measured: " : "decided by: ", figure);
    else
        snprintf(out, OXL_RESULT_LEAD, "%s", r->valid_runs > 0 ? "" : figure);
}

/* ---- order ----------------------------------------------------------------------------------- */
/* What is repaired or proven first, since nothing else says anything before that; then what gives
 * a verdict soonest. Whatever is not listed follows in the order of the table. */
static const enum oxl_reason first_to_do[] = {
    /* proven, or a fault that makes every run worthless */
    OXL_R_LEAK_FOUND, OXL_R_MISFIRE, OXL_R_SENSORS_SWAPPED, OXL_R_CROSSED_FRONTS,
    OXL_R_REAR_MISSING, OXL_R_REAR_STUCK, OXL_R_TRIM_FROZEN, OXL_R_NOT_CLOSED_LOOP,
    OXL_R_NO_FRONT_LEAN, OXL_R_RESAMPLED,
    /* minutes: a look, a snap of the throttle */
    OXL_R_LEAK_CHECK_FIRST, OXL_R_LEAK_SUSPECTED, OXL_R_REAR_RESTS_LEAN, OXL_R_REAR_LEAN_FIRST,
    OXL_R_TRIMS_HIGH, OXL_R_SECONDARY_AIR, OXL_R_REAR_NOT_SEEN_LEAN, OXL_R_REAR_NOT_SEEN_RICH,
    OXL_R_REAR_BIASED_LEAN, OXL_R_REAR_BIASED_RICH, OXL_R_REAR_SLOW, OXL_R_FRONT_SLOW,
    /* a better run */
    OXL_R_NEW_CONVERTER, OXL_R_COOL_CONVERTER, OXL_R_IDLED_LONG, OXL_R_RPM_DROP,
    OXL_R_PART_EMPTIED};

static unsigned rank_of_step(const struct oxl_result *r, enum oxl_reason reason)
{
    enum { LISTED = sizeof first_to_do / sizeof first_to_do[0] };
    unsigned i = 0;
    (void)r;
    while (i < LISTED && first_to_do[i] != reason)
        i++;
    return i;
}

static bool is_word_of_result(enum oxl_reason reason)
{
    return reason == OXL_R_NO_VALID_RUN || reason == OXL_R_LOW_STORAGE ||
           reason == OXL_R_MIDDLE_STORAGE || reason == OXL_R_GOOD_STORAGE;
}

/* A verdict stands when its flaws push against it; without one they are why there is none. */
static bool pushes_against(enum oxl_verdict v, enum oxl_push push)
{
    switch (v) {
    case OXL_VERDICT_GOOD:
        return push == OXL_PUSH_SHORTER;
    case OXL_VERDICT_BAD:
        return push == OXL_PUSH_LONGER;
    case OXL_VERDICT_QUESTIONABLE:
    case OXL_VERDICT_INCONCLUSIVE:
        return push == OXL_PUSH_SHORTER || push == OXL_PUSH_LONGER;
    }
    return false;
}

static unsigned rank_of_reason(const struct oxl_result *r, enum oxl_reason reason)
{
    enum oxl_push push = oxl_reason_push(reason);
    if (reason == OXL_R_LEAK_FOUND)
        return 0;
    if (push == OXL_PUSH_VOID)
        return 1;
    if (is_word_of_result(reason))
        return 2;
    return pushes_against(r->verdict, push) ? 3 : 4;
}

/* The i-th of a set by rank, and by the table within a rank; OXL_R_COUNT past the last. */
static enum oxl_reason nth(const struct oxl_result *r, oxl_reasons set, size_t i,
                           unsigned (*rank)(const struct oxl_result *r, enum oxl_reason reason))
{
    while (set) {
        unsigned best = OXL_R_COUNT;
        for (unsigned k = 0; k < OXL_R_COUNT; k++)
            if (oxl_reasons_has(set, (enum oxl_reason)k) &&
                (best == OXL_R_COUNT ||
                 rank(r, (enum oxl_reason)k) < rank(r, (enum oxl_reason)best)))
                best = k;
        if (best == OXL_R_COUNT || i-- == 0)
            return (enum oxl_reason)best;
        set &= ~OXL_REASON_BIT(best);
    }
    return OXL_R_COUNT;
}

enum oxl_reason oxl_nth_reason(const struct oxl_result *r, size_t i)
{
    return nth(r, r->reasons, i, rank_of_reason);
}

static bool says_the_same(enum oxl_reason a, enum oxl_reason b)
{
    return strcmp(oxl_reason_next(a), oxl_reason_next(b)) == 0;
}

/* Of rows that end in the same thing to do the first. */
static oxl_reasons each_once(oxl_reasons set)
{
    oxl_reasons out = 0;
    for (unsigned a = 0; a < OXL_R_COUNT; a++) {
        bool said = false;
        for (unsigned b = 0; b < a; b++)
            said = said || (oxl_reasons_has(out, (enum oxl_reason)b) &&
                            says_the_same((enum oxl_reason)a, (enum oxl_reason)b));
        if (oxl_reasons_has(set, (enum oxl_reason)a) && !said)
            out = oxl_reasons_add(out, (enum oxl_reason)a);
    }
    return out;
}

enum oxl_reason oxl_next_step(const struct oxl_result *r, size_t i)
{
    return nth(r, each_once(oxl_reasons_with_step(r->next)), i, rank_of_step);
}

bool oxl_result_agreed(const struct oxl_result *r)
{
    const enum oxl_conclusion c = r->conclusion;
    const bool whole =
        c == OXL_CONCLUSION_BAD || c == OXL_CONCLUSION_QUESTIONABLE || c == OXL_CONCLUSION_GOOD;
    return whole && !r->ended_early && !r->deeper_run && r->valid_runs < r->runs_wanted;
}
