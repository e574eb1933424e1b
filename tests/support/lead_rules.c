#include "lead_rules.h"

#include <math.h>

static bool lies(const struct oxl_span *s, enum oxl_verdict v, double bad, double good)
{
    switch (v) {
    case OXL_VERDICT_BAD:
        return s->high < bad;
    case OXL_VERDICT_GOOD:
        return s->low > good;
    case OXL_VERDICT_QUESTIONABLE:
        return !(s->high < bad) && !(s->low > good);
    case OXL_VERDICT_INCONCLUSIVE:
        return !(s->high < bad) && !(s->low > good) && !(s->low >= bad && s->high <= good);
    }
    return false;
}

/* The figure that is shown excludes what the conclusion excludes, unless seconds and grams exclude
 * each other: then neither does alone. */
static bool conclusion_agrees(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    const struct oxl_lead *l = &r->lead;
    const bool two = oxl_reasons_has(r->reasons, OXL_R_SECONDS_AND_GRAMS_DISAGREE);
    switch (r->conclusion) {
    case OXL_CONCLUSION_BAD:
        return r->verdict == OXL_VERDICT_BAD;
    case OXL_CONCLUSION_GOOD:
        return r->verdict == OXL_VERDICT_GOOD;
    case OXL_CONCLUSION_NOT_BAD:
        return two || l->span.low >= l->bad_limit;
    case OXL_CONCLUSION_NOT_GOOD:
        return two || l->span.high <= l->good_limit;
    case OXL_CONCLUSION_QUESTIONABLE:
        return r->verdict == OXL_VERDICT_QUESTIONABLE;
    default:
        return r->verdict == OXL_VERDICT_INCONCLUSIVE;
    }
}

static bool lead_is_there(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    return r->valid_runs == 0 || r->lead.figure != OXL_LEAD_NONE;
}

static bool lead_agrees(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    const struct oxl_lead *l = &r->lead;
    return l->figure == OXL_LEAD_NONE ? r->verdict == OXL_VERDICT_INCONCLUSIVE
                                      : lies(&l->span, r->verdict, l->bad_limit, l->good_limit);
}

static bool same(double a, double b)
{
    return (isnan(a) && isnan(b)) || fabs(a - b) < 1e-9 * fmax(1, fabs(a));
}

static bool lead_has_its_limits(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    const struct oxl_lead *l = &r->lead;
    if (l->figure == OXL_LEAD_NONE)
        return true;
    const bool mass = l->figure == OXL_LEAD_OXYGEN;
    return same(l->bad_limit, mass ? r->bad_limit_mg : t->profile.bad_s) &&
           same(l->good_limit, mass ? r->good_limit_mg : t->profile.good_s);
}

static bool lead_is_of_a_run_that_counts(const struct whole_test *t)
{
    const int run = t->record.result.lead.run;
    for (size_t i = 0; i < t->record.runs_n; i++)
        if (t->record.runs[i].run == run)
            return t->record.runs[i].valid;
    return run == 0;
}

/* A bound is a bound: a value stands beside both its ends only. */
static bool bound_has_no_value(const struct oxl_span *s)
{
    return !oxl_known(s->value) ||
           (isfinite(s->low) && isfinite(s->high) && s->low <= s->value && s->value <= s->high);
}

/* A time that bounds nothing is still what was timed; it stands alone, and beside no verdict. */
static bool is_time_alone(const struct oxl_result *r)
{
    return r->verdict == OXL_VERDICT_INCONCLUSIVE && isnan(r->delay_s.low) &&
           isnan(r->delay_s.high);
}

static bool bounds_have_no_value(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    return bound_has_no_value(&r->lead.span) &&
           (is_time_alone(r) || bound_has_no_value(&r->delay_s)) &&
           bound_has_no_value(&r->delay_at_target_s) && bound_has_no_value(&r->o2_mg);
}

static bool beside(double value, enum oxl_verdict v, double bad, double good)
{
    return !(v == OXL_VERDICT_GOOD && value < bad) && !(v == OXL_VERDICT_BAD && value > good);
}

/* "GOOD" above "0.42 s, bad < 2.0". */
static bool values_agree(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    return beside(r->delay_s.value, r->verdict, t->profile.bad_s, t->profile.good_s) &&
           beside(r->delay_at_target_s.value, r->verdict, t->profile.bad_s, t->profile.good_s) &&
           beside(r->o2_mg.value, r->verdict, r->bad_limit_mg, r->good_limit_mg);
}

static bool bounds_something(const struct oxl_span *s)
{
    return isfinite(s->high) || !(s->low <= 0);
}

/* "Delay at least -1.14 s" */
static bool bounds_say_something(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    bool all = bounds_something(&r->delay_s) && bounds_something(&r->delay_at_target_s) &&
               bounds_something(&r->o2_mg) && bounds_something(&r->lead.span);
    for (size_t i = 0; i < t->record.runs_n; i++) {
        const struct oxl_run_figures f = oxl_run_as_judged(&t->record.runs[i], r, &t->profile);
        all = all && bounds_something(&f.delay_s) && bounds_something(&f.delay_at_target_s) &&
              bounds_something(&f.o2_mg);
    }
    return all;
}

/* No row of the table has two ends where the run's own flaw left one open. */
static bool rows_are_as_judged(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    for (size_t i = 0; i < t->record.runs_n; i++) {
        const struct oxl_run_result *run = &t->record.runs[i];
        const struct oxl_run_figures f = oxl_run_as_judged(run, r, &t->profile);
        const oxl_reasons flaws = (run->reasons & ~r->refuted) | r->session;
        if (oxl_reasons_pushing(flaws, OXL_PUSH_SHORTER) &&
            (isfinite(f.delay_s.high) || isfinite(f.delay_at_target_s.high)))
            return false;
        if (oxl_reasons_pushing(flaws, OXL_PUSH_LONGER) &&
            (isfinite(f.delay_s.low) || isfinite(f.delay_at_target_s.low)))
            return false;
    }
    return true;
}

static bool spread_is_of_two(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    return oxl_known(r->spread_s) ? r->spread_runs >= 2 && r->spread_runs <= r->valid_runs
                                  : r->spread_runs == 0;
}

const struct rule lead_rules[LEAD_RULES] = {
    {"a test with a run that counts has a leading figure", lead_is_there},
    {"the leading figure lies on the verdict's side of the limits", lead_agrees},
    {"the conclusion says no more than the leading figure", conclusion_agrees},
    {"the limits beside it are of its own unit", lead_has_its_limits},
    {"it comes from a run that counts", lead_is_of_a_run_that_counts},
    {"a bound has no value", bounds_have_no_value},
    {"no value shown lies across both limits from the verdict", values_agree},
    {"a bound says something", bounds_say_something},
    {"a row of the table is as open as its run's flaws", rows_are_as_judged},
    {"a spread says of how many runs it is", spread_is_of_two},
};
