#include "pango.h"

#include <cairo-pdf.h>
#include <stdlib.h>

/* A wide design that Debian packages as fonts-dejavu-core; when it is missing, fontconfig finds
 * another one and the page is set by that one's widths. */
static const char family[] = "DejaVu Sans, Verdana, Arial, sans-serif";

static cairo_status_t into_buffer(void *closure, const unsigned char *data, unsigned n)
{
    struct oxl_buf *b = closure;
    oxl_buf_put(b, data, n);
    return b->failed ? CAIRO_STATUS_WRITE_ERROR : CAIRO_STATUS_SUCCESS;
}

void oxl_set_open(struct oxl_set *s, double w, double h, struct oxl_buf *out)
{
    *s = (struct oxl_set){.ink = out != NULL, .drawing = malloc(sizeof *s->drawing)};
    s->failed = !s->drawing;
    s->surface = cairo_pdf_surface_create_for_stream(out ? into_buffer : NULL, out, w, h);
    s->cr = cairo_create(s->surface);
    s->fonts = pango_cairo_font_map_new();
    s->context = pango_font_map_create_context(s->fonts);
    pango_cairo_update_context(s->cr, s->context);
    s->layout = pango_layout_new(s->context);
    pango_layout_set_wrap(s->layout, PANGO_WRAP_WORD_CHAR);
}

void oxl_set_close(struct oxl_set *s)
{
    s->failed = s->failed || cairo_status(s->cr) != CAIRO_STATUS_SUCCESS;
    g_object_unref(s->layout);
    g_object_unref(s->context);
    cairo_destroy(s->cr);
    cairo_surface_finish(s->surface);
    s->failed = s->failed || cairo_surface_status(s->surface) != CAIRO_STATUS_SUCCESS;
    cairo_surface_destroy(s->surface);
    g_object_unref(s->fonts);
    free(s->drawing);
}

void oxl_set_font(struct oxl_set *s, double size, bool bold)
{
    PangoFontDescription *d = pango_font_description_from_string(family);
    pango_font_description_set_absolute_size(d, size * PANGO_SCALE);
    pango_font_description_set_weight(d, bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_layout_set_font_description(s->layout, d);
    pango_font_description_free(d);
}

double oxl_set_text(struct oxl_set *s, double x, double y, double w, double size, bool bold,
                    const char *text)
{
    int height = 0;
    oxl_set_font(s, size, bold);
    pango_layout_set_width(s->layout, (int)(w * PANGO_SCALE));
    pango_layout_set_text(s->layout, text, -1);
    pango_layout_get_size(s->layout, NULL, &height);
    if (s->ink) {
        cairo_set_source_rgb(s->cr, 0, 0, 0);
        cairo_move_to(s->cr, x, y);
        pango_cairo_show_layout(s->cr, s->layout);
    }
    return (double)height / PANGO_SCALE;
}

void oxl_set_line(struct oxl_set *s, double x1, double y1, double x2, double y2, double width)
{
    if (!s->ink)
        return;
    cairo_set_source_rgb(s->cr, 0, 0, 0);
    cairo_set_line_width(s->cr, width);
    cairo_move_to(s->cr, x1, y1);
    cairo_line_to(s->cr, x2, y2);
    cairo_stroke(s->cr);
}

void oxl_set_frame(struct oxl_set *s, double x, double y, double w, double h, double grey)
{
    if (!s->ink)
        return;
    cairo_rectangle(s->cr, x, y, w, h);
    cairo_set_source_rgb(s->cr, grey, grey, grey);
    cairo_fill_preserve(s->cr);
    cairo_set_source_rgb(s->cr, 0, 0, 0);
    cairo_set_line_width(s->cr, 0.8);
    cairo_stroke(s->cr);
}
