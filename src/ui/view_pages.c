/* Cautions and help: pages of text. */
#include "view.h"

#include <string.h>

static void write_cautions(struct oxl_flow *f, const void *ctx)
{
    const struct oxl_model *m = ctx;
    if (m->cautions_n == 0)
        oxl_flow_text(f, OXL_INK_CAUTION, "!", 3, OXL_INK_TEXT, "--");
    for (size_t i = 0; i < m->cautions_n; i++)
        oxl_flow_text(f, OXL_INK_CAUTION, "!", 3, OXL_INK_TEXT, m->cautions[i]);
}

static struct oxl_area cautions_area(int rows, int cols, int *band)
{
    *band = rows >= 20 && cols >= 60 ? 3 : rows >= 6 ? 1 : 0;
    struct oxl_area a = {*band, 1, rows - 1 - *band, cols - 2};
    if (a.rows >= 12) { /* air around the text */
        a.row++;
        a.rows -= 2;
    }
    return a;
}

bool oxl_model_cautions_read(const struct oxl_model *m, int rows, int cols)
{
    int band;
    struct oxl_area a = cautions_area(rows, cols, &band);
    return m->furthest + 1 >= oxl_flow_pages(NULL, a, 0, write_cautions, m);
}

/* The last row: what to press. Nothing is accepted before it was shown. */
static void draw_acknowledge(struct oxl_canvas *c, bool read)
{
    int rows = oxl_canvas_rows(c), cols = oxl_canvas_cols(c);
    const char *text = read ? "Enter: I have read this, a: leave" : "Enter: next part, a: leave";
    int len = (int)strlen(text);
    oxl_view_fill(c, rows - 1, 1, OXL_INK_ACTION);
    if (len <= cols)
        oxl_canvas_text(c, rows - 1, (cols - len) / 2, len, OXL_INK_ACTION, text);
    else
        oxl_canvas_text(c, rows - 1, 0, cols, OXL_INK_ACTION, "Enter / a");
}

void oxl_view_cautions(const struct oxl_model *m, struct oxl_canvas *c)
{
    int band, rows = oxl_canvas_rows(c), cols = oxl_canvas_cols(c);
    struct oxl_area a = cautions_area(rows, cols, &band);
    if (band)
        oxl_view_banner(c, band, OXL_INK_BAND_CAUTION, "CAUTIONS", m->config.ascii);
    draw_acknowledge(c, oxl_model_cautions_read(m, rows, cols));
    oxl_flow_pages(c, a, m->screenful, write_cautions, m);
}

struct help_line {
    const char *lead, *text; /* lead NULL: a heading; text NULL: the end */
};

static const struct help_line help_live[] = {
    {NULL, "Keys (the data drive the test; keys only help)"},
    {"space",
     "now: cut, front-lean by eye, or go on although a check holds the test (it is recorded)"},
    {"r", "restart this run"},
    {"d", "a deeper run at the end; when one is offered: end without it"},
    {"l", "leak check, as soon as this run is over; again: repeat"},
    {"n", "the converter is new (again: it is not)"},
    {"c", "the pre-check's lines; c again goes back"},
    {"m", "mark this moment in the recording"},
    {"s", "sound off, and on again"},
    {"a", "end the test; during a run it is asked for once more"},
    {"left right", "by hand: gas valve by 5 %; up 1 % more, down shuts it, 0-9 set tens"},
    {"up down", "turn a text that does not fit"},
    {"?", "this page; ? again goes back"},
    {0}};

static const struct help_line help_replay[] = {{NULL, "Keys of a replay"},
                                               {"p", "pause and go on"},
                                               {".", "one step while paused"},
                                               {"+ -", "faster, slower"},
                                               {"n", "to the next event"},
                                               {"left right", "10 s back, 10 s on"},
                                               {"space", "pause; in a quiz: mark what you see"},
                                               {"u", "in a quiz: take the last mark back"},
                                               {"c", "the pre-check's lines; c again goes back"},
                                               {"s", "sound off, and on again"},
                                               {"q x", "leave (in a quiz only x)"},
                                               {"?", "this page; ? again goes back"},
                                               {0}};

static const struct help_line help_test[] = {
    {NULL, "The test"},
    {"baseline", "trims and speed steady; hose in place, valve shut"},
    {"enrichment", "gas slowly until the trims have shifted to the target; hold"},
    {"release", "shut the valve at once when the screen says so; pull the hose clear"},
    {"timing", "from front sensor lean to rear sensor lean"},
    {"recovery", "trims back to the baseline, then the next run"},
    {NULL, "Signs"},
    {"C F R M", "on the time axis: cut, front-lean, rear-lean, mark"},
    {"--", "not known (never a zero)"},
    {"reads short", "this flaw makes the delay shorter than it is; reads long: longer"},
    {"+1", "beside a run: so many more reasons, named on the page"},
    {0}};

static void write_help_lines(struct oxl_flow *f, const struct help_line *l)
{
    for (; l->text; l++) {
        if (!l->lead && f->count)
            f->count++; /* a blank row */
        if (l->lead)
            oxl_flow_text(f, OXL_INK_KEY, l->lead, 12, OXL_INK_TEXT, l->text);
        else
            oxl_flow_text(f, OXL_INK_TITLE, "", 0, OXL_INK_TITLE, l->text);
    }
}

static void write_help(struct oxl_flow *f, const void *ctx)
{
    const struct oxl_model *m = ctx;
    write_help_lines(f, m->config.mode == OXL_UI_REPLAY ? help_replay : help_live);
    write_help_lines(f, help_test);
}

/* Help never hides what is to be done; a quiz has no headline, as it would hold the answer. */
void oxl_view_help(const struct oxl_model *m, struct oxl_canvas *c)
{
    int rows = oxl_canvas_rows(c), row = m->quizzing ? 0 : oxl_view_head(m, c);
    struct oxl_area a = {row, 1, rows - row, oxl_canvas_cols(c) - 2};
    if (a.rows >= 20) {
        oxl_canvas_text(c, row, 1, a.cols, OXL_INK_TITLE, "oxylag help");
        a.row++;
        a.rows--;
    }
    oxl_flow_pages(c, a, m->screenful, write_help, m);
}
