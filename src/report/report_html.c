/* The page as HTML: one file, no script, nothing fetched. The same parts in the same order as
 * src/report/set_page.c. */
#include <stdlib.h>

#include "markup.h"
#include "page.h"

/* All lengths are in em of the running text, so that the screen may show the page larger than the
 * paper does. */
static const char style[] =
    "*{box-sizing:border-box}"
    "body{margin:0;background:#fff;color:#000;line-height:1.165;"
    "font-family:'DejaVu Sans',Verdana,Arial,sans-serif;overflow-wrap:anywhere}"
    "main{width:var(--w)}"
    "h1{font-size:1.5em;margin:0 0 .13em}h2{font-size:1.1em;margin:.4em 0 .14em;"
    "border-bottom:.05em solid #000}h2:first-child{margin-top:0}"
    ".sim{font-size:1.1em;font-weight:bold;background:#ededed;border:.1em solid #000;"
    "padding:.18em .45em;margin:0 0 .36em}"
    ".two{display:grid;grid-template-columns:1fr 1fr;column-gap:1.8em}"
    ".two>div{min-width:0}.two{margin-bottom:.5em}"
    "dl{margin:0;display:grid;grid-template-columns:var(--n) 1fr}dt{font-weight:bold;"
    "padding-right:.4em}dd{margin:0;min-width:0}dd.blank{border-bottom:.04em solid #000;"
    "height:1.165em;margin-bottom:.25em}p{margin:0}"
    "ul{margin:0;padding:0;list-style:none}li{display:grid;grid-template-columns:1.6em 1fr}"
    ".verdict{border:.1em solid #000;padding:.6em;margin:.5em 0;display:flex;column-gap:1.8em}"
    ".verdict>div:first-child{flex:1;min-width:0}.verdict h2{font-size:1.25em;border:0;"
    "margin:0 0 .1em}.verdict p{margin:0 0 .3em}.verdict svg{margin-bottom:.3em}"
    "svg{display:block;overflow:visible}.plots{display:grid;row-gap:.5em}figure{margin:0}"
    ".key{font-size:.88em;margin:.3em 0 .6em}"
    "table{border-collapse:collapse;width:100%;table-layout:fixed;margin:0 0 .6em}"
    "th,td{text-align:left;vertical-align:top;padding:.1em .5em .1em 0;"
    "border-bottom:.03em solid #000}th{border-bottom-width:.08em}"
    ".foot{font-size:.92em;margin-top:.6em}"
    ".sign{display:grid;grid-template-columns:1fr 1fr;column-gap:5em;margin-top:2.2em}"
    ".sign div{border-top:.07em solid #000}"
    "@media screen{html{font-size:min(13px,calc(96vw/var(--n0)))}main{margin:1.5em auto}}";

static void text(const struct oxl_page *p, size_t at, struct oxl_buf *out)
{
    oxl_markup_add(out, oxl_page_str(p, at));
}

static void element(const char *tag, const struct oxl_page *p, size_t at, struct oxl_buf *out)
{
    oxl_buf_add(out, "<%s>", tag);
    text(p, at, out);
    oxl_buf_add(out, "</%s>\n", tag);
}

static void field(const struct oxl_page *p, const struct oxl_item *i, struct oxl_buf *out)
{
    element("dt", p, i->name, out);
    if (i->text)
        element("dd", p, i->text, out);
    else
        oxl_buf_add(out, "<dd class=\"blank\"></dd>\n");
}

static bool grouped(enum oxl_item_kind k)
{
    return k == OXL_ITEM_FIELD || k == OXL_ITEM_POINT;
}

static void list(const struct oxl_page *p, const struct oxl_list *l, double name_w,
                 struct oxl_buf *out)
{
    for (size_t i = 0; i < l->n; i++) {
        const struct oxl_item *it = &l->items[i];
        if (grouped(it->kind) && (i == 0 || l->items[i - 1].kind != it->kind)) {
            if (it->kind == OXL_ITEM_FIELD)
                oxl_buf_add(out, "<dl style=\"--n:%gem\">\n", name_w);
            else
                oxl_buf_add(out, "<ul>\n");
        }
        if (it->kind == OXL_ITEM_FIELD) {
            field(p, it, out);
        } else if (it->kind == OXL_ITEM_POINT) {
            oxl_buf_add(out, "<li><span>");
            text(p, it->name, out);
            oxl_buf_add(out, "</span><span>");
            text(p, it->text, out);
            oxl_buf_add(out, "</span></li>\n");
        } else {
            element(it->kind == OXL_ITEM_HEADING ? "h2" : "p", p, it->text, out);
        }
        if (grouped(it->kind) && (i + 1 == l->n || l->items[i + 1].kind != it->kind))
            oxl_buf_add(out, it->kind == OXL_ITEM_FIELD ? "</dl>\n" : "</ul>\n");
    }
}

static void two_columns(const struct oxl_page *p, const struct oxl_list *left,
                        const struct oxl_list *right, double left_w, double right_w,
                        struct oxl_buf *out)
{
    oxl_buf_add(out, "<div class=\"two\"><div>\n");
    list(p, left, left_w, out);
    oxl_buf_add(out, "</div><div>\n");
    list(p, right, right_w, out);
    oxl_buf_add(out, "</div></div>\n");
}

static void top_part(const struct oxl_page *p, struct oxl_buf *out)
{
    element("h1", p, p->title, out);
    if (p->banner) {
        oxl_buf_add(out, "<div class=\"sim\">");
        text(p, p->banner, out);
        oxl_buf_add(out, "</div>\n");
    }
    two_columns(p, &p->order_left, &p->order_right, OXL_NAMES_ORDER, OXL_NAMES_ORDER, out);
}

static void verdict(const struct oxl_page *p, const struct oxl_layout *l, struct oxl_drawing *d,
                    struct oxl_buf *out)
{
    oxl_buf_add(out, "<section class=\"verdict\"><div>\n");
    element("h2", p, p->headline, out);
    element("p", p, p->sentence, out);
    list(p, &p->figures, OXL_NAMES_FIGURES, out);
    oxl_buf_add(out, "</div><div>\n");
    for (size_t i = 0; i < p->scales_n; i++) {
        oxl_plot_scale(&p->scales[i], l->scale_w, l->scale_h, d);
        out->failed = out->failed || d->full;
        oxl_drawing_svg(d, l->font, out);
    }
    oxl_buf_add(out, "</div></section>\n");
}

static void plots(const struct oxl_page *p, const struct oxl_layout *l, struct oxl_drawing *d,
                  struct oxl_buf *out)
{
    oxl_buf_add(out,
                "<section class=\"plots\" style=\"grid-template-columns:repeat(%zu,%.4fem);"
                "column-gap:%.4fem\">\n",
                l->plots_across, l->plot_w / l->font, OXL_PLOT_GAP / l->font);
    for (size_t i = 0; i < p->plots_n; i++) {
        const bool breaks = i && p->plots[i].test != p->plots[i - 1].test;
        oxl_plot_run(p->plots[i].run, p->plots[i].track, p->plots[i].profile, p->plots[i].name,
                     l->plot_w, l->plot_h, d);
        out->failed = out->failed || d->full;
        oxl_buf_add(out, "<figure%s>\n", breaks ? " style=\"grid-column-start:1\"" : "");
        oxl_drawing_svg(d, l->font, out);
        oxl_buf_add(out, "</figure>\n");
    }
    oxl_buf_add(out, "</section>\n<p class=\"key\">");
    text(p, p->plot_key, out);
    oxl_buf_add(out, "</p>\n");
}

static void table(const struct oxl_page *p, struct oxl_buf *out)
{
    double sum = 0;
    for (size_t c = 0; c < OXL_TABLE_COLUMNS; c++)
        sum += oxl_table_weights[c];
    if (p->rows_n > 1) {
        oxl_buf_add(out, "<table><colgroup>");
        for (size_t c = 0; c < OXL_TABLE_COLUMNS; c++)
            oxl_buf_add(out, "<col style=\"width:%.2f%%\"/>", 100 * oxl_table_weights[c] / sum);
        oxl_buf_add(out, "</colgroup>\n");
        for (size_t r = 0; r < p->rows_n; r++) {
            oxl_buf_add(out, "<tr>");
            for (size_t c = 0; c < OXL_TABLE_COLUMNS; c++)
                element(r ? "td" : "th", p, p->cells[r][c], out);
            oxl_buf_add(out, "</tr>\n");
        }
        oxl_buf_add(out, "</table>\n");
    }
    if (p->table_note)
        element("p", p, p->table_note, out);
}

static void body(const struct oxl_page *p, const struct oxl_layout *l, struct oxl_buf *out)
{
    struct oxl_drawing *d = malloc(sizeof *d);
    if (!d) {
        out->failed = true;
        return;
    }
    top_part(p, out);
    verdict(p, l, d, out);
    plots(p, l, d, out);
    table(p, out);
    two_columns(p, &p->left, &p->right, OXL_NAMES_LEFT, OXL_NAMES_RIGHT, out);
    two_columns(p, &p->low_left, &p->low_right, OXL_NAMES_RIGHT, OXL_NAMES_RIGHT, out);
    oxl_buf_add(out, "<div class=\"foot\">\n");
    list(p, &p->foot, OXL_NAMES_FOOT, out);
    oxl_buf_add(out, "</div>\n<div class=\"sign\"><div>Technician, date</div><div>Customer, "
                     "date</div></div>\n");
    free(d);
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
    element("title", &p, p.title, out);
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
