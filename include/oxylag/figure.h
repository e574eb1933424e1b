/* Figures: a value with the interval that holds it, and the one place that puts it into words. */
#ifndef OXYLAG_FIGURE_H
#define OXYLAG_FIGURE_H

#include <stdbool.h>

/* NAN = unknown. A lower bound: value NAN, low known, high NAN or infinite; an upper bound the
 * other way round. */
struct oxl_span {
    double value, low, high;
};

/* What may be shown of it; everything that a person sees goes through here. An estimate stands
 * between two known ends, or alone when neither end is known. Beside one open or unknown end it is
 * withheld and the known end is a bound. What is left out is NAN. */
struct oxl_span oxl_figure_shown(const struct oxl_span *s);
/* Is there anything to show? */
bool oxl_figure_known(const struct oxl_span *s);

enum { OXL_FIGURE_TEXT = 96 };
/* "4.47 s (4.25 to 4.55)"; "4.25 to 4.55 s" without an estimate; "at least 12.3 s"; "at most
 * 2.1 s"; "not known". unit "" leaves it out. */
void oxl_figure_span(const struct oxl_span *s, int decimals, const char *unit,
                     char out[OXL_FIGURE_TEXT]);
/* "3.13 g/s" or "not known"; never a minus before zero. */
void oxl_figure_number(double v, int decimals, const char *unit, char out[OXL_FIGURE_TEXT]);
/* Where there is room for a few columns only: "3.1", with a sign "+3.1"; "--" when not known. */
struct oxl_figure_cell {
    char text[24];
};
struct oxl_figure_cell oxl_figure_cell(double v, int decimals, bool with_sign);

/* The same by the same rule for a narrow column, whose heading has the unit: "4.47 (4.25..4.55)",
 * "at least 12.3", "at most 2.1", "--". From 10 on at most one decimal. */
void oxl_figure_span_short(const struct oxl_span *s, int decimals, char out[OXL_FIGURE_TEXT]);

#endif
