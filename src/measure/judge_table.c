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

/* What a set of zones comes to. One zone is a verdict. Two neighbours exclude the third, and that
 * is half of an answer; the verdict beside it is "questionable" where plain scatter left both (the
 * store is near that limit), and none where a bound or a flaw did. */
static const struct {
    enum oxl_conclusion conclusion;
    enum oxl_verdict verdict, open; /* open: a bound or a flaw left more than one zone */
} answers[8] = {
    [ZONE_BAD] = {OXL_CONCLUSION_BAD, OXL_VERDICT_BAD, OXL_VERDICT_BAD},
    [ZONE_MIDDLE] = {OXL_CONCLUSION_QUESTIONABLE, OXL_VERDICT_QUESTIONABLE,
                     OXL_VERDICT_QUESTIONABLE},
    [ZONE_GOOD] = {OXL_CONCLUSION_GOOD, OXL_VERDICT_GOOD, OXL_VERDICT_GOOD},
    [ZONE_BAD | ZONE_MIDDLE] = {OXL_CONCLUSION_NOT_GOOD, OXL_VERDICT_QUESTIONABLE,
                                OXL_VERDICT_INCONCLUSIVE},
    [ZONE_MIDDLE |
        ZONE_GOOD] = {OXL_CONCLUSION_NOT_BAD, OXL_VERDICT_QUESTIONABLE, OXL_VERDICT_INCONCLUSIVE},
    /* All others exclude nothing: inconclusive. */
};

unsigned oxl_zones_left(enum oxl_conclusion c)
{
    for (unsigned set = 1; set < 8 && c != OXL_CONCLUSION_NONE; set++)
        if (answers[set].conclusion == c)
            return set;
    return 0;
}

struct judgement oxl_judge_zones(unsigned delay, unsigned oxygen, bool open)
{
    struct judgement j = {.disagree = false};
    unsigned set = delay == 0 ? oxygen : (oxygen == 0 ? delay : delay & oxygen);
    if (set == 0 && delay != 0) {
        /* Both are measured and exclude each other: keep what lies between as well. */
        j.disagree = true;
        set = delay | oxygen;
        if ((set & ZONE_BAD) && (set & ZONE_GOOD))
            set |= ZONE_MIDDLE;
    }
    j.conclusion = answers[set & 7].conclusion;
    j.verdict = open ? answers[set & 7].open : answers[set & 7].verdict;
    j.straddles = (set & (set - 1)) != 0;
    return j;
}
