/* A figure of each test of one vehicle, in the order of their dates, between the shop limits. */
#include <math.h>
#include <stdio.h>

#include "plot.h"

static const double LABEL = 6, LEFT = 42, TOP = 12, BOTTOM = 18;

struct place {
    double x, w, end, top, bottom, step;
};

static double up(const struct place *p, double v)
{
    return p->bottom - (p->bottom - p->top) * fmin(1, fmax(0, v / p->end));
}

static void limit(struct oxl_drawing *d, const struct place *p, double v, const char *name,
                  const char *unit)
{
    char text[OXL_FIGURE_TEXT];
    oxl_figure_number(v, v < 20 && v != floor(v) ? 1 : 0, unit, text);
    oxl_draw_line(d, OXL_INK_LEVEL, p->x, up(p, v), p->x + p->w, up(p, v));
    oxl_draw_text(d, p->x - 3, up(p, v) + 2, LABEL, OXL_ANCHOR_END, false, text);
    oxl_draw_text(d, p->x - 3, up(p, v) + 8, LABEL, OXL_ANCHOR_END, false, name);
}

static void zones(struct oxl_drawing *d, const struct place *p, const struct oxl_tests_plot *s)
{
    oxl_draw_rect(d, OXL_INK_SHADE, p->x, up(p, s->bad), p->w, p->bottom - up(p, s->bad));
    oxl_draw_rect(d, OXL_INK_BAND, p->x, up(p, s->good), p->w, up(p, s->bad) - up(p, s->good));
    limit(d, p, s->bad, "bad below", s->unit);
    limit(d, p, s->good, "good above", s->unit);
    oxl_draw_line(d, OXL_INK_FRAME, p->x, p->bottom, p->x + p->w, p->bottom);
}

/* An open arrow says that the truth lies on that side. */
static void bound(struct oxl_drawing *d, double x, double from, double to)
{
    const double tip = to < from ? 3 : -3;
    oxl_draw_line(d, OXL_INK_MARK, x - 2.5, from, x + 2.5, from);
    oxl_draw_line(d, OXL_INK_MARK, x, from, x, to);
    oxl_draw_line(d, OXL_INK_MARK, x - 2, to + tip, x, to);
    oxl_draw_line(d, OXL_INK_MARK, x + 2, to + tip, x, to);
}

static void point(struct oxl_drawing *d, const struct place *p, const struct oxl_tests_point *at,
                  double x)
{
    const struct oxl_span f = oxl_figure_shown(&at->figure);
    if (isfinite(f.low) && isfinite(f.high))
        oxl_draw_line(d, OXL_INK_MARK, x, up(p, f.high), x, up(p, f.low));
    else if (isfinite(f.low))
        bound(d, x, up(p, f.low), p->top);
    else if (isfinite(f.high))
        bound(d, x, up(p, f.high), p->bottom);
    if (isfinite(f.value))
        oxl_draw_dot(d, OXL_INK_TEXT, x, up(p, f.value), 2);
    if (!oxl_figure_known(&at->figure))
        oxl_draw_text(d, x, p->bottom - 3, LABEL, OXL_ANCHOR_MIDDLE, false, "?");
    oxl_draw_text(d, x, p->bottom + 8, LABEL, OXL_ANCHOR_MIDDLE, false, at->date);
    oxl_draw_text(d, x, p->bottom + 15, LABEL, OXL_ANCHOR_MIDDLE, false, at->name);
}

void oxl_plot_tests(const struct oxl_tests_plot *s, double w, double h, struct oxl_drawing *out)
{
    char title[OXL_FIGURE_TEXT];
    struct place p = {.x = LEFT,
                      .w = w - LEFT - 2,
                      .top = TOP,
                      .bottom = h - BOTTOM,
                      .step = (w - LEFT - 2) / (double)(s->n ? s->n : 1)};
    for (size_t i = 0; i < s->n; i++)
        p.end = oxl_scale_end(p.end, s->good, &s->points[i].figure);
    snprintf(title, sizeof title, "%s, %s", s->quantity, s->unit);
    oxl_drawing_start(out, w, h, title);
    oxl_draw_text(out, 0, 6.5, 6.5, OXL_ANCHOR_START, true, title);
    if (!isfinite(s->bad) || !isfinite(s->good) || !(p.end > 0)) {
        oxl_draw_text(out, w / 2, h / 2, LABEL, OXL_ANCHOR_MIDDLE, false, "limits not known");
        return;
    }
    zones(out, &p, s);
    for (size_t i = 0; i < s->n; i++)
        point(out, &p, &s->points[i], p.x + ((double)i + 0.5) * p.step);
}
