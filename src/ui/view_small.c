/* Screens that are too small for the whole: what to do, and the one thing that matters now. */
#include "view.h"

#include <stdio.h>

#include "gauge.h"
#include "headline.h"
#include "large.h"
#include "oxylag/figure.h"

static void draw_shift(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    struct oxl_figure_cell shift = oxl_figure_cell(m->live.shift_pct, 1, true);
    int cols = oxl_large_draw(c, a.row, a.col, shift.text, 1, OXL_INK_TITLE, m->config.ascii);
    struct oxl_area line = {a.row + 3, a.col, 1, a.cols};
    struct oxl_area values = {a.row + 4, a.col, a.rows >= 8 ? 3 : 1, a.cols};
    oxl_view_print(c, a.row, a.col + cols + 2, a.cols - cols - 2, OXL_INK_TEXT, "%% trim shift");
    oxl_view_print(c, a.row + 1, a.col + cols + 2, a.cols - cols - 2, OXL_INK_TEXT, "want %s %%",
                   oxl_figure_cell(m->live.target_pct, 0, false).text);
    const struct oxl_headline h = oxl_headline(m);
    oxl_view_print(c, a.row + 2, a.col + cols + 2, a.cols - cols - 2, OXL_INK_TITLE, "%s",
                   oxl_gauge_word(h.hand));
    oxl_gauge_line(c, line, &m->live);
    if (a.rows >= 5)
        oxl_view_values(m, c, values);
}

static void draw_result(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    struct oxl_flow f = {c, a, 0, 0};
    enum oxl_reason reason;
    oxl_view_result_head(&f, m);
    oxl_view_next_steps(&f, &m->record->result, 2);
    oxl_view_leak_result(&f, m, 2);
    for (size_t i = 0; (reason = oxl_nth_reason(&m->record->result, i)) != OXL_R_COUNT; i++)
        oxl_flow_text(&f, OXL_INK_DIM, "-", 2, OXL_INK_TEXT, oxl_reason_sentence(reason));
}

static void draw_baseline(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    double left = oxl_view_baseline_left(m);
    oxl_view_values(m, c, a);
    if (!m->has_live || a.rows < 5)
        return;
    if (left > 0 || !oxl_known(left))
        oxl_view_print(c, a.row + 4, a.col, a.cols, OXL_INK_TEXT, "seconds left %s",
                       oxl_figure_cell(left, 1, false).text);
    else
        oxl_canvas_text(c, a.row + 4, a.col, a.cols, OXL_INK_TEXT,
                        "waits for steady trims and speed");
}

/* False for a state that has no small drawing of its own. */
static bool draw_state(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    bool timed = m->state >= OXL_STATE_RELEASE && m->state <= OXL_STATE_RECOVERY;
    if (timed)
        oxl_view_timer(m, c, a, a.rows >= oxl_large_rows(3) + 1 ? 3 : 2);
    else if (m->state == OXL_STATE_ENRICHMENT)
        draw_shift(m, c, a);
    else if (m->state == OXL_STATE_BASELINE)
        draw_baseline(m, c, a);
    else if (m->state == OXL_STATE_DONE && m->record->has_result)
        draw_result(m, c, a);
    else
        return false;
    return true;
}

void oxl_view_small(const struct oxl_model *m, struct oxl_canvas *c)
{
    int rows = oxl_canvas_rows(c), cols = oxl_canvas_cols(c);
    int row = oxl_view_head(m, c);
    struct oxl_area middle = {row + 1, 1, rows - row - 2, cols - 2};
    if (m->page == OXL_PAGE_CHECKS || !draw_state(m, c, middle))
        oxl_view_middle(m, c, middle);
    oxl_view_path(m, c, row);
    oxl_view_status(m, c, rows - 1);
}

/* What holds the test up, and the key against it: the list has no room here. */
static void draw_first_stop(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    const struct oxl_check *stop = oxl_model_first_stop(m);
    struct oxl_flow f = {c, {a.row, a.col, a.rows - 1, a.cols}, 0, 0};
    if (stop)
        oxl_flow_text(&f, OXL_INK_BAND_CAUTION, "", 0, OXL_INK_BAND_CAUTION, stop->found);
    oxl_canvas_text(c, a.row + a.rows - 1, a.col, a.cols, OXL_INK_BAND_CAUTION,
                    "space: go on anyway");
}

/* Beneath a verdict stands what to do next. */
static void draw_sentences(const struct oxl_model *m, const struct oxl_headline *h,
                           struct oxl_canvas *c, struct oxl_area a)
{
    struct oxl_flow f = {c, a, 0, 0};
    const struct oxl_result *r = &m->record->result;
    const char *step = oxl_headline_is_verdict(m) ? oxl_result_step(r, 0) : NULL;
    char verdict[40];
    oxl_flow_text(&f, h->band, "", 0, h->band,
                  step         ? step
                  : h->note[0] ? h->note /* the words above stay */
                               : h->sentence);
    if (oxl_headline_hides_verdict(m)) {
        snprintf(verdict, sizeof verdict, "verdict %s", oxl_conclusion_name(r->conclusion));
        oxl_flow_text(&f, h->band, "", 0, h->band, verdict);
    }
}

void oxl_view_tiny(const struct oxl_model *m, struct oxl_canvas *c)
{
    const struct oxl_headline h = oxl_headline(m);
    int rows = oxl_canvas_rows(c), cols = oxl_canvas_cols(c);
    oxl_view_fill(c, 0, rows, h.band);
    int row = oxl_view_head(m, c);
    struct oxl_area rest = {row, 0, rows - row, cols};
    if (rest.rows > 0 && h.advice == OXL_ADV_CHECK_STOPS)
        draw_first_stop(m, c, rest);
    else if (rest.rows > 0)
        draw_sentences(m, &h, c, rest);
}
