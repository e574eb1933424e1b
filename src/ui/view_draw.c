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

static void draw_middle(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    if (m->page == OXL_PAGE_CHECKS) {
        oxl_view_checks(m, c, a);
        return;
    }
    switch (m->state) {
    case OXL_STATE_PRECHECK:
        oxl_view_checks(m, c, a);
        break;
    case OXL_STATE_LEAK_CHECK:
        oxl_view_leak(m, c, a);
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
    } else if (oxl_view_is_tiny(c)) {
        oxl_view_tiny(m, c);
    } else if (rows < 20 || cols < 60) {
        oxl_view_small(m, c);
    } else {
        int row = oxl_view_head(m, c);
        struct oxl_area middle = {row + 1, 1, rows - row - 3, cols - 2};
        draw_middle(m, c, middle);
        oxl_view_path(m, c, row);
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
