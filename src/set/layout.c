/* Which size of type and how much detail fit on the one page. */
#include "layout.h"

#include <math.h>
#include <stdio.h>

#include "pango.h"

const struct oxl_type oxl_types[OXL_BLOCK_KINDS] = {
    [OXL_BLOCK_TITLE] = {1.1, false},  [OXL_BLOCK_BANNER] = {1.1, true},
    [OXL_BLOCK_VERDICT] = {1.8, true}, [OXL_BLOCK_LEAD] = {1.15, true},
    [OXL_BLOCK_HEADING] = {1.1, true}, [OXL_BLOCK_TEXT] = {1, false},
    [OXL_BLOCK_FIELD] = {1, false},    [OXL_BLOCK_POINT] = {1, false},
    [OXL_BLOCK_TABLE] = {1, false},    [OXL_BLOCK_RULER] = {1, false},
    [OXL_BLOCK_PLOT] = {1, false},     [OXL_BLOCK_HISTORY] = {1, false},
    [OXL_BLOCK_KEY] = {0.88, false},   [OXL_BLOCK_NOTE] = {0.88, false},
    [OXL_BLOCK_SIGN] = {1, false},
};

/* ISO 216 A4 and US letter, points. */
static const struct {
    double w, h;
} papers[] = {[OXL_PAPER_A4] = {595.28, 841.89}, [OXL_PAPER_LETTER] = {612, 792}};

/* Sizes and places of the pictures. */
static void place_plots(struct oxl_layout *l, const struct oxl_page *p)
{
    size_t n = p->plots_n, most = 0, of[2] = {0, 0};
    for (size_t i = 0; i < n; i++)
        of[p->plots[i].test]++;
    most = of[1] > of[0] ? of[1] : of[0];
    if (of[1])
        l->plots_across = most;
    else
        l->plots_across = n <= 4 ? n : n <= 6 ? 3 : n <= 8 ? 4 : 6;
    if (l->plots_across == 0)
        l->plots_across = 1;
    const size_t rows = of[1] && of[0] ? 2 : (n + l->plots_across - 1) / l->plots_across;
    l->plot_rows = rows;
    l->plot_w = (l->w - (double)(l->plots_across - 1) * OXL_PLOT_GAP) / (double)l->plots_across;
    l->plot_h = (rows == 1 ? 100 : l->detail < OXL_DETAIL_LEAST ? 92 : 80) * fmin(1, l->font / 7.5);
    l->ruler_w = 0.34 * l->w;
    l->history_h = l->detail < OXL_DETAIL_LEAST ? 130 : 100;
    l->ruler_h = p->rulers_n && p->rulers[0].n > 1 ? 42 : 36;
}

bool oxl_plot_breaks(const struct oxl_page *p, size_t plot)
{
    return plot > 0 && plot < p->plots_n && p->plots[plot].test != p->plots[plot - 1].test;
}

void oxl_layout_draw(const struct oxl_layout *l, const struct oxl_page *p,
                     const struct oxl_block *b, struct oxl_drawing *d)
{
    const size_t i = b->index;
    if (b->kind == OXL_BLOCK_HISTORY)
        oxl_plot_tests(&p->history[i], l->w, l->history_h, d);
    else if (b->kind == OXL_BLOCK_RULER)
        oxl_plot_scale(&p->rulers[i], l->ruler_w, l->ruler_h, d);
    else
        oxl_plot_run(p->plots[i].run, &p->plots[i].delay_s, p->plots[i].track, p->plots[i].profile,
                     p->plots[i].name, l->plot_w, l->plot_h, d);
    snprintf(d->title, sizeof d->title, "%s", oxl_page_str(p, b->text));
}

static double height(const struct oxl_page *p, const struct oxl_layout *l)
{
    struct oxl_set s;
    oxl_set_open(&s, l->paper_w, l->paper_h, NULL);
    const double end = oxl_set_page(&s, p, l);
    oxl_set_close(&s);
    return s.failed ? INFINITY : end - l->margin;
}

/* What is left of the page makes the plots higher. */
static void use_the_rest(struct oxl_layout *l, double rest)
{
    if (l->plot_rows == 0 || !(rest > 0))
        return;
    l->plot_h = fmin(1.45 * l->plot_h, l->plot_h + rest / (double)l->plot_rows - 1);
}

static bool fits_at(double font, const struct oxl_page *p, double room, struct oxl_layout *l)
{
    l->font = font;
    place_plots(l, p);
    const double h = height(p, l);
    if (h <= room)
        use_the_rest(l, room - h);
    return h <= room;
}

/* The largest type with which the page fits, most often the first. What does not fit in the
 * smallest fits in none between. */
static bool fit_type(const struct oxl_page *p, double smallest, double room, struct oxl_layout *l)
{
    const double step = 0.2, largest = 8;
    const int steps = (int)((largest - smallest) / step + 1e-9);
    if (steps < 0 || fits_at(largest, p, room, l))
        return steps >= 0;
    if (!fits_at(largest - step * steps, p, room, l))
        return false;
    for (int i = 1; i <= steps; i++)
        if (fits_at(largest - step * i, p, room, l))
            return true;
    return false;
}

bool oxl_layout_fit(const struct oxl_report_input *tests, size_t n, enum oxl_paper paper,
                    double spare, struct oxl_layout *out)
{
    static const double smallest[OXL_DETAIL_COUNT] = {9, 6.9, 6.4, 5.8, 4.6};
    struct oxl_layout l = {.paper_w = papers[paper].w, .paper_h = papers[paper].h, .margin = 30};
    const double room = (l.paper_h - 2 * l.margin) * (1 - spare);
    bool fits = false;
    l.w = l.paper_w - 2 * l.margin;
    for (unsigned detail = OXL_DETAIL_FULL; detail < OXL_DETAIL_COUNT && !fits; detail++) {
        struct oxl_page p;
        l.detail = (enum oxl_detail)detail;
        oxl_page_make(&p, tests, n, l.detail);
        fits = fit_type(&p, smallest[detail], room, &l);
        oxl_page_free(&p);
    }
    *out = l;
    return fits;
}
