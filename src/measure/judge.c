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
        struct oxl_span s = oxl_judge_delay_of(p->runs[j]);
        if (!oxl_known(s.value) || !isfinite(s.high) || p->runs[j]->deeper)
            return 0; /* bounds are not compared with values, nor is a deeper run with others */
        if (j == i)
            continue;
        v[n] = s.value;
        half[n++] = 0.5 * (s.high - s.low);
    }
    struct oxl_span own = oxl_judge_delay_of(p->runs[i]);
    double mid = oxl_judge_median(v, n),
           width = oxl_judge_median(half, n) + 0.5 * (own.high - own.low);
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

/* ---- what is shown beside the verdict ---- */
static void show_runs(const struct panel *p, struct oxl_result *out)
{
    double sum_air = 0, sum_rpm = 0;
    size_t n_air = 0, n_rpm = 0;
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
    }
    out->aside_run = p->aside ? p->aside->run : 0;
    out->air_g_s = n_air > 0 ? sum_air / (double)n_air : NAN;
    out->rpm = n_rpm > 0 ? sum_rpm / (double)n_rpm : NAN;
    out->held = held;
}

static void show_figures(const struct claims *c, struct oxl_result *out)
{
    out->spread_s = c->spread_s;
    out->spread_runs = c->spread_runs;
    out->delay_s = oxl_judge_span_of(&c->as_timed);
    out->delay_at_target_s = c->at_target ? oxl_judge_span_of(&c->delay) : span_unknown();
    out->o2_mg = oxl_judge_span_of(&c->oxygen);
    out->o2_run = oxl_figure_known(&out->o2_mg) ? c->oxygen.run : 0;
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

static bool figure_open(const struct figure *f, bool known)
{
    return !known || !isfinite(f->all.low) || !isfinite(f->all.high);
}

/* A run that was set aside does not decide, but what excludes a zone that it may lie in does not
 * stand. "Questionable" excludes nothing that one run could refute. */
static bool aside_objects(const struct panel *p, enum oxl_conclusion c,
                          const struct oxl_profile *profile)
{
    if (!p->aside || c == OXL_CONCLUSION_NONE || c == OXL_CONCLUSION_QUESTIONABLE)
        return false;
    struct oxl_span d = oxl_judge_delay_of(p->aside);
    unsigned zones = oxl_zones_of(d.low, d.high, profile->bad_s, profile->good_s);
    return zones == 0 || (zones & ~oxl_zones_left(c));
}

/* "Not bad" spares a converter: a bound that hardly passes the bad limit does not. Beds differ by
 * so much in how their seconds at the target follow from a run at another depth. */
static bool clears_bad(const struct claims *c, double bad_s, double bad_mg)
{
    const double clear = 2;
    return (c->delay.n > 0 && c->delay.all.low >= clear * bad_s) ||
           (c->oxygen.n > 0 && c->oxygen.all.low >= clear * bad_mg);
}

static void excludes_nothing(struct judgement *j)
{
    j->verdict = OXL_VERDICT_INCONCLUSIVE;
    j->conclusion = OXL_CONCLUSION_NONE;
}

static void decide(struct panel *p, const struct claims *c, const struct oxl_profile *profile,
                   struct oxl_result *out)
{
    unsigned delay = 0, oxygen = 0;
    if (c->delay.n > 0)
        delay = oxl_zones_of(c->delay.all.low, c->delay.all.high, profile->bad_s, profile->good_s);
    if (c->oxygen.n > 0)
        oxygen = oxl_zones_of(c->oxygen.all.low, c->oxygen.all.high, out->bad_limit_mg,
                              out->good_limit_mg);
    bool open = figure_open(&c->delay, c->delay.n > 0) && figure_open(&c->oxygen, oxygen != 0);
    struct judgement j = oxl_judge_zones(delay, oxygen, open);
    if (j.conclusion == OXL_CONCLUSION_NOT_BAD && !clears_bad(c, profile->bad_s, out->bad_limit_mg))
        excludes_nothing(&j);
    if (aside_objects(p, j.conclusion, profile)) {
        excludes_nothing(&j);
        p->found = oxl_reasons_add(p->found, OXL_R_RUNS_SCATTER);
    }
    out->verdict = j.verdict;
    out->conclusion = j.conclusion;
    if (j.disagree)
        p->found = oxl_reasons_add(p->found, OXL_R_SECONDS_AND_GRAMS_DISAGREE);
    const bool bounded = oxl_figure_known(&out->delay_s) || oxl_figure_known(&out->o2_mg) ||
                         oxl_figure_known(&out->delay_at_target_s);
    if (j.straddles && (!open || (out->held && bounded)))
        p->found = oxl_reasons_add(p->found, OXL_R_STRADDLES_LIMIT);
    static const oxl_reasons word[OXL_CONCLUSIONS] = {
        [OXL_CONCLUSION_BAD] =
            OXL_REASON_BIT(OXL_R_LEAK_CHECK_FIRST) | OXL_REASON_BIT(OXL_R_LOW_STORAGE),
        [OXL_CONCLUSION_QUESTIONABLE] = OXL_REASON_BIT(OXL_R_MIDDLE_STORAGE),
        [OXL_CONCLUSION_GOOD] = OXL_REASON_BIT(OXL_R_GOOD_STORAGE)};
    p->found |= word[j.conclusion];
    /* It has been done, and found nothing. */
    if (oxl_reasons_has(p->common, OXL_R_LEAK_NOT_FOUND))
        p->found &= ~OXL_REASON_BIT(OXL_R_LEAK_CHECK_FIRST);
}

/* Nobody saw how quickly the rear falls: would a quick one leave less open? */
static bool open_by_unseen_fall(struct panel p, const struct oxl_profile *profile,
                                const struct oxl_result *out)
{
    struct oxl_result quick = *out;
    if (!isinf(p.rear_lag_s) || out->verdict != OXL_VERDICT_INCONCLUSIVE)
        return false;
    p.rear_lag_s = 0;
    const struct claims c = oxl_judge_collect(&p, profile);
    show_figures(&c, &quick);
    decide(&p, &c, profile, &quick);
    return quick.conclusion != out->conclusion;
}

/* Why: of the session, of the runs that count (of all where none does), and of them together. Once
 * a deeper run has measured the whole store, the part that the others emptied is beside the point.
 */
static oxl_reasons reasons_of(const struct panel *p, const struct oxl_run_result *runs, size_t n)
{
    oxl_reasons all = p->common | p->found;
    bool measured = false;
    for (size_t i = 0; i < p->n; i++) {
        const oxl_reasons flaws = oxl_judge_flaws(p, p->runs[i]);
        all |= flaws;
        measured = measured || oxl_judge_measures_all(p->runs[i], flaws);
    }
    for (size_t i = 0; i < n && p->n == 0; i++)
        all |= runs[i].reasons & ~p->refuted;
    return measured ? all & ~OXL_REASON_BIT(OXL_R_PART_EMPTIED) : all;
}

/* "More than this" where nothing was measured, and what a new converter may lack beside a good
 * result: they led to the next step, and are no reasons beyond that. */
static oxl_reasons pointless(const struct oxl_result *out)
{
    return (out->verdict == OXL_VERDICT_GOOD ? OXL_REASON_BIT(OXL_R_NEW_CONVERTER) : 0) |
           (out->valid_runs == 0 ? OXL_REASON_BIT(OXL_R_PART_EMPTIED) : 0);
}

/* A time that bounds nothing is shown alone where no verdict stands beside it. */
static void show_time_alone(const struct claims *c, struct oxl_result *out)
{
    if (out->verdict == OXL_VERDICT_INCONCLUSIVE && !oxl_known(out->delay_s.low) &&
        !oxl_known(out->delay_s.high) && c->timed_s > 0)
        out->delay_s.value = c->timed_s;
}

void oxl_judge(const struct oxl_run_result *runs, size_t n, const struct oxl_profile *profile,
               const struct oxl_session_facts *facts, struct oxl_result *out)
{
    struct panel p = {
        .refuted = facts->refuted, .profile = profile, .rear_lag_s = facts->rear_lag_s};
    *out = (struct oxl_result){.verdict = OXL_VERDICT_INCONCLUSIVE, .runs = (int)n};
    p.common = session_reasons(facts, runs, n);
    take_alike(&p, runs, n, profile->run_rpm_band);
    set_aside(&p);
    show_runs(&p, out);
    for (size_t i = 0; i < n; i++)
        out->valid_runs += runs[i].valid;
    out->bad_limit_mg = 1000 * profile->bad_g_per_g_s * out->air_g_s;
    out->good_limit_mg = 1000 * profile->good_g_per_g_s * out->air_g_s;
    struct claims c = oxl_judge_collect(&p, profile);
    show_figures(&c, out);
    if (p.n > 0)
        decide(&p, &c, profile, out);
    else
        p.found = oxl_reasons_add(p.found, OXL_R_NO_VALID_RUN);
    if (p.n > 0 && open_by_unseen_fall(p, profile, out))
        p.found = oxl_reasons_add(p.found, OXL_R_REAR_FALL_UNSEEN);
    show_time_alone(&c, out);
    out->reasons = reasons_of(&p, runs, n);
    out->lead = oxl_judge_lead(&c, profile, out);
    out->next = oxl_judge_next(out, runs, n, facts);
    out->reasons &= ~pointless(out);
    out->session = p.common;
    out->refuted = p.refuted;
    out->rear_lag_s = p.rear_lag_s;
    out->too_little_mg = p.too_little_mg;
}
