/* What each run claims, and all of them together. */
#include "judge.h"

#include <stdlib.h>

struct oxl_span judge_delay_of(const struct oxl_run_result *r)
{
    return oxl_known(r->delay_at_target_s.low) ? r->delay_at_target_s : r->delay_s;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double judge_median(double *v, size_t n)
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

struct claim judge_claim_of(struct oxl_span s)
{
    struct claim c = {-INFINITY, INFINITY};
    if (oxl_known(s.low))
        c.low = s.low;
    if (oxl_known(s.high))
        c.high = s.high;
    return c;
}

/* All claims at once. Values with two ends count by the medians of their ends, or by their hull
 * when they do not overlap; bounds cut from both sides. */
struct combined judge_combine(const struct claim *c, size_t n)
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
        struct claim mid = {judge_median(low, two), judge_median(high, two)};
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

bool judge_measures_all(const struct oxl_run_result *r, oxl_reasons common)
{
    return r->deeper && r->dropped && !oxl_reasons_has(r->reasons | common, OXL_R_PART_EMPTIED) &&
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

/* A store so small that it would be a bad one at an ordinary idle: less is stored at a higher
 * flow, but not that much less. */
static bool small_at_any_flow(const struct claim *c, const struct oxl_profile *profile)
{
    const double usual_air_g_s = 3.0, flow_share = 0.8;
    return c->high < 1000 * profile->bad_g_per_g_s * usual_air_g_s * flow_share;
}

static oxl_reasons expected_of_deeper(void)
{
    return OXL_REASON_BIT(OXL_R_OVER_ENRICHED) | OXL_REASON_BIT(OXL_R_TRIM_AT_LIMIT);
}

static struct claim whole_mass(const struct oxl_run_result *r, oxl_reasons flaws,
                               const struct oxl_profile *profile)
{
    struct claim c = at_target(judge_claim_of(r->o2_mg), r, profile);
    flaws &= ~(settled_by_mass(r) | expected_of_deeper());
    if (small_at_any_flow(&c, profile))
        flaws &= ~OXL_REASON_BIT(OXL_R_HIGH_AIR_FLOW);
    return open_by(c, flaws);
}

struct claims judge_collect(struct panel *p, const struct oxl_profile *profile)
{
    struct claim delay[MAX_RUNS], oxygen[MAX_RUNS];
    size_t nd = 0, no = 0, part = 0, deeper = 0;
    for (size_t i = 0; i < p->n; i++)
        deeper += p->runs[i]->deeper;
    for (size_t i = 0; i < p->n; i++) {
        const struct oxl_run_result *r = p->runs[i];
        oxl_reasons flaws = r->reasons | p->common;
        bool all = judge_measures_all(r, p->common);
        part += oxl_reasons_has(flaws, OXL_R_PART_EMPTIED) != 0;
        /* Neither depth nor lambda: nothing says how empty the store was, nor how lean the gas.
         * And a deeper run knows better than the others, whose mass can only be too small. */
        if ((deeper > 0 && !all) ||
            (r->x_source != OXL_XSRC_LAMBDA && oxl_reasons_has(flaws, OXL_R_DEPTH_UNKNOWN)))
            flaws = oxl_reasons_add(flaws, OXL_R_PART_EMPTIED);
        /* The seconds of a deeper run count at the target only. */
        struct oxl_span d = r->deeper ? r->delay_at_target_s : judge_delay_of(r);
        if (oxl_known(d.low) || oxl_known(d.high))
            delay[nd++] = open_by(judge_claim_of(d), all ? flaws & ~expected_of_deeper() : flaws);
        if (oxl_known(r->o2_mg.low) || oxl_known(r->o2_mg.high))
            oxygen[no++] = all ? whole_mass(r, flaws, profile)
                               : open_by(judge_claim_of(r->o2_mg), flaws & ~settled_by_mass(r));
    }
    struct combined d = judge_combine(delay, nd), o = judge_combine(oxygen, no);
    /* A store that held more in one run was not empty in the others: their times are too short. And
     * where most pulses were too small to empty it, the odd one that just was not proves little. */
    if (d.above || o.above || (deeper == 0 && 2 * part > p->n))
        d.all.high = o.all.high = INFINITY;
    if (d.scatter || o.scatter)
        p->found = oxl_reasons_add(p->found, OXL_R_RUNS_SCATTER);
    return (struct claims){d.all, o.all, nd > 0, no > 0};
}
