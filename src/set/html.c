/* The page as HTML: one file, no script, nothing fetched. */
#include <stdlib.h>
#include <string.h>

#include "layout.h"

/* All lengths are in em of the running text, so that the screen may show the page larger than the
 * paper does. */
static const char style[] =
    "*{box-sizing:border-box}"
    "body{margin:0;background:#fff;color:#000;line-height:1.165;"
    "font-family:'DejaVu Sans',Verdana,Arial,sans-serif;overflow-wrap:anywhere}"
    "main{width:var(--w)}"
    "p,h1,h2,figure,dl,dd,ul{margin:0}section{margin-bottom:.5em}"
    ".title{font-size:1.1em;margin-bottom:.25em}"
    ".sim{font-size:1.1em;font-weight:bold;background:#ededed;border:.1em solid #000;"
    "padding:.18em .45em}"
    "h1{font-size:1.8em;margin-bottom:.11em}.lead{font-size:1.15em;font-weight:bold;"
    "margin-bottom:.2em}"
    "h2{font-size:1.1em;margin:.4em 0 .14em;border-bottom:.05em solid #000}"
    "h2:first-child{margin-top:0}"
    ".two{display:grid;grid-template-columns:1fr 1fr;column-gap:1.8em}section>div{min-width:0}"
    ".framed{border:.1em solid #000;padding:.6em;display:flex;column-gap:1.8em}"
    ".framed>div:first-child{flex:1}"
    "dl{display:grid;grid-template-columns:var(--n) 1fr}dt{font-weight:bold;"
    "padding-right:.4em}dd{min-width:0}dd.blank{border-bottom:.04em solid #000;"
    "height:1.165em;margin-bottom:.25em}"
    "ul{padding:0;list-style:none}li{display:grid;grid-template-columns:1.6em 1fr}"
    "svg{display:block;overflow:visible}.framed figure{margin-bottom:.3em}"
    ".plots{display:grid;row-gap:.5em}.key{font-size:.88em;margin-bottom:.3em}"
    "table{border-collapse:collapse;width:100%;table-layout:fixed}"
    "th,td{text-align:left;vertical-align:top;padding:.1em .5em .1em 0;"
    "border-bottom:.03em solid #000}th{border-bottom-width:.08em}"
    ".sign{display:grid;grid-template-columns:1fr 1fr;column-gap:5em;margin-top:2.2em}"
    ".sign div{border-top:.07em solid #000}"
    "@media screen{html{font-size:min(13px,calc(96vw/var(--n0)))}main{margin:1.5em auto}}";

/* What is being written. */
struct html {
    const struct oxl_page *page;
    const struct oxl_layout *layout;
    struct oxl_drawing *drawing;
    struct oxl_buf *out;
    double name_w;
};

static void element(const struct html *h, const char *tag, size_t text)
{
    oxl_buf_add(h->out, "<%s>", tag);
    oxl_markup_add(h->out, oxl_page_str(h->page, text));
    oxl_buf_add(h->out, "</%.*s>\n", (int)strcspn(tag, " "), tag);
}

static void field(const struct html *h, const struct oxl_block *b)
{
    element(h, "dt", b->name);
    if (b->text)
        element(h, "dd", b->text);
    else
        oxl_buf_add(h->out, "<dd class=\"blank\"></dd>\n");
}

static void point(const struct html *h, const struct oxl_block *b)
{
    oxl_buf_add(h->out, "<li>");
    element(h, "span", b->name);
    element(h, "span", b->text);
    oxl_buf_add(h->out, "</li>\n");
}

static void table(const struct html *h, const struct oxl_table *t)
{
    double sum = 0;
    for (size_t c = 0; c < t->columns; c++)
        sum += t->weights[c];
    oxl_buf_add(h->out, "<table><colgroup>");
    for (size_t c = 0; c < t->columns; c++)
        oxl_buf_add(h->out, "<col style=\"width:%.2f%%\"/>", 100 * t->weights[c] / sum);
    oxl_buf_add(h->out, "</colgroup>\n");
    for (size_t r = 0; r < t->rows; r++) {
        oxl_buf_add(h->out, "<tr>");
        for (size_t c = 0; c < t->columns; c++)
            element(h, r ? "td" : "th", oxl_table_cell(h->page, t, r, c));
        oxl_buf_add(h->out, "</tr>\n");
    }
    oxl_buf_add(h->out, "</table>\n");
}

static void drawing(const struct html *h, const struct oxl_block *b)
{
    const bool breaks = b->kind == OXL_BLOCK_PLOT && oxl_plot_breaks(h->page, b->index);
    oxl_layout_draw(h->layout, h->page, b, h->drawing);
    h->out->failed = h->out->failed || h->drawing->full;
    oxl_buf_add(h->out, "<figure%s>\n", breaks ? " style=\"grid-column-start:1\"" : "");
    oxl_drawing_svg(h->drawing, h->layout->font, h->out);
    oxl_buf_add(h->out, "</figure>\n");
}

/* Blocks of these kinds stand together in an element of their own. */
static void open_group(const struct html *h, enum oxl_block_kind kind)
{
    const struct oxl_layout *l = h->layout;
    if (kind == OXL_BLOCK_FIELD)
        oxl_buf_add(h->out, "<dl style=\"--n:%gem\">\n", h->name_w);
    else if (kind == OXL_BLOCK_POINT)
        oxl_buf_add(h->out, "<ul>\n");
    else if (kind == OXL_BLOCK_SIGN)
        oxl_buf_add(h->out, "<div class=\"sign\">\n");
    else if (kind == OXL_BLOCK_PLOT)
        oxl_buf_add(h->out,
                    "<div class=\"plots\" style=\"grid-template-columns:repeat(%zu,%.4fem);"
                    "column-gap:%.4fem\">\n",
                    l->plots_across, l->plot_w / l->font, OXL_PLOT_GAP / l->font);
}

static void close_group(const struct html *h, enum oxl_block_kind kind)
{
    if (kind == OXL_BLOCK_FIELD)
        oxl_buf_add(h->out, "</dl>\n");
    else if (kind == OXL_BLOCK_POINT)
        oxl_buf_add(h->out, "</ul>\n");
    else if (kind == OXL_BLOCK_SIGN || kind == OXL_BLOCK_PLOT)
        oxl_buf_add(h->out, "</div>\n");
}

/* What stands in one element; the other kinds are made of several. */
static const char *const elements[OXL_BLOCK_KINDS] = {
    [OXL_BLOCK_TITLE] = "p class=\"title\"",
    [OXL_BLOCK_BANNER] = "p class=\"sim\"",
    [OXL_BLOCK_VERDICT] = "h1",
    [OXL_BLOCK_LEAD] = "p class=\"lead\"",
    [OXL_BLOCK_HEADING] = "h2",
    [OXL_BLOCK_KEY] = "p class=\"key\"",
    [OXL_BLOCK_NOTE] = "p class=\"key\"",
    [OXL_BLOCK_SIGN] = "div",
    [OXL_BLOCK_TEXT] = "p",
};

static void block(const struct html *h, const struct oxl_block *b)
{
    const char *tag = b->kind < OXL_BLOCK_KINDS ? elements[b->kind] : NULL;
    if (tag)
        element(h, tag, b->text);
    else if (b->kind == OXL_BLOCK_FIELD)
        field(h, b);
    else if (b->kind == OXL_BLOCK_POINT)
        point(h, b);
    else if (b->kind == OXL_BLOCK_TABLE)
        table(h, &h->page->tables[b->index]);
    else
        drawing(h, b);
}

static void area(struct html h, enum oxl_area a, double name_w)
{
    const struct oxl_page *p = h.page;
    enum oxl_block_kind before = OXL_BLOCK_KINDS;
    h.name_w = name_w;
    for (size_t i = oxl_page_next(p, a, 0); i < p->blocks_n;) {
        const struct oxl_block *b = &p->blocks[i];
        const size_t next = oxl_page_next(p, a, i + 1);
        if (b->kind != before)
            open_group(&h, b->kind);
        block(&h, b);
        if (next == p->blocks_n || p->blocks[next].kind != b->kind)
            close_group(&h, b->kind);
        before = b->kind;
        i = next;
    }
}

static void row(const struct html *h, const struct oxl_page_row *r)
{
    const bool left = oxl_page_next(h->page, r->left, 0) < h->page->blocks_n;
    const bool right =
        r->right != r->left && oxl_page_next(h->page, r->right, 0) < h->page->blocks_n;
    if (!left && !right)
        return;
    oxl_buf_add(h->out, "<section%s><div>\n",
                r->framed ? " class=\"framed\""
                : right   ? " class=\"two\""
                          : "");
    area(*h, r->left, r->name_left_em);
    if (right) {
        oxl_buf_add(h->out, "</div><div>\n");
        area(*h, r->right, r->name_right_em);
    }
    oxl_buf_add(h->out, "</div></section>\n");
}

static void body(const struct oxl_page *p, const struct oxl_layout *l, struct oxl_buf *out)
{
    const struct html h = {p, l, malloc(sizeof *h.drawing), out, 0};
    out->failed = out->failed || !h.drawing;
    for (size_t i = 0; h.drawing && i < OXL_PAGE_ROWS; i++)
        row(&h, &oxl_page_rows[i]);
    free(h.drawing);
}

void oxl_report_html(const struct oxl_report_input *tests, size_t n, enum oxl_paper paper,
                     struct oxl_buf *out)
{
    struct oxl_layout l;
    struct oxl_page p;
    /* A browser breaks lines and rounds lengths a little differently, so some room is left. */
    if (!oxl_layout_fit(tests, n, paper, 0.05, &l)) {
        out->failed = true;
        return;
    }
    oxl_page_make(&p, tests, n, l.detail);
    oxl_buf_add(out, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n"
                     "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
                     "style-src 'unsafe-inline'\"/>\n");
    oxl_buf_add(out, "<title>");
    oxl_markup_add(out, oxl_page_str(&p, p.title));
    oxl_buf_add(out, "</title>\n");
    oxl_buf_add(out,
                "<style>%s\n@page{size:%s;margin:%gpt}@media print{html{font-size:%gpt}}"
                ":root{--w:%.4fem;--n0:%.4f}</style>\n</head>\n<body>\n<main>\n",
                style, paper == OXL_PAPER_A4 ? "A4" : "letter", l.margin, l.font, l.w / l.font,
                l.w / l.font);
    body(&p, &l, out);
    oxl_buf_add(out, "</main>\n</body>\n</html>\n");
    out->failed = out->failed || p.arena.failed;
    oxl_page_free(&p);
}
