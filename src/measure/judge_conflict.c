/* Where runs speak against each other: what none of them shows alone. */
#include "judge.h"

/* It took out as much as the one before, and the rear fell under the bad limit all the same. That
 * the store was fuller may be why, or that it holds no more: nothing tells. */
static bool refutes(const struct oxl_run_result *later, const struct oxl_run_result *before,
                    double bad_s)
{
    const double as_much = 0.9;
    const double fell_s = later->delay_at_target_s.value;
    return later->dropped && later->run > before->run && later->deeper == before->deeper &&
           fell_s < bad_s && fell_s < before->delay_at_target_s.low &&
           later->o2_removed_mg >= as_much * before->o2_removed_mg;
}

double oxl_judge_too_little_mg(const struct panel *p)
{
    double most_mg = 0;
    for (size_t i = 0; i < p->n; i++) {
        const struct oxl_run_result *r = p->runs[i];
        if (r->dropped && !r->deeper && oxl_reasons_has(r->reasons, OXL_R_PART_EMPTIED))
            most_mg = fmax(most_mg, r->o2_removed_mg);
    }
    return most_mg;
}

static double least_low(double low, double other)
{
    return oxl_known(other) ? fmin(low, fmax(0, other)) : low;
}

void oxl_judge_take_back(struct panel *p, struct claims *c)
{
    for (size_t i = 0; i < p->n; i++)
        for (size_t k = 0; k < p->n; k++) {
            const struct oxl_run_result *later = p->runs[i];
            if (!refutes(later, p->runs[k], p->profile->bad_s))
                continue;
            c->delay.all.low = least_low(c->delay.all.low, later->delay_at_target_s.low);
            c->oxygen.all.low = least_low(c->oxygen.all.low, later->o2_mg.low);
            p->found = oxl_reasons_add(p->found, OXL_R_RUNS_SCATTER);
        }
}
