/* What each run claims, and all of them together. */
#include "judge.h"

#include <stdlib.h>

struct oxl_span oxl_judge_delay_of(const struct oxl_run_result *r)
{
    return oxl_known(r->delay_at_target_s.low) ? r->delay_at_target_s : r->delay_s;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double oxl_judge_median(double *v, size_t n)
{
    if (n == 0)
        return NAN;
    qsort(v, n, sizeof v[0], by_size);
    return n % 2 ? v[n / 2] : 0.5 * (v[n / 2 - 1] + v[n / 2]);
}

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

/* ---- all of them ---- */
/* One run's claim on one figure, with its value. */
struct entry {
    struct claim c;
    double value;
    int run;
};
struct entries {
    struct entry of[MAX_RUNS];
    size_t n;
};

static bool closed(struct claim c)
{
    return isfinite(c.low) && isfinite(c.high);
}

/* The run whose claim the joined one is; 0 when it is made of several. */
static int source(const struct entries *e, struct claim all)
{
    size_t two = 0, alike = 0;
    int run = 0;
    for (size_t i = 0; i < e->n; i++)
        two += closed(e->of[i].c);
    for (size_t i = 0; i < e->n; i++) {
        struct claim c = e->of[i].c;
        if ((two > 0 && !closed(c)) || (isfinite(all.low) && c.low != all.low) ||
            (isfinite(all.high) && c.high != all.high))
            continue;
        alike++;
        run = e->of[i].run;
    }
    return two > 1 || alike != 1 ? 0 : run;
}

/* Values with two ends count by the medians of their ends, or by their hull when they do not
 * overlap; bounds cut from both sides. */
static struct figure combine(const struct entries *e)
{
    struct figure out = {.n = e->n};
    double low[MAX_RUNS], high[MAX_RUNS], value[MAX_RUNS];
    double least = INFINITY, most = -INFINITY, floor_ = -INFINITY, ceiling = INFINITY;
    double last_low = -INFINITY, first_high = INFINITY;
    size_t two = 0;
    for (size_t i = 0; i < e->n; i++) {
        struct claim c = e->of[i].c;
        least = fmin(least, c.low);
        most = fmax(most, c.high);
        if (closed(c)) {
            value[two] = e->of[i].value;
            low[two] = c.low;
            high[two++] = c.high;
            last_low = fmax(last_low, c.low);
            first_high = fmin(first_high, c.high);
        } else {
            floor_ = fmax(floor_, c.low);
            ceiling = fmin(ceiling, c.high);
        }
    }
    struct claim all = {floor_, ceiling}, hull = {least, most};
    if (two > 0) {
        struct claim mid = {oxl_judge_median(low, two), oxl_judge_median(high, two)};
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
    out.value = oxl_judge_median(value, two);
    out.run = source(e, out.all);
    return out;
}

/* "At least nothing" says nothing. */
static struct oxl_span span_of(struct claim c, double value)
{
    if (closed(c))
        return (struct oxl_span){value, c.low, c.high};
    if (isfinite(c.low) && c.low > 0)
        return (struct oxl_span){NAN, c.low, INFINITY};
    return (struct oxl_span){NAN, NAN, isfinite(c.high) ? c.high : NAN};
}

struct oxl_span oxl_judge_span_of(const struct figure *f)
{
    struct claim c = f->n > 0 ? f->all : (struct claim){-INFINITY, INFINITY};
    /* Two bounds from two sides have no value of their own: the middle stands for it. */
    return span_of(c, oxl_known(f->value) ? fmin(fmax(f->value, c.low), c.high)
                                          : 0.5 * (c.low + c.high));
}

/* ---- each run ---- */
oxl_reasons oxl_judge_flaws(const struct panel *p, const struct oxl_run_result *r)
{
    return (r->reasons & ~p->refuted) | p->common;
}

bool oxl_judge_measures_all(const struct oxl_run_result *r, oxl_reasons flaws)
{
    return r->deeper && r->dropped && !oxl_reasons_has(flaws, OXL_R_PART_EMPTIED) &&
           oxl_known(r->o2_mg.value) && isfinite(r->o2_mg.high);
}

/* Too deep and at the trim's limit is what a deeper run is. Less is stored at a higher flux, and
 * that much more could have been stored at the target. */
static struct claim at_target(struct claim c, const struct oxl_run_result *r,
                              const struct oxl_profile *profile)
{
    double ratio = r->shift_pct / profile->target_pct;
    if (ratio > 1)
        c.high *= pow(ratio, OXL_STORE_PER_LOG_FLUX);
    return c;
}

/* A bed stores less against a stronger flow, a weak one by far: of what a pulse that was too
 * shallow has shown, no more than in proportion to its depth. */
static struct claim from_shallow(struct claim c, const struct oxl_run_result *r,
                                 const struct oxl_profile *profile)
{
    if (oxl_reasons_has(r->reasons, OXL_R_UNDER_ENRICHED) && c.low > 0)
        c.low *= r->shift_pct / profile->target_pct;
    return c;
}

static struct claim mass_of(const struct oxl_run_result *r, oxl_reasons flaws,
                            const struct oxl_profile *profile)
{
    struct claim c = from_shallow(claim_of(r->o2_mg), r, profile);
    if (oxl_judge_measures_all(r, flaws))
        c = at_target(c, r, profile);
    return open_by(c, flaws & ~settled_by_mass(r));
}

/* Neither depth nor lambda: nothing says how empty the store was, nor how lean the gas. Where a
 * larger dose may not have emptied the store a smaller one may not have either. And a deeper run
 * knows better than the others, whose mass can only be too small. */
static oxl_reasons claim_flaws(const struct panel *p, const struct oxl_run_result *r)
{
    oxl_reasons flaws = oxl_judge_flaws(p, r);
    if ((p->deeper && !oxl_judge_measures_all(r, flaws)) ||
        (!r->deeper && r->o2_removed_mg < p->too_little_mg) ||
        (r->x_source != OXL_XSRC_LAMBDA && oxl_reasons_has(flaws, OXL_R_DEPTH_UNKNOWN)))
        flaws = oxl_reasons_add(flaws, OXL_R_PART_EMPTIED);
    return flaws;
}

/* What a slow rear may have added: the store had let gas through so much earlier, whether the rear
 * showed it in the end or not. What it took up in that time is no more than its share of the time,
 * since the gas fades. */
static struct claim less_lag(struct claim c, double lag_s)
{
    c.low -= lag_s;
    return c;
}

static struct claim less_lag_mg(struct claim c, const struct oxl_run_result *r, double lag_s)
{
    const double timed_s = r->dropped ? r->delay_s.value : r->delay_s.low;
    if (lag_s > 0 && c.low > 0)
        c.low *= timed_s > 0 ? fmax(0, 1 - lag_s / timed_s) : 0;
    return c;
}

/* What one run says of each figure, as open as its flaws leave it. */
struct run_claims {
    struct claim delay, at_target, oxygen;
};

static struct run_claims claims_of(const struct panel *p, const struct oxl_run_result *r,
                                   const struct oxl_profile *profile)
{
    const oxl_reasons flaws = claim_flaws(p, r);
    const double lag_s = p->rear_lag_s + r->rear_lag_s;
    return (struct run_claims){
        .delay = open_by(claim_of(r->delay_s), flaws),
        .at_target = less_lag(open_by(claim_of(r->delay_at_target_s), flaws), lag_s),
        .oxygen = less_lag_mg(mass_of(r, flaws, profile), r, lag_s),
    };
}

/* Flaws may push a time both ways, so that it bounds nothing; that it was timed stays a fact. */
static struct oxl_span or_alone(struct oxl_span s, double timed_s)
{
    return !oxl_known(s.low) && !oxl_known(s.high) && timed_s > 0
               ? (struct oxl_span){timed_s, NAN, NAN}
               : s;
}

struct oxl_run_figures oxl_run_as_judged(const struct oxl_run_result *r,
                                         const struct oxl_result *result,
                                         const struct oxl_profile *profile)
{
    struct panel p = {.profile = profile};
    if (result) {
        p.common = result->session;
        p.refuted = result->refuted;
        p.rear_lag_s = result->rear_lag_s;
        p.too_little_mg = result->too_little_mg;
        p.deeper = result->deeper_run > 0;
    }
    const struct run_claims c = claims_of(&p, r, profile);
    return (struct oxl_run_figures){
        .delay_s = or_alone(span_of(c.delay, r->delay_s.value), r->delay_s.value),
        .delay_at_target_s = span_of(c.at_target, r->delay_at_target_s.value),
        .o2_mg = span_of(c.oxygen, r->o2_mg.value)};
}

static void enter(struct entries *e, const struct oxl_run_result *r, const struct oxl_span *s,
                  struct claim c)
{
    if (oxl_known(s->low) || oxl_known(s->high))
        e->of[e->n++] = (struct entry){c, s->value, r->run};
}

/* Bounds are not compared with values, nor is a deeper run with the others. */
static void find_spread(const struct entries *as_timed, struct claims *out)
{
    double first = INFINITY, last = -INFINITY;
    for (size_t i = 0; i < as_timed->n; i++) {
        if (!closed(as_timed->of[i].c))
            continue;
        out->spread_runs++;
        first = fmin(first, as_timed->of[i].value);
        last = fmax(last, as_timed->of[i].value);
    }
    out->spread_s = out->spread_runs > 1 ? last - first : NAN;
    out->spread_runs = out->spread_runs > 1 ? out->spread_runs : 0;
}

static double median_of(const struct entries *e)
{
    double v[MAX_RUNS];
    size_t n = 0;
    for (size_t i = 0; i < e->n; i++)
        if (oxl_known(e->of[i].value))
            v[n++] = e->of[i].value;
    return oxl_judge_median(v, n);
}

struct claims oxl_judge_collect(struct panel *p, const struct oxl_profile *profile)
{
    struct entries delay = {.n = 0}, oxygen = {.n = 0}, as_timed = {.n = 0};
    struct claims out = {.at_target = false};
    for (size_t i = 0; i < p->n; i++)
        p->deeper = p->deeper || p->runs[i]->deeper;
    p->too_little_mg = oxl_judge_too_little_mg(p);
    for (size_t i = 0; i < p->n; i++) {
        const struct oxl_run_result *r = p->runs[i];
        const struct run_claims c = claims_of(p, r, profile);
        /* The seconds of a deeper run count at the target only. */
        const bool at_target = r->deeper || oxl_known(r->delay_at_target_s.low);
        out.at_target = out.at_target || oxl_known(r->delay_at_target_s.low);
        enter(&delay, r, at_target ? &r->delay_at_target_s : &r->delay_s,
              at_target ? c.at_target : c.delay);
        if (!r->deeper)
            enter(&as_timed, r, &r->delay_s, c.delay);
        enter(&oxygen, r, &r->o2_mg, c.oxygen);
    }
    out.delay = combine(&delay);
    out.oxygen = combine(&oxygen);
    out.as_timed = combine(&as_timed);
    oxl_judge_take_back(p, &out);
    out.timed_s = median_of(&as_timed);
    find_spread(&as_timed, &out);
    /* A store that held more in one run was not empty in the others: their times are too short. */
    if (out.delay.above || out.oxygen.above)
        out.delay.all.high = out.oxygen.all.high = out.as_timed.all.high = INFINITY;
    if (out.as_timed.above)
        out.as_timed.all.high = INFINITY;
    if (out.delay.scatter || out.oxygen.scatter)
        p->found = oxl_reasons_add(p->found, OXL_R_RUNS_SCATTER);
    return out;
}
