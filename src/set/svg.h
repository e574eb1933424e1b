#ifndef OXYLAG_SET_SVG_H
#define OXYLAG_SET_SVG_H

#include "page/drawing.h"

/* Clean text with & < > " ' as references, for HTML content and attribute values. */
void oxl_markup_add(struct oxl_buf *out, const char *text);
/* As an <svg> element; width and height in em of the page (em_pt points each). */
void oxl_drawing_svg(const struct oxl_drawing *d, double em_pt, struct oxl_buf *out);

#endif
