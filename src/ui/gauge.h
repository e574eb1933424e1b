/* The gauge for the trim shift: from nothing at the left to far too much gas at the right. */
#ifndef OXYLAG_UI_GAUGE_H
#define OXYLAG_UI_GAUGE_H

#include "model.h"
#include "plot.h"

enum { OXL_GAUGE_ROWS = 4 };

/* Cell of a value on a scale of `cols` cells whose middles run from left to right; clamped, -1
 * when the value is unknown or there is no cell. */
int oxl_gauge_cell(double value, double left, double right, int cols);
/* The headline's hand beside the figures: "open", "more gas", "hold", "less gas", "SHUT", "keep
 * shut"; "" when it says nothing about the valve. The shift itself has no say in it: the gauge is
 * a scale. */
const char *oxl_gauge_word(enum oxl_hand hand);

/* Four rows: marks, bar, pointer with the word, scale. */
void oxl_gauge_draw(struct oxl_canvas *c, struct oxl_area a, const struct oxl_live *live,
                    enum oxl_hand hand);
/* One row: the bar with the pointer in it. */
void oxl_gauge_line(struct oxl_canvas *c, struct oxl_area a, const struct oxl_live *live);

#endif
