/* What is to be done next: no step that was done, cannot be done or contradicts another, and after
 * an inconclusive result always one. The order in which they are said is base/lead.c's. */
#include "judge.h"

#define BIT OXL_REASON_BIT

/* Proven, or a fault of the vehicle: until it is repaired no further run says anything. */
static const oxl_reasons faults = BIT(OXL_R_LEAK_FOUND) | BIT(OXL_R_MISFIRE) |
                                  BIT(OXL_R_SENSORS_SWAPPED) | BIT(OXL_R_CROSSED_FRONTS) |
                                  BIT(OXL_R_REAR_MISSING) | BIT(OXL_R_REAR_STUCK) |
                                  BIT(OXL_R_TRIM_FROZEN) | BIT(OXL_R_NOT_CLOSED_LOOP);
static const oxl_reasons less_gas =
    BIT(OXL_R_OVER_ENRICHED) | BIT(OXL_R_TRIM_AT_LIMIT) | BIT(OXL_R_RPM_DROP);
static const oxl_reasons more_gas = BIT(OXL_R_UNDER_ENRICHED) | BIT(OXL_R_SUPPLY_TOO_SMALL);
/* Open the gas quickly: what is left to try where no deeper run is. */
static const oxl_reasons quickly = BIT(OXL_R_FAST_TRIM_RECOVERY);
static const oxl_reasons deeper = BIT(OXL_R_PART_EMPTIED);
/* Steps whose first half is all of another one. */
static const oxl_reasons feeds_closer = BIT(OXL_R_SLOW_RELEASE) | BIT(OXL_R_TRIMS_HIGH);
static const oxl_reasons leak_signs =
    BIT(OXL_R_LEAK_SUSPECTED) | BIT(OXL_R_REAR_RESTS_LEAN) | BIT(OXL_R_REAR_LEAN_FIRST);

bool oxl_deeper_may_decide(const struct oxl_result *r)
{
    static const oxl_reasons helped = BIT(OXL_R_PART_EMPTIED) | BIT(OXL_R_REAR_HELD) |
                                      BIT(OXL_R_SUPPLY_TOO_SMALL) | BIT(OXL_R_OVER_ENRICHED) |
                                      BIT(OXL_R_UNDER_ENRICHED) | BIT(OXL_R_TRIM_AT_LIMIT) |
                                      BIT(OXL_R_FAST_TRIM_RECOVERY);
    return r->valid_runs > 0 && oxl_known(r->air_g_s) && r->verdict == OXL_VERDICT_INCONCLUSIVE &&
           (r->reasons & helped);
}

/* One depth for the next run: a stumble forbids more gas, else the last run that missed says which
 * way. */
static oxl_reasons one_depth(oxl_reasons next, const struct oxl_run_result *runs, size_t n)
{
    if (oxl_reasons_has(next, OXL_R_RPM_DROP))
        return (next & ~(more_gas | quickly | less_gas | deeper)) | BIT(OXL_R_RPM_DROP);
    oxl_reasons said = next & (less_gas | more_gas);
    for (size_t i = n; i-- > 0 && (next & less_gas) && (next & more_gas);)
        if (runs[i].reasons & said)
            next &= ~(runs[i].reasons & less_gas ? more_gas : less_gas);
    return next & (less_gas | more_gas) ? next & ~quickly : next;
}

/* How much gas, and whether a deeper run. That one settles what the depth of the others left open,
 * and gives a verdict sooner than any other step. */
static oxl_reasons gas_steps(oxl_reasons next, const struct oxl_result *r,
                             const struct oxl_run_result *runs, size_t n,
                             const struct oxl_session_facts *facts)
{
    const oxl_reasons gas = less_gas | more_gas | quickly | deeper;
    /* Where only the depth was wrong the next test at the right one is sooner. */
    const bool not_shown = r->reasons & (BIT(OXL_R_PART_EMPTIED) | BIT(OXL_R_REAR_HELD));
    bool taken = false, measured = false;
    for (size_t i = 0; i < n; i++) {
        taken = taken || (runs[i].deeper && runs[i].valid);
        measured = measured || (runs[i].valid &&
                                oxl_judge_measures_all(&runs[i], runs[i].reasons | r->reasons));
    }
    if (r->verdict != OXL_VERDICT_INCONCLUSIVE)
        return next & ~gas;
    if (oxl_deeper_may_decide(r) && not_shown && !taken && !facts->deeper_unsafe &&
        !oxl_reasons_has(r->reasons, OXL_R_IMPORTED))
        return (next & ~gas) | deeper;
    /* Once a deeper run has measured the store the depth of the others is beside the point; where
     * it was taken in vain, too little on offer is what it has tried. */
    next &= ~(measured ? gas : taken ? deeper | BIT(OXL_R_SUPPLY_TOO_SMALL) : deeper);
    if (not_shown && !measured)
        next |= quickly;
    return one_depth(next, runs, n);
}

/* A leak lets the rear fall at any depth: before it is found the gas is not to be blamed. A leak
 * check that found nothing has been done; what it does not explain may be the sensor. */
static oxl_reasons leak_steps(oxl_reasons next, const struct oxl_result *r)
{
    if (!oxl_reasons_has(r->reasons, OXL_R_LEAK_NOT_FOUND))
        return next & leak_signs ? next & ~(more_gas | quickly | deeper) : next;
    if ((next & leak_signs) && r->verdict == OXL_VERDICT_INCONCLUSIVE)
        next = oxl_reasons_add(next, OXL_R_REAR_BIASED_LEAN);
    return next & ~(leak_signs | BIT(OXL_R_LEAK_CHECK_FIRST));
}

/* A flaw that pushed against the verdict needs no check: the verdict stands in spite of it. */
static oxl_reasons needless(const struct oxl_result *r)
{
    if (r->verdict == OXL_VERDICT_GOOD)
        return oxl_reasons_pushing(r->reasons, OXL_PUSH_SHORTER);
    if (r->verdict == OXL_VERDICT_BAD)
        return oxl_reasons_pushing(r->reasons, OXL_PUSH_LONGER);
    return 0;
}

oxl_reasons oxl_judge_next(const struct oxl_result *r, const struct oxl_run_result *runs, size_t n,
                           const struct oxl_session_facts *facts)
{
    const oxl_reasons again = BIT(OXL_R_NO_VALID_RUN) | BIT(OXL_R_STRADDLES_LIMIT);
    oxl_reasons next = oxl_reasons_with_step(r->reasons & ~needless(r));
    if (next & faults)
        return next & (faults | BIT(OXL_R_CODES_PRESENT));
    next = leak_steps(gas_steps(next, r, runs, n, facts), r);
    if (next & feeds_closer)
        next &= ~BIT(OXL_R_LAMBDA_TRIM_DISAGREE);
    /* Condemned only once the leak check has been done. */
    if (oxl_reasons_has(next, OXL_R_LEAK_CHECK_FIRST))
        next &= ~BIT(OXL_R_LOW_STORAGE);
    /* Every other step ends in a repeated test as well. */
    const oxl_reasons others = next & ~again;
    if (others)
        return others;
    if (!next && r->verdict == OXL_VERDICT_INCONCLUSIVE)
        next = BIT(OXL_R_NO_VALID_RUN);
    return next;
}
