/* A drawing: shapes with coordinates in points (1/72 inch), origin top left. Made once, then
 * written as SVG or drawn into a PDF. */
#ifndef OXYLAG_PAGE_DRAWING_H
#define OXYLAG_PAGE_DRAWING_H

#include <stdbool.h>
#include <stddef.h>

#include "oxylag/report.h"

/* Told apart by darkness, width and dashes, so that black and white print is enough. */
enum oxl_ink {
    OXL_INK_TEXT,
    OXL_INK_FRAME,
    OXL_INK_LEVEL, /* thin dotted: a level or limit */
    OXL_INK_SHADE, /* light fill */
    OXL_INK_BAND,  /* lighter fill */
    OXL_INK_PAPER, /* white fill, under text */
    OXL_INK_FRONT, /* thin solid */
    OXL_INK_REAR,  /* thick solid */
    OXL_INK_TRIM,  /* dashed */
    OXL_INK_MARK,  /* a moment */
    OXL_INK_CUT,   /* dash-dot: the call to cut */
    OXL_INK_COUNT
};
struct oxl_ink_style {
    const char *colour; /* #rrggbb */
    double width;       /* line; 0 for fills and text */
    double dash, gap;   /* 0 = solid */
};
extern const struct oxl_ink_style oxl_inks[OXL_INK_COUNT];

enum oxl_shape_kind { OXL_SHAPE_LINE, OXL_SHAPE_RECT, OXL_SHAPE_DOT, OXL_SHAPE_TEXT };
enum oxl_anchor { OXL_ANCHOR_START, OXL_ANCHOR_MIDDLE, OXL_ANCHOR_END };
struct oxl_shape {
    enum oxl_shape_kind kind;
    enum oxl_ink ink;
    size_t first, n; /* LINE: points */
    double x, y, w,
        h; /* RECT: corner and size; DOT: centre, w = radius; TEXT: base line, h = size */
    enum oxl_anchor anchor;
    bool bold;
    char text[80];
};
enum { OXL_DRAWING_SHAPES = 128, OXL_DRAWING_POINTS = 8192 };
struct oxl_drawing {
    double w, h;
    char title[300]; /* what it shows, for those who cannot see it */
    struct oxl_shape shapes[OXL_DRAWING_SHAPES];
    size_t shapes_n;
    double x[OXL_DRAWING_POINTS], y[OXL_DRAWING_POINTS];
    size_t points_n;
    bool full; /* something did not fit and is missing */
};

void oxl_drawing_start(struct oxl_drawing *d, double w, double h, const char *title);
void oxl_draw_line(struct oxl_drawing *d, enum oxl_ink ink, double x1, double y1, double x2,
                   double y2);
void oxl_draw_rect(struct oxl_drawing *d, enum oxl_ink ink, double x, double y, double w, double h);
void oxl_draw_dot(struct oxl_drawing *d, enum oxl_ink ink, double x, double y, double radius);
void oxl_draw_text(struct oxl_drawing *d, double x, double y, double size, enum oxl_anchor anchor,
                   bool bold, const char *text);
/* A line through many points: begin, then add each. */
void oxl_draw_begin(struct oxl_drawing *d, enum oxl_ink ink);
void oxl_draw_point(struct oxl_drawing *d, double x, double y);
/* I-beam from x1 to x2 about y: an interval. */
void oxl_draw_interval(struct oxl_drawing *d, enum oxl_ink ink, double x1, double x2, double y,
                       double half);

#endif
