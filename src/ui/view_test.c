/* The middle of the screen from baseline to recovery. */
#include "view.h"

#include <math.h>
#include <stdio.h>

#include "gauge.h"
#include "headline.h"
#include "large.h"
#include "oxylag/figure.h"

enum { NUMBER_COLS = 20 };

static void draw_shift(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    struct oxl_area right = {a.row, a.col + NUMBER_COLS, a.rows, a.cols - NUMBER_COLS};
    if (m->live.deeper && oxl_known(m->live.needed_mg))
        oxl_view_print(c, a.row, a.col, NUMBER_COLS, OXL_INK_TITLE, "O2 out %s of %s mg",
                       oxl_figure_cell(m->live.removed_mg, 0, false).text,
                       oxl_figure_cell(m->live.needed_mg, 0, false).text);
    else
        oxl_canvas_text(c, a.row, a.col, NUMBER_COLS, OXL_INK_TITLE, "trim shift, %");
    oxl_large_draw(c, a.row + 1, a.col, oxl_figure_cell(m->live.shift_pct, 1, true).text, 1,
                   OXL_INK_TITLE, m->config.ascii);
    oxl_gauge_draw(c, right, &m->live, oxl_advice_hand(oxl_headline_advice(m)));
}

static void progress(struct oxl_canvas *c, struct oxl_area a, double done)
{
    for (int i = 0; i < a.cols; i++)
        oxl_canvas_put(c, a.row, a.col + i, i < (int)lround(done * a.cols) ? 0x2588 : 0x2500,
                       OXL_INK_GOOD);
}

/* Nothing counts down while the valve is to be shut: no baseline is taken then. */
double oxl_view_baseline_left(const struct oxl_model *m)
{
    bool held = oxl_advice_hand(oxl_headline_advice(m)) == OXL_HAND_SHUT;
    return m->has_live && !held ? ceil(10 * m->live.baseline_left_s) / 10 : NAN;
}

/* What is counted down, or what it waits for: nothing stands at 0. */
static const char *baseline_words(double left)
{
    return !oxl_known(left) ? "waits"
           : left > 0       ? "steady so far"
                            : "waits until trims and speed are steady";
}

static void draw_baseline(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    double left = oxl_view_baseline_left(m), window = m->record->profile.window_s;
    struct oxl_area right = {a.row + 1, a.col + NUMBER_COLS, 1, a.cols - NUMBER_COLS};
    oxl_canvas_text(c, a.row, a.col, NUMBER_COLS, OXL_INK_TITLE, "seconds left");
    oxl_large_draw(c, a.row + 1, a.col, left > 0 ? oxl_figure_cell(left, 1, false).text : "--", 1,
                   OXL_INK_TITLE, m->config.ascii);
    oxl_canvas_text(c, a.row, right.col, right.cols, OXL_INK_TEXT, baseline_words(left));
    progress(c, right, oxl_known(left) && window > 0 ? fmin(fmax(1 - left / window, 0), 1) : 0);
    oxl_view_print(c, a.row + 2, right.col, right.cols, OXL_INK_TEXT,
                   "trim band allowed %s %%   engine %s rpm   air %s g/s",
                   oxl_figure_cell(m->record->profile.band_pct, 0, false).text,
                   oxl_figure_cell(oxl_reading_now(m, m->rpm, 5000000), 0, false).text,
                   oxl_figure_cell(oxl_reading_now(m, m->air, 5000000), 1, false).text);
}

static bool fell_first(const struct oxl_run_result *r)
{
    return r && oxl_reasons_has(r->reasons, OXL_R_REAR_LEAN_FIRST);
}

/* Large number shown by the timer: running seconds, or what the last run took; "--.-". */
static void timer_text(const struct oxl_model *m, char *out, size_t n)
{
    const struct oxl_run_result *last = oxl_model_last_run(m);
    double s = m->state == OXL_STATE_TIMING ? m->live.timing_s : (double)NAN;
    if (m->state == OXL_STATE_RECOVERY && last) /* "at least" stands beside a bound */
        s = oxl_known(last->delay_s.value) ? last->delay_s.value : last->delay_s.low;
    if (s < 0) /* of a dead one within its interval; of a leak it is no time */
        s = fell_first(last) ? (double)NAN : 0;
    snprintf(out, n, oxl_known(s) ? "%.1f" : "--.-", s);
}

static void run_line(struct oxl_canvas *c, struct oxl_area a, const struct oxl_test_record *record,
                     const struct oxl_run_result *r)
{
    const struct oxl_run_figures f = oxl_run_shown(record, r);
    char delay[OXL_FIGURE_TEXT];
    oxl_figure_span(&f.delay_s, 2, "s", delay);
    oxl_view_print(c, a.row, a.col, a.cols, r->valid ? OXL_INK_TEXT : OXL_INK_DIM, "run %d  %s%s",
                   r->run, r->valid ? "" : "void ", delay);
}

static const char *timer_meaning(const struct oxl_model *m)
{
    const struct oxl_run_result *last = oxl_model_last_run(m);
    if (m->state == OXL_STATE_TIMING)
        return m->has_action && m->action == OXL_ADV_REAR_LEAN ? "seconds, front to rear lean"
                                                               : "seconds since front-lean";
    if (m->state == OXL_STATE_RELEASE)
        return "waiting for front-lean";
    if (last && !last->valid)
        return "that run does not count";
    if (fell_first(last))
        return "no time: the rear fell before the front";
    return last && !last->dropped ? "seconds at least: rear held" : "seconds, front to rear lean";
}

/* By hand: how deep the trainee came, against what was wanted. In the past tense: it is no word
 * on what the hand is to do now. */
static void depth_line(const struct oxl_model *m, struct oxl_canvas *c, int row, struct oxl_area a)
{
    double shift = oxl_model_last_run(m)->shift_pct;
    oxl_view_print(c, row, a.col, a.cols, OXL_INK_TITLE, "your depth was %s %% (want %s): %s",
                   oxl_figure_cell(shift, 1, true).text,
                   oxl_figure_cell(m->live.target_pct, 0, false).text,
                   oxl_depth_words(shift, m->live.accept_low_pct, m->live.accept_high_pct));
}

/* What the large seconds mean, the limits, and the runs so far. */
static void timer_side(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    char text[OXL_FIGURE_TEXT];
    struct oxl_area one = {a.row, a.col, 1, a.cols};
    const struct oxl_run_result *last =
        m->state == OXL_STATE_RECOVERY ? oxl_model_last_run(m) : NULL;
    int runs = (int)m->record->runs_n;
    oxl_canvas_text(c, one.row++, a.col, a.cols, OXL_INK_TITLE, timer_meaning(m));
    if (m->has_live)
        oxl_view_print(c, one.row++, a.col, a.cols, OXL_INK_DIM, "bad < %s s   good > %s s",
                       oxl_figure_cell(m->record->profile.bad_s, 1, false).text,
                       oxl_figure_cell(m->record->profile.good_s, 1, false).text);
    if (last) {
        const struct oxl_run_figures f = oxl_run_shown(m->record, last);
        oxl_figure_span(&f.o2_mg, 0, "mg", text);
        oxl_view_print(c, one.row++, a.col, a.cols, OXL_INK_TEXT, "oxygen %s", text);
    }
    if (last && m->has_live && oxl_known(m->around.valve))
        depth_line(m, c, one.row++, a);
    if (m->state == OXL_STATE_RECOVERY && m->has_live)
        oxl_view_print(c, one.row++, a.col, a.cols, OXL_INK_TEXT, "trim shift now %s %%",
                       oxl_figure_cell(m->live.shift_pct, 1, true).text);
    int room = a.row + a.rows - one.row;
    for (int i = runs > room ? runs - room : 0; i < runs; i++, one.row++)
        run_line(c, one, m->record, &m->record->runs[i]);
}

void oxl_view_timer(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a, int scale)
{
    char text[24];
    timer_text(m, text, sizeof text);
    while (scale > 1 && oxl_large_cols(text, scale) > a.cols)
        scale--;
    enum oxl_ink ink = m->state == OXL_STATE_TIMING ? OXL_INK_TITLE : OXL_INK_TEXT;
    int side = oxl_large_cols("88.8", scale), cols = oxl_large_cols(text, scale);
    side = (cols > side ? cols : side) + 3;
    oxl_large_draw(c, a.row, a.col + (cols < side - 3 ? side - 3 - cols : 0), text, scale, ink,
                   m->config.ascii);
    struct oxl_area right = {a.row, a.col + side, oxl_large_rows(scale), a.cols - side};
    if (right.cols >= 16)
        timer_side(m, c, right);
}

static int timer_scale(int rows)
{
    return rows >= 28 ? 4 : rows >= 17 ? 3 : 2;
}

static int runs_rows(const struct oxl_model *m, int rows)
{
    if (rows < 24)
        return 0;
    int made = (int)m->record->runs_n,
        runs = m->has_live && m->live.runs > made ? m->live.runs : made;
    runs = runs < 3 ? 3 : runs > 6 ? 6 : runs;
    return runs + 2;
}

void oxl_view_test(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    bool timed = m->state >= OXL_STATE_RELEASE && m->state <= OXL_STATE_RECOVERY;
    int runs = runs_rows(m, a.rows);
    int gauge = !timed ? OXL_GAUGE_ROWS : a.rows >= 26 ? OXL_GAUGE_ROWS + 1 : 0;
    struct oxl_area part = {a.row, a.col, a.rows - runs - gauge, a.cols};
    if (timed) {
        int scale = timer_scale(a.rows), rows = oxl_large_rows(scale);
        oxl_view_timer(m, c, part, scale);
        part.row += rows;
        part.rows -= rows;
    }
    oxl_view_traces(m, c, part);
    part.row += part.rows;
    part.rows = gauge;
    if (m->state == OXL_STATE_BASELINE)
        draw_baseline(m, c, part);
    else if (gauge)
        draw_shift(m, c, part);
    struct oxl_area table = {a.row + a.rows - runs + 1, a.col, runs - 1, a.cols};
    if (runs)
        oxl_view_runs(m, c, table);
}
