/* The page from top to bottom, as oxl_page_rows has it. */
#include <math.h>

#include "pango.h"

/* Where a block goes. */
struct place {
    struct oxl_set *set;
    const struct oxl_page *page;
    const struct oxl_layout *layout;
    double x, w, name_w;
};

static const char *str(const struct place *at, size_t text)
{
    return oxl_page_str(at->page, text);
}

static double paragraph(const struct place *at, const struct oxl_block *b, double y)
{
    const struct oxl_type *type = &oxl_types[b->kind];
    return oxl_set_text(at->set, at->x, y, at->w, type->size * at->layout->font, type->bold,
                        str(at, b->text));
}

/* What is framed: measured first, for the frame lies below it. */
static double banner(const struct place *at, const struct oxl_block *b, double y)
{
    struct place inside = *at;
    const double f = at->layout->font;
    const bool ink = at->set->ink;
    inside.x += 0.5 * f;
    inside.w -= f;
    at->set->ink = false;
    const double h = paragraph(&inside, b, y) + 0.4 * f;
    at->set->ink = ink;
    oxl_set_frame(at->set, at->x, y, at->w, h, 0.93);
    paragraph(&inside, b, y + 0.2 * f);
    return h + 0.4 * f;
}

static double heading(const struct place *at, const struct oxl_block *b, double y, bool first)
{
    const double f = at->layout->font, top = y;
    y += first ? 0 : 0.45 * f;
    y += paragraph(at, b, y);
    oxl_set_line(at->set, at->x, y, at->x + at->w, y, 0.4);
    return y + 0.15 * f - top;
}

/* A field without a value gets a line to write on. */
static double field(const struct place *at, const struct oxl_block *b, double y)
{
    const double f = at->layout->font, x = at->x + at->name_w * f;
    const double left =
        oxl_set_text(at->set, at->x, y, (at->name_w - 0.4) * f, f, true, str(at, b->name));
    if (!b->text) {
        oxl_set_line(at->set, x, y + left, at->x + at->w, y + left, 0.4);
        return left + 0.25 * f;
    }
    return fmax(left, oxl_set_text(at->set, x, y, at->x + at->w - x, f, false, str(at, b->text)));
}

static double point(const struct place *at, const struct oxl_block *b, double y)
{
    const double f = at->layout->font, label = 1.6 * f;
    oxl_set_text(at->set, at->x, y, label, f, false, str(at, b->name));
    return oxl_set_text(at->set, at->x + label, y, at->w - label, f, false, str(at, b->text));
}

static double row(const struct place *at, const struct oxl_table *t, size_t row, double y)
{
    const double f = at->layout->font;
    double x = at->x, h = 0, sum = 0;
    for (size_t c = 0; c < t->columns; c++)
        sum += t->weights[c];
    for (size_t c = 0; c < t->columns; c++) {
        const double w = at->w * t->weights[c] / sum;
        const char *cell = str(at, oxl_table_cell(at->page, t, row, c));
        h = fmax(h, oxl_set_text(at->set, x, y, w - 4, f, row == 0, cell));
        x += w;
    }
    oxl_set_line(at->set, at->x, y + h + 0.1 * f, at->x + at->w, y + h + 0.1 * f, row ? 0.2 : 0.6);
    return h + 0.2 * f;
}

static double table(const struct place *at, const struct oxl_block *b, double y)
{
    const double top = y;
    const struct oxl_table *t = &at->page->tables[b->index];
    for (size_t r = 0; r < t->rows; r++)
        y += row(at, t, r, y);
    return y - top;
}

static void draw(const struct place *at, const struct oxl_block *b, double x, double y)
{
    if (!at->set->ink || !at->set->drawing)
        return;
    oxl_layout_draw(at->layout, at->page, b, at->set->drawing);
    at->set->failed = at->set->failed || at->set->drawing->full;
    oxl_set_drawing(at->set, at->set->drawing, x, y);
}

/* Does the next block belong to the same group as the i-th? */
static bool goes_on(const struct place *at, size_t i)
{
    const struct oxl_block *b = &at->page->blocks[i];
    return i + 1 < at->page->blocks_n && b[1].kind == b->kind && b[1].area == b->area;
}

/* Plots in rows; returns the height of them all and moves *i to the last one. */
static double plots(const struct place *at, size_t *i, double y)
{
    const struct oxl_layout *l = at->layout;
    const double across = l->plot_w + OXL_PLOT_GAP, down = l->plot_h + OXL_PLOT_GAP / 2.0;
    size_t row = 0, column = 0;
    for (;; ++*i, column++) {
        const struct oxl_block *b = &at->page->blocks[*i];
        if (column == l->plots_across || oxl_plot_breaks(at->page, b->index)) {
            row++;
            column = 0;
        }
        draw(at, b, at->x + (double)column * across, y + (double)row * down);
        if (!goes_on(at, *i))
            return (double)(row + 1) * down;
    }
}

/* Lines to sign on, two side by side: the second one closes the row. */
static double sign(const struct place *at, size_t i, double y)
{
    const double f = at->layout->font, gap = 3 * OXL_COLUMN_GAP, w = (at->w - gap) / 2;
    const bool first = goes_on(at, i);
    const double x = at->x + (first ? 0 : w + gap), top = y + 2.2 * f;
    oxl_set_line(at->set, x, top, x + w, top, 0.5);
    const double h =
        oxl_set_text(at->set, x, top + 1, w, f, false, str(at, at->page->blocks[i].text));
    return first ? 0 : top + 1 + h - y;
}

static double block(const struct place *at, size_t *i, double y, bool first)
{
    const struct oxl_block *b = &at->page->blocks[*i];
    const double f = at->layout->font;
    switch (b->kind) {
    case OXL_BLOCK_BANNER:
        return banner(at, b, y);
    case OXL_BLOCK_HEADING:
        return heading(at, b, y, first);
    case OXL_BLOCK_FIELD:
        return field(at, b, y);
    case OXL_BLOCK_POINT:
        return point(at, b, y);
    case OXL_BLOCK_TABLE:
        return table(at, b, y);
    case OXL_BLOCK_RULER:
        draw(at, b, at->x, y);
        return at->layout->ruler_h + 0.3 * f;
    case OXL_BLOCK_HISTORY:
        draw(at, b, at->x, y);
        return at->layout->history_h + 0.3 * f;
    case OXL_BLOCK_PLOT:
        return plots(at, i, y);
    case OXL_BLOCK_SIGN:
        return sign(at, *i, y);
    case OXL_BLOCK_TITLE:
    case OXL_BLOCK_VERDICT:
    case OXL_BLOCK_LEAD:
        return paragraph(at, b, y) + 0.25 * f;
    case OXL_BLOCK_TEXT:
    case OXL_BLOCK_KEY:
    case OXL_BLOCK_NOTE:
    case OXL_BLOCK_KINDS:
        break;
    }
    return paragraph(at, b, y);
}

static double area(const struct place *at, enum oxl_area a, double y)
{
    const double top = y;
    const size_t from = oxl_page_next(at->page, a, 0);
    for (size_t i = from; i < at->page->blocks_n; i = oxl_page_next(at->page, a, i + 1))
        y += block(at, &i, y, i == from);
    return y - top;
}

static double columns(struct place at, const struct oxl_page_row *r, double y)
{
    const bool one =
        r->left == r->right || oxl_page_next(at.page, r->right, 0) == at.page->blocks_n;
    const double right_w = r->framed ? at.layout->ruler_w : (at.w - OXL_COLUMN_GAP) / 2;
    struct place right = at;
    at.name_w = r->name_left_em;
    right.name_w = r->name_right_em;
    right.x = at.x + at.w - right_w;
    right.w = right_w;
    if (!one)
        at.w -= right_w + OXL_COLUMN_GAP;
    const double h = area(&at, r->left, y);
    return one ? h : fmax(h, area(&right, r->right, y));
}

static double framed(struct place at, const struct oxl_page_row *r, double y)
{
    const double pad = 0.6 * at.layout->font;
    const bool ink = at.set->ink;
    struct place inside = at;
    inside.x += pad;
    inside.w -= 2 * pad;
    at.set->ink = false;
    const double h = columns(inside, r, y) + 2 * pad;
    at.set->ink = ink;
    oxl_set_frame(at.set, at.x, y, at.w, h, 1);
    columns(inside, r, y + pad);
    return h;
}

double oxl_set_page(struct oxl_set *s, const struct oxl_page *p, const struct oxl_layout *l)
{
    const struct place at = {s, p, l, l->margin, l->w, 0};
    double y = l->margin;
    for (size_t i = 0; i < OXL_PAGE_ROWS; i++) {
        const struct oxl_page_row *r = &oxl_page_rows[i];
        if (oxl_page_next(p, r->left, 0) < p->blocks_n ||
            oxl_page_next(p, r->right, 0) < p->blocks_n)
            y += (r->framed ? framed : columns)(at, r, y) +
                 (r->left == OXL_AREA_FOOT ? 0 : 0.5 * l->font);
    }
    return y;
}
