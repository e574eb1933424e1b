/* The page of a vehicle: every test that was made of it, as drawings and as a table. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "page.h"
#include "record/event_parts.h"

static void day(const struct oxl_test_record *s, char out[12])
{
    snprintf(out, 12, "%.10s", s->header.started);
}

static struct oxl_span figure_of(const struct oxl_test_record *s, size_t which)
{
    static const struct oxl_span unknown = {NAN, NAN, NAN};
    if (!s->has_result)
        return unknown;
    return which ? s->result.o2_mg : s->result.delay_at_target_s;
}

static void plot(struct oxl_page *p, const struct oxl_vehicle_tests *h, size_t which)
{
    const struct oxl_test_record *newest = h->tests[h->n - 1];
    struct oxl_tests_plot *s = &p->history[which];
    const size_t first = h->n > OXL_HISTORY_POINTS ? h->n - OXL_HISTORY_POINTS : 0;
    s->quantity = which ? "Oxygen stored" : "Delay at target";
    s->unit = which ? "mg" : "s";
    s->bad = which ? newest->result.bad_limit_mg : newest->profile.bad_s;
    s->good = which ? newest->result.good_limit_mg : newest->profile.good_s;
    if (which && !newest->has_result)
        s->bad = s->good = NAN;
    for (size_t i = first; i < h->n; i++) {
        struct oxl_tests_point *at = &s->points[s->n++];
        at->figure = figure_of(h->tests[i], which);
        day(h->tests[i], at->date);
        snprintf(at->name, sizeof at->name, "%zu%s", i + 1,
                 h->tests[i]->header.bank == 2 ? ", bank 2" : "");
    }
    oxl_page_block(p, OXL_BLOCK_HISTORY, "", s->quantity);
    p->blocks[p->blocks_n - 1].index = which;
}

static void row(struct oxl_page *p, const struct oxl_test_record *s, size_t number)
{
    char date[20], delay[OXL_FIGURE_TEXT], oxygen[OXL_FIGURE_TEXT];
    const struct oxl_span d = figure_of(s, 0), o = figure_of(s, 1);
    snprintf(date, sizeof date, "%.16s", s->header.started);
    if (strlen(date) > 10)
        date[10] = ' ';
    oxl_figure_span_short(&d, 2, delay);
    oxl_figure_span_short(&o, 0, oxygen);
    oxl_page_cell(p, "%zu", number);
    oxl_page_cell(p, "%s", date);
    oxl_page_cell(p, "%s", s->header.order);
    oxl_page_cell(p, "%u", s->header.bank);
    oxl_page_cell(p, "%s",
                  s->has_result ? oxl_conclusion_shown(s->result.conclusion) : "no result");
    oxl_page_cell(p, "%s", delay);
    oxl_page_cell(p, "%s", oxygen);
    oxl_page_cell(p, "%s", s->recording_name);
}

static void table(struct oxl_page *p, const struct oxl_vehicle_tests *h)
{
    static const double weights[] = {0.4, 1.8, 1.2, 0.7, 1.6, 1.6, 1.4, 2};
    static const char *const heads[] = {
        "No.",      "Date", "Order", "Bank", "Verdict", "Delay at target, s", "Oxygen stored, mg",
        "Recording"};
    const size_t most = p->detail < OXL_DETAIL_LEAST ? h->n : OXL_HISTORY_POINTS;
    const size_t first = h->n > most ? h->n - most : 0;
    oxl_page_table(p, 8, weights);
    for (size_t c = 0; c < 8; c++)
        oxl_page_cell(p, "%s", heads[c]);
    for (size_t i = first; i < h->n; i++)
        row(p, h->tests[i], i + 1);
    oxl_page_more(p, first, 0);
}

static void head(struct oxl_page *p, const struct oxl_vehicle_tests *h)
{
    bool simulated = false;
    for (size_t i = 0; i < h->n; i++)
        simulated = simulated || h->tests[i]->header.simulated;
    oxl_page_title(p, "Catalytic converter: the oxygen storage tests of one vehicle");
    if (simulated)
        oxl_page_block(p, OXL_BLOCK_BANNER, "",
                       "SIMULATED - tests of the built-in simulator are among them.");
}

/* What stands in the newest test's header counts: a plate may change. */
static void vehicle(struct oxl_page *p, const struct oxl_vehicle_tests *h)
{
    const struct oxl_test_record *s = h->tests[h->n - 1];
    const struct oxl_record_header *a = &s->header;
    char vin[18], first[12], last[12];
    oxl_vin_shown(s->vehicle.vin, a->mask_vin, vin);
    day(h->tests[0], first);
    day(s, last);
    p->area = OXL_AREA_WHY;
    oxl_page_heading(p, "Vehicle", "");
    oxl_page_field(p, "VIN", "%s", vin[0] ? vin : "not known");
    oxl_page_field(p, "Plate", "%s", oxl_owner_shown(a->plate, a->mask_vin));
    oxl_page_field(p, "Vehicle", "%s", oxl_owner_shown(a->vehicle, a->mask_vin));
    p->area = OXL_AREA_FIGURES;
    oxl_page_heading(p, "Newest test", "");
    oxl_page_field(p, "Verdict", "%s",
                   s->has_result ? oxl_conclusion_shown(s->result.conclusion) : "no result");
    if (s->has_result) {
        char lead[OXL_RESULT_LEAD];
        oxl_result_lead(&s->result, lead);
        oxl_page_field(p, "Figure", "%s", lead);
    }
    oxl_page_field(p, "Tests", "%zu, from %s to %s", h->n, first, last);
}

void oxl_page_make_history(struct oxl_page *p, const struct oxl_vehicle_tests *h,
                           enum oxl_detail detail)
{
    oxl_page_start(p, detail);
    head(p, h);
    vehicle(p, h);
    p->area = OXL_AREA_RUNS;
    oxl_page_heading(p, "Tests", "");
    plot(p, h, 0);
    plot(p, h, 1);
    oxl_page_block(p, OXL_BLOCK_KEY, "",
                   "Dot: the figure, with its interval; arrow: a bound, the truth lies on that "
                   "side; ?: not known. Below: date, and number in the table. The limits are those "
                   "of the newest test.");
    table(p, h);
    p->area = OXL_AREA_FOOT;
    oxl_page_text(
        p, "A history shows what was measured on each day. What changed between two tests, "
           "and whether that is more than their intervals, is on the page of the two: oxylag "
           "report FIRST SECOND. Tests under different conditions cannot be compared by eye.");
}
