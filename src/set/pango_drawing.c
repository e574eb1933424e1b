/* A drawing on a cairo surface; svg.c writes the same one as SVG. */
#include <math.h>
#include <stdlib.h>

#include "pango.h"

static void colour(cairo_t *cr, const char *hex)
{
    const unsigned long rgb = strtoul(hex + 1, NULL, 16);
    cairo_set_source_rgb(cr, (double)(rgb >> 16 & 255) / 255, (double)(rgb >> 8 & 255) / 255,
                         (double)(rgb & 255) / 255);
}

static void stroke(cairo_t *cr, const struct oxl_drawing *d, const struct oxl_shape *s,
                   const struct oxl_ink_style *ink)
{
    const double dashes[2] = {ink->dash, ink->gap};
    if (s->n == 0)
        return;
    cairo_move_to(cr, d->x[s->first], d->y[s->first]);
    for (size_t i = 1; i < s->n; i++)
        cairo_line_to(cr, d->x[s->first + i], d->y[s->first + i]);
    cairo_set_line_width(cr, ink->width);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_set_dash(cr, dashes, ink->dash > 0 ? 2 : 0, 0);
    cairo_stroke(cr);
}

/* SVG places text by its base line and anchor; pango by its top left corner. */
static void text(struct oxl_set *set, const struct oxl_shape *s, double x, double y)
{
    int width = 0;
    oxl_set_font(set, s->h, s->bold);
    pango_layout_set_width(set->layout, -1);
    pango_layout_set_text(set->layout, s->text, -1);
    pango_layout_get_size(set->layout, &width, NULL);
    const double w = (double)width / PANGO_SCALE;
    const double back = s->anchor == OXL_ANCHOR_START ? 0 : s->anchor == OXL_ANCHOR_END ? w : w / 2;
    const double base = (double)pango_layout_get_baseline(set->layout) / PANGO_SCALE;
    cairo_move_to(set->cr, x + s->x - back, y + s->y - base);
    pango_cairo_show_layout(set->cr, set->layout);
}

static void shape(struct oxl_set *set, const struct oxl_drawing *d, const struct oxl_shape *s,
                  double x, double y)
{
    const struct oxl_ink_style *ink = &oxl_inks[s->ink];
    colour(set->cr, ink->colour);
    switch (s->kind) {
    case OXL_SHAPE_LINE:
        cairo_save(set->cr);
        cairo_translate(set->cr, x, y);
        stroke(set->cr, d, s, ink);
        cairo_restore(set->cr);
        break;
    case OXL_SHAPE_RECT:
        cairo_rectangle(set->cr, x + s->x, y + s->y, s->w, s->h);
        cairo_fill(set->cr);
        break;
    case OXL_SHAPE_DOT:
        cairo_new_sub_path(set->cr);
        cairo_arc(set->cr, x + s->x, y + s->y, s->w, 0, 2 * acos(-1));
        cairo_fill(set->cr);
        break;
    case OXL_SHAPE_TEXT:
        text(set, s, x, y);
        break;
    }
}

void oxl_set_drawing(struct oxl_set *s, const struct oxl_drawing *d, double x, double y)
{
    for (size_t i = 0; s->ink && i < d->shapes_n; i++)
        shape(s, d, &d->shapes[i], x, y);
}
