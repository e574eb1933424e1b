/* The runs and reasons that are kept, and what they add up to. */
#include <stdio.h>
#include <string.h>

#include "proc.h"

/* Runs that do not count are repeated, but not for ever. */
enum { SPARE_RUNS = 3, AGREEING_RUNS = 2 };

/* A run that does not count makes room where there is none: one that counts is never lost. */
void oxl_kept_add(struct oxl_proc *p, const struct oxl_run_result *r)
{
    struct oxl_kept *k = &p->kept;
    size_t drop = 0;
    while (k->runs_n == OXL_PROC_MAX_RUNS && drop < k->runs_n && k->runs[drop].valid)
        drop++;
    if (k->runs_n == OXL_PROC_MAX_RUNS && drop < k->runs_n) {
        k->runs_n--;
        memmove(k->runs + drop, k->runs + drop + 1, (k->runs_n - drop) * sizeof k->runs[0]);
    }
    if (k->runs_n < OXL_PROC_MAX_RUNS)
        k->runs[k->runs_n++] = *r;
    k->valid_n += r->valid && !r->deeper;
    if (r->valid && !r->deeper)
        k->proven = false; /* until its trims are back */
}

const struct oxl_run_result *oxl_kept_last(const struct oxl_proc *p)
{
    const struct oxl_run_result *r = p->kept.runs_n ? &p->kept.runs[p->kept.runs_n - 1] : NULL;
    return r && r->run == p->run.number && r->valid && !r->deeper ? r : NULL;
}

void oxl_kept_take_back(struct oxl_proc *p, enum oxl_reason why)
{
    struct oxl_run_result *r = &p->kept.runs[p->kept.runs_n - 1];
    r->valid = false;
    r->reasons = oxl_reasons_add(r->reasons, why);
    p->kept.valid_n--;
}

void oxl_kept_prove(struct oxl_proc *p)
{
    p->kept.proven = true;
}

void oxl_kept_rear_fell(struct oxl_proc *p)
{
    p->kept.rear_fell = true;
}

void oxl_kept_reasons_are(struct oxl_proc *p, oxl_reasons set, bool so)
{
    p->kept.reasons = so ? p->kept.reasons | set : p->kept.reasons & ~set;
}

/* ---- the verdict as things stand ------------------------------------------------------------- */
oxl_reasons oxl_kept_reasons(const struct oxl_proc *p)
{
    return (p->kept.reasons & ~oxl_sensors_refuted(&p->sensors)) |
           oxl_sensors_reasons(&p->sensors) | oxl_banks_reasons(&p->banks) |
           oxl_balance_reasons(&p->balance) | oxl_patterns_reasons(&p->patterns) |
           oxl_leak_watch_reasons(&p->leak_watch);
}

/* A wide-range rear's is each run's own. */
static double rear_lag_s(const struct oxl_proc *p)
{
    if (!p->rules->proves_rear || p->pair.rear_kind != OXL_SENSOR_SWITCHING)
        return 0;
    return oxl_sensors_rear_lag_s(&p->sensors, p->profile.rear_tau_s);
}

static struct oxl_session_facts facts_of(const struct oxl_proc *p)
{
    return (struct oxl_session_facts){
        .rear_seen_rich = p->sensors.rear.rich_us != 0,
        .rear_seen_lean = p->sensors.rear.lean_us != 0 || p->kept.rear_fell,
        .reasons = oxl_kept_reasons(p),
        .refuted = p->rules->proves_rear ? oxl_sensors_refuted_of_runs(&p->sensors)
                                         : oxl_sensors_refuted(&p->sensors),
        .deeper_unsafe = !oxl_deeper_safe(p),
        .rear_lag_s = rear_lag_s(p),
    };
}

static void judge(const struct oxl_proc *p, const struct oxl_run_result *runs, size_t n,
                  struct oxl_result *out)
{
    const struct oxl_session_facts facts = facts_of(p);
    oxl_judge(runs, n, &p->profile, &facts, out);
}

void oxl_kept_judge(const struct oxl_proc *p, struct oxl_result *out)
{
    judge(p, p->kept.runs, p->kept.runs_n, out);
}

void oxl_kept_judge_proven(const struct oxl_proc *p, struct oxl_result *out)
{
    struct oxl_session_facts facts = facts_of(p);
    facts.rear_seen_lean = true;
    if (!p->sensors.rear.fall_in_cut) {
        facts.refuted = oxl_reasons_add(facts.refuted, OXL_R_REAR_SLOW);
        facts.rear_lag_s = 0;
    }
    facts.reasons &= ~facts.refuted;
    oxl_judge(p->kept.runs, p->kept.runs_n, &p->profile, &facts, out);
}

void oxl_kept_judge_slow(const struct oxl_proc *p, struct oxl_result *out)
{
    struct oxl_session_facts facts = facts_of(p);
    facts.reasons = oxl_reasons_add(facts.reasons, OXL_R_REAR_SLOW);
    oxl_judge(p->kept.runs, p->kept.runs_n, &p->profile, &facts, out);
}

/* It leaves one zone. */
static bool is_whole(enum oxl_conclusion c)
{
    return c == OXL_CONCLUSION_BAD || c == OXL_CONCLUSION_QUESTIONABLE || c == OXL_CONCLUSION_GOOD;
}

/* ---- enough? --------------------------------------------------------------------------------- */
/* Runs that the technician began anew by key use up no spare one. */
static size_t meant(const struct oxl_proc *p)
{
    size_t n = 0;
    for (size_t i = 0; i < p->kept.runs_n; i++)
        n += !oxl_reasons_has(p->kept.runs[i].reasons, OXL_R_RESTARTED);
    return n;
}

static bool may_be_enough(const struct oxl_proc *p)
{
    return p->until_decided && p->kept.valid_n >= AGREEING_RUNS;
}

/* Two runs have decided: each by itself and both together come to the same one of the three
 * answers, and neither is far from the other. Whoever asked for a number of runs gets them. */
static bool decided(const struct oxl_proc *p)
{
    const oxl_reasons apart = OXL_REASON_BIT(OXL_R_RUNS_SCATTER) |
                              OXL_REASON_BIT(OXL_R_RUN_SET_ASIDE) |
                              OXL_REASON_BIT(OXL_R_RUNS_UNLIKE);
    struct oxl_result all, one;
    size_t alike = 0;
    if (!may_be_enough(p))
        return false;
    oxl_kept_judge(p, &all);
    for (size_t i = 0; i < p->kept.runs_n; i++) {
        judge(p, &p->kept.runs[i], 1, &one);
        alike += p->kept.runs[i].valid && one.conclusion == all.conclusion;
    }
    return is_whole(all.conclusion) && !(all.reasons & apart) && alike >= AGREEING_RUNS;
}

/* Two pulses were too small to decide, and a third of their size would be, too: what may decide is
 * the deeper run. */
static bool only_deeper_tells(const struct oxl_proc *p)
{
    return (p->until_decided && p->deeper.done) || (may_be_enough(p) && oxl_deeper_worth(p));
}

bool oxl_kept_wanted(const struct oxl_proc *p)
{
    return p->kept.valid_n >= p->runs_wanted || decided(p) || only_deeper_tells(p);
}

size_t oxl_kept_least(const struct oxl_proc *p)
{
    bool may = p->until_decided && p->kept.valid_n < AGREEING_RUNS;
    return may && AGREEING_RUNS < p->runs_wanted ? AGREEING_RUNS : p->runs_wanted;
}

bool oxl_kept_enough(const struct oxl_proc *p)
{
    return oxl_kept_failed_alike(p) || oxl_kept_wanted(p) ||
           meant(p) >= p->runs_wanted + SPARE_RUNS + p->deeper.tries ||
           p->kept.runs_n >= OXL_PROC_MAX_RUNS;
}

bool oxl_kept_run_due(const struct oxl_proc *p)
{
    return !oxl_kept_enough(p) || oxl_run_is_deeper(p);
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
    oxl_reasons all = oxl_kept_reasons(p) | p->kept.runs[p->kept.runs_n - 1].reasons;
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
    if (!p->source.repeats || p->kept.runs_n < 2)
        return 0;
    const struct oxl_run_result *last = &p->kept.runs[p->kept.runs_n - 1], *before = last - 1;
    if (last->deeper || before->deeper)
        return 0;
    return cause_of(last) & cause_of(before);
}

bool oxl_kept_failed_alike(const struct oxl_proc *p)
{
    return shared_cause(p) != 0;
}

void oxl_kept_say_failed_alike(const struct oxl_proc *p)
{
    char advice[128];
    snprintf(advice, sizeof advice, "%.127s", oxl_reason_next(telling(p, shared_cause(p))));
    oxl_proc_check(p, "repeated-failure", OXL_GRADE_STOP,
                   "two runs failed for the same reason: a third would, too", advice);
}
