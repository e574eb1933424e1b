/* The gauge for the trim shift: from nothing at the left to far too much gas at the right. */
#ifndef OXYLAG_UI_GAUGE_H
#define OXYLAG_UI_GAUGE_H

#include "model.h"
#include "plot.h"

enum { OXL_GAUGE_ROWS = 4 };

/* Cell of a value on a scale of `cols` cells whose middles run from left to right; clamped, -1
 * when the value is unknown or there is no cell. */
int oxl_gauge_cell(double value, double left, double right, int cols);
/* A word for where the shift is: "more gas", "in range", "too much", "back off". */
const char *oxl_gauge_word(const struct oxl_live *live);

/* Four rows: marks, bar, pointer, scale. */
void oxl_gauge_draw(struct oxl_canvas *c, struct oxl_area a, const struct oxl_live *live);
/* One row: the bar with the pointer in it. */
void oxl_gauge_line(struct oxl_canvas *c, struct oxl_area a, const struct oxl_live *live);

#endif
