#include "judge.h"

#include <stdlib.h>

/* ---- which runs decide ---- */
/* Seconds go with one over the air flow, and grams measured in different ways differ by their ways:
 * runs at another speed, under another load or from other sensors are not one measurement. */
static bool alike(const struct oxl_run_result *a, const struct oxl_run_result *b, double band)
{
    const double air_share = 0.25;
    bool rpm = !oxl_known(a->rpm) || !oxl_known(b->rpm) || fabs(a->rpm - b->rpm) <= band;
    bool air = !oxl_known(a->air_g_s) || !oxl_known(b->air_g_s) ||
               fabs(a->air_g_s - b->air_g_s) <= air_share * fmax(a->air_g_s, b->air_g_s);
    return rpm && air && a->air_source == b->air_source && a->x_source == b->x_source;
}

/* The largest group of runs around one of them; of equal groups the later one. */
static void take_alike(struct panel *p, const struct oxl_run_result *runs, size_t n, double band)
{
    size_t best = 0, most = 0, valid = 0;
    for (size_t i = 0; i < n; i++) {
        size_t count = 0;
        if (!runs[i].valid)
            continue;
        valid++;
        for (size_t j = 0; j < n; j++)
            count += runs[j].valid && alike(&runs[i], &runs[j], band);
        if (count >= most) {
            most = count;
            best = i;
        }
    }
    for (size_t i = 0; i < n && most > 0; i++)
        if (runs[i].valid && alike(&runs[best], &runs[i], band) && p->n < MAX_RUNS)
            p->runs[p->n++] = &runs[i];
    if (p->n < valid)
        p->found = oxl_reasons_add(p->found, OXL_R_RUNS_UNLIKE);
}

/* How far run i lies from the median of the others, in their joint half-widths; 0 when it is no
 * outlier by size either, or the others do not agree among themselves. */
static double outlying(const struct panel *p, size_t i)
{
    double v[MAX_RUNS], half[MAX_RUNS];
    size_t n = 0;
    for (size_t j = 0; j < p->n; j++) {
        struct oxl_span s = judge_delay_of(p->runs[j]);
        if (!oxl_known(s.value) || !isfinite(s.high) || p->runs[j]->deeper)
            return 0; /* bounds are not compared with values, nor is a deeper run with others */
        if (j == i)
            continue;
        v[n] = s.value;
        half[n++] = 0.5 * (s.high - s.low);
    }
    struct oxl_span own = judge_delay_of(p->runs[i]);
    double mid = judge_median(v, n), width = judge_median(half, n) + 0.5 * (own.high - own.low);
    double far = fabs(own.value - mid), others = v[n - 1] - v[0];
    if (far < 0.3 * fmax(mid, 1.0) || far < 3 * others || !(width > 0))
        return 0;
    return far / width;
}

static void set_aside(struct panel *p)
{
    const double far = 3.0;
    size_t worst = 0;
    double most = 0;
    if (p->n < 3)
        return;
    for (size_t i = 0; i < p->n; i++) {
        double d = outlying(p, i);
        if (d > most) {
            most = d;
            worst = i;
        }
    }
    if (most <= far)
        return;
    p->aside = p->runs[worst];
    for (size_t i = worst; i + 1 < p->n; i++)
        p->runs[i] = p->runs[i + 1];
    p->n--;
    p->found = oxl_reasons_add(p->found, OXL_R_RUN_SET_ASIDE);
}

/* ---- figures to show ---- */
enum figure { FIGURE_DELAY, FIGURE_TARGET, FIGURE_OXYGEN };

static struct oxl_span figure_of(const struct oxl_run_result *r, enum figure f)
{
    return f == FIGURE_DELAY ? r->delay_s : (f == FIGURE_TARGET ? r->delay_at_target_s : r->o2_mg);
}

/* The seconds of a deeper run are its own; of the store and of the target it knows best. */
static bool shown(const struct panel *p, const struct oxl_run_result *r, enum figure f)
{
    size_t deeper = 0;
    for (size_t i = 0; i < p->n; i++)
        deeper += p->runs[i]->deeper;
    if (f == FIGURE_DELAY)
        return !r->deeper || deeper == p->n;
    return r->deeper || deeper == 0;
}

/* Median with interval of the runs that have a value; else the largest lower bound. */
static struct oxl_span show(const struct panel *p, enum figure f)
{
    double v[MAX_RUNS];
    struct claim c[MAX_RUNS];
    size_t n = 0, bounds = 0;
    double bound = -INFINITY;
    for (size_t i = 0; i < p->n; i++) {
        struct oxl_span s = figure_of(p->runs[i], f);
        if (!shown(p, p->runs[i], f))
            continue;
        if (oxl_known(s.value)) {
            c[n] = judge_claim_of(s);
            v[n++] = s.value;
        } else if (oxl_known(s.low)) {
            bounds++;
            bound = fmax(bound, s.low);
        }
    }
    struct oxl_span out = span_unknown();
    if (n > 0) {
        struct claim all = judge_combine(c, n).all;
        out.value = judge_median(v, n);
        out.low = fmin(all.low, out.value);
        out.high = fmax(all.high, out.value);
    } else if (bounds > 0) {
        out.low = bound;
        out.high = INFINITY;
    }
    return out;
}

static void show_runs(const struct panel *p, struct oxl_result *out)
{
    double sum_air = 0, sum_rpm = 0, first = INFINITY, last = -INFINITY;
    size_t n_air = 0, n_rpm = 0, dropped = 0;
    bool held = p->n > 0;
    for (size_t i = 0; i < p->n; i++) {
        const struct oxl_run_result *r = p->runs[i];
        if (oxl_known(r->air_g_s)) {
            sum_air += r->air_g_s;
            n_air++;
        }
        if (oxl_known(r->rpm)) {
            sum_rpm += r->rpm;
            n_rpm++;
        }
        if (r->deeper)
            out->deeper_run = r->run;
        held = held && !r->dropped;
        if (r->dropped && oxl_known(r->delay_s.value) && !r->deeper) {
            dropped++;
            first = fmin(first, r->delay_s.value);
            last = fmax(last, r->delay_s.value);
        }
    }
    out->aside_run = p->aside ? p->aside->run : 0;
    out->air_g_s = n_air > 0 ? sum_air / (double)n_air : NAN;
    out->rpm = n_rpm > 0 ? sum_rpm / (double)n_rpm : NAN;
    out->spread_s = dropped > 1 ? last - first : NAN;
    out->held = held;
    out->delay_s = show(p, FIGURE_DELAY);
    out->delay_at_target_s = show(p, FIGURE_TARGET);
    out->o2_mg = show(p, FIGURE_OXYGEN);
}

/* ---- verdict ---- */
static oxl_reasons session_reasons(const struct oxl_session_facts *facts,
                                   const struct oxl_run_result *runs, size_t n)
{
    oxl_reasons r = facts->reasons;
    bool dropped = false;
    /* A rear that dropped in a valid run has been rich and has gone lean. */
    for (size_t i = 0; i < n; i++) {
        dropped = dropped || (runs[i].valid && runs[i].dropped);
        /* A rear that was lean before the front, or rests lean, speaks of a leak, whatever that run
         * is worth and whichever it was. */
        r |= runs[i].reasons &
             (OXL_REASON_BIT(OXL_R_REAR_LEAN_FIRST) | OXL_REASON_BIT(OXL_R_REAR_RESTS_LEAN));
    }
    if (!facts->rear_seen_lean && !dropped)
        r = oxl_reasons_add(r, OXL_R_REAR_NOT_SEEN_LEAN);
    if (!facts->rear_seen_rich && !dropped)
        r = oxl_reasons_add(r, OXL_R_REAR_NOT_SEEN_RICH);
    return r;
}

static bool claim_open(const struct claim *c, bool known)
{
    return !known || !isfinite(c->low) || !isfinite(c->high);
}

/* A flaw that pushed against the verdict needs no check: the verdict stands in spite of it. Nor
 * does one that a deeper run has met. */
static oxl_reasons next_checks(oxl_reasons reasons, enum oxl_verdict v, bool deeper)
{
    oxl_reasons next = 0, idle = 0;
    if (v == OXL_VERDICT_GOOD)
        idle = oxl_reasons_pushing(reasons, OXL_PUSH_SHORTER);
    else if (v == OXL_VERDICT_BAD)
        idle = oxl_reasons_pushing(reasons, OXL_PUSH_LONGER);
    if (deeper && v != OXL_VERDICT_INCONCLUSIVE)
        idle = oxl_reasons_add(idle, OXL_R_PART_EMPTIED);
    for (unsigned i = 0; i < OXL_R_COUNT; i++)
        if (oxl_reasons_has(reasons & ~idle, (enum oxl_reason)i) &&
            oxl_reason_next((enum oxl_reason)i)[0] != '\0')
            next = oxl_reasons_add(next, (enum oxl_reason)i);
    return next;
}

/* A run that was set aside does not decide, but a verdict that it contradicts does not stand. */
static bool aside_objects(const struct panel *p, enum oxl_verdict v,
                          const struct oxl_profile *profile)
{
    if (!p->aside)
        return false;
    struct oxl_span d = judge_delay_of(p->aside);
    return (v == OXL_VERDICT_BAD && !(d.high < profile->bad_s)) ||
           (v == OXL_VERDICT_GOOD && !(d.low > profile->good_s));
}

static void decide(struct panel *p, const struct oxl_profile *profile, struct oxl_result *out)
{
    struct claims c = judge_collect(p, profile);
    unsigned delay = 0, oxygen = 0;
    if (c.delay_known)
        delay = zones_of(c.delay.low, c.delay.high, profile->bad_s, profile->good_s);
    if (c.oxygen_known)
        oxygen = zones_of(c.oxygen.low, c.oxygen.high, out->bad_limit_mg, out->good_limit_mg);
    bool open = claim_open(&c.delay, c.delay_known) && claim_open(&c.oxygen, oxygen != 0);
    struct judgement j = judge_zones(delay, oxygen, open);
    if (aside_objects(p, j.verdict, profile)) {
        j.verdict = OXL_VERDICT_INCONCLUSIVE;
        p->found = oxl_reasons_add(p->found, OXL_R_RUNS_SCATTER);
    }
    out->verdict = j.verdict;
    if (j.disagree)
        p->found = oxl_reasons_add(p->found, OXL_R_SECONDS_AND_GRAMS_DISAGREE);
    if (j.straddles && (!open || out->held))
        p->found = oxl_reasons_add(p->found, OXL_R_STRADDLES_LIMIT);
    static const oxl_reasons word[] = {[OXL_VERDICT_BAD] = OXL_REASON_BIT(OXL_R_LEAK_CHECK_FIRST) |
                                                           OXL_REASON_BIT(OXL_R_LOW_STORAGE),
                                       [OXL_VERDICT_QUESTIONABLE] =
                                           OXL_REASON_BIT(OXL_R_MIDDLE_STORAGE),
                                       [OXL_VERDICT_GOOD] = OXL_REASON_BIT(OXL_R_GOOD_STORAGE)};
    p->found |= word[j.verdict];
    /* It has been done, and found nothing. */
    if (oxl_reasons_has(p->common, OXL_R_LEAK_NOT_FOUND))
        p->found &= ~OXL_REASON_BIT(OXL_R_LEAK_CHECK_FIRST);
}

void oxl_judge(const struct oxl_run_result *runs, size_t n, const struct oxl_profile *profile,
               const struct oxl_session_facts *facts, struct oxl_result *out)
{
    struct panel p = {.n = 0};
    *out = (struct oxl_result){.verdict = OXL_VERDICT_INCONCLUSIVE, .runs = (int)n};
    p.common = session_reasons(facts, runs, n);
    take_alike(&p, runs, n, profile->run_rpm_band);
    set_aside(&p);
    show_runs(&p, out);
    for (size_t i = 0; i < n; i++)
        out->valid_runs += runs[i].valid;
    out->bad_limit_mg = 1000 * profile->bad_g_per_g_s * out->air_g_s;
    out->good_limit_mg = 1000 * profile->good_g_per_g_s * out->air_g_s;
    out->reasons = p.common;
    if (p.n > 0) {
        decide(&p, profile, out);
        for (size_t i = 0; i < p.n; i++)
            out->reasons |= p.runs[i]->reasons;
    } else {
        p.found = oxl_reasons_add(p.found, OXL_R_NO_VALID_RUN);
        for (size_t i = 0; i < n; i++)
            out->reasons |= runs[i].reasons;
    }
    out->reasons |= p.found;
    out->next = next_checks(out->reasons, out->verdict, out->deeper_run > 0);
}
