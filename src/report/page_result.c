/* The verdict with its figures and pictures; the table of runs. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "page.h"
#include "say.h"
#include "words.h"

static void scale(struct oxl_page *p, const char *quantity, const char *unit, double bad,
                  double good)
{
    if (p->scales_n < OXL_PAGE_SCALES)
        p->scales[p->scales_n++] =
            (struct oxl_ruler){.quantity = quantity, .unit = unit, .bad = bad, .good = good};
}

static void add_figure(struct oxl_page *p, size_t i, const struct oxl_span *f, const char *name)
{
    struct oxl_ruler *s = &p->scales[i];
    s->figures[s->n] = *f;
    s->names[s->n++] = name;
}

static const struct oxl_result *result_of(const struct oxl_test_record *s)
{
    static const struct oxl_result none = {.delay_s = {NAN, NAN, NAN},
                                           .delay_at_target_s = {NAN, NAN, NAN},
                                           .o2_mg = {NAN, NAN, NAN},
                                           .air_g_s = NAN,
                                           .rpm = NAN,
                                           .spread_s = NAN,
                                           .bad_limit_mg = NAN,
                                           .good_limit_mg = NAN};
    return s->has_result ? &s->result : &none;
}

static void figures(struct oxl_page *p, const struct oxl_result *r)
{
    char text[OXL_FIGURE_TEXT], line[2 * OXL_FIGURE_TEXT];
    oxl_figure_span(&r->delay_at_target_s, 2, "s", text);
    oxl_list_field(p, &p->figures, "Delay at target", text);
    oxl_figure_span(&r->delay_s, 2, "s", text);
    snprintf(line, sizeof line, "%s%s", text, r->held ? ", the rear sensor held" : "");
    oxl_list_field(p, &p->figures, "Delay measured", line);
    oxl_figure_span(&r->o2_mg, 0, "mg", text);
    if (r->deeper_run > 0)
        snprintf(line, sizeof line, "%s, by the deeper run %d", text, r->deeper_run);
    oxl_list_field(p, &p->figures, "Oxygen stored", r->deeper_run > 0 ? line : text);
    oxl_figure_number(r->spread_s, 2, "s", text);
    snprintf(line, sizeof line, "%d of %d%s%s", r->valid_runs, r->runs,
             oxl_known(r->spread_s) ? ", apart by " : "", oxl_known(r->spread_s) ? text : "");
    if (r->aside_run > 0) {
        size_t used = strlen(line);
        snprintf(line + used, sizeof line - used, ", run %d set aside", r->aside_run);
    }
    oxl_say_early(r, line, sizeof line);
    oxl_list_field(p, &p->figures, "Runs counted", line);
    oxl_figure_number(r->air_g_s, 2, "g/s", text);
    size_t at = (size_t)snprintf(line, sizeof line, "air %s, ", text);
    oxl_figure_number(r->rpm, 0, "1/min", text);
    snprintf(line + at, sizeof line - at, "engine %s", text);
    oxl_list_field(p, &p->figures, "Conditions", line);
}

static const char what_it_is[] =
    "A working converter stores oxygen. The test empties the store with a little gas and measures "
    "the time until oxygen comes through again. ";

void oxl_part_result(struct oxl_page *p, const struct oxl_test_record *s)
{
    const struct oxl_result *r = result_of(s);
    p->headline = oxl_page_keep(p, "%s", oxl_verdict_headline(s));
    p->sentence = oxl_page_keep(p, "%s%s%s%s", what_it_is, oxl_verdict_sentence(s),
                                s->has_result ? "" : " Why: ",
                                s->has_result       ? ""
                                : s->stopped_why[0] ? s->stopped_why
                                                    : "not known.");
    if (!s->has_result)
        return;
    figures(p, r);
    scale(p, "Delay at target", "s", s->profile.bad_s, s->profile.good_s);
    add_figure(p, 0,
               oxl_known(r->delay_at_target_s.low) || oxl_known(r->delay_at_target_s.value)
                   ? &r->delay_at_target_s
                   : &r->delay_s,
               "");
    scale(p, "Oxygen stored", "mg", r->bad_limit_mg, r->good_limit_mg);
    add_figure(p, 1, &r->o2_mg, "");
}

/* ---- two tests ------------------------------------------------------------------------------ */

static void side_fields(struct oxl_page *p, const struct oxl_report_input *tests)
{
    for (size_t i = 0; i < 2; i++) {
        const struct oxl_test_record *s = tests[i].story;
        const struct oxl_result *r = result_of(s);
        char target[OXL_FIGURE_TEXT], o2[OXL_FIGURE_TEXT], line[3 * OXL_FIGURE_TEXT];
        oxl_figure_span(&r->delay_at_target_s, 2, "s", target);
        oxl_figure_span(&r->o2_mg, 0, "mg", o2);
        snprintf(line, sizeof line, "%s; delay at target %s; oxygen %s; %d of %d runs",
                 s->has_result ? oxl_verdict_name(r->verdict) : "no result", target, o2,
                 r->valid_runs, r->runs);
        oxl_list_field(p, &p->figures, oxl_test_name(tests, 2, i), line);
    }
}

static void why_not(struct oxl_page *p, const struct oxl_comparison *c)
{
    for (unsigned u = 0; u < OXL_UNLIKE_COUNT; u++)
        if (c->unlikes >> u & 1u)
            oxl_list_field(p, &p->figures, c->allowed ? "Mind" : "Not compared",
                           oxl_unlike_sentence((enum oxl_unlike)u));
}

static bool same_limits(const struct oxl_test_record *a, const struct oxl_test_record *b)
{
    return fabs(a->profile.bad_s - b->profile.bad_s) < 1e-9 &&
           fabs(a->profile.good_s - b->profile.good_s) < 1e-9;
}

void oxl_part_difference(struct oxl_page *p, const struct oxl_report_input *tests)
{
    const struct oxl_test_record *a = tests[0].story, *b = tests[1].story;
    const char *first = oxl_test_name(tests, 2, 0), *second = oxl_test_name(tests, 2, 1);
    struct oxl_comparison c;
    char text[OXL_COMPARED];
    oxl_compare(a, b, &c);
    p->headline = oxl_page_keep(p, "%s", oxl_compared_headline(&c));
    oxl_compared_words(&c, text);
    p->sentence = oxl_page_keep(p, "%s%s", what_it_is, text);
    side_fields(p, tests);
    why_not(p, &c);
    const bool limits = same_limits(a, b);
    scale(p, "Delay at target", "s", limits ? a->profile.bad_s : NAN,
          limits ? a->profile.good_s : NAN);
    add_figure(p, 0, &result_of(a)->delay_at_target_s, first);
    add_figure(p, 0, &result_of(b)->delay_at_target_s, second);
    if (!c.allowed)
        return;
    /* Limits in grams follow the air flow; those of the second test stand for both. */
    scale(p, "Oxygen stored", "mg", limits ? result_of(b)->bad_limit_mg : NAN,
          limits ? result_of(b)->good_limit_mg : NAN);
    add_figure(p, 1, &result_of(a)->o2_mg, first);
    add_figure(p, 1, &result_of(b)->o2_mg, second);
}

/* ---- plots ---------------------------------------------------------------------------------- */

static void add_plot(struct oxl_page *p, const struct oxl_report_input *t, size_t i, size_t test,
                     const char *name)
{
    const struct oxl_test_record *s = t->story;
    if (p->plots_n == OXL_PAGE_PLOTS)
        return;
    p->plots[p->plots_n].run = &s->runs[i];
    p->plots[p->plots_n].profile = &s->profile;
    p->plots[p->plots_n].test = test;
    p->plots[p->plots_n].track = t->tracks && i < t->tracks->runs_n ? &t->tracks->runs[i] : NULL;
    snprintf(p->plots[p->plots_n].name, sizeof p->plots[0].name, "%s%s %d", name,
             name[0] ? ", run" : "Run", s->runs[i].run);
    p->plots_n++;
}

/* Counted runs first, in the order of time within each kind, at most `most` of them. */
static size_t add_plots(struct oxl_page *p, const struct oxl_report_input *t, size_t test,
                        const char *name, size_t most)
{
    const struct oxl_test_record *s = t->story;
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

void oxl_part_plots(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    const size_t most = n > 1 ? 3 : p->detail == OXL_DETAIL_CLIPPED ? 6 : OXL_PAGE_PLOTS;
    size_t shown = 0, all = 0;
    char more[64] = "";
    for (size_t i = 0; i < n; i++) {
        shown += add_plots(p, &tests[i], i, oxl_test_name(tests, n, i), most);
        all += tests[i].story->runs_n;
    }
    if (shown < all)
        snprintf(more, sizeof more, " %zu more runs are in the recording%s.", all - shown,
                 n > 1 ? "s" : "");
    if (shown == 0)
        p->plot_key = oxl_page_keep(p, "No run was made, so there is no plot.");
    else
        p->plot_key = oxl_page_keep(
            p,
            "Seconds from front-lean. C: cut called. F: front sensor lean. R: rear sensor lean. "
            "Bar beside a letter: the interval that holds the moment. Grey: the delay. Light band: "
            "accepted depth of the gas; dotted: levels.%s",
            more);
}

/* ---- table ---------------------------------------------------------------------------------- */

static void cell_span(struct oxl_page *p, size_t row, size_t column, const struct oxl_span *s,
                      int decimals)
{
    char text[OXL_FIGURE_TEXT];
    oxl_figure_span(s, decimals, "", text);
    p->cells[row][column] = oxl_page_keep(p, "%s", text);
}

static void cell_number(struct oxl_page *p, size_t row, size_t column, double v, int decimals)
{
    char text[OXL_FIGURE_TEXT];
    oxl_figure_number(v, decimals, "", text);
    p->cells[row][column] = oxl_page_keep(p, "%s", text);
}

static void row(struct oxl_page *p, const struct oxl_run_result *r, const char *name)
{
    const size_t i = p->rows_n++;
    p->cells[i][0] =
        oxl_page_keep(p, "%s%s%d%s", name, name[0] ? " " : "", r->run, r->deeper ? " deeper" : "");
    p->cells[i][1] = oxl_page_keep(p, "%s", r->valid ? "yes" : "no");
    cell_span(p, i, 2, &r->delay_s, 2);
    cell_span(p, i, 3, &r->delay_at_target_s, 2);
    cell_span(p, i, 4, &r->o2_mg, 0);
    cell_number(p, i, 5, r->shift_pct, 1);
    cell_number(p, i, 6, r->air_g_s, 2);
    cell_number(p, i, 7, r->rpm, 0);
}

void oxl_part_table(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    static const char *const heads[OXL_TABLE_COLUMNS] = {
        "Run",      "Counted",  "Delay, s",    "Delay at target, s", "Oxygen stored, mg",
        "Shift, %", "Air, g/s", "Speed, 1/min"};
    const size_t rows = p->detail == OXL_DETAIL_CLIPPED ? OXL_TABLE_ROWS / 2 : OXL_TABLE_ROWS;
    const size_t most = n > 1 ? rows / 2 : rows;
    size_t left_out = 0;
    for (size_t c = 0; c < OXL_TABLE_COLUMNS; c++)
        p->cells[0][c] = oxl_page_keep(p, "%s", heads[c]);
    p->rows_n = 1;
    for (size_t t = 0; t < n; t++)
        for (size_t i = 0; i < tests[t].story->runs_n; i++) {
            if (i < most)
                row(p, &tests[t].story->runs[i], oxl_test_name(tests, n, t));
            else
                left_out++;
        }
    if (left_out)
        p->table_note = oxl_page_keep(p, "%zu more runs are in the recording.", left_out);
}
