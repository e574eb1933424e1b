/* What controllers do by themselves (src/sim/habits.h) against the verdict and the delay's
 * interval: cars of the campaign's plain family with a dead, a middle or a sound converter, one
 * habit each. docs/validation.md shows the table.
 *   bench_habits [TESTS A ROW] [FIRST SEED] [ROW]
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../campaign/campaign.h"

static void wide(struct car *c)
{
    snprintf(c->scenario.ecu.front, sizeof c->scenario.ecu.front, "wide-current");
}

/* x: strength, 0 to 1. */
static void plain(struct car *c, double x)
{
    (void)c;
    (void)x;
}

static void cut(struct car *c, double x)
{
    c->scenario.plant.cut_lambda = 0.95 - 0.07 * x;
    c->scenario.technician.snap_throttle = true;
}

static void modulation(struct car *c, double x)
{
    wide(c);
    c->scenario.plant.modulation_pct = 1 + 3 * x;
    c->scenario.plant.modulation_hz = 0.5 * pow(4, fmod(7 * x, 1));
}

static void target(struct car *c, double x)
{
    wide(c);
    c->scenario.plant.target_lambda = 0.97 + 0.05 * x;
}

static void rear_trim(struct car *c, double x)
{
    c->scenario.plant.rear_trim = true;
    c->scenario.plant.rear_trim_pull = 2 + 3 * x;
}

static void purge(struct car *c, double x)
{
    c->scenario.plant.purge_pct = 5 + 10 * x;
    c->scenario.plant.purge_every_s = 10 + 50 * fmod(7 * x, 1);
}

static void learns(struct car *c, double x)
{
    c->scenario.ecu.has_ltft = true;
    c->scenario.plant.ltft_tau_s = 25 - 18 * x;
    c->scenario.plant.ltft_back_tau_s = 60 + 200 * x;
}

static void limited(struct car *c, double x)
{
    c->scenario.plant.stft_limit_pct = c->scenario.plant.total_limit_pct = 22 - 10 * x;
    c->scenario.plant.rich_dtc_s = fmod(7 * x, 1) < 0.5 ? 0 : 10;
}

static void frozen(struct car *c, double x)
{
    limited(c, x);
    snprintf(c->scenario.plant.at_limit, sizeof c->scenario.plant.at_limit, "freeze");
}

static void opened(struct car *c, double x)
{
    limited(c, x);
    snprintf(c->scenario.plant.at_limit, sizeof c->scenario.plant.at_limit, "open");
}

static void monitor(struct car *c, double x)
{
    c->scenario.plant.monitor_pct = 1 + 3 * x;
    c->scenario.plant.monitor_half_s = 0.7 + 2 * fmod(7 * x, 1);
    c->scenario.plant.monitor_every_s = 50;
}

static void load(struct car *c, double x)
{
    c->scenario.plant.load_pct = 8 + 25 * x;
    c->scenario.plant.load_every_s = 4 + 12 * fmod(7 * x, 1);
    c->scenario.plant.load_v = 0.6 * fmod(3 * x, 1);
}

static void stops(struct car *c, double x)
{
    c->scenario.plant.stops_after_s = 5 + 90 * x;
    c->scenario.plant.stops_for_s = 10 + 30 * fmod(7 * x, 1);
}

static const struct row {
    const char *name;
    void (*put)(struct car *c, double x);
} rows[] = {{"none", plain},
            {"rich after a fuel cut", cut},
            {"forced modulation", modulation},
            {"target not 1.00", target},
            {"quick rear trim", rear_trim},
            {"purge", purge},
            {"long-term trim", learns},
            {"frozen at the limit", frozen},
            {"open loop at the limit", opened},
            {"own monitor at idle", monitor},
            {"load comes and goes", load},
            {"stops and starts", stops}};
enum { ROWS = sizeof rows / sizeof rows[0], CLASSES = 3, ANSWERS = 5 };

struct tally {
    size_t runs, counted, timed, held_truth, missed_unnamed;
    size_t verdict[TRUTH_UNKNOWN + 1][ANSWERS];
};

static bool covers(const struct trial_run *r)
{
    return r->truth.delay_s >= r->got.delay_s.low && r->truth.delay_s <= r->got.delay_s.high;
}

static bool is_timed(const struct trial_run *r)
{
    return r->got.valid && r->has_truth && r->got.dropped && oxl_known(r->truth.delay_s);
}

static void count_run(struct tally *y, const struct trial_run *r)
{
    y->runs++;
    if (!r->got.valid)
        return;
    y->counted++;
    if (!is_timed(r))
        return;
    y->timed++;
    oxl_reasons named = oxl_reasons_pushing(r->got.reasons, OXL_PUSH_SHORTER) |
                        oxl_reasons_pushing(r->got.reasons, OXL_PUSH_LONGER);
    y->held_truth += covers(r);
    y->missed_unnamed += !covers(r) && !named;
}

static void count(struct tally *y, const struct trial *t)
{
    for (int i = 0; i < t->runs; i++)
        count_run(y, &t->run[i]);
    y->verdict[trial_class(t)][t->has_result ? (int)t->result.verdict : ANSWERS - 1]++;
}

/* Dead, middle, sound in turn. */
static void give_converter(struct car *c, unsigned i)
{
    static const double mg[CLASSES][2] = {{20, 100}, {250, 600}, {900, 2600}};
    struct oxl_random r;
    oxl_random_seed(&r, c->seed ^ 0xc0417u);
    const double *m = mg[i % CLASSES];
    c->scenario.plant.capacity_mg =
        m[0] * pow(m[1] / m[0], oxl_random_unit(&r)) * c->scenario.plant.idle_air_g_s / 3;
}

static void do_row(const struct row *row, unsigned tests, uint64_t seed)
{
    static struct trial t;
    struct tally y = {0};
    for (unsigned i = 0; i < tests; seed++) {
        struct car c;
        car_make(&c, seed);
        if (c.family != FAMILY_PLAIN)
            continue;
        give_converter(&c, i);
        row->put(&c, fmod(0.618034 * i++, 1));
        if (!trial_go(&c, NULL, &t))
            exit(70);
        count(&y, &t);
        bool wrong = t.has_result &&
                     ((trial_class(&t) == TRUTH_DEAD && t.result.verdict == OXL_VERDICT_GOOD) ||
                      (trial_class(&t) == TRUTH_SOUND && t.result.verdict == OXL_VERDICT_BAD));
        if (wrong)
            printf("WRONG: %s, seed %llu\n", row->name, (unsigned long long)seed);
        if (getenv("HABIT_RUNS"))
            printf("# seed %llu class %d verdict %s ideal %.2f s %.0f mg air %.1f %s\n",
                   (unsigned long long)seed, trial_class(&t),
                   t.has_result ? oxl_verdict_name(t.result.verdict) : "none", t.ideal.delay_s,
                   t.ideal.stored_mg, t.air_g_s, t.wide ? "wide" : "switching");
        if (getenv("HABIT_RUNS"))
            for (int k = 0; k < t.runs; k++)
                if (is_timed(&t.run[k]))
                    printf(
                        "# seed %llu i %u %s %s run %d delay %.3f (%.3f %.3f) truth %.3f %s "
                        "front %.3f truth %.3f shift %.1f truth %.1f\n",
                        (unsigned long long)seed, i - 1, link_name(t.link),
                        t.wide ? "wide" : "switching", t.run[k].got.run, t.run[k].got.delay_s.value,
                        t.run[k].got.delay_s.low, t.run[k].got.delay_s.high, t.run[k].truth.delay_s,
                        covers(&t.run[k]) ? "ok" : "MISS",
                        1e-6 * (double)t.run[k].got.front_lean.t_us, t.run[k].truth.front_lean_t_s,
                        t.run[k].got.shift_pct, t.run[k].truth.shift_pct);
    }
    printf("| %s | %zu, %zu | %zu of %zu | %zu |", row->name, y.runs, y.counted, y.held_truth,
           y.timed, y.missed_unnamed);
    static const enum truth_class classes[] = {TRUTH_DEAD, TRUTH_MIDDLE, TRUTH_SOUND};
    for (int k = 0; k < CLASSES; k++) {
        const size_t *v = y.verdict[classes[k]];
        printf(" %zu %zu %zu %zu %zu |", v[OXL_VERDICT_BAD], v[OXL_VERDICT_QUESTIONABLE],
               v[OXL_VERDICT_GOOD], v[OXL_VERDICT_INCONCLUSIVE], v[ANSWERS - 1]);
    }
    printf("\n");
    fflush(stdout);
}

int main(int argc, char **argv)
{
    unsigned tests = argc > 1 ? (unsigned)atoi(argv[1]) : 60;
    uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 81000001;
    printf(
        "| habit | runs, counted | truth inside | outside, no reason | dead | between | sound |\n"
        "| --- | --- | --- | --- | --- | --- | --- |\n");
    for (int i = 0; i < ROWS; i++)
        if (argc < 4 || strstr(rows[i].name, argv[3]))
            do_row(&rows[i], tests, seed);
    return 0;
}
