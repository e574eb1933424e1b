/* Timing, oxygen, bounds and delay at target against the plant's truth. */
#include <math.h>

#include "campaign.h"

/* Vehicles that are what they seem: flaws are for the verdict's table. */
bool is_fair(const struct trial *t)
{
    return t->family == FAMILY_PLAIN || t->family == FAMILY_CLUMSY;
}

/* The ECU refreshes both sensors at least as often as they are read: what the link can give. */
static bool is_quick(const struct trial *t)
{
    return refresh_of_sensors_ms(t) <= 50;
}

static bool is_void(const struct trial_run *r)
{
    return !r->got.valid || !r->has_truth;
}

/* ---- timing ---------------------------------------------------------------------------------- */
enum { RATES = 5 };
static const double rate_edges[RATES + 1] = {0, 2.5, 4.5, 8, 14, 1e9};
static const char *const rate_names[RATES] = {"under 2.5", "2.5 - 4.5", "4.5 - 8", "8 - 14",
                                              "over 14"};

struct timing_row {
    struct sampling error, width, inside;
};

static int rate_of(const struct trial_run *r)
{
    double hz = 1000 / r->got.sample_round_ms;
    for (int i = 0; i < RATES; i++)
        if (hz < rate_edges[i + 1])
            return i;
    return RATES - 1;
}

static void timing_add(struct timing_row *row, const struct trial_run *r)
{
    const struct oxl_span *d = &r->got.delay_s;
    double truth = r->truth.delay_s;
    sampling_add(&row->error, fabs(d->value - truth));
    sampling_add(&row->width, d->high - d->low);
    sampling_add(&row->inside, truth >= d->low && truth <= d->high);
}

static void timing_line(FILE *out, const char *rate, const char *front, struct timing_row *row)
{
    fprintf(out, "  %-10s %-10s %6zu   %5.0f %5.0f %5.0f    %5.3f   %6.3f\n", rate, front,
            row->error.n, 1e3 * sampling_quantile(&row->error, 0.5),
            1e3 * sampling_quantile(&row->error, 0.95), 1e3 * sampling_quantile(&row->error, 0.99),
            sampling_share_within(&row->inside, 1, 1), sampling_quantile(&row->width, 0.5));
}

static void timing_free(struct timing_row *row)
{
    sampling_free(&row->error);
    sampling_free(&row->width);
    sampling_free(&row->inside);
}

enum { QUICK_LINK = 3 }; /* of rate_names: 8 Hz or more */

static void timing_table(FILE *out, const struct trial *t, size_t n, bool fair, struct figures *f)
{
    static const struct timing_row none;
    struct timing_row row[RATES][2], quick = none;
    for (int i = 0; i < RATES; i++)
        row[i][0] = row[i][1] = none;
    for (size_t i = 0; i < n; i++)
        for (int k = 0; k < t[i].runs; k++) {
            const struct trial_run *r = &t[i].run[k];
            if (is_fair(&t[i]) != fair || is_void(r) || !r->got.dropped ||
                !oxl_known(r->truth.delay_s))
                continue;
            int rate = rate_of(r);
            timing_add(&row[rate][t[i].wide], r);
            if (rate >= QUICK_LINK && t[i].wide && is_quick(&t[i]))
                timing_add(&quick, r);
        }
    fprintf(out,
            "\nDelay, %s: valid runs whose rear went lean\n"
            "  samples/s  front        runs   error ms: 50 95 99 %%    inside  width s\n",
            fair ? "families plain and clumsy" : "all other families");
    for (int i = 0; i < RATES; i++)
        for (int w = 1; w >= 0; w--) {
            if (row[i][w].error.n)
                timing_line(out, rate_names[i], w ? "wide" : "switching", &row[i][w]);
            if (row[i][w].error.n >= 100)
                f->coverage_least =
                    fmin(f->coverage_least, sampling_share_within(&row[i][w].inside, 1, 1));
            timing_free(&row[i][w]);
        }
    if (fair) {
        f->delay_median_s = sampling_quantile(&quick.error, 0.5);
        f->delay_p95_s = sampling_quantile(&quick.error, 0.95);
    }
    timing_free(&quick);
}

/* ---- stored oxygen --------------------------------------------------------------------------- */
enum { BANDS = 5 };
static const double band_edges[BANDS + 1] = {-90, -35, -25, -15, -10, 0};
static const char *const band_names[BANDS] = {"beyond -35", "-25 to -35", "-15 to -25",
                                              "-10 to -15", "above -10"};

static int band_of(double shift_pct)
{
    for (int i = 0; i < BANDS - 1; i++)
        if (shift_pct < band_edges[i + 1])
            return i;
    return BANDS - 1;
}

struct oxygen_row {
    struct sampling relative, within, inside, width;
};

static void oxygen_add(struct oxygen_row *row, const struct trial *t, const struct trial_run *r)
{
    bool wide = t->wide;
    const struct oxl_span *o = &r->got.o2_mg;
    double truth = r->truth.stored_mg, error = o->value - truth;
    double allowed = wide ? 0.10 * truth + 20 : 0.20 * truth + 30;
    sampling_add(&row->relative, truth > 50 ? 100 * error / truth : NAN);
    if (is_quick(t))
        sampling_add(&row->within, fabs(error) <= allowed);
    sampling_add(&row->inside, truth >= o->low && truth <= o->high);
    sampling_add(&row->width,
                 truth > 50 && isfinite(o->high) ? 100 * (o->high - o->low) / truth : NAN);
}

static void oxygen_line(FILE *out, const char *band, const char *front, struct oxygen_row *row)
{
    fprintf(out, "  %-11s %-10s %6zu   %+6.1f %+6.1f %+6.1f    %5.3f   %5.3f   %5.0f\n", band,
            front, row->inside.n, sampling_quantile(&row->relative, 0.05),
            sampling_quantile(&row->relative, 0.5), sampling_quantile(&row->relative, 0.95),
            sampling_share_within(&row->within, 1, 1), sampling_share_within(&row->inside, 1, 1),
            sampling_quantile(&row->width, 0.5));
}

static void oxygen_free(struct oxygen_row *row)
{
    sampling_free(&row->relative);
    sampling_free(&row->within);
    sampling_free(&row->inside);
    sampling_free(&row->width);
}

static void oxygen_table(FILE *out, const struct trial *t, size_t n, struct figures *f)
{
    static const struct oxygen_row none;
    struct oxygen_row row[BANDS][2], all[2] = {none, none};
    for (int i = 0; i < BANDS; i++)
        row[i][0] = row[i][1] = none;
    for (size_t i = 0; i < n; i++)
        for (int k = 0; k < t[i].runs; k++) {
            const struct trial_run *r = &t[i].run[k];
            if (!is_fair(&t[i]) || is_void(r) || !r->got.dropped ||
                !oxl_known(r->got.o2_mg.value) || r->got.air_source != OXL_AIRSRC_METER ||
                !oxl_known(r->truth.rear_lean_t_s))
                continue;
            int band = band_of(r->truth.shift_pct);
            oxygen_add(&row[band][t[i].wide], &t[i], r);
            if (band == 1 || band == 2)
                oxygen_add(&all[t[i].wide], &t[i], r);
        }
    fprintf(out,
            "\nStored oxygen, families plain and clumsy: runs whose rear went lean, air meter\n"
            "  shift %%     front        runs   error %%: 5 50 95 %% of runs  allowed  inside  "
            "width %%\n");
    for (int w = 1; w >= 0; w--) {
        for (int i = 0; i < BANDS; i++) {
            if (row[i][w].inside.n)
                oxygen_line(out, band_names[i], w ? "wide" : "switching", &row[i][w]);
            oxygen_free(&row[i][w]);
        }
        oxygen_line(out, "-15 to -35", w ? "wide" : "switching", &all[w]);
        f->o2_within[w] = sampling_share_within(&all[w].within, 1, 1);
        f->o2_covered[w] = sampling_share_within(&all[w].inside, 1, 1);
        oxygen_free(&all[w]);
    }
}

/* ---- bounds ---------------------------------------------------------------------------------- */
struct bound_row {
    struct sampling mass, target, own, share;
};

static void bound_add(struct bound_row *row, const struct trial *t, const struct trial_run *r)
{
    const struct oxl_run_result *g = &r->got;
    /* What a held run says is that all of it went in. A rear in gas at balance stands about 0.45 V:
     * where it fell below, the truth of the events ends, and the storing does not. */
    double truth = g->dropped ? r->truth.stored_mg : r->truth.taken_mg;
    if (oxl_known(g->o2_mg.low) && oxl_known(truth)) {
        sampling_add(&row->mass, g->o2_mg.low <= truth);
        sampling_add(&row->share, truth > 20 ? g->o2_mg.low / truth : NAN);
    }
    if (oxl_known(g->delay_at_target_s.low) && t->ideal.known)
        sampling_add(&row->target, g->delay_at_target_s.low <= t->ideal.delay_s);
    if (oxl_known(g->delay_at_target_s.low) && t->ideal_own.known)
        sampling_add(&row->own, g->delay_at_target_s.low <= t->ideal_own.delay_s);
}

static void bound_line(FILE *out, const char *name, struct bound_row *row)
{
    fprintf(out, "  %-13s %6zu   %5.3f   %5.2f   %6zu   %5.3f   %5.3f\n", name, row->mass.n,
            sampling_share_within(&row->mass, 1, 1), sampling_quantile(&row->share, 0.5),
            row->target.n, sampling_share_within(&row->target, 1, 1),
            sampling_share_within(&row->own, 1, 1));
    sampling_free(&row->own);
    sampling_free(&row->mass);
    sampling_free(&row->target);
    sampling_free(&row->share);
}

static void bound_table(FILE *out, const struct trial *t, size_t n, struct figures *f)
{
    static const struct bound_row none;
    struct bound_row held = none, part = none, both = none;
    for (size_t i = 0; i < n; i++)
        for (int k = 0; k < t[i].runs; k++) {
            const struct trial_run *r = &t[i].run[k];
            if (!is_fair(&t[i]) || is_void(r) || !r->got.o2_is_lower_bound ||
                r->truth.delay_s < 0) /* what was stored has no beginning then */
                continue;
            bound_add(r->got.dropped ? &part : &held, &t[i], r);
            bound_add(&both, &t[i], r);
        }
    f->bound_o2_held = sampling_share_within(&both.mass, 1, 1);
    f->bound_target_held = sampling_share_within(&both.target, 1, 1);
    f->bound_o2[0] = sampling_share_within(&held.mass, 1, 1);
    f->bound_o2[1] = sampling_share_within(&part.mass, 1, 1);
    f->bound_target[0] = sampling_share_within(&held.target, 1, 1);
    f->bound_target[1] = sampling_share_within(&part.target, 1, 1);
    f->bound_target_own = sampling_share_within(&held.own, 1, 1);
    fprintf(out, "\nLower bounds, families plain and clumsy: share not above the truth\n"
                 "  run            runs    mass   share     runs   at target, by its own rear\n");
    bound_line(out, "rear held", &held);
    bound_line(out, "part emptied", &part);
    bound_line(out, "both", &both);
}

/* ---- delay at target ------------------------------------------------------------------------- */
struct target_row {
    struct sampling raw, target, inside;
};

static void target_line(FILE *out, const char *band, const char *front, struct target_row *row)
{
    fprintf(out,
            "  %-11s %-10s %6zu   %+6.0f %+6.0f %+6.0f    %+6.0f %+6.0f %+6.0f   %5.3f  %5.3f\n",
            band, front, row->inside.n, sampling_quantile(&row->raw, 0.05),
            sampling_quantile(&row->raw, 0.5), sampling_quantile(&row->raw, 0.95),
            sampling_quantile(&row->target, 0.05), sampling_quantile(&row->target, 0.5),
            sampling_quantile(&row->target, 0.95), sampling_share_within(&row->target, -20, 20),
            sampling_share_within(&row->inside, 1, 1));
}

static void target_free(struct target_row *row)
{
    sampling_free(&row->raw);
    sampling_free(&row->target);
    sampling_free(&row->inside);
}

static void target_add(struct target_row *row, const struct trial *t, const struct trial_run *r)
{
    const struct oxl_span *d = &r->got.delay_at_target_s;
    double truth = t->ideal.delay_s;
    /* A tenth of a second is what the sampling leaves of the shortest delays. */
    double off = fmax(0, fabs(d->value - truth) - 0.1) * (d->value > truth ? 1 : -1);
    sampling_add(&row->raw, 100 * (r->got.delay_s.value - truth) / truth);
    if (is_quick(t))
        sampling_add(&row->target, 100 * off / truth);
    sampling_add(&row->inside, truth >= d->low && truth <= d->high);
}

static void target_table(FILE *out, const struct trial *t, size_t n, struct figures *f)
{
    static const struct target_row none;
    struct target_row row[BANDS][2], all = none;
    for (int i = 0; i < BANDS; i++)
        row[i][0] = row[i][1] = none;
    for (size_t i = 0; i < n; i++)
        for (int k = 0; k < t[i].runs; k++) {
            const struct trial_run *r = &t[i].run[k];
            if (!is_fair(&t[i]) || is_void(r) || !r->got.dropped || r->got.o2_is_lower_bound ||
                !oxl_known(r->got.delay_at_target_s.value) || !t[i].ideal.known || t[i].ideal.held)
                continue;
            int band = band_of(r->truth.shift_pct);
            target_add(&row[band][t[i].wide], &t[i], r);
            if (band == 1 || band == 2)
                target_add(&all, &t[i], r);
        }
    fprintf(
        out,
        "\nDelay at target against the same car under a perfect pulse of -20 %%, same families,\n"
        "fully emptied (error beyond 0.1 s)\n"
        "  shift %%     front        runs   raw %%: 5 50 95       predicted %%: 5 50 95     "
        "20 %%   inside\n");
    for (int w = 1; w >= 0; w--)
        for (int i = 0; i < BANDS; i++) {
            if (row[i][w].inside.n)
                target_line(out, band_names[i], w ? "wide" : "switching", &row[i][w]);
            target_free(&row[i][w]);
        }
    target_line(out, "-15 to -35", "both", &all);
    f->target_within = sampling_share_within(&all.target, -20, 20);
    f->target_covered = sampling_share_within(&all.inside, 1, 1);
    target_free(&all);
}

void tables_print(FILE *out, const struct trial *t, size_t n, struct figures *f)
{
    f->tests = n;
    f->coverage_least = 1;
    for (size_t i = 0; i < n; i++)
        f->runs += (size_t)t[i].runs;
    timing_table(out, t, n, true, f);
    timing_table(out, t, n, false, f);
    oxygen_table(out, t, n, f);
    bound_table(out, t, n, f);
    target_table(out, t, n, f);
    refresh_bands_print(out, t, n, f);
}
