#include "oxylag/ui.h"

#include <stdarg.h>
#include <stdio.h>

#include "view.h"

int oxl_view_print(struct oxl_canvas *c, int row, int col, int max_cols, enum oxl_ink ink,
                   const char *format, ...)
{
    char text[320];
    va_list args;
    va_start(args, format);
    int n = vsnprintf(text, sizeof text, format, args);
    va_end(args);
    return n < 0 ? 0 : oxl_canvas_text(c, row, col, max_cols, ink, text);
}

void oxl_view_middle(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    static void (*const of[OXL_STATE_COUNT])(const struct oxl_model *m, struct oxl_canvas *c,
                                             struct oxl_area a) = {
        [OXL_STATE_PRECHECK] = oxl_view_checks,
        [OXL_STATE_LEAK_CHECK] = oxl_view_leak,
        [OXL_STATE_DONE] = oxl_view_result,
        [OXL_STATE_STOPPED] = oxl_view_stopped,
    };
    enum oxl_state s = m->page == OXL_PAGE_CHECKS ? OXL_STATE_PRECHECK : m->state;
    (of[s] ? of[s] : oxl_view_test)(m, c, a);
}

static void draw_page(const struct oxl_model *m, struct oxl_canvas *c)
{
    int rows = oxl_canvas_rows(c), cols = oxl_canvas_cols(c);
    if (m->page == OXL_PAGE_CAUTIONS) {
        oxl_view_cautions(m, c);
    } else if (m->page == OXL_PAGE_HELP) {
        oxl_view_help(m, c);
    } else if (m->page == OXL_PAGE_QUIZ) {
        oxl_view_quiz(m, c);
    } else if (oxl_view_is_tiny(c)) {
        oxl_view_tiny(m, c);
    } else if (rows < 20 || cols < 60) {
        oxl_view_small(m, c);
    } else {
        int row = oxl_view_head(m, c);
        struct oxl_area middle = {row + 1, 1, rows - row - 3, cols - 2};
        oxl_view_middle(m, c, middle);
        oxl_view_path(m, c, row);
        oxl_view_status(m, c, rows - 2);
        oxl_view_keys(m, c, rows - 1);
    }
}

static uint32_t fold(uint32_t ch)
{
    static const struct {
        uint32_t from, to;
    } table[] = {
        {0x2500, '-'}, {0x2550, '='}, {0x2502, '|'}, {0x250C, '|'}, {0x2514, '|'},
        {0x2588, '='}, {0x2592, '+'}, {0x2591, ':'}, {0x2573, 'X'}, {0x25BC, 'v'},
        {0x25B2, '^'}, {0x25B6, '>'}, {0x25CF, '*'}, {0x2713, '+'}, {0x2717, 'x'},
        {0x2026, '.'}, {0x00B7, '.'}, {0x00B0, ' '}, {0x2014, '-'}, {0x2013, '-'},
    };
    if (ch < 0x7F)
        return ch;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        if (table[i].from == ch)
            return table[i].to;
    return '?';
}

void oxl_view_fold_ascii(struct oxl_canvas *c)
{
    for (int row = 0; row < oxl_canvas_rows(c); row++)
        for (int col = 0; col < oxl_canvas_cols(c); col++) {
            struct oxl_cell cell = oxl_canvas_at(c, row, col);
            if (cell.ch > 0x7E)
                oxl_canvas_put(c, row, col, fold(cell.ch), (enum oxl_ink)cell.ink);
        }
}

void oxl_view_draw(const struct oxl_model *m, struct oxl_canvas *c)
{
    oxl_canvas_clear(c);
    draw_page(m, c);
    if (m->config.ascii)
        oxl_view_fold_ascii(c);
}
