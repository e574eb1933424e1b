#include "flow.h"

#include <stdio.h>
#include <string.h>

#include "utf8.h"

/* Canvas row of the text row that is written next; -1 when it is not shown. */
static int shown_row(const struct oxl_flow *f)
{
    int at = f->count - f->first;
    return f->canvas && at >= 0 && at < f->area.rows ? f->area.row + at : -1;
}

static int columns(const char *s, const char *end)
{
    int n = 0;
    while (s < end && oxl_utf8_next(&s))
        n++;
    return n;
}

const char *oxl_flow_fit(const char *text, int width)
{
    const char *best = NULL, *p = text;
    while (*p) {
        const char *word_end = p + strcspn(p, " ");
        if (columns(text, word_end) > width)
            break;
        best = word_end;
        p = word_end + strspn(word_end, " ");
    }
    if (best)
        return best;
    p = text;
    for (int n = 0; n < width && *p; n++)
        oxl_utf8_next(&p);
    return p;
}

void oxl_flow_text(struct oxl_flow *f, enum oxl_ink lead_ink, const char *lead, int indent,
                   enum oxl_ink ink, const char *text)
{
    int width = f->area.cols - indent;
    width = width < 1 ? 1 : width;
    bool first = true;
    do {
        const char *end = oxl_flow_fit(text, width);
        int row = shown_row(f);
        if (row >= 0) {
            if (first)
                oxl_canvas_text(f->canvas, row, f->area.col,
                                indent < f->area.cols ? indent : f->area.cols, lead_ink, lead);
            oxl_canvas_text(f->canvas, row, f->area.col + indent, columns(text, end), ink, text);
        }
        f->count++;
        first = false;
        text = end + strspn(end, " ");
    } while (*text);
}

int oxl_flow_rows(const char *text, int cols)
{
    struct oxl_flow count = {NULL, {0, 0, 1, cols}, 0, 0};
    oxl_flow_text(&count, OXL_INK_TEXT, "", 0, OXL_INK_TEXT, text);
    return count.count;
}

int oxl_flow_pages(struct oxl_canvas *c, struct oxl_area a, int screenful,
                   void (*write)(struct oxl_flow *f, const void *ctx), const void *ctx)
{
    int pages = 1;
    if (a.rows < 1 || a.cols < 1)
        return pages;
    struct oxl_flow count = {NULL, a, 0, 0};
    write(&count, ctx);
    struct oxl_flow f = {c, a, 0, 0};
    if (count.count > a.rows && a.rows > 1) {
        f.area.rows = a.rows - 1;
        pages = (count.count + f.area.rows - 1) / f.area.rows;
        int page = ((screenful % pages) + pages) % pages;
        f.first = page * f.area.rows;
        char text[64];
        snprintf(text, sizeof text, "part %d of %d: up/down for more", page + 1, pages);
        if (c)
            oxl_canvas_text(c, a.row + a.rows - 1, a.col, a.cols, OXL_INK_KEY, text);
    }
    write(&f, ctx);
    return pages;
}
