#include "plot.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { LABEL_SIZE = 6, TICK_SIZE = 6 };
static const double COLUMN = 0.6; /* points of width in which one stroke shows everything */

void oxl_lane_range(struct oxl_lane_view *v, double from_s, double to_s, double step)
{
    for (size_t i = 0; i < v->n; i++)
        if (v->t_s[i] >= from_s && v->t_s[i] <= to_s) {
            v->low = fmin(v->low, v->value[i]);
            v->high = fmax(v->high, v->value[i]);
        }
    v->low = step * floor(v->low / step + 1e-9);
    v->high = step * ceil(v->high / step - 1e-9);
}

static double y_of(const struct oxl_lane_view *v, double value)
{
    const double part = (value - v->low) / (v->high - v->low);
    return v->y + v->h * (1 - fmin(1, fmax(0, part)));
}

void oxl_lane_back(struct oxl_drawing *d, const struct oxl_plot_axis *a,
                   const struct oxl_lane_view *v)
{
    if (oxl_known(v->band_low) && oxl_known(v->band_high)) {
        const double top = y_of(v, v->band_high), bottom = y_of(v, v->band_low);
        oxl_draw_rect(d, OXL_INK_BAND, a->x, top, a->w, bottom - top);
    }
    for (size_t i = 0; i < 2; i++)
        if (oxl_known(v->level[i]))
            oxl_draw_line(d, OXL_INK_LEVEL, a->x, y_of(v, v->level[i]), a->x + a->w,
                          y_of(v, v->level[i]));
    oxl_draw_line(d, OXL_INK_FRAME, a->x, v->y, a->x, v->y + v->h);
    oxl_draw_line(d, OXL_INK_FRAME, a->x, v->y + v->h, a->x + a->w, v->y + v->h);
}

/* Within one narrow column of paper only the first, lowest, highest and last sample show. */
struct column {
    double x, first, low, high, last;
    bool any, low_first;
};

static void flush(struct oxl_drawing *d, const struct oxl_lane_view *v, const struct column *c)
{
    if (!c->any)
        return;
    oxl_draw_point(d, c->x, y_of(v, c->first));
    if (c->low < c->high) {
        const double a = c->low_first ? c->low : c->high, b = c->low_first ? c->high : c->low;
        if (fabs(a - c->first) > 0)
            oxl_draw_point(d, c->x, y_of(v, a));
        oxl_draw_point(d, c->x, y_of(v, b));
        if (fabs(b - c->last) > 0)
            oxl_draw_point(d, c->x, y_of(v, c->last));
    }
}

static void take(struct column *c, double x, double value)
{
    if (!c->any)
        *c = (struct column){x, value, value, value, value, true, true};
    if (value < c->low) {
        c->low = value;
        c->low_first = false;
    }
    if (value > c->high) {
        c->high = value;
        c->low_first = true;
    }
    c->last = value;
}

static void trace(struct oxl_drawing *d, const struct oxl_plot_axis *a,
                  const struct oxl_lane_view *v)
{
    struct column c = {0};
    double before_s = NAN;
    oxl_draw_begin(d, v->ink);
    for (size_t i = 0; i < v->n; i++) {
        const double t = v->t_s[i], x = oxl_plot_x(a, t);
        if (t < a->from_s || t > a->to_s)
            continue;
        if (c.any && x - c.x >= COLUMN) {
            flush(d, v, &c);
            c.any = false;
        }
        if (oxl_known(before_s) && t - before_s > 1.5) { /* no data: no line across */
            flush(d, v, &c);
            c.any = false;
            oxl_draw_begin(d, v->ink);
        }
        take(&c, x, v->value[i]);
        before_s = t;
    }
    flush(d, v, &c);
}

static void number(const struct oxl_lane_view *v, double value, char out[16])
{
    switch (v->ticks) {
    case OXL_TICK_LAMBDA:
        snprintf(out, 16, "%.1f", value);
        break;
    case OXL_TICK_VOLTS:
        snprintf(out, 16, "%.3g", value);
        break;
    default:
        snprintf(out, 16, "%.0f", value);
        break;
    }
}

static void labels(struct oxl_drawing *d, const struct oxl_plot_axis *a,
                   const struct oxl_lane_view *v)
{
    for (size_t i = 0; i < 3; i++) {
        char text[16];
        if (!oxl_known(v->tick[i]) || (i == 1 && v->h < 22 && oxl_known(v->tick[2])))
            continue; /* in a low lane there is no room between the ends */
        number(v, v->tick[i], text);
        const double y = y_of(v, v->tick[i]);
        oxl_draw_line(d, OXL_INK_FRAME, a->x - 2, y, a->x, y);
        oxl_draw_text(d, a->x - 3, fmin(fmax(y + 2, v->y + 4.5), v->y + v->h), TICK_SIZE,
                      OXL_ANCHOR_END, false, text);
    }
}

/* Under the trace; a level line gives way to it. */
static void label(struct oxl_drawing *d, const struct oxl_plot_axis *a,
                  const struct oxl_lane_view *v)
{
    const double base = v->label_on_top ? v->y + 6 : v->y + v->h - 2;
    if (v->label_on_top)
        oxl_draw_rect(d, OXL_INK_PAPER, a->x + 1.5, v->y + 0.5,
                      0.55 * LABEL_SIZE * (double)strlen(v->label) + 2, LABEL_SIZE + 1);
    oxl_draw_text(d, a->x + 2.5, base, LABEL_SIZE, OXL_ANCHOR_START, false, v->label);
}

void oxl_lane_front(struct oxl_drawing *d, const struct oxl_plot_axis *a,
                    const struct oxl_lane_view *v)
{
    label(d, a, v);
    trace(d, a, v);
    labels(d, a, v);
}
