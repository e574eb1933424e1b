#include "parts.h"

unsigned oxl_zones_of(double low, double high, double bad, double good)
{
    if (!oxl_known(low) || !oxl_known(high) || !oxl_known(bad) || !oxl_known(good))
        return 0;
    unsigned z = 0;
    if (low < bad)
        z |= ZONE_BAD;
    if (high >= bad && low <= good)
        z |= ZONE_MIDDLE;
    if (high > good)
        z |= ZONE_GOOD;
    return z;
}

/* The verdict for a set of zones: [set][left open by a bound or a flaw]. A set of one zone
 * stands. Two neighbours left by plain scatter are "questionable": the store is near that limit,
 * and which side is not known. Left open by a flaw they may hide anything up to the far end. */
static const enum oxl_verdict verdicts[8][2] = {
    [0] = {OXL_VERDICT_INCONCLUSIVE, OXL_VERDICT_INCONCLUSIVE},
    [ZONE_BAD] = {OXL_VERDICT_BAD, OXL_VERDICT_BAD},
    [ZONE_MIDDLE] = {OXL_VERDICT_QUESTIONABLE, OXL_VERDICT_QUESTIONABLE},
    [ZONE_GOOD] = {OXL_VERDICT_GOOD, OXL_VERDICT_GOOD},
    [ZONE_BAD | ZONE_MIDDLE] = {OXL_VERDICT_QUESTIONABLE, OXL_VERDICT_INCONCLUSIVE},
    [ZONE_MIDDLE | ZONE_GOOD] = {OXL_VERDICT_QUESTIONABLE, OXL_VERDICT_INCONCLUSIVE},
    [ZONE_BAD | ZONE_GOOD] = {OXL_VERDICT_INCONCLUSIVE, OXL_VERDICT_INCONCLUSIVE},
    [ZONE_BAD | ZONE_MIDDLE | ZONE_GOOD] = {OXL_VERDICT_INCONCLUSIVE, OXL_VERDICT_INCONCLUSIVE},
};

struct judgement oxl_judge_zones(unsigned delay, unsigned oxygen, bool open)
{
    struct judgement j = {OXL_VERDICT_INCONCLUSIVE, false, false};
    unsigned set = delay == 0 ? oxygen : (oxygen == 0 ? delay : delay & oxygen);
    if (set == 0 && delay != 0) {
        /* Both are measured and exclude each other: keep what lies between as well. */
        j.disagree = true;
        set = delay | oxygen;
        if ((set & ZONE_BAD) && (set & ZONE_GOOD))
            set |= ZONE_MIDDLE;
    }
    j.verdict = verdicts[set & 7][open];
    j.straddles = (set & (set - 1)) != 0;
    return j;
}
