/* Which size of type and how much detail fit on the one page. */
#include <math.h>

#include "set.h"

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
    l->plot_h = (rows > 1 ? 92 : 118) * fmin(1, l->font / 7.5);
    l->scale_w = 0.37 * l->w;
    l->scale_h = p->scales_n && p->scales[0].n > 1 ? 42 : 36;
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

bool oxl_layout_fit(const struct oxl_report_input *tests, size_t n, enum oxl_paper paper,
                    double spare, struct oxl_layout *out)
{
    static const double smallest[OXL_DETAIL_COUNT] = {6.9, 6.4, 5.8, 4.6};
    struct oxl_layout l = {.paper_w = papers[paper].w, .paper_h = papers[paper].h, .margin = 30};
    const double room = (l.paper_h - 2 * l.margin) * (1 - spare);
    l.w = l.paper_w - 2 * l.margin;
    for (unsigned detail = 0; detail < OXL_DETAIL_COUNT; detail++) {
        struct oxl_page p;
        l.detail = (enum oxl_detail)detail;
        oxl_page_make(&p, tests, n, l.detail);
        for (l.font = 8; l.font > smallest[detail] - 1e-9; l.font -= 0.2) {
            place_plots(&l, &p);
            const double h = height(&p, &l);
            if (h <= room) {
                use_the_rest(&l, room - h);
                oxl_page_free(&p);
                *out = l;
                return true;
            }
        }
        oxl_page_free(&p);
    }
    *out = l;
    return false;
}
