/* The runs that are kept, and whether they failed for one reason. */
#include <stdio.h>
#include <string.h>

#include "proc.h"

/* A run that does not count makes room where there is none: one that counts is never lost. */
void oxl_proc_keep_run(struct oxl_proc *p, const struct oxl_run_result *r)
{
    size_t drop = 0;
    while (p->runs_n == OXL_PROC_MAX_RUNS && drop < p->runs_n && p->runs[drop].valid)
        drop++;
    if (p->runs_n == OXL_PROC_MAX_RUNS && drop < p->runs_n) {
        p->runs_n--;
        memmove(p->runs + drop, p->runs + drop + 1, (p->runs_n - drop) * sizeof p->runs[0]);
    }
    if (p->runs_n < OXL_PROC_MAX_RUNS)
        p->runs[p->runs_n++] = *r;
}

/* ---- the same failure is not repeated -------------------------------------------------------- */
static bool is_chance(const struct oxl_run_result *r)
{
    return (r->reasons & (OXL_REASON_BIT(OXL_R_RESTARTED) | OXL_REASON_BIT(OXL_R_GAP_AT_EVENT) |
                          OXL_REASON_BIT(OXL_R_LINK_LOST))) != 0;
}

/* Why a run does not count. Chance (a gap, a lost link) and the technician's own wish are no
 * failure that the next run would meet again. */
static oxl_reasons cause_of(const struct oxl_run_result *r)
{
    /* Nothing was added: a key pressed by mistake. */
    if (!oxl_known(r->shift_pct) && oxl_reasons_has(r->reasons, OXL_R_NO_FRONT_LEAN))
        return 0;
    if (r->valid || is_chance(r))
        return 0;
    /* The last two keep a run from being measured though they void none. */
    return oxl_reasons_pushing(r->reasons, OXL_PUSH_VOID) |
           (r->reasons &
            (OXL_REASON_BIT(OXL_R_REAR_NOT_SEEN_RICH) | OXL_REASON_BIT(OXL_R_BASELINE_DRIFT) |
             OXL_REASON_BIT(OXL_R_SUPPLY_TOO_SMALL) | OXL_REASON_BIT(OXL_R_UNDER_ENRICHED)));
}

/* A step that took too long says little: what kept it from its end says what to change. */
static enum oxl_reason telling(const struct oxl_proc *p, oxl_reasons shared)
{
    static const enum oxl_reason behind[] = {OXL_R_LEAK_SUSPECTED, OXL_R_REAR_RESTS_LEAN,
                                             OXL_R_UNDER_ENRICHED, OXL_R_REAR_NOT_SEEN_RICH};
    oxl_reasons all = p->facts.reasons | p->runs[p->runs_n - 1].reasons;
    oxl_reasons plain =
        oxl_reasons_pushing(shared, OXL_PUSH_VOID) & ~OXL_REASON_BIT(OXL_R_TIME_LIMIT);
    if (!plain)
        for (size_t i = 0; i < sizeof behind / sizeof behind[0]; i++)
            if (oxl_reasons_has(all, behind[i]))
                return behind[i];
    unsigned i = 0;
    while (i + 1 < OXL_R_COUNT && !oxl_reasons_has(shared, (enum oxl_reason)i))
        i++;
    return (enum oxl_reason)i;
}

static oxl_reasons shared_cause(const struct oxl_proc *p)
{
    if (p->imported || p->runs_n < 2)
        return 0;
    const struct oxl_run_result *last = &p->runs[p->runs_n - 1], *before = last - 1;
    if (last->deeper || before->deeper)
        return 0;
    return cause_of(last) & cause_of(before);
}

bool oxl_proc_failed_alike(const struct oxl_proc *p)
{
    return shared_cause(p) != 0;
}

void oxl_proc_say_failed_alike(struct oxl_proc *p)
{
    char advice[128];
    snprintf(advice, sizeof advice, "%.127s", oxl_reason_next(telling(p, shared_cause(p))));
    oxl_proc_check(p, "repeated-failure", OXL_GRADE_STOP,
                   "two runs failed for the same reason: a third would, too", advice);
}
