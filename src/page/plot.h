/* The pictures of the report: one plot a run, and the scale that shows the result between the
 * limits. */
#ifndef OXYLAG_PAGE_PLOT_H
#define OXYLAG_PAGE_PLOT_H

#include "drawing.h"
#include "oxylag/figure.h"

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

/* ---- plot_lane.c: one lane of a run's plot: a value over time with its own axis. Internal. */
struct oxl_lane_view {
    const double *t_s, *value;
    size_t n;
    enum oxl_ink ink;
    const char *label;
    bool label_on_top;          /* where a rich mixture leaves the lane empty */
    double y, h;                /* place on the paper */
    double low, high;           /* range of values */
    double tick[3];             /* labelled values, NAN = none */
    double level[2];            /* dotted lines, NAN = none */
    double band_low, band_high; /* light band, NAN = none */
    enum { OXL_TICK_LAMBDA, OXL_TICK_VOLTS, OXL_TICK_PER_CENT } ticks;
};
/* Widens low..high to hold the values within [from, to] and rounds the ends to tidy ones. */
void oxl_lane_range(struct oxl_lane_view *v, double from_s, double to_s, double step);
void oxl_lane_back(struct oxl_drawing *d, const struct oxl_plot_axis *a,
                   const struct oxl_lane_view *v);
void oxl_lane_front(struct oxl_drawing *d, const struct oxl_plot_axis *a,
                    const struct oxl_lane_view *v);

/* ---- plot_history.c: the history of one vehicle as drawings: the same figure of test after
 * test. */
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
