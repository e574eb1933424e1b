/* The table of refreshes: plain cars whose controller refreshes its values so seldom, by one
 * snapshot, by a clock of the same period for each group of channels, or by periods of their own.
 */
#include <math.h>
#include <string.h>

#include "campaign.h"

static const double periods_ms[] = {10, 20, 50, 100, 200, 250, 500, 1000};
enum sharing { ONE_SNAPSHOT, OWN_PHASES, OWN_PERIODS, SHARINGS };
static const char *const sharing_names[] = {"snapshot", "phases", "periods"};
enum { PERIODS = sizeof periods_ms / sizeof periods_ms[0], LINKS = 2 };
_Static_assert(PERIODS *SHARINGS *LINKS == REFRESH_ROWS, "rows");

static int period_of(size_t i)
{
    return (int)(i % REFRESH_ROWS / (SHARINGS * LINKS));
}
double refresh_period_ms(size_t i)
{
    return periods_ms[period_of(i)];
}
static enum sharing sharing_of(size_t i)
{
    return (enum sharing)(i / LINKS % SHARINGS);
}
static bool is_kline(size_t i)
{
    return i % LINKS;
}

/* Idling cars of the campaign without a flaw, on that link; stores small enough that many a rear
 * goes lean. */
static void pick_car(struct car *c, uint64_t seed, bool kline)
{
    for (uint64_t k = 0; k < 4096; k++) {
        car_make(c, (seed << 12) + k);
        const struct oxl_plant_settings *p = &c->scenario.plant;
        bool link = kline ? c->link == LINK_KLINE : c->link < LINK_KLINE;
        if (c->family == FAMILY_PLAIN && link && p->idle_air_g_s < 5 &&
            p->capacity_mg < 300 * p->idle_air_g_s)
            return;
    }
}

void refresh_car(struct car *c, uint64_t seed, size_t i)
{
    double period_ms = periods_ms[period_of(i)];
    struct oxl_random r;
    pick_car(c, seed, is_kline(i));
    struct oxl_ecu_settings *u = &c->scenario.ecu;
    oxl_random_seed(&r, c->seed ^ 0x3ef5e54u);
    int slowest = (int)(oxl_random_unit(&r) * OXL_REFRESH_REST); /* front, rear or trims */
    u->refresh_snapshot = sharing_of(i) == ONE_SNAPSHOT;
    for (int g = 0; g < OXL_REFRESH_GROUPS; g++) {
        bool own = sharing_of(i) == OWN_PERIODS && g != slowest;
        u->refresh_ms[g] = own ? log_between(&r, 10, period_ms) : period_ms;
        u->refresh_phase_ms[g] = u->refresh_ms[g] * oxl_random_unit(&r);
    }
}

void refresh_draw(struct car *c)
{
    struct oxl_ecu_settings *u = &c->scenario.ecu;
    struct oxl_random r;
    if (u->refresh_ms[OXL_REFRESH_FRONT] > 0) /* a scenario about it */
        return;
    /* From the seed alone, so that the rest of each car stays what it was. */
    oxl_random_seed(&r, c->seed ^ 0x7ef2e54u);
    u->refresh_snapshot = oxl_random_unit(&r) < 0.5;
    for (int g = 0; g < OXL_REFRESH_GROUPS; g++) {
        u->refresh_ms[g] = log_between(&r, 10, 1000);
        u->refresh_phase_ms[g] = u->refresh_ms[g] * oxl_random_unit(&r);
    }
}

double refresh_of_sensors_ms(const struct trial *t)
{
    return fmax(t->refresh_ms[OXL_REFRESH_FRONT], t->refresh_ms[OXL_REFRESH_REAR]);
}

struct row {
    struct sampling inside, width, off, shape, bracket, asked, holds, mass, target;
    size_t tests, leak, slow;
};

bool span_covers(const struct oxl_span *s, double truth)
{
    return !(truth < s->low) && !(truth > s->high); /* an end that is not known excludes nothing */
}

static void add_run(struct row *row, const struct trial *t, const struct trial_run *r)
{
    const struct oxl_run_result *g = &r->got;
    if (!g->valid || !r->has_truth || !g->dropped || !oxl_known(r->truth.delay_s))
        return;
    sampling_add(&row->inside, span_covers(&g->delay_s, r->truth.delay_s));
    sampling_add(&row->width, g->delay_s.high - g->delay_s.low);
    sampling_add(&row->off, fabs(2 * r->truth.delay_s - g->delay_s.high - g->delay_s.low) /
                                (g->delay_s.high - g->delay_s.low));
    sampling_add(&row->shape, r->physics.shape_s);
    sampling_add(&row->bracket, r->physics.bracket_s);
    sampling_add(&row->asked, r->physics.asked_s);
    sampling_add(&row->holds, r->physics.shape_holds);
    if (oxl_known(g->o2_mg.low))
        sampling_add(&row->mass, span_covers(&g->o2_mg, r->truth.stored_mg));
    bool deep_enough = r->truth.shift_pct > -35 && r->truth.shift_pct < -15;
    if (oxl_known(g->delay_at_target_s.value) && !g->o2_is_lower_bound && t->ideal.known &&
        !t->ideal.held && deep_enough)
        sampling_add(&row->target, span_covers(&g->delay_at_target_s, t->ideal.delay_s));
}

static void add_test(struct row *row, const struct trial *t)
{
    oxl_reasons all = t->result.reasons;
    for (int k = 0; k < t->runs; k++) {
        add_run(row, t, &t->run[k]);
        all |= t->run[k].got.reasons;
    }
    row->tests++;
    row->leak +=
        oxl_reasons_has(all, OXL_R_LEAK_SUSPECTED) || oxl_reasons_has(all, OXL_R_REAR_LEAN_FIRST);
    row->slow += oxl_reasons_has(all, OXL_R_REAR_SLOW) || oxl_reasons_has(all, OXL_R_FRONT_SLOW);
}

static double share(const struct sampling *s)
{
    return sampling_share_within(s, 1, 1);
}

static void print_row(FILE *out, size_t i, struct row *row)
{
    double width_s = sampling_quantile(&row->width, 0.5);
    double shape_s = sampling_quantile(&row->shape, 0.5);
    double bracket = sampling_quantile(&row->bracket, 0.5);
    double asked = sampling_quantile(&row->asked, 0.5);
    double per_cent = 100 / fmax(1, (double)row->tests);
    fprintf(out,
            "  %4.0f  %-8s  %-6s %5zu  %5.3f  %5.3f   %5.3f %5.1f   %5.3f %5.1f   %5.3f %5.1f", //
            periods_ms[period_of(i)], sharing_names[sharing_of(i)], is_kline(i) ? "K-line" : "CAN",
            row->inside.n, share(&row->inside), width_s, shape_s, width_s / shape_s, bracket,
            width_s / bracket, asked, width_s / asked);
    fprintf(out, "  %4.2f   %5.3f  %5.3f   %5.1f %5.1f   %5.3f\n",
            1 / sampling_quantile(&row->off, 0.95), share(&row->mass), share(&row->target),
            per_cent * (double)row->leak, per_cent * (double)row->slow, share(&row->holds));
}

static void free_row(struct row *row)
{
    struct sampling *all[] = {&row->inside, &row->width, &row->off,  &row->shape, &row->bracket,
                              &row->asked,  &row->holds, &row->mass, &row->target};
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        sampling_free(all[i]);
}

/* ---- of the campaign: whatever its cars have ---- */
enum { BANDS = 6 };
static const double band_edges_ms[BANDS + 1] = {0, 20, 50, 100, 200, 500, 1e9};
static const char *const band_names[BANDS] = {"10-20",   "20-50",   "50-100",
                                              "100-200", "200-500", "500-1000"};

static bool in_band(const struct trial *t, int band, bool snapshot)
{
    double ms = refresh_of_sensors_ms(t);
    return t->snapshot == snapshot && ms >= band_edges_ms[band] && ms < band_edges_ms[band + 1] &&
           (t->family == FAMILY_PLAIN || t->family == FAMILY_CLUMSY);
}

void refresh_bands_print(FILE *out, const struct trial *t, size_t n, struct figures *f)
{
    fputs(
        "\nRefresh of the slower sensor, families plain and clumsy: share of intervals that hold\n"
        "  ms        channels    runs   delay  width s    mass  target\n",
        out);
    for (int band = 0; band < BANDS; band++)
        for (int snapshot = 1; snapshot >= 0; snapshot--) {
            struct row row = {0};
            for (size_t i = 0; i < n; i++)
                if (in_band(&t[i], band, snapshot))
                    add_test(&row, &t[i]);
            fprintf(out, "  %-8s  %-8s  %6zu   %5.3f   %6.3f   %5.3f   %5.3f\n", band_names[band],
                    snapshot ? "snapshot" : "own", row.inside.n, share(&row.inside),
                    sampling_quantile(&row.width, 0.5), share(&row.mass), share(&row.target));
            if (row.inside.n >= 100)
                f->coverage_least = fmin(f->coverage_least, share(&row.inside));
            free_row(&row);
        }
}

void refresh_print(FILE *out, const struct trial *t, size_t n)
{
    fputs("Refresh: valid runs whose rear went lean; medians of widths; tests with a suspicion, %\n"
          "    ms  channels  link    runs  delay  width   shape ratio bracket ratio   asked ratio "
          "spare  "
          "  mass target"
          "    leak  slow   shape holds\n",
          out);
    for (size_t i = 0; i < REFRESH_ROWS; i++) {
        struct row row = {0};
        for (size_t k = i; k < n; k += REFRESH_ROWS)
            if (t[k].seed)
                add_test(&row, &t[k]);
        if (row.tests)
            print_row(out, i, &row);
        free_row(&row);
    }
}
