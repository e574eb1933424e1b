/* The runs: a plot and a row of the table for each. */
#include <stdio.h>

#include "oxylag/safe.h"
#include "page.h"
#include "words.h"

/* ---- plots ---------------------------------------------------------------------------------- */

static void add_plot(struct oxl_page *p, const struct oxl_report_input *t, size_t i, size_t test,
                     const char *name)
{
    const struct oxl_run_result *r = &t->record->runs[i];
    char delay[OXL_FIGURE_TEXT], text[2 * OXL_FIGURE_TEXT];
    if (p->plots_n == OXL_PAGE_PLOTS)
        return;
    struct oxl_page_plot *plot = &p->plots[p->plots_n];
    *plot = (struct oxl_page_plot){.run = r,
                                   .delay_s = oxl_run_shown(t->record, r).delay_s,
                                   .profile = &t->record->profile,
                                   .test = test,
                                   .track = t->tracks && i < t->tracks->runs_n ? &t->tracks->runs[i]
                                                                               : NULL};
    snprintf(plot->name, sizeof plot->name, "%.20s%s %d", name, name[0] ? ", run" : "Run", r->run);
    oxl_figure_span(&plot->delay_s, 2, "s", delay);
    snprintf(text, sizeof text, "%s%s: %s", plot->name, r->valid ? "" : ", not counted", delay);
    oxl_page_block(p, OXL_BLOCK_PLOT, "", text);
    p->plots_n++;
}

/* Counted runs first, in the order of time within each kind, at most `most` of them. */
static size_t add_plots(struct oxl_page *p, const struct oxl_report_input *t, size_t test,
                        const char *name, size_t most)
{
    const struct oxl_test_record *s = t->record;
    bool chosen[OXL_RECORD_MAX_RUNS] = {false};
    size_t n = 0;
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < s->runs_n && n < most; i++)
            if (s->runs[i].valid == (pass == 0)) {
                chosen[i] = true;
                n++;
            }
    for (size_t i = 0; i < s->runs_n; i++)
        if (chosen[i])
            add_plot(p, t, i, test, name);
    return n;
}

static void plots(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    const size_t most = n > 1 ? 3 : p->detail == OXL_DETAIL_CLIPPED ? 6 : OXL_PAGE_PLOTS;
    size_t shown = 0, all = 0;
    char key[400];
    for (size_t i = 0; i < n; i++) {
        shown += add_plots(p, &tests[i], i, p->names[i], most);
        all += tests[i].record->runs_n;
    }
    snprintf(key, sizeof key, "%s", oxl_plot_words);
    if (shown < all)
        oxl_append(key, sizeof key, " Runs without a plot: %zu.", all - shown);
    if (shown)
        oxl_page_block(p, OXL_BLOCK_KEY, "", key);
}

/* ---- table ---------------------------------------------------------------------------------- */

enum { COLUMNS = 8 };
static const double weights[COLUMNS] = {1.3, 1.1, 2.45, 2.45, 2.4, 1.1, 1.1, 1.7};

static void span(struct oxl_page *p, const struct oxl_span *s, int decimals)
{
    char text[OXL_FIGURE_TEXT];
    oxl_figure_span_short(s, decimals, text);
    oxl_page_cell(p, "%s", text);
}

static void row(struct oxl_page *p, const struct oxl_test_record *s, const struct oxl_run_result *r,
                const char *name)
{
    const struct oxl_run_figures f = oxl_run_shown(s, r);
    oxl_page_cell(p, "%s%s%d%s", name, name[0] ? " " : "", r->run, r->deeper ? "d" : "");
    oxl_page_cell(p, "%s", r->valid ? "yes" : "no");
    span(p, &f.delay_s, 2);
    span(p, &f.delay_at_target_s, 2);
    span(p, &f.o2_mg, 0);
    oxl_page_cell(p, "%s", oxl_figure_cell(r->shift_pct, 1, false).text);
    oxl_page_cell(p, "%s", oxl_figure_cell(r->air_g_s, 2, false).text);
    oxl_page_cell(p, "%s", oxl_figure_cell(r->rpm, 0, false).text);
}

static void table(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    static const char *const heads[COLUMNS] = {
        "Run",      "Counts",   "Delay, s",  "Delay at target, s", "Oxygen stored, mg",
        "Shift, %", "Air, g/s", "Speed, rpm"};
    const size_t rows = p->detail == OXL_DETAIL_WHOLE     ? OXL_RECORD_MAX_RUNS * n
                        : p->detail == OXL_DETAIL_CLIPPED ? 8
                                                          : 16;
    size_t left_out = 0;
    bool deeper = false;
    oxl_page_table(p, COLUMNS, weights);
    for (size_t c = 0; c < COLUMNS; c++)
        oxl_page_cell(p, "%s", heads[c]);
    for (size_t t = 0; t < n; t++)
        for (size_t i = 0; i < tests[t].record->runs_n; i++) {
            const struct oxl_run_result *r = &tests[t].record->runs[i];
            deeper = deeper || r->deeper;
            left_out += i >= rows / n;
            if (i < rows / n)
                row(p, tests[t].record, r, p->names[t]);
        }
    oxl_page_more(p, left_out, 0);
    oxl_page_block(p, OXL_BLOCK_NOTE, "", oxl_table_words);
    if (deeper)
        oxl_page_block(p, OXL_BLOCK_NOTE, "", oxl_deeper_words);
}

void oxl_part_runs(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    p->area = OXL_AREA_RUNS;
    oxl_page_heading(p, "Runs", "");
    if (tests[0].record->runs_n + tests[n - 1].record->runs_n == 0) {
        oxl_page_text(p, "No run was made.");
        return;
    }
    plots(p, tests, n);
    table(p, tests, n);
}
