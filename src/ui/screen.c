#include "screen.h"

#include <stdio.h>
#include <string.h>

#include "view.h"

enum { LEAST_ROWS = 16, LEAST_COLS = 60, NOTE_ROWS = 3, COMMAND_ROWS = 3 };

/* Wrapped, at most `most` rows, its last row at `bottom`; returns the row above it. */
static int draw_above(struct oxl_canvas *c, int bottom, int most, enum oxl_ink ink,
                      const char *lead, const char *text)
{
    int indent = (int)strlen(lead), cols = oxl_canvas_cols(c) - 2;
    int rows = oxl_flow_rows(text, cols - indent);
    rows = rows < most ? rows : most;
    struct oxl_flow f = {c, {bottom - rows + 1, 1, rows, cols}, 0, 0};
    oxl_flow_text(&f, ink, lead, indent, ink, text);
    return bottom - rows;
}

static void draw_keys(const struct oxl_screen *s, struct oxl_canvas *c, int row)
{
    int col = 1;
    for (const char *const(*k)[2] = s->keys; k && (*k)[0]; k++)
        if (!oxl_view_key(c, row, &col, oxl_canvas_cols(c) - 1, (*k)[0], OXL_INK_TEXT, (*k)[1]))
            return;
}

static void draw_too_small(const struct oxl_screen *s, struct oxl_canvas *c)
{
    char text[160];
    struct oxl_flow f = {c, {0, 0, oxl_canvas_rows(c), oxl_canvas_cols(c)}, 0, 0};
    snprintf(text, sizeof text, "%.60s: make the window larger, %d columns by %d rows at least",
             s->title, LEAST_COLS, LEAST_ROWS);
    oxl_flow_text(&f, OXL_INK_CAUTION, "", 0, OXL_INK_CAUTION, text);
}

static void draw_parts(const struct oxl_screen *s, struct oxl_canvas *c)
{
    int rows = oxl_canvas_rows(c), cols = oxl_canvas_cols(c), band = rows >= 20 ? 3 : 1;
    oxl_view_banner(c, band, OXL_INK_ACTION, s->title, s->ascii);
    struct oxl_flow say = {c, {band, 1, 2, cols - 2}, 0, 0};
    oxl_flow_text(&say, OXL_INK_TITLE, "", 0, OXL_INK_TITLE, s->sentence);
    int top = band + (say.count < 2 ? say.count : 2) + 1, bottom = rows - 2;
    draw_keys(s, c, rows - 1);
    if (s->command)
        bottom = draw_above(c, bottom, COMMAND_ROWS, OXL_INK_DIM, "$ ", s->command);
    if (s->note && s->note[0])
        bottom = draw_above(c, bottom, NOTE_ROWS, s->note_ink, "", s->note);
    bool whole = s->list && s->list->text; /* a page is 80 columns wide */
    struct oxl_area a = {top, whole ? 0 : 1, bottom - top, whole ? cols : cols - 2};
    if (s->list)
        oxl_list_draw(s->list, c, a);
    if (s->form)
        oxl_form_draw(s->form, c, a);
}

void oxl_screen_draw(const struct oxl_screen *s, struct oxl_canvas *c)
{
    oxl_canvas_clear(c);
    if (oxl_canvas_rows(c) < LEAST_ROWS || oxl_canvas_cols(c) < LEAST_COLS)
        draw_too_small(s, c);
    else
        draw_parts(s, c);
    if (s->ascii)
        oxl_view_fold_ascii(c);
}
