/* A value over time on cells: braille dots (2 by 4 in a cell), or one point a cell in ASCII. */
#ifndef OXYLAG_UI_PLOT_H
#define OXYLAG_UI_PLOT_H

#include "history.h"
#include "oxylag/ui.h"

struct oxl_area {
    int row, col, rows, cols;
};

struct oxl_plot {
    struct oxl_area area;
    int64_t from_us, to_us;
    double low, high; /* values at the lower and upper edge */
    enum oxl_ink ink;
    bool ascii;
};

/* The cell row of a value, -1 outside; the cell column of a time, -1 outside. */
int oxl_plot_row(const struct oxl_plot *p, double value);
int oxl_plot_col(const struct oxl_plot *p, int64_t t_us);

void oxl_plot_level(struct oxl_canvas *c, const struct oxl_plot *p, double value);
void oxl_plot_mark(struct oxl_canvas *c, const struct oxl_plot *p, int64_t t_us);
/* The line; longer pauses between samples are left open and shaded. */
void oxl_plot_history(struct oxl_canvas *c, const struct oxl_plot *p, const struct oxl_history *h,
                      int64_t now_us);

#endif
