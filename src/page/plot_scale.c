#include "plot.h"

#include <math.h>
#include <stdio.h>

static const double LABEL = 6, RIGHT = 3;

double oxl_scale_end(double end, double good, const struct oxl_span *figure)
{
    const struct oxl_span f = oxl_figure_shown(figure);
    const double v[] = {f.value, f.low, f.high};
    end = fmax(end, isfinite(good) ? 1.6 * good : 0);
    for (size_t k = 0; k < 3; k++)
        if (isfinite(v[k]))
            end = fmax(end, 1.1 * v[k]);
    return end;
}

struct place {
    double x, w, end, top, bottom;
};

static double at(const struct place *p, double v)
{
    return p->x + p->w * fmin(1, fmax(0, v / p->end));
}

static void limit(struct oxl_drawing *d, const struct place *p, double v, const char *unit)
{
    char text[OXL_FIGURE_TEXT];
    oxl_figure_number(v, v < 20 && v != floor(v) ? 1 : 0, unit, text);
    oxl_draw_line(d, OXL_INK_MARK, at(p, v), p->top, at(p, v), p->bottom + 2);
    oxl_draw_text(d, at(p, v), p->bottom + 8.5, LABEL, OXL_ANCHOR_MIDDLE, false, text);
}

static void zones(struct oxl_drawing *d, const struct place *p, const struct oxl_ruler *s)
{
    const double bad = at(p, s->bad), good = at(p, s->good), y = p->top + 7;
    oxl_draw_rect(d, OXL_INK_SHADE, p->x, p->top, bad - p->x, p->bottom - p->top);
    oxl_draw_rect(d, OXL_INK_BAND, bad, p->top, good - bad, p->bottom - p->top);
    oxl_draw_text(d, (p->x + bad) / 2, y, LABEL, OXL_ANCHOR_MIDDLE, false, "bad");
    oxl_draw_text(d, (bad + good) / 2, y, LABEL, OXL_ANCHOR_MIDDLE, false, "questionable");
    oxl_draw_text(d, (good + p->x + p->w) / 2, y, LABEL, OXL_ANCHOR_MIDDLE, false, "good");
    limit(d, p, s->bad, s->unit);
    limit(d, p, s->good, s->unit);
}

static void arrow(struct oxl_drawing *d, double x1, double x2, double y)
{
    const double tip = x2 > x1 ? -3 : 3;
    oxl_draw_line(d, OXL_INK_MARK, x1, y, x2, y);
    oxl_draw_line(d, OXL_INK_MARK, x2 + tip, y - 2, x2, y);
    oxl_draw_line(d, OXL_INK_MARK, x2 + tip, y + 2, x2, y);
}

/* A bound is an open arrow: it says that the truth lies on that side. */
static void figure(struct oxl_drawing *d, const struct place *p, const struct oxl_span *given,
                   const char *name, double y)
{
    const struct oxl_span f = oxl_figure_shown(given);
    const double low = at(p, f.low), high = at(p, f.high);
    if (isfinite(f.low) && isfinite(f.high)) {
        oxl_draw_interval(d, OXL_INK_MARK, low, high, y, 2.5);
    } else if (isfinite(f.low)) {
        oxl_draw_line(d, OXL_INK_MARK, low, y - 2.5, low, y + 2.5);
        arrow(d, low, p->x + p->w, y);
    } else if (isfinite(f.high)) {
        oxl_draw_line(d, OXL_INK_MARK, high, y - 2.5, high, y + 2.5);
        arrow(d, high, p->x, y);
    }
    if (isfinite(f.value))
        oxl_draw_dot(d, OXL_INK_TEXT, at(p, f.value), y, 1.7);
    if (name[0])
        oxl_draw_text(d, p->x - 3, y + 2, LABEL, OXL_ANCHOR_END, true, name);
}

void oxl_plot_scale(const struct oxl_ruler *s, double w, double h, struct oxl_drawing *out)
{
    char title[OXL_FIGURE_TEXT];
    const double left = s->n > 1 ? 32 : 2;
    struct place p = {.x = left, .w = w - left - RIGHT, .top = 10, .bottom = h - 10};
    for (size_t i = 0; i < s->n; i++)
        p.end = oxl_scale_end(p.end, s->good, &s->figures[i]);
    snprintf(title, sizeof title, "%.40s against the shop limits", s->quantity);
    oxl_drawing_start(out, w, h, title);
    oxl_draw_text(out, 0, 6.5, 6.5, OXL_ANCHOR_START, true, title);
    if (!isfinite(s->bad) || !isfinite(s->good) || !(p.end > 0)) {
        oxl_draw_rect(out, OXL_INK_BAND, p.x, p.top, p.w, p.bottom - p.top);
        oxl_draw_text(out, p.x + p.w / 2, (p.top + p.bottom) / 2 + 2, LABEL, OXL_ANCHOR_MIDDLE,
                      false, "not known");
        return;
    }
    zones(out, &p, s);
    oxl_draw_line(out, OXL_INK_FRAME, p.x, p.bottom, p.x + p.w, p.bottom);
    const double room = p.bottom - p.top - 8;
    for (size_t i = 0; i < s->n; i++)
        figure(out, &p, &s->figures[i], s->names[i],
               p.top + 8 + room * ((double)i + 0.5) / (double)s->n);
}
