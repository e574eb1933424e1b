#include "view.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "format.h"
#include "headline.h"
#include "large.h"

/* "6.4", ">9.1", "--": as large letters have it. */
static void big_text(struct oxl_span s, int decimals, char *out, size_t n)
{
    struct oxl_num v = oxl_span_value(s, decimals);
    if (v.text[0] == '>')
        snprintf(out, n, ">%s", v.text + 2);
    else
        snprintf(out, n, "%s", v.text);
}

static void draw_figure(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a,
                        struct oxl_span s, int decimals, const char *unit, int scale)
{
    char text[40], interval[64];
    big_text(s, decimals, text, sizeof text);
    oxl_span_interval(s, decimals, interval, sizeof interval);
    int cols = oxl_large_draw(c, a.row, a.col, text, scale, OXL_INK_TITLE, m->config.ascii) + 2;
    oxl_view_print(c, a.row, a.col + cols, a.cols - cols, OXL_INK_TITLE, "%s", unit);
    oxl_view_print(c, a.row + 1, a.col + cols, a.cols - cols, OXL_INK_TEXT, "%s", interval);
}

static void draw_limits(struct oxl_canvas *c, struct oxl_area a, double bad, double good,
                        int decimals, const char *unit)
{
    oxl_view_print(c, a.row, a.col, a.cols, OXL_INK_DIM, "bad < %s   good > %s %s",
                   oxl_num(bad, decimals).text, oxl_num(good, decimals).text, unit);
}

/* Delay at the left, oxygen at the right. Returns the rows used. */
static int draw_figures(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a,
                        int scale)
{
    const struct oxl_result *r = &m->result;
    int half = a.cols / 2, rows = oxl_large_rows(scale);
    bool room = half >= 38;
    struct oxl_area left = {a.row, a.col, rows, half - 1};
    struct oxl_area right = {a.row, a.col + half, rows, a.cols - half};
    draw_figure(m, c, left, r->delay_s, 2, room ? "s, front to rear" : "s delay", scale);
    draw_figure(m, c, right, r->o2_mg, 0, room ? "mg of oxygen stored" : "mg oxygen", scale);
    left.row = right.row = a.row + rows;
    draw_limits(c, left, m->has_profile ? m->profile.bad_s : NAN,
                m->has_profile ? m->profile.good_s : NAN, 1, "s");
    draw_limits(c, right, r->bad_limit_mg, r->good_limit_mg, 0, "mg");
    return rows + 1;
}

/* How many runs it stands on; and when it was to be more, that it is not. */
static void runs_text(const struct oxl_result *r, char *out, size_t n)
{
    if (r->ended_early && r->runs_wanted > 0)
        snprintf(out, n, "ended early, %d of %d runs", r->valid_runs, r->runs_wanted);
    else
        snprintf(out, n, "%s%d of %d runs count", r->ended_early ? "ended early, " : "",
                 r->valid_runs, r->runs);
}

void oxl_view_result_words(const struct oxl_result *r, char *out, size_t n)
{
    char delay[64], runs[96];
    oxl_span_text(r->delay_s, 2, delay, sizeof delay);
    runs_text(r, runs, sizeof runs);
    snprintf(out, n, "%s: delay %s s; %s", oxl_verdict_name(r->verdict), delay, runs);
}

void oxl_view_result_line(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    const struct oxl_result *r = &m->result;
    char delay[64], parts[4][96] = {"", "", "", ""};
    oxl_span_text(r->delay_at_target_s, 2, delay, sizeof delay);
    if (oxl_headline_hides_verdict(m))
        snprintf(parts[0], sizeof parts[0], "verdict %s", oxl_verdict_name(r->verdict));
    runs_text(r, parts[1], sizeof parts[1]);
    snprintf(parts[2], sizeof parts[2], "at target depth %s s", delay);
    snprintf(parts[3], sizeof parts[3], "spread %s s", oxl_num(r->spread_s, 2).text);
    int col = 0;
    for (int i = 0; i < 4 && col + (int)strlen(parts[i]) <= a.cols; i++)
        if (parts[i][0])
            col += oxl_canvas_text(c, a.row, a.col + col, a.cols - col,
                                   i ? OXL_INK_TEXT : OXL_INK_TITLE, parts[i]) +
                   3;
}

/* A test that ended before its time says why in a check of its own. */
static void write_why_ended(struct oxl_flow *f, const struct oxl_model *m, int lead)
{
    for (int i = 0; i < m->checks_n; i++)
        if (strcmp(m->checks[i].id, "ended-early") == 0 ||
            strcmp(m->checks[i].id, "repeated-failure") == 0)
            oxl_flow_text(f, OXL_INK_CAUTION, "! ended", lead, OXL_INK_TEXT, m->checks[i].advice);
}

static void write_reasons(struct oxl_flow *f, const void *ctx)
{
    const struct oxl_model *m = ctx;
    static const char *const pushes[] = {"-", "< shorter", "> longer", "x void"};
    const int lead = 11;
    write_why_ended(f, m, lead);
    for (unsigned i = 0; i < OXL_R_COUNT; i++)
        if (oxl_reasons_has(m->result.reasons, (enum oxl_reason)i)) {
            enum oxl_push push = oxl_reason_push((enum oxl_reason)i);
            oxl_flow_text(f, push ? OXL_INK_CAUTION : OXL_INK_DIM, pushes[push], lead, OXL_INK_TEXT,
                          oxl_reason_sentence((enum oxl_reason)i));
        }
    for (unsigned i = 0; i < OXL_R_COUNT; i++)
        if (oxl_reasons_has(m->result.next, (enum oxl_reason)i))
            oxl_flow_text(f, OXL_INK_KEY, "next check", lead, OXL_INK_KEY,
                          oxl_reason_next((enum oxl_reason)i));
    oxl_flow_text(f, OXL_INK_DIM, "", lead, OXL_INK_DIM,
                  "Supporting evidence, not a legal test: see the report for method and limits.");
}

void oxl_view_result(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    if (!m->has_result) {
        oxl_canvas_text(c, a.row, a.col, a.cols, OXL_INK_TEXT, "-- no result was given");
        return;
    }
    int runs = m->runs_n < 1 ? 1 : m->runs_n > 8 ? 8 : m->runs_n;
    runs = a.rows < 15 && runs > 3 ? 3 : runs;
    bool roomy = a.rows >= 24;
    struct oxl_area part = {a.row + roomy, a.col, 4, a.cols};
    part.row += draw_figures(m, c, part, roomy && a.cols >= 100 ? 2 : 1);
    oxl_view_result_line(m, c, part);
    part.row += 1 + roomy;
    part.rows = runs + 1;
    oxl_view_runs(m, c, part);
    part.row += runs + 1 + roomy;
    part.rows = a.row + a.rows - part.row;
    oxl_flow_pages(c, part, m->screenful, write_reasons, m);
}
