/* Figures: a value with the interval that holds it, and the one place that puts it into words. */
#ifndef OXYLAG_FIGURE_H
#define OXYLAG_FIGURE_H

#include <stdbool.h>

/* NAN = unknown. A lower bound: value NAN, low known, high NAN or infinite; an upper bound the
 * other way round. */
struct oxl_span {
    double value, low, high;
};

enum { OXL_FIGURE_TEXT = 96 };
/* "4.47 s (4.25 to 4.55)"; "at least 12.3 s"; "at most 2.1 s"; "not known". unit "" leaves it
 * out. */
void oxl_figure_span(const struct oxl_span *s, int decimals, const char *unit,
                     char out[OXL_FIGURE_TEXT]);
/* "3.13 g/s" or "not known"; never a minus before zero. */
void oxl_figure_number(double v, int decimals, const char *unit, char out[OXL_FIGURE_TEXT]);
/* Where there is room for a few columns only: "3.1", with a sign "+3.1"; "--" when not known. */
struct oxl_figure_cell {
    char text[24];
};
struct oxl_figure_cell oxl_figure_cell(double v, int decimals, bool with_sign);

#endif
