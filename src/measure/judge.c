#include "oxylag/measure.h"

#include <stdlib.h>

#include "parts.h"

enum { MAX_RUNS = 64 };

/* One run's claim: the truth lies in [low, high]; an end is infinite where a bound or a flaw
 * leaves it open. */
struct claim {
    double low, high;
};

struct panel {
    const struct oxl_run_result *runs[MAX_RUNS]; /* valid, alike, not set aside */
    size_t n;
    const struct oxl_run_result *aside; /* far from the others; NULL when none */
    oxl_reasons common;                 /* of the session; they bear on every run */
    oxl_reasons found;                  /* about the set of runs */
};

/* ---- which runs decide ---- */
static bool alike(const struct oxl_run_result *a, const struct oxl_run_result *b, double band)
{
    return !oxl_known(a->rpm) || !oxl_known(b->rpm) || fabs(a->rpm - b->rpm) <= band;
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

static struct oxl_span delay_of(const struct oxl_run_result *r)
{
    return oxl_known(r->delay_at_target_s.low) ? r->delay_at_target_s : r->delay_s;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *v, size_t n)
{
    if (n == 0)
        return NAN;
    qsort(v, n, sizeof v[0], by_size);
    return n % 2 ? v[n / 2] : 0.5 * (v[n / 2 - 1] + v[n / 2]);
}

/* How far run i lies from the median of the others, in their joint half-widths; 0 when it is no
 * outlier by size either, or the others do not agree among themselves. */
static double outlying(const struct panel *p, size_t i)
{
    double v[MAX_RUNS], half[MAX_RUNS];
    size_t n = 0;
    for (size_t j = 0; j < p->n; j++) {
        struct oxl_span s = delay_of(p->runs[j]);
        if (!oxl_known(s.value) || !isfinite(s.high))
            return 0; /* bounds are not compared with values */
        if (j == i)
            continue;
        v[n] = s.value;
        half[n++] = 0.5 * (s.high - s.low);
    }
    struct oxl_span own = delay_of(p->runs[i]);
    double mid = median(v, n), width = median(half, n) + 0.5 * (own.high - own.low);
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

/* ---- claims ---- */
/* Flaws of the time that the mass does not share: it is what it is at any depth and any trim
 * speed, and a bound says itself how small it is. */
static oxl_reasons settled_by_mass(const struct oxl_run_result *r)
{
    oxl_reasons s = OXL_REASON_BIT(OXL_R_UNDER_ENRICHED) |
                    OXL_REASON_BIT(OXL_R_FAST_TRIM_RECOVERY) |
                    OXL_REASON_BIT(OXL_R_SUPPLY_TOO_SMALL);
    if (r->x_source == OXL_XSRC_LAMBDA)
        s |= OXL_REASON_BIT(OXL_R_SLOW_RELEASE) | OXL_REASON_BIT(OXL_R_DEPTH_UNKNOWN);
    return s;
}

/* A flaw that pushes shorter makes the figure a lower bound, and the other way round. */
static struct claim open_by(struct claim c, oxl_reasons flaws)
{
    oxl_reasons both = oxl_reasons_pushing(flaws, OXL_PUSH_VOID);
    if (both | oxl_reasons_pushing(flaws, OXL_PUSH_SHORTER))
        c.high = INFINITY;
    if (both | oxl_reasons_pushing(flaws, OXL_PUSH_LONGER))
        c.low = -INFINITY;
    return c;
}

static struct claim claim_of(struct oxl_span s)
{
    struct claim c = {-INFINITY, INFINITY};
    if (oxl_known(s.low))
        c.low = s.low;
    if (oxl_known(s.high))
        c.high = s.high;
    return c;
}

struct combined {
    struct claim all;
    bool scatter; /* claims exclude each other */
    bool above;   /* a lower bound lies above the values: those are of a part-emptied store */
};

/* All claims at once. Values with two ends count by the medians of their ends, or by their hull
 * when they do not overlap; bounds cut from both sides. */
static struct combined combine(const struct claim *c, size_t n)
{
    struct combined out = {.scatter = false};
    double low[MAX_RUNS], high[MAX_RUNS];
    double least = INFINITY, most = -INFINITY, floor_ = -INFINITY, ceiling = INFINITY;
    double last_low = -INFINITY, first_high = INFINITY;
    size_t two = 0;
    for (size_t i = 0; i < n; i++) {
        least = fmin(least, c[i].low);
        most = fmax(most, c[i].high);
        if (isfinite(c[i].low) && isfinite(c[i].high)) {
            low[two] = c[i].low;
            high[two++] = c[i].high;
            last_low = fmax(last_low, c[i].low);
            first_high = fmin(first_high, c[i].high);
        } else {
            floor_ = fmax(floor_, c[i].low);
            ceiling = fmin(ceiling, c[i].high);
        }
    }
    struct claim all = {floor_, ceiling}, hull = {least, most};
    if (two > 0) {
        struct claim mid = {median(low, two), median(high, two)};
        if (last_low > first_high) {
            out.scatter = true;
            mid.low = low[0];
            mid.high = high[two - 1];
        }
        out.above = floor_ > mid.high;
        all.low = fmax(all.low, mid.low);
        all.high = fmin(all.high, mid.high);
    }
    out.scatter = out.scatter || all.low > all.high;
    out.all = all.low > all.high ? hull : all;
    return out;
}

struct claims {
    struct claim delay, oxygen;
    bool delay_known, oxygen_known;
};

static struct claims collect(struct panel *p)
{
    struct claim delay[MAX_RUNS], oxygen[MAX_RUNS];
    size_t nd = 0, no = 0, part = 0;
    for (size_t i = 0; i < p->n; i++) {
        const struct oxl_run_result *r = p->runs[i];
        oxl_reasons flaws = r->reasons | p->common;
        part += oxl_reasons_has(flaws, OXL_R_PART_EMPTIED) != 0;
        /* Neither depth nor lambda: nothing says how empty the store was, nor how lean the gas. */
        if (r->x_source != OXL_XSRC_LAMBDA && oxl_reasons_has(flaws, OXL_R_DEPTH_UNKNOWN))
            flaws = oxl_reasons_add(flaws, OXL_R_PART_EMPTIED);
        struct oxl_span d = delay_of(r);
        if (oxl_known(d.low) || oxl_known(d.high))
            delay[nd++] = open_by(claim_of(d), flaws);
        if (oxl_known(r->o2_mg.low) || oxl_known(r->o2_mg.high))
            oxygen[no++] = open_by(claim_of(r->o2_mg), flaws & ~settled_by_mass(r));
    }
    struct combined d = combine(delay, nd), o = combine(oxygen, no);
    /* A store that held more in one run was not empty in the others: their times are too short. And
     * where most pulses were too small to empty it, the odd one that just was not proves little. */
    if (d.above || o.above || 2 * part > p->n)
        d.all.high = o.all.high = INFINITY;
    if (d.scatter || o.scatter)
        p->found = oxl_reasons_add(p->found, OXL_R_RUNS_SCATTER);
    return (struct claims){d.all, o.all, nd > 0, no > 0};
}

/* ---- figures to show ---- */
enum figure { FIGURE_DELAY, FIGURE_TARGET, FIGURE_OXYGEN };

static struct oxl_span figure_of(const struct oxl_run_result *r, enum figure f)
{
    return f == FIGURE_DELAY ? r->delay_s : (f == FIGURE_TARGET ? r->delay_at_target_s : r->o2_mg);
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
        if (oxl_known(s.value)) {
            c[n] = claim_of(s);
            v[n++] = s.value;
        } else if (oxl_known(s.low)) {
            bounds++;
            bound = fmax(bound, s.low);
        }
    }
    struct oxl_span out = span_unknown();
    if (n > 0) {
        struct claim all = combine(c, n).all;
        out.value = median(v, n);
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
        if (r->dropped && oxl_known(r->delay_s.value)) {
            dropped++;
            first = fmin(first, r->delay_s.value);
            last = fmax(last, r->delay_s.value);
        }
    }
    out->air_g_s = n_air > 0 ? sum_air / (double)n_air : NAN;
    out->rpm = n_rpm > 0 ? sum_rpm / (double)n_rpm : NAN;
    out->spread_s = dropped > 1 ? last - first : NAN;
    out->held = p->n > 0 && dropped == 0;
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

/* A flaw that pushed against the verdict needs no check: the verdict stands in spite of it. */
static oxl_reasons next_checks(oxl_reasons reasons, enum oxl_verdict v)
{
    oxl_reasons next = 0, idle = 0;
    if (v == OXL_VERDICT_GOOD)
        idle = oxl_reasons_pushing(reasons, OXL_PUSH_SHORTER);
    else if (v == OXL_VERDICT_BAD)
        idle = oxl_reasons_pushing(reasons, OXL_PUSH_LONGER);
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
    struct oxl_span d = delay_of(p->aside);
    return (v == OXL_VERDICT_BAD && !(d.high < profile->bad_s)) ||
           (v == OXL_VERDICT_GOOD && !(d.low > profile->good_s));
}

static void decide(struct panel *p, const struct oxl_profile *profile, struct oxl_result *out)
{
    struct claims c = collect(p);
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
    out->next = next_checks(out->reasons, out->verdict);
}
