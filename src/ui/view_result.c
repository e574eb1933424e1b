/* The end of a test: what it came to, what to do next, why, and the runs. */
#include "view.h"

#include <stdio.h>

#include "headline.h"

enum { LEAD_COLS = 12 };

/* How many runs it stands on; and when it was to be more, that it is not. */
static void runs_text(const struct oxl_result *r, char *out, size_t n)
{
    if (r->ended_early && r->runs_wanted > 0)
        snprintf(out, n, "ended early, %d of %d runs", r->valid_runs, r->runs_wanted);
    else
        snprintf(out, n, "%s%d of %d runs count%s", r->ended_early ? "ended early, " : "",
                 r->valid_runs, r->runs, oxl_result_agreed(r) ? ": they agree" : "");
}

void oxl_view_result_words(const struct oxl_result *r, char *out, size_t n)
{
    char figure[OXL_LEAD_TEXT], runs[96];
    oxl_lead_text(&r->lead, figure);
    runs_text(r, runs, sizeof runs);
    snprintf(out, n, "%s: %s; %s", oxl_conclusion_name(r->conclusion), figure, runs);
}

void oxl_view_result_head(struct oxl_flow *f, const struct oxl_model *m)
{
    const struct oxl_result *r = &m->record->result;
    char text[OXL_LEAD_TEXT + 96];
    if (oxl_headline_hides_verdict(m)) {
        snprintf(text, sizeof text, "verdict %s", oxl_conclusion_name(r->conclusion));
        oxl_flow_text(f, OXL_INK_TITLE, "", 0, OXL_INK_TITLE, text);
    }
    oxl_lead_text(&r->lead, text);
    oxl_flow_text(f, OXL_INK_TITLE, "", 0, OXL_INK_TITLE, text);
}

/* What the data cannot show is to be ruled out before a converter is called bad. */
const char *oxl_result_step(const struct oxl_result *r, size_t i)
{
    size_t n = 0;
    while (oxl_next_step(r, n) != OXL_R_COUNT)
        n++;
    if (i < n)
        return oxl_reason_next(oxl_next_step(r, i));
    return r->conclusion == OXL_CONCLUSION_BAD ? oxl_other_cause(r->conclusion, i - n) : NULL;
}

void oxl_view_next_steps(struct oxl_flow *f, const struct oxl_result *r, int cols)
{
    const char *text;
    for (size_t i = 0; (text = oxl_result_step(r, i)); i++)
        oxl_flow_text(f, OXL_INK_KEY,
                      cols < 4                             ? ">"
                      : oxl_next_step(r, i) == OXL_R_COUNT ? "rule out"
                                                           : "next",
                      cols, OXL_INK_KEY, text);
}

/* A test that ended before its time says why in a check of its own. */
static void write_why_ended(struct oxl_flow *f, const struct oxl_model *m)
{
    static const char *const ids[] = {"ended-early", "repeated-failure"};
    for (size_t i = 0; i < 2; i++)
        if (oxl_test_record_check(m->record, ids[i]))
            oxl_flow_text(f, OXL_INK_CAUTION, "! ended", LEAD_COLS, OXL_INK_TEXT,
                          oxl_test_record_check(m->record, ids[i])->advice);
}

static void write_reasons(struct oxl_flow *f, const struct oxl_result *r)
{
    static const char *const pushes[] = {"why", "reads short", "reads long", "run void"};
    enum oxl_reason reason;
    for (size_t i = 0; (reason = oxl_nth_reason(r, i)) != OXL_R_COUNT; i++) {
        enum oxl_push push = oxl_reason_push(reason);
        oxl_flow_text(f, push ? OXL_INK_CAUTION : OXL_INK_DIM, pushes[push], LEAD_COLS,
                      OXL_INK_TEXT, oxl_reason_sentence(reason));
    }
}

/* What the leak check came to: a step or a cause below may hang on it. */
void oxl_view_leak_result(struct oxl_flow *f, const struct oxl_model *m, int cols)
{
    const struct oxl_check *leak = oxl_test_record_check(m->record, "leak-check-");
    char text[sizeof leak->found + 24];
    if (!leak)
        return;
    snprintf(text, sizeof text, "%s: %s",
             leak->grade == OXL_GRADE_PASS   ? "no leak seen"
             : leak->grade == OXL_GRADE_STOP ? "LEAK FOUND"
                                             : "unclear",
             leak->found);
    oxl_flow_text(f, OXL_INK_TITLE, cols < 4 ? "l" : "leak check", cols, OXL_INK_TEXT, text);
}

/* What to do comes before why. */
static void write_result(struct oxl_flow *f, const void *ctx)
{
    const struct oxl_model *m = ctx;
    const struct oxl_result *r = &m->record->result;
    char runs[96];
    oxl_view_result_head(f, m);
    runs_text(r, runs, sizeof runs);
    oxl_flow_text(f, OXL_INK_TEXT, "", 0, OXL_INK_TEXT, runs);
    write_why_ended(f, m);
    oxl_view_leak_result(f, m, LEAD_COLS);
    oxl_view_next_steps(f, r, LEAD_COLS);
    write_reasons(f, r);
    oxl_flow_text(f, OXL_INK_DIM, "", LEAD_COLS, OXL_INK_DIM,
                  "Supporting evidence, not a legal test: see the report for method and limits.");
}

void oxl_view_result(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    if (!m->record->has_result) {
        oxl_canvas_text(c, a.row, a.col, a.cols, OXL_INK_TEXT, "-- no result was given");
        return;
    }
    int made = (int)m->record->runs_n, most = a.rows < 16 ? 2 : a.rows < 24 ? 4 : 8;
    int runs = 2 + (made < 1 ? 1 : made > most ? most : made);
    struct oxl_area text = {a.row, a.col, a.rows - runs, a.cols};
    struct oxl_area table = {a.row + text.rows + 1, a.col, runs - 1, a.cols};
    oxl_flow_pages(c, text, m->screenful, write_result, m);
    oxl_view_runs(m, c, table);
}
