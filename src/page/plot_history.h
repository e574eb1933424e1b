/* The history of one vehicle as drawings: the same figure of test after test. */
#ifndef OXYLAG_PAGE_PLOT_HISTORY_H
#define OXYLAG_PAGE_PLOT_HISTORY_H

#include "drawing.h"
#include "oxylag/figure.h"

enum { OXL_HISTORY_POINTS = 12 }; /* what can be told apart over the width of a sheet */
struct oxl_tests_point {
    struct oxl_span figure; /* as judged; nothing known: "?" */
    char date[12], name[32];
};
struct oxl_tests_plot {
    const char *quantity, *unit;
    double bad, good; /* limits of the newest test; NAN unknown */
    struct oxl_tests_point points[OXL_HISTORY_POINTS];
    size_t n;
};
void oxl_plot_tests(const struct oxl_tests_plot *s, double w, double h, struct oxl_drawing *out);

#endif
