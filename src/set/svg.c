#include "layout.h"

#include <string.h>

void oxl_markup_add(struct oxl_buf *out, const char *text)
{
    static const char marks[] = "&<>\"'";
    static const char *const references[] = {"&amp;", "&lt;", "&gt;", "&quot;", "&#39;"};
    for (size_t n; *text; text += n) {
        n = strcspn(text, marks);
        oxl_buf_put(out, text, n);
        if (text[n])
            oxl_buf_add(out, "%s", references[strchr(marks, text[n++]) - marks]);
    }
}

static void paint(const struct oxl_ink_style *ink, bool fill, struct oxl_buf *out)
{
    if (fill)
        oxl_buf_add(out, " fill=\"%s\"", ink->colour);
    else
        oxl_buf_add(out, " fill=\"none\" stroke=\"%s\" stroke-width=\"%g\"", ink->colour,
                    ink->width);
    if (!fill && ink->dash > 0)
        oxl_buf_add(out, " stroke-dasharray=\"%g %g\"", ink->dash, ink->gap);
}

static void text(const struct oxl_shape *s, struct oxl_buf *out)
{
    static const char *const anchors[] = {"start", "middle", "end"};
    oxl_buf_add(out, "<text x=\"%.2f\" y=\"%.2f\" font-size=\"%g\" text-anchor=\"%s\"%s>", s->x,
                s->y, s->h, anchors[s->anchor], s->bold ? " font-weight=\"bold\"" : "");
    oxl_markup_add(out, s->text);
    oxl_buf_add(out, "</text>\n");
}

static void line(const struct oxl_drawing *d, const struct oxl_shape *s, struct oxl_buf *out)
{
    if (s->n == 0)
        return;
    oxl_buf_add(out, "<polyline points=\"");
    for (size_t i = 0; i < s->n; i++)
        oxl_buf_add(out, "%s%.2f,%.2f", i ? " " : "", d->x[s->first + i], d->y[s->first + i]);
    oxl_buf_add(out, "\"");
    paint(&oxl_inks[s->ink], false, out);
    oxl_buf_add(out, " stroke-linejoin=\"round\"/>\n");
}

static void shape(const struct oxl_drawing *d, const struct oxl_shape *s, struct oxl_buf *out)
{
    switch (s->kind) {
    case OXL_SHAPE_LINE:
        line(d, s, out);
        break;
    case OXL_SHAPE_RECT:
        oxl_buf_add(out, "<rect x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" height=\"%.2f\"", s->x, s->y,
                    s->w, s->h);
        paint(&oxl_inks[s->ink], true, out);
        oxl_buf_add(out, "/>\n");
        break;
    case OXL_SHAPE_DOT:
        oxl_buf_add(out, "<circle cx=\"%.2f\" cy=\"%.2f\" r=\"%g\"", s->x, s->y, s->w);
        paint(&oxl_inks[s->ink], true, out);
        oxl_buf_add(out, "/>\n");
        break;
    case OXL_SHAPE_TEXT:
        text(s, out);
        break;
    }
}

void oxl_drawing_svg(const struct oxl_drawing *d, double em_pt, struct oxl_buf *out)
{
    oxl_buf_add(out,
                "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 %g %g\" "
                "style=\"width:%.4fem;height:%.4fem\">\n<title>",
                d->w, d->h, d->w / em_pt, d->h / em_pt);
    oxl_markup_add(out, d->title);
    oxl_buf_add(out, "</title>\n");
    for (size_t i = 0; i < d->shapes_n; i++)
        shape(d, &d->shapes[i], out);
    oxl_buf_add(out, "</svg>\n");
}
