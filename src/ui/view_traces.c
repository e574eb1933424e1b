#include "view.h"

#include <stdio.h>
#include <string.h>

#include "large.h"
#include "oxylag/figure.h"

enum { GUTTER_COLS = 7, NUMBER_COLS = 18, CORNER = 0x250C, WALL = 0x2502, FOOT = 0x2514 };

/* The current values at the right of the traces. */
static int pane_cols(struct oxl_area a)
{
    return NUMBER_COLS + (a.cols >= 76 ? 13 : 9);
}

/* The current value three rows high, with its name, unit and what else is known beside it. */
static void draw_value(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a,
                       const struct oxl_signal *s)
{
    struct oxl_figure_cell value = oxl_figure_cell(s->value, s->decimals, s->with_sign);
    if (a.rows < 3) {
        int n = oxl_view_print(c, a.row, a.col, a.cols, s->ink, "%s %s %s", s->name, value.text,
                               s->unit);
        oxl_canvas_text(c, a.row, a.col + n + 1, a.cols - n - 1, OXL_INK_TITLE, s->word);
        if (a.rows == 2 && s->small[0][0])
            oxl_view_print(c, a.row + 1, a.col, a.cols, OXL_INK_DIM, "%s  %s", s->small[0],
                           s->small[1]);
        return;
    }
    int row = a.row, side = a.col + NUMBER_COLS, side_cols = a.cols - NUMBER_COLS;
    oxl_large_draw(c, row + (a.rows > 3), a.col, value.text, 1, s->ink, m->config.ascii);
    if (a.rows == 3) {
        oxl_view_print(c, row, side, side_cols, s->ink, "%s", s->name);
        oxl_canvas_text(c, row + 1, side, side_cols, s->word[0] ? OXL_INK_TITLE : OXL_INK_DIM,
                        s->word[0] ? s->word : s->unit);
        oxl_canvas_text(c, row + 2, side, side_cols, OXL_INK_DIM,
                        s->small[0][0] ? s->small[0]
                        : s->word[0]   ? s->unit
                                       : "");
        return;
    }
    int n = oxl_view_print(c, row, a.col, a.cols, s->ink, "%s, %s", s->name, s->unit);
    oxl_canvas_text(c, row, side, a.col + a.cols - side, OXL_INK_TITLE,
                    n < NUMBER_COLS ? s->word : "");
    oxl_canvas_text(c, row + 1, side, side_cols, OXL_INK_DIM, s->small[0]);
    oxl_canvas_text(c, row + 2, side, side_cols, OXL_INK_DIM, s->small[1]);
}

static void draw_gutter(struct oxl_canvas *c, const struct oxl_plot *p, const struct oxl_signal *s)
{
    int decimals = strcmp(s->unit, "%") == 0 ? 0 : 2, last = p->area.rows - 1;
    for (int r = 0; r <= last; r++)
        oxl_canvas_put(c, p->area.row + r, p->area.col - 1,
                       r == 0      ? CORNER
                       : r == last ? FOOT
                                   : WALL,
                       OXL_INK_DIM);
    const double at[] = {s->levels[0], s->levels[1], s->levels[2], p->high, p->low};
    for (size_t i = 0; i < sizeof at / sizeof at[0]; i++) {
        int row = oxl_plot_row(p, at[i]);
        if (row < 0 || oxl_canvas_at(c, row, p->area.col - 3).ch != ' ')
            continue;
        struct oxl_figure_cell n = oxl_figure_cell(at[i], decimals, false);
        int len = (int)strlen(n.text);
        oxl_canvas_text(c, row, p->area.col - 2 - len, len,
                        i < OXL_SIGNAL_LEVELS ? OXL_INK_TEXT : OXL_INK_DIM, n.text);
    }
}

static unsigned first_mark(const struct oxl_model *m)
{
    return m->marks_n > OXL_UI_MARKS ? m->marks_n - OXL_UI_MARKS : 0;
}

static void draw_trace(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a,
                       enum oxl_signal_kind kind, int64_t from_us, int64_t to_us)
{
    const struct oxl_signal s = oxl_signal_get(m, kind, from_us, to_us);
    struct oxl_area plot = {a.row, a.col + GUTTER_COLS, a.rows,
                            a.cols - GUTTER_COLS - pane_cols(a) - 1};
    struct oxl_plot p = {plot, from_us, to_us, s.low, s.high, s.ink, m->config.ascii};
    for (unsigned i = first_mark(m); i < m->marks_n; i++)
        oxl_plot_mark(c, &p, m->marks[i % OXL_UI_MARKS].t_us);
    for (int i = 0; i < OXL_SIGNAL_LEVELS; i++)
        oxl_plot_level(c, &p, s.levels[i]);
    oxl_plot_history(c, &p, s.history, m->around.now_us);
    draw_gutter(c, &p, &s);
    struct oxl_area pane = {a.row, a.col + a.cols - pane_cols(a), a.rows, pane_cols(a)};
    draw_value(m, c, pane, &s);
}

static bool is_blank(const struct oxl_canvas *c, int row, int col, int cols)
{
    for (int x = col; x < col + cols; x++)
        if (oxl_canvas_at(c, row, x).ch != ' ')
            return false;
    return true;
}

/* The letters of the marks, and seconds before now where no letter stands. */
static void draw_axis(const struct oxl_model *m, struct oxl_canvas *c, const struct oxl_plot *p,
                      int window_s)
{
    int row = p->area.row, end = p->area.col + p->area.cols;
    int step = window_s <= 30 ? 5 : window_s <= 60 ? 15 : 30;
    while (step < window_s && p->area.cols * step / window_s < 9)
        step *= 2;
    for (unsigned i = first_mark(m); i < m->marks_n; i++) {
        const struct oxl_axis_mark *mark = &m->marks[i % OXL_UI_MARKS];
        int col = oxl_plot_col(p, mark->t_us);
        if (col >= 0)
            oxl_canvas_put(c, row, col, (unsigned char)mark->letter, OXL_INK_ACTION);
    }
    if (is_blank(c, row, end - 4, 4))
        oxl_canvas_text(c, row, end - 3, 3, OXL_INK_DIM, "now");
    for (int s = window_s; s > 0; s -= step) {
        char text[16];
        int len = snprintf(text, sizeof text, "-%d s", s);
        int col = oxl_plot_col(p, p->to_us - s * INT64_C(1000000));
        if (col >= 0 && col + len < end && is_blank(c, row, col - 1, len + 2))
            oxl_canvas_text(c, row, col, len, OXL_INK_DIM, text);
    }
}

void oxl_view_traces(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    if (a.rows < 4 || a.cols < GUTTER_COLS + pane_cols(a) + 9) {
        oxl_view_values(m, c, a);
        return;
    }
    bool close = m->state == OXL_STATE_RELEASE || m->state == OXL_STATE_TIMING;
    int plot_cols = a.cols - GUTTER_COLS - pane_cols(a) - 1;
    int window_s = close ? 30 : plot_cols >= 80 ? 120 : 60;
    /* The window moves in whole points, else the drawn line would shimmer. */
    int64_t point_us =
        window_s * INT64_C(1000000) / ((int64_t)plot_cols * (m->config.ascii ? 1 : 2));
    int64_t to_us = (m->around.now_us / point_us + 1) * point_us;
    int64_t from_us = to_us - window_s * INT64_C(1000000);
    int left = a.rows - 1, row = a.row;
    for (int k = 0; k < OXL_SIGNAL_KINDS; k++) {
        int rows = (left + OXL_SIGNAL_KINDS - k - 1) / (OXL_SIGNAL_KINDS - k);
        struct oxl_area one = {row, a.col, rows, a.cols};
        draw_trace(m, c, one, (enum oxl_signal_kind)k, from_us, to_us);
        row += rows;
        left -= rows;
    }
    struct oxl_area last = {row, a.col + GUTTER_COLS, 1, plot_cols};
    struct oxl_plot axis = {last, from_us, to_us, 0, 1, OXL_INK_DIM, m->config.ascii};
    draw_axis(m, c, &axis, window_s);
    oxl_canvas_text(c, row, a.col + a.cols - pane_cols(a), pane_cols(a), OXL_INK_DIM,
                    "C cut, F/R front/rear lean");
}

void oxl_view_values(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    bool in_one_row = a.rows < OXL_SIGNAL_KINDS;
    int col = a.col;
    for (int k = 0; k < OXL_SIGNAL_KINDS; k++) {
        const struct oxl_signal s = oxl_signal_get(m, (enum oxl_signal_kind)k, 0, 0);
        int row = in_one_row ? a.row : a.row + k;
        int n = oxl_view_print(c, row, col, a.col + a.cols - col, s.ink,
                               in_one_row ? "%s %s %s " : "%-5s %7s %s ", s.name,
                               oxl_figure_cell(s.value, s.decimals, s.with_sign).text, s.unit);
        n += oxl_view_print(c, row, col + n, a.col + a.cols - col - n, OXL_INK_TITLE, "%s", s.word);
        if (in_one_row)
            col += n + 3;
        else
            oxl_view_print(c, row, a.col + 28, a.cols - 28, OXL_INK_DIM, "%s", s.small[0]);
    }
}
