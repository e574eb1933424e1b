/* The converter's kinetics and the rear sensor's curve, drawn anew for every car from ranges that
 * hold what is known of converters of many kinds (docs/validation.md, "The harder world"), and the
 * figures by what was drawn. */
#include <math.h>
#include <stdio.h>

#include "campaign.h"

/* Two models whose equations differ: a plug flow whose sites take up gas by a rate of the first
 * order, and a few well-mixed tanks of grains that fill from the outside in. */
static void draw_model(struct oxl_plant_settings *p, struct oxl_random *r)
{
    bool tanks = oxl_random_unit(r) < 0.5, slow = oxl_random_unit(r) < 0.6;
    p->cells = (unsigned)(tanks ? between(r, 3, 9) : between(r, 14, 27));
    p->shell = log_between(r, 0.3, 6);
    p->bulk_share_pct = slow ? between(r, 0, 45) : 0;
    p->bulk_tau_s = between(r, 3, 12);
    snprintf(p->catalyst_model, sizeof p->catalyst_model, "%s",
             tanks  ? "tanks"
             : slow ? "two-site"
                    : "plug");
}

static void draw_rates(struct oxl_plant_settings *p, struct oxl_random *r)
{
    double k = log_between(r, 6, 60);
    p->fill_k_per_g = k / (1e-3 * p->capacity_mg);
    p->release_k_per_g = p->fill_k_per_g * between(r, 0.4, 1);
    p->k_flow_power = between(r, 0, 1);
    p->slip_pct = between(r, 0, 12);
    p->reoxidation_pct_s = between(r, 0, 0.4);
    p->start_fill_pct = between(r, 0, 100);
}

static void draw_rear(struct oxl_plant_settings *p, struct oxl_random *r)
{
    if (oxl_random_unit(r) < 0.5) {
        p->rear_bottom_v = between(r, 0.02, 0.10);
        p->rear_top_v = between(r, 0.76, 0.90);
    }
    if (oxl_random_unit(r) < 0.3)
        p->rear_rich_v = between(r, 0.01, 0.08);
}

void kinetics_draw(struct car *c)
{
    struct oxl_random r;
    if (c->family == FAMILY_BUILTIN)
        return;
    /* From the seed alone, so that the rest of each car stays what it was. */
    oxl_random_seed(&r, c->seed ^ 0x41e71c5u);
    draw_model(&c->scenario.plant, &r);
    draw_rates(&c->scenario.plant, &r);
    draw_rear(&c->scenario.plant, &r);
}

/* ---- figures --------------------------------------------------------------------------------- */
struct row {
    struct sampling delay, mass, target, mass_bound, target_bound;
    size_t tests, dead, dead_bad, sound, sound_good, sound_spared, wrong;
};

static void free_row(struct row *row)
{
    struct sampling *all[] = {&row->delay, &row->mass, &row->target, &row->mass_bound,
                              &row->target_bound};
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        sampling_free(all[i]);
}

static void add_bound(struct row *row, const struct trial *t, const struct trial_run *r)
{
    const struct oxl_run_result *g = &r->got;
    double truth = g->dropped ? r->truth.stored_mg : r->truth.taken_mg;
    if (oxl_known(g->o2_mg.low) && oxl_known(truth))
        sampling_add(&row->mass_bound, g->o2_mg.low <= truth);
    if (oxl_known(g->delay_at_target_s.low) && t->ideal.known)
        sampling_add(&row->target_bound, g->delay_at_target_s.low <= t->ideal.delay_s);
}

static void add_run(struct row *row, const struct trial *t, const struct trial_run *r)
{
    const struct oxl_run_result *g = &r->got;
    if (!g->valid || !r->has_truth)
        return;
    if (g->o2_is_lower_bound && !(r->truth.delay_s < 0))
        add_bound(row, t, r);
    if (!g->dropped || !oxl_known(r->truth.delay_s))
        return;
    sampling_add(&row->delay, span_covers(&g->delay_s, r->truth.delay_s));
    if (g->o2_is_lower_bound)
        return;
    if (oxl_known(g->o2_mg.low))
        sampling_add(&row->mass, span_covers(&g->o2_mg, r->truth.stored_mg));
    if (oxl_known(g->delay_at_target_s.value) && t->ideal.known && !t->ideal.held)
        sampling_add(&row->target, span_covers(&g->delay_at_target_s, t->ideal.delay_s));
}

static void add_test(struct row *row, const struct trial *t)
{
    const enum truth_class c = trial_class(t);
    const enum oxl_conclusion said = t->has_result ? t->result.conclusion : OXL_CONCLUSION_NONE;
    row->tests++;
    row->dead += c == TRUTH_DEAD;
    row->dead_bad += c == TRUTH_DEAD && said == OXL_CONCLUSION_BAD;
    row->sound += c == TRUTH_SOUND;
    row->sound_good += c == TRUTH_SOUND && said == OXL_CONCLUSION_GOOD;
    row->sound_spared += c == TRUTH_SOUND && said == OXL_CONCLUSION_NOT_BAD;
    row->wrong += trial_is_wrong(t);
    for (int k = 0; k < t->runs; k++)
        add_run(row, t, &t->run[k]);
}

static double share(const struct sampling *s)
{
    return sampling_share_within(s, 1, 1);
}

static void print_row(FILE *out, const char *name, const struct row *row)
{
    fprintf(out, "  %-22s %5zu %6zu  %5.3f  %5.3f  %5.3f   %5.3f  %5.3f", name, row->tests,
            row->delay.n, share(&row->delay), share(&row->mass), share(&row->target),
            share(&row->mass_bound), share(&row->target_bound));
    fprintf(out, "   %4zu/%-4zu %4zu+%zu/%-4zu %5zu\n", row->dead_bad, row->dead, row->sound_good,
            row->sound_spared, row->sound, row->wrong);
}

typedef bool (*in_band)(const struct trial *t, double low, double high);

static bool by_model(const struct trial *t, double low, double high)
{
    const double model = (double)t->kinetics.model;
    return model >= low && model < high;
}

static bool by_k(const struct trial *t, double low, double high)
{
    return t->kinetics.k >= low && t->kinetics.k < high;
}

static bool by_flow(const struct trial *t, double low, double high)
{
    return t->air_g_s >= low && t->air_g_s < high;
}

static bool by_slip(const struct trial *t, double low, double high)
{
    return t->kinetics.slip_pct >= low && t->kinetics.slip_pct < high;
}

static bool by_slow(const struct trial *t, double low, double high)
{
    return t->kinetics.slow_pct >= low && t->kinetics.slow_pct < high;
}

static bool by_fill(const struct trial *t, double low, double high)
{
    return t->kinetics.start_pct >= low && t->kinetics.start_pct < high;
}

static const struct band {
    const char *name;
    in_band in;
    double low, high;
} bands[] = {
    {"all", by_model, 0, 9},
    {"plug", by_model, KINETICS_PLUG, KINETICS_PLUG + 1},
    {"two-site", by_model, KINETICS_TWO_SITE, KINETICS_TWO_SITE + 1},
    {"tanks", by_model, KINETICS_TANKS, KINETICS_TANKS + 1},
    {"K under 10", by_k, 0, 10},
    {"K 10 to 20", by_k, 10, 20},
    {"K 20 to 40", by_k, 20, 40},
    {"K over 40", by_k, 40, 1e9},
    {"slip under 4 %", by_slip, 0, 4},
    {"slip 4 to 8 %", by_slip, 4, 8},
    {"slip over 8 %", by_slip, 8, 100},
    {"slow share 0", by_slow, 0, 0.01},
    {"slow share to 20 %", by_slow, 0.01, 20},
    {"slow share over 20 %", by_slow, 20, 100},
    {"start under 30 % full", by_fill, 0, 30},
    {"start over 70 % full", by_fill, 70, 101},
    {"under 6 g/s", by_flow, 0, 6},
    {"over 6 g/s", by_flow, 6, 100},
};

void kinetics_print(FILE *out, const struct trial *t, size_t n)
{
    fputs(
        "\nKinetics, families plain and clumsy: share of intervals that hold, of bounds not above "
        "the truth;\ndead called bad, sound called good + not bad, wrong verdicts\n"
        "  cars                   tests   runs  delay   mass  target  bounds: mass target\n",
        out);
    for (size_t b = 0; b < sizeof bands / sizeof bands[0]; b++) {
        struct row row = {0};
        for (size_t i = 0; i < n; i++)
            if (is_fair(&t[i]) && bands[b].in(&t[i], bands[b].low, bands[b].high))
                add_test(&row, &t[i]);
        print_row(out, bands[b].name, &row);
        free_row(&row);
    }
}

/* ---- what is said of the sensors ---- */
void rear_words_print(FILE *out, const struct trial *t, size_t n)
{
    static const struct {
        enum oxl_reason reason;
        const char *name;
    } words[] = {{OXL_R_REAR_STUCK, "rear-stuck"},
                 {OXL_R_REAR_SLOW, "rear-slow"},
                 {OXL_R_REAR_BIASED_RICH, "rear-biased-rich"},
                 {OXL_R_REAR_BIASED_LEAN, "rear-biased-lean"}};
    fputs("\nWhat is said of the rear sensor, of healthy ones and of those it is true of\n", out);
    for (size_t w = 0; w < sizeof words / sizeof words[0]; w++) {
        size_t falsely = 0, healthy = 0, truly = 0, faulty = 0;
        for (size_t i = 0; i < n; i++) {
            bool is = words[w].reason == OXL_R_REAR_STUCK  ? t[i].rear_dead
                      : words[w].reason == OXL_R_REAR_SLOW ? t[i].rear_slow
                                                           : t[i].rear_biased;
            bool said = oxl_reasons_has(t[i].result.reasons, words[w].reason);
            healthy += t[i].has_result && !is;
            faulty += t[i].has_result && is;
            falsely += said && !is;
            truly += said && is;
        }
        fprintf(out, "  %-18s %4zu of %zu    %4zu of %zu\n", words[w].name, falsely, healthy, truly,
                faulty);
    }
}
