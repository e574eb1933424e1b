#include "drawing.h"

#include <stdio.h>

/* Dark blue and dark orange stay apart for every kind of colour blindness and print as dark greys;
 * widths and dashes tell the lines apart without any colour. */
const struct oxl_ink_style oxl_inks[OXL_INK_COUNT] = {
    [OXL_INK_TEXT] = {"#000000", 0, 0, 0},       [OXL_INK_FRAME] = {"#808080", 0.4, 0, 0},
    [OXL_INK_LEVEL] = {"#606060", 0.4, 1, 1.5},  [OXL_INK_SHADE] = {"#d4d4d4", 0, 0, 0},
    [OXL_INK_BAND] = {"#ececec", 0, 0, 0},       [OXL_INK_PAPER] = {"#ffffff", 0, 0, 0},
    [OXL_INK_FRONT] = {"#000000", 0.6, 0, 0},    [OXL_INK_REAR] = {"#00429d", 1.3, 0, 0},
    [OXL_INK_TRIM] = {"#8a3a00", 0.9, 3.2, 1.2}, [OXL_INK_MARK] = {"#000000", 0.7, 0, 0},
    [OXL_INK_CUT] = {"#000000", 0.6, 1.5, 1.5},
};

void oxl_drawing_start(struct oxl_drawing *d, double w, double h, const char *title)
{
    d->w = w;
    d->h = h;
    d->shapes_n = d->points_n = 0;
    d->full = false;
    snprintf(d->title, sizeof d->title, "%s", title);
}

/* A new shape; a spare one that is not kept when there is no room. */
static struct oxl_shape *shape(struct oxl_drawing *d, enum oxl_shape_kind kind, enum oxl_ink ink)
{
    const bool fits = d->shapes_n < OXL_DRAWING_SHAPES;
    struct oxl_shape *s = &d->shapes[fits ? d->shapes_n : OXL_DRAWING_SHAPES - 1];
    d->full = d->full || !fits;
    d->shapes_n += fits;
    *s = (struct oxl_shape){.kind = kind, .ink = ink, .first = d->points_n};
    return s;
}

void oxl_draw_begin(struct oxl_drawing *d, enum oxl_ink ink)
{
    shape(d, OXL_SHAPE_LINE, ink);
}

void oxl_draw_point(struct oxl_drawing *d, double x, double y)
{
    if (d->points_n == OXL_DRAWING_POINTS) {
        d->full = true;
        return;
    }
    d->x[d->points_n] = x;
    d->y[d->points_n++] = y;
    d->shapes[d->shapes_n - 1].n++;
}

void oxl_draw_line(struct oxl_drawing *d, enum oxl_ink ink, double x1, double y1, double x2,
                   double y2)
{
    oxl_draw_begin(d, ink);
    oxl_draw_point(d, x1, y1);
    oxl_draw_point(d, x2, y2);
}

void oxl_draw_rect(struct oxl_drawing *d, enum oxl_ink ink, double x, double y, double w, double h)
{
    struct oxl_shape *s = shape(d, OXL_SHAPE_RECT, ink);
    s->x = x;
    s->y = y;
    s->w = w;
    s->h = h;
}

void oxl_draw_dot(struct oxl_drawing *d, enum oxl_ink ink, double x, double y, double radius)
{
    struct oxl_shape *s = shape(d, OXL_SHAPE_DOT, ink);
    s->x = x;
    s->y = y;
    s->w = radius;
}

void oxl_draw_text(struct oxl_drawing *d, double x, double y, double size, enum oxl_anchor anchor,
                   bool bold, const char *text)
{
    struct oxl_shape *s = shape(d, OXL_SHAPE_TEXT, OXL_INK_TEXT);
    s->x = x;
    s->y = y;
    s->h = size;
    s->anchor = anchor;
    s->bold = bold;
    snprintf(s->text, sizeof s->text, "%s", text);
}

void oxl_draw_interval(struct oxl_drawing *d, enum oxl_ink ink, double x1, double x2, double y,
                       double half)
{
    oxl_draw_line(d, ink, x1, y, x2, y);
    oxl_draw_line(d, ink, x1, y - half, x1, y + half);
    oxl_draw_line(d, ink, x2, y - half, x2, y + half);
}
