/* The figure that carried the verdict, as it was compared with the limits. */
#include "judge.h"

/* A figure on its way to become the leading one. */
struct candidate {
    const struct figure *figure;
    enum oxl_lead_figure kind;
    double bad, good;
};

static unsigned zones(const struct candidate *c)
{
    return c->figure->n ? oxl_zones_of(c->figure->all.low, c->figure->all.high, c->bad, c->good)
                        : 0;
}

/* How far it has come to deciding: its low end on the way to the good limit, or its high end to the
 * bad one; 1: it is there. A figure without an end says nothing, one that is not known even less.
 */
static double nearness(const struct candidate *c)
{
    if (zones(c) == 0)
        return -1;
    double good = isfinite(c->figure->all.low) ? c->figure->all.low / c->good : 0;
    double bad = isfinite(c->figure->all.high) ? c->bad / c->figure->all.high : 0;
    return fmin(fmax(fmax(good, bad), 0), 1);
}

/* Does it alone say what is concluded? "Questionable" may be what both leave together. */
static bool carries(const struct candidate *c, enum oxl_conclusion said)
{
    return said != OXL_CONCLUSION_NONE && zones(c) == oxl_zones_left(said);
}

static bool is_half(enum oxl_conclusion c)
{
    return c == OXL_CONCLUSION_NOT_BAD || c == OXL_CONCLUSION_NOT_GOOD;
}

static bool value_in_middle(const struct candidate *c)
{
    const double value = oxl_judge_span_of(c->figure).value;
    return value >= c->bad && value <= c->good;
}

/* Of two the one that carried the conclusion, the first where both did. Where neither does alone,
 * and of two that carry half an answer, the one that came nearest to a whole one; beside
 * "questionable" never one that lies outside, nor a value that does.
 */
static const struct candidate *choose(const struct candidate *first, const struct candidate *second,
                                      const struct oxl_result *r)
{
    const enum oxl_verdict v = r->verdict;
    const bool one = carries(first, r->conclusion), two = carries(second, r->conclusion);
    if (one != two || (one && !is_half(r->conclusion)))
        return one ? first : second;
    if (v == OXL_VERDICT_QUESTIONABLE && !(zones(first) & ZONE_MIDDLE))
        return second;
    if (v == OXL_VERDICT_QUESTIONABLE && !(zones(second) & ZONE_MIDDLE))
        return first;
    if (v == OXL_VERDICT_QUESTIONABLE && value_in_middle(first) != value_in_middle(second))
        return value_in_middle(first) ? first : second;
    return nearness(second) > nearness(first) ? second : first;
}

/* Something else speaks against a figure that by itself would have decided: it is no more than a
 * bound on its own side, and reads like no verdict. */
static void let_go(struct oxl_span *s, unsigned zone)
{
    if (zone == ZONE_BAD && s->low > 0)
        *s = (struct oxl_span){NAN, s->low, INFINITY};
    else if (zone == ZONE_GOOD)
        *s = (struct oxl_span){NAN, NAN, s->high};
    else if (zone == ZONE_BAD || zone == ZONE_MIDDLE)
        *s = span_unknown();
}

struct oxl_lead oxl_judge_lead(const struct claims *c, const struct oxl_profile *profile,
                               const struct oxl_result *result)
{
    const struct candidate delay = {&c->delay,
                                    c->at_target ? OXL_LEAD_DELAY_AT_TARGET : OXL_LEAD_DELAY,
                                    profile->bad_s, profile->good_s};
    const struct candidate oxygen = {&c->oxygen, OXL_LEAD_OXYGEN, result->bad_limit_mg,
                                     result->good_limit_mg};
    /* Seconds are what the trade knows; a deeper run goes by its mass. */
    const bool mass_first = result->deeper_run > 0;
    const struct candidate *best =
        choose(mass_first ? &oxygen : &delay, mass_first ? &delay : &oxygen, result);
    if (best->figure->n == 0)
        return (struct oxl_lead){
            .figure = OXL_LEAD_NONE, .span = span_unknown(), .bad_limit = NAN, .good_limit = NAN};
    struct oxl_lead out = {best->kind, oxl_judge_span_of(best->figure), best->bad, best->good,
                           best->figure->run};
    if (result->verdict == OXL_VERDICT_INCONCLUSIVE)
        let_go(&out.span, zones(best));
    if (!oxl_known(out.span.low) && !oxl_known(out.span.high))
        out.run = 0;
    return out;
}
