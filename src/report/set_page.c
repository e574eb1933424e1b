/* The page from top to bottom; src/report/report_html.c has the same parts in the same order. */
#include <math.h>
#include <stdlib.h>

#include "set.h"

static double top_part(struct oxl_set *s, const struct oxl_page *p, const struct oxl_layout *l,
                       double y)
{
    const double x = l->margin, half = (l->w - OXL_COLUMN_GAP) / 2, f = l->font;
    y += oxl_set_text(s, x, y, l->w, 1.5 * f, true, oxl_page_str(p, p->title)) + 0.2 * f;
    if (p->banner) {
        const char *words = oxl_page_str(p, p->banner);
        const bool ink = s->ink;
        s->ink = false;
        const double h = oxl_set_text(s, x, y, l->w - f, 1.1 * f, true, words) + 0.4 * f;
        s->ink = ink;
        oxl_set_frame(s, x, y, l->w, h, 0.93);
        oxl_set_text(s, x + 0.5 * f, y + 0.2 * f, l->w - f, 1.1 * f, true, words);
        y += h + 0.4 * f;
    }
    const double left = oxl_set_list(s, p, &p->order_left, x, y, half, f, OXL_NAMES_ORDER);
    const double right =
        oxl_set_list(s, p, &p->order_right, x + half + OXL_COLUMN_GAP, y, half, f, OXL_NAMES_ORDER);
    return y + fmax(left, right) + 0.5 * f;
}

static double verdict_text(struct oxl_set *s, const struct oxl_page *p, const struct oxl_layout *l,
                           double x, double y, double w)
{
    const double top = y, f = l->font;
    y += oxl_set_text(s, x, y, w, 1.25 * f, true, oxl_page_str(p, p->headline)) + 0.15 * f;
    y += oxl_set_text(s, x, y, w, f, false, oxl_page_str(p, p->sentence)) + 0.3 * f;
    y += oxl_set_list(s, p, &p->figures, x, y, w, f, OXL_NAMES_FIGURES);
    return y - top;
}

static double verdict(struct oxl_set *s, const struct oxl_page *p, const struct oxl_layout *l,
                      double y, struct oxl_drawing *d)
{
    const double x = l->margin, pad = 0.6 * l->font;
    const double w = l->w - 2 * pad - (p->scales_n ? l->scale_w + OXL_COLUMN_GAP : 0);
    const double pictures = (double)p->scales_n * (l->scale_h + 0.3 * l->font);
    const bool ink = s->ink;
    s->ink = false;
    const double h = fmax(verdict_text(s, p, l, x + pad, y + pad, w), pictures) + 2 * pad;
    s->ink = ink;
    oxl_set_frame(s, x, y, l->w, h, 1);
    verdict_text(s, p, l, x + pad, y + pad, w);
    for (size_t i = 0; i < p->scales_n && s->ink; i++) {
        oxl_plot_scale(&p->scales[i], l->scale_w, l->scale_h, d);
        s->failed = s->failed || d->full;
        oxl_set_drawing(s, d, x + l->w - pad - l->scale_w,
                        y + pad + (double)i * (l->scale_h + 0.3 * l->font));
    }
    return y + h + 0.5 * l->font;
}

static double plots(struct oxl_set *s, const struct oxl_page *p, const struct oxl_layout *l,
                    double y, struct oxl_drawing *d)
{
    size_t row = 0, column = 0;
    for (size_t i = 0; i < p->plots_n; i++) {
        if (i && (column == l->plots_across || p->plots[i].test != p->plots[i - 1].test)) {
            row++;
            column = 0;
        }
        if (s->ink) {
            oxl_plot_run(p->plots[i].run, p->plots[i].track, p->plots[i].profile, p->plots[i].name,
                         l->plot_w, l->plot_h, d);
            s->failed = s->failed || d->full;
            oxl_set_drawing(s, d, l->margin + (double)column * (l->plot_w + OXL_PLOT_GAP),
                            y + (double)row * (l->plot_h + OXL_PLOT_GAP / 2.0));
        }
        column++;
    }
    if (p->plots_n)
        y += (double)(row + 1) * (l->plot_h + OXL_PLOT_GAP / 2.0);
    return y +
           oxl_set_text(s, l->margin, y, l->w, 0.88 * l->font, false,
                        oxl_page_str(p, p->plot_key)) +
           0.5 * l->font;
}

static double table(struct oxl_set *s, const struct oxl_page *p, const struct oxl_layout *l,
                    double y)
{
    double sum = 0;
    for (size_t c = 0; c < OXL_TABLE_COLUMNS; c++)
        sum += oxl_table_weights[c];
    for (size_t r = 0; r < p->rows_n && p->rows_n > 1; r++) {
        double x = l->margin, h = 0;
        for (size_t c = 0; c < OXL_TABLE_COLUMNS; c++) {
            const double w = l->w * oxl_table_weights[c] / sum;
            h = fmax(
                h, oxl_set_text(s, x, y, w - 4, l->font, r == 0, oxl_page_str(p, p->cells[r][c])));
            x += w;
        }
        y += h + 0.1 * l->font;
        oxl_set_line(s, l->margin, y, l->margin + l->w, y, r ? 0.2 : 0.6);
        y += 0.1 * l->font;
    }
    if (p->table_note)
        y += oxl_set_text(s, l->margin, y, l->w, l->font, false, oxl_page_str(p, p->table_note));
    return y + 0.6 * l->font;
}

static double two_columns(struct oxl_set *s, const struct oxl_page *p, const struct oxl_layout *l,
                          const struct oxl_list *left, const struct oxl_list *right, double left_w,
                          double y)
{
    const double half = (l->w - OXL_COLUMN_GAP) / 2, f = l->font;
    const double a = oxl_set_list(s, p, left, l->margin, y, half, f, left_w);
    const double b =
        oxl_set_list(s, p, right, l->margin + half + OXL_COLUMN_GAP, y, half, f, OXL_NAMES_RIGHT);
    return y + fmax(a, b) + 0.5 * f;
}

static double signatures(struct oxl_set *s, const struct oxl_layout *l, double y)
{
    static const char *const who[] = {"Technician, date", "Customer, date"};
    const double w = (l->w - 3 * OXL_COLUMN_GAP) / 2;
    double h = 0;
    y += 2.2 * l->font;
    for (size_t i = 0; i < 2; i++) {
        const double x = l->margin + (double)i * (w + 3 * OXL_COLUMN_GAP);
        oxl_set_line(s, x, y, x + w, y, 0.5);
        h = oxl_set_text(s, x, y + 1, w, l->font, false, who[i]);
    }
    return y + 1 + h;
}

double oxl_set_page(struct oxl_set *s, const struct oxl_page *p, const struct oxl_layout *l)
{
    struct oxl_drawing *d = malloc(sizeof *d);
    if (!d) {
        s->failed = true;
        return 0;
    }
    double y = top_part(s, p, l, l->margin);
    y = verdict(s, p, l, y, d);
    y = plots(s, p, l, y, d);
    y = table(s, p, l, y);
    y = two_columns(s, p, l, &p->left, &p->right, OXL_NAMES_LEFT, y);
    y = two_columns(s, p, l, &p->low_left, &p->low_right, OXL_NAMES_RIGHT, y) + 0.1 * l->font;
    y += oxl_set_list(s, p, &p->foot, l->margin, y, l->w, 0.92 * l->font, OXL_NAMES_FOOT);
    y = signatures(s, l, y);
    free(d);
    return y;
}
