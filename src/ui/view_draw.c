#include "oxylag/ui.h"

#include <stdarg.h>
#include <stdio.h>

#include "fold.h"
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

static int band_rows(int rows, int cols)
{
    if (cols < 100 || rows < 34)
        return 3;
    return rows < 44 ? 5 : 7;
}

static void draw_middle(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    switch (m->state) {
    case OXL_STATE_PRECHECK:
        oxl_view_checks(m, c, a);
        break;
    case OXL_STATE_DONE:
        oxl_view_result(m, c, a);
        break;
    case OXL_STATE_STOPPED:
        oxl_view_stopped(m, c, a);
        break;
    default:
        oxl_view_test(m, c, a);
        break;
    }
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
    } else if (rows < 10 || cols < 40) {
        oxl_view_tiny(m, c);
    } else if (rows < 20 || cols < 60) {
        oxl_view_small(m, c);
    } else {
        int band = band_rows(rows, cols);
        struct oxl_area middle = {band + 2, 1, rows - band - 4, cols - 2};
        oxl_view_band(m, c, band);
        oxl_view_sentence(m, c, band, 1);
        oxl_view_path(m, c, band + 1);
        draw_middle(m, c, middle);
        oxl_view_status(m, c, rows - 2);
        oxl_view_keys(m, c, rows - 1);
    }
}

void oxl_view_draw(const struct oxl_model *m, struct oxl_canvas *c)
{
    oxl_canvas_clear(c);
    draw_page(m, c);
    if (m->config.ascii)
        oxl_fold_ascii(c);
}
