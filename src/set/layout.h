/* Sizes and places on the one printed sheet, the same in HTML and PDF. */
#ifndef OXYLAG_SET_LAYOUT_H
#define OXYLAG_SET_LAYOUT_H

#include "page/page.h"

struct oxl_layout {
    double paper_w, paper_h, margin; /* points */
    double w;                        /* between the margins */
    double font;                     /* size of the running text */
    enum oxl_detail detail;
    size_t plots_across, plot_rows;
    double plot_w, plot_h, ruler_w, ruler_h, history_h;
};
enum { OXL_COLUMN_GAP = 14, OXL_PLOT_GAP = 8 };

/* Sizes of type, in that of the running text. The verdict's is the largest. */
struct oxl_type {
    double size;
    bool bold;
};
extern const struct oxl_type oxl_types[OXL_BLOCK_KINDS];

/* The largest font (and detail) at which the page fits, leaving `spare` (0..1) of the height free,
 * by measuring the text. False when even the smallest does not fit. */
bool oxl_layout_fit(const struct oxl_report_input *tests, size_t n, enum oxl_paper paper,
                    double spare, struct oxl_layout *out);
/* Draws the i-th block, which is a ruler or a plot, to the layout's size. */
void oxl_layout_draw(const struct oxl_layout *l, const struct oxl_page *p,
                     const struct oxl_block *b, struct oxl_drawing *d);
/* Does this plot begin a row of its own, because it is of the other test? */
bool oxl_plot_breaks(const struct oxl_page *p, size_t plot);

/* svg.c */
/* Clean text with & < > " ' as references, for HTML content and attribute values. */
void oxl_markup_add(struct oxl_buf *out, const char *text);
/* As an <svg> element; width and height in em of the page (em_pt points each). */
void oxl_drawing_svg(const struct oxl_drawing *d, double em_pt, struct oxl_buf *out);

#endif
