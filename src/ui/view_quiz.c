/* The quiz: the traces without their answers, what the trainee has marked, and at the end of each
 * run how far off that was. */
#include "view.h"

#include <stdio.h>
#include <string.h>

#include "oxylag/figure.h"

/* Below this the answer table leaves the interval out. */
enum { FULL_COLS = 70 };

static const struct {
    const char *words, *sentence;
    enum oxl_ink band;
} phases[] = {
    [OXL_QUIZ_FRONT] = {"MARK FRONT-LEAN",
                        "Space when the front sensor goes lean after the cut; u takes it back.",
                        OXL_INK_ACTION},
    [OXL_QUIZ_REAR] =
        {"MARK REAR-LEAN",
         "Space when the rear sensor goes lean; nothing if it holds; u takes it back.",
         OXL_INK_ACTION},
    [OXL_QUIZ_MARKED] = {"BOTH MARKED", "The recording runs on; u takes the last mark back.",
                         OXL_INK_ACTION},
    [OXL_QUIZ_ANSWER] = {"ANSWER", "Paused. Space goes on.", OXL_INK_BAND_GOOD},
    [OXL_QUIZ_VERDICT] = {"YOUR VERDICT?",
                          "g good  B not bad  q questionable  G not good  b bad  i inconclusive",
                          OXL_INK_BAND_CAUTION},
    [OXL_QUIZ_SCORE] = {"SCORE", "x leaves.", OXL_INK_BAND_GOOD},
};

static double seconds(int64_t us)
{
    return (double)us / 1e6;
}

static const char *seconds_text(bool known, int64_t us, char out[24])
{
    snprintf(out, 24, known ? "%.2f s" : "--", seconds(us));
    return out;
}

static const char *error_text(double ms, char out[24])
{
    snprintf(out, 24, oxl_known(ms) ? "%+.0f ms" : "--", ms);
    return out;
}

/* One row of the table: what, marked at, true moment with interval, error, points. */
static void mark_row(struct oxl_canvas *c, struct oxl_area a, const char *name,
                     const struct oxl_quiz_mark *q)
{
    char given[24], answer[64] = "--", error[24];
    seconds_text(q->given, q->given_us, given);
    error_text(q->error_ms, error);
    if (q->none)
        snprintf(answer, sizeof answer, "none: the rear held");
    else if (q->answer.found)
        snprintf(answer, sizeof answer, "%.2f s (%.2f to %.2f)", seconds(q->answer.t_us),
                 seconds(q->answer.low_us), seconds(q->answer.high_us));
    if (!oxl_known(q->error_ms))
        snprintf(error, sizeof error, "%s",
                 q->of == q->points ? "right"
                 : q->given         ? "wrong"
                                    : "missed");
    if (a.cols < FULL_COLS) {
        oxl_view_print(c, a.row, a.col, a.cols, OXL_INK_TEXT, "%-10s %s  error %s  %d of %d", name,
                       given, error, q->points, q->of);
        return;
    }
    oxl_view_print(c, a.row, a.col, a.cols, OXL_INK_TEXT, "%-11s %-10s %-28s %-9s %d of %d", name,
                   given, answer, error, q->points, q->of);
}

static void answer_table(struct oxl_canvas *c, struct oxl_area a, const struct oxl_quiz_shown *q)
{
    const struct oxl_quiz_run *r = &q->runs[q->runs_n - 1];
    char delay[OXL_FIGURE_TEXT], head[48];
    snprintf(head, sizeof head, "run %d", r->run);
    if (a.cols >= FULL_COLS)
        oxl_view_print(c, a.row, a.col, a.cols, OXL_INK_FRAME, "%-11s %-10s %-28s %-9s %s", head,
                       "yours", "answer", "error", "points");
    else
        oxl_view_print(c, a.row, a.col, a.cols, OXL_INK_FRAME, "%-10s yours", head);
    a.row++;
    mark_row(c, a, "front-lean", &r->front);
    a.row++;
    mark_row(c, a, "rear-lean", &r->rear);
    a.row++;
    oxl_figure_span(&r->delay_s, 2, "s", delay);
    oxl_view_print(c, a.row, a.col, a.cols, OXL_INK_TITLE, "delay %s   score %d of %d", delay,
                   q->points, q->of);
}

/* The runs so far, one a row: what the verdict is to be judged by. */
static void run_rows(struct oxl_canvas *c, struct oxl_area a, const struct oxl_quiz_shown *q)
{
    int room = a.rows, first = q->runs_n > room ? q->runs_n - room : 0;
    for (int i = first; i < q->runs_n; i++, a.row++) {
        const struct oxl_quiz_run *r = &q->runs[i];
        char delay[OXL_FIGURE_TEXT], front[24], rear[24];
        oxl_figure_span(&r->delay_s, 2, "s", delay);
        oxl_view_print(c, a.row, a.col, a.cols, OXL_INK_TEXT,
                       "run %-2d %-24s errors: front %-9s rear %s", r->run, delay,
                       error_text(r->front.error_ms, front), error_text(r->rear.error_ms, rear));
    }
}

static void marking(struct oxl_canvas *c, struct oxl_area a, const struct oxl_quiz_shown *q)
{
    char front[24], rear[24];
    oxl_view_print(c, a.row, a.col, a.cols, OXL_INK_TITLE,
                   "this run    front-lean %-10s rear-lean %-10s",
                   seconds_text(q->front_marked, q->front_us, front),
                   seconds_text(q->rear_marked, q->rear_us, rear));
    struct oxl_area rest = {a.row + 1, a.col, a.rows - 1, a.cols};
    run_rows(c, rest, q);
}

static void score(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    const struct oxl_quiz_shown *q = &m->quiz;
    const struct oxl_result *answer = m->record->has_result ? &m->record->result : NULL;
    oxl_view_print(c, a.row, a.col, a.cols, OXL_INK_TITLE, "%d of %d points", q->points, q->of);
    if (answer)
        oxl_view_print(c, a.row + 1, a.col, a.cols, OXL_INK_TEXT, "verdict: yours %s, answer %s",
                       q->has_verdict ? oxl_conclusion_name(q->verdict) : "--",
                       oxl_conclusion_name(answer->conclusion));
    else
        oxl_view_print(c, a.row + 1, a.col, a.cols, OXL_INK_TEXT,
                       "verdict: the recording ends before one");
    struct oxl_area runs = {a.row + 2, a.col, a.rows - 2 < q->runs_n ? a.rows - 2 : q->runs_n,
                            a.cols};
    run_rows(c, runs, q);
    struct oxl_flow f = {c, {runs.row + runs.rows, a.col, a.rows - 2 - runs.rows, a.cols}, 0, 0};
    enum oxl_reason reason;
    for (size_t i = 0;
         answer && f.area.rows > 0 && (reason = oxl_nth_reason(answer, i)) != OXL_R_COUNT; i++)
        oxl_flow_text(&f, OXL_INK_DIM, "-", 2, OXL_INK_TEXT, oxl_reason_sentence(reason));
}

static void verdict(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    oxl_view_print(c, a.row, a.col, a.cols, OXL_INK_TITLE,
                   "limits: bad < %s s   good > %s s   then the reasons",
                   oxl_figure_cell(m->record->profile.bad_s, 1, false).text,
                   oxl_figure_cell(m->record->profile.good_s, 1, false).text);
    struct oxl_area rest = {a.row + 1, a.col, a.rows - 1, a.cols};
    run_rows(c, rest, &m->quiz);
}

static void draw_panel(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    const struct oxl_quiz_shown *q = &m->quiz;
    switch (q->phase) {
    case OXL_QUIZ_ANSWER:
        if (q->runs_n > 0)
            answer_table(c, a, q);
        break;
    case OXL_QUIZ_VERDICT:
        verdict(m, c, a);
        break;
    case OXL_QUIZ_SCORE:
        score(m, c, a);
        break;
    default:
        marking(c, a, q);
        break;
    }
}

static void draw_foot(const struct oxl_model *m, struct oxl_canvas *c, int row)
{
    static const char *const keys[][2] = {{"space", "mark, go on"}, {"u", "undo"},  {"p", "pause"},
                                          {"+/-", "rate"},          {"x", "leave"}, {"?", "help"}};
    char state[64];
    snprintf(state, sizeof state, "%s s x%s",
             oxl_figure_cell(seconds(m->around.now_us), 1, false).text,
             oxl_figure_cell(m->around.replay_rate, 2, false).text);
    int cols = oxl_canvas_cols(c), col = 1, len = (int)strlen(state), end = cols - 2 - len;
    oxl_canvas_text(c, row, end + 1, len, OXL_INK_DIM, state);
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        if (!oxl_view_key(c, row, &col, end - 2, keys[i][0], OXL_INK_TEXT, keys[i][1]))
            return;
}

void oxl_view_quiz(const struct oxl_model *m, struct oxl_canvas *c)
{
    const struct oxl_quiz_shown *q = &m->quiz;
    int rows = oxl_canvas_rows(c), cols = oxl_canvas_cols(c);
    int band = rows >= 34 ? 5 : rows >= 20 ? 3 : 1, panel = rows >= 34 ? 8 : rows >= 20 ? 5 : 4;
    char words[40];
    snprintf(words, sizeof words, "%s", phases[q->phase].words);
    if (q->phase == OXL_QUIZ_SCORE)
        snprintf(words, sizeof words, "SCORE %d OF %d", q->points, q->of);
    if (q->phase == OXL_QUIZ_SCORE && q->of == 0)
        snprintf(words, sizeof words, "NOTHING TO SCORE");
    oxl_view_banner(c, band, phases[q->phase].band, words, m->config.ascii);
    bool paused = m->around.paused && q->phase < OXL_QUIZ_ANSWER;
    oxl_canvas_text(c, band, 1, cols - 2, paused ? OXL_INK_CAUTION : OXL_INK_TEXT,
                    paused ? "! PAUSED: p goes on." : phases[q->phase].sentence);
    /* At the end the reasons need the room more than the traces do. */
    if (q->phase == OXL_QUIZ_SCORE)
        panel = rows - band - 3;
    struct oxl_area traces = {band + 1, 1, rows - band - panel - 3, cols - 2};
    struct oxl_area below = {rows - 1 - panel, 1, panel, cols - 2};
    if (traces.rows >= 3)
        oxl_view_traces(m, c, traces);
    if (below.row > band)
        draw_panel(m, c, below);
    draw_foot(m, c, rows - 1);
}
