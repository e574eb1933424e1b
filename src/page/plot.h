/* The pictures of the report: one plot a run, and the scale that shows the result between the
 * limits. */
#ifndef OXYLAG_PAGE_PLOT_H
#define OXYLAG_PAGE_PLOT_H

#include "drawing.h"

/* The span of time and the place of it on the paper. */
struct oxl_plot_axis {
    double from_s, to_s; /* on the clock of the events */
    double zero_s;       /* what is labelled 0: front-lean, else the call to cut, else the start */
    double x, w;         /* points */
};
double oxl_plot_x(const struct oxl_plot_axis *a, double t_s);

/* A step of 1, 2 or 5 times a power of ten that divides span into at most `most` parts. */
double oxl_nice_step(double span, unsigned most);

/* One run. track may be NULL or empty: said in the picture. name: "Run 1"; delay: as judged. */
void oxl_plot_run(const struct oxl_run_result *run, const struct oxl_span *delay,
                  const struct oxl_track *track, const struct oxl_profile *profile,
                  const char *name, double w, double h, struct oxl_drawing *out);

/* A figure with its interval on a scale with two limits. Up to two figures, the second below the
 * first. */
struct oxl_ruler {
    const char *quantity, *unit; /* "Delay at target", "s" */
    double bad, good;            /* limits in that unit; NAN unknown */
    struct oxl_span figures[2];
    const char *names[2]; /* "" when there is one figure */
    size_t n;
};
/* The upper end of a scale, beyond what it was, the good limit and every finite end of a figure. */
double oxl_scale_end(double end, double good, const struct oxl_span *figure);
void oxl_plot_scale(const struct oxl_ruler *scale, double w, double h, struct oxl_drawing *out);

#endif
