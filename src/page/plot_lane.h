/* One lane of a run's plot: a value over time with its own axis. Internal. */
#ifndef OXYLAG_PAGE_PLOT_LANE_H
#define OXYLAG_PAGE_PLOT_LANE_H

#include "plot.h"

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

#endif
