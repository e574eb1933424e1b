/* Wrapped text in an area, a screenful at a time. Written twice by its user: once with no canvas
 * to count the rows, once to draw those of the current screenful. */
#ifndef OXYLAG_UI_FLOW_H
#define OXYLAG_UI_FLOW_H

#include "plot.h"

struct oxl_flow {
    struct oxl_canvas *canvas; /* NULL: count only */
    struct oxl_area area;
    int first; /* row of the text that is shown at the top */
    int count; /* rows written so far */
};

/* Text with a hanging indent. The lead (a sign, a word; may be "") stands in the indent of the
 * first row. Words longer than the area are cut. */
void oxl_flow_text(struct oxl_flow *f, enum oxl_ink lead_ink, const char *lead, int indent,
                   enum oxl_ink ink, const char *text);

/* The end of what fits into so many columns: after the last whole word, or in the word when one
 * word alone is too long. */
const char *oxl_flow_fit(const char *text, int width);
/* How many rows the text takes. */
int oxl_flow_rows(const char *text, int cols);

/* Runs `write` twice as said above; when it does not fit, the last row says where one is and how
 * to turn. Returns how many screenfuls there are. */
int oxl_flow_pages(struct oxl_canvas *c, struct oxl_area a, int screenful,
                   void (*write)(struct oxl_flow *f, const void *ctx), const void *ctx);

#endif
