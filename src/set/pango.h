/* Setting text and drawings on a cairo surface with pango; measuring is setting without ink. */
#ifndef OXYLAG_SET_PANGO_H
#define OXYLAG_SET_PANGO_H

#include <cairo.h>
#include <pango/pangocairo.h>

#include "layout.h"

struct oxl_set {
    cairo_surface_t *surface;
    cairo_t *cr;
    PangoFontMap *fonts;
    PangoContext *context;
    PangoLayout *layout;
    struct oxl_drawing *drawing; /* room for one */
    bool ink;                    /* false: only measure */
    bool failed;
};
/* A PDF surface of that size; out NULL: for measuring only. */
void oxl_set_open(struct oxl_set *s, double w, double h, struct oxl_buf *out);
void oxl_set_close(struct oxl_set *s);

void oxl_set_font(struct oxl_set *s, double size, bool bold);
/* One paragraph, its top left at x, y, broken to width w. Returns its height. */
double oxl_set_text(struct oxl_set *s, double x, double y, double w, double size, bool bold,
                    const char *text);
void oxl_set_line(struct oxl_set *s, double x1, double y1, double x2, double y2, double width);
void oxl_set_frame(struct oxl_set *s, double x, double y, double w, double h, double grey);
void oxl_set_drawing(struct oxl_set *s, const struct oxl_drawing *d, double x, double y);

/* The whole page. Returns where it ends, from the top of the paper. */
double oxl_set_page(struct oxl_set *s, const struct oxl_page *p, const struct oxl_layout *l);

#endif
