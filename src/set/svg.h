#ifndef OXYLAG_SET_SVG_H
#define OXYLAG_SET_SVG_H

#include "page/drawing.h"

/* As an <svg> element; width and height in em of the page (em_pt points each). */
void oxl_drawing_svg(const struct oxl_drawing *d, double em_pt, struct oxl_buf *out);

#endif
