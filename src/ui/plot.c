#include "plot.h"

#include <math.h>
#include <stdlib.h>

enum { BRAILLE = 0x2800, SHADE = 0x2591 };

static int points_wide(const struct oxl_plot *p)
{
    return p->area.cols * (p->ascii ? 1 : 2);
}

static int points_high(const struct oxl_plot *p)
{
    return p->area.rows * (p->ascii ? 1 : 4);
}

/* Left to right; may lie outside. */
static int point_x(const struct oxl_plot *p, int64_t t_us)
{
    double f = (double)(t_us - p->from_us) / (double)(p->to_us - p->from_us);
    return (int)floor(f * points_wide(p));
}

/* Top to bottom, clamped to the plot. */
static int point_y(const struct oxl_plot *p, double value)
{
    int high = points_high(p);
    double f = (value - p->low) / (p->high - p->low);
    int y = high - 1 - (int)floor(fmin(fmax(f, 0), 1) * high);
    return y < 0 ? 0 : y > high - 1 ? high - 1 : y;
}

int oxl_plot_row(const struct oxl_plot *p, double value)
{
    if (!isfinite(value) || value < p->low || value > p->high)
        return -1;
    return p->area.row + point_y(p, value) / (p->ascii ? 1 : 4);
}

int oxl_plot_col(const struct oxl_plot *p, int64_t t_us)
{
    if (t_us < p->from_us || t_us >= p->to_us)
        return -1;
    return p->area.col + point_x(p, t_us) / (p->ascii ? 1 : 2);
}

/* Adds a point to the cell that holds it. The trace's ink wins over that of the lines behind. */
static void dot(struct oxl_canvas *c, const struct oxl_plot *p, int x, int y, enum oxl_ink ink,
                char plain)
{
    static const uint8_t bits[4][2] = {{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}};
    if (x < 0 || x >= points_wide(p) || y < 0 || y >= points_high(p))
        return;
    if (p->ascii) {
        oxl_canvas_put(c, p->area.row + y, p->area.col + x, (unsigned char)plain, ink);
        return;
    }
    int row = p->area.row + y / 4, col = p->area.col + x / 2;
    struct oxl_cell old = oxl_canvas_at(c, row, col);
    uint32_t had = old.ch >= BRAILLE && old.ch <= BRAILLE + 0xFF ? old.ch - BRAILLE : 0;
    oxl_canvas_put(c, row, col, BRAILLE | had | bits[y % 4][x % 2],
                   had && old.ink == p->ink ? p->ink : ink);
}

void oxl_plot_level(struct oxl_canvas *c, const struct oxl_plot *p, double value)
{
    if (!isfinite(value) || value < p->low || value > p->high)
        return;
    for (int x = 0; x < points_wide(p); x += p->ascii ? 2 : 4) /* thin beside a trace */
        dot(c, p, x, point_y(p, value), OXL_INK_DIM, '-');
}

void oxl_plot_mark(struct oxl_canvas *c, const struct oxl_plot *p, int64_t t_us)
{
    if (oxl_plot_col(p, t_us) < 0)
        return;
    for (int y = 0; y < points_high(p); y += p->ascii ? 1 : 2)
        dot(c, p, point_x(p, t_us), y, OXL_INK_DIM, ':');
}

static void line(struct oxl_canvas *c, const struct oxl_plot *p, int x0, int y0, int x1, int y1)
{
    int dx = abs(x1 - x0), dy = abs(y1 - y0);
    int steps = dx > dy ? dx : dy;
    for (int i = 0; i <= steps; i++) {
        double f = steps ? (double)i / steps : 0;
        dot(c, p, x0 + (int)lround(f * (x1 - x0)), y0 + (int)lround(f * (y1 - y0)), p->ink, '*');
    }
}

static void shade(struct oxl_canvas *c, const struct oxl_plot *p, int64_t from_us, int64_t to_us)
{
    static const char words[] = " no data ";
    const int length = (int)sizeof words - 1;
    int per_cell = p->ascii ? 1 : 2;
    int first = point_x(p, from_us) / per_cell + 1, last = point_x(p, to_us) / per_cell - 1;
    first = first < 0 ? 0 : first;
    last = last > p->area.cols - 1 ? p->area.cols - 1 : last;
    int row = p->area.row + p->area.rows / 2;
    for (int x = first; x <= last; x++)
        oxl_canvas_put(c, row, p->area.col + x, p->ascii ? ':' : SHADE, OXL_INK_CAUTION);
    if (last - first + 1 >= length + 2)
        oxl_canvas_text(c, row, p->area.col + (first + last + 1 - length) / 2, length,
                        OXL_INK_CAUTION, words);
}

void oxl_plot_history(struct oxl_canvas *c, const struct oxl_plot *p, const struct oxl_history *h,
                      int64_t now_us)
{
    if (p->area.rows < 1 || p->area.cols < 1 || h->newest_us < 0)
        return;
    const struct oxl_bucket *prev = NULL;
    int64_t end = p->to_us / OXL_BUCKET_US;
    int64_t start = end - OXL_BUCKETS + 1;
    /* One second before the left edge, so that the line enters from there. */
    int64_t wanted = (p->from_us - OXL_GAP_US) / OXL_BUCKET_US;
    for (int64_t id = start > wanted ? start : wanted; id <= end; id++) {
        const struct oxl_bucket *b = oxl_history_bucket(h, id);
        if (!b)
            continue;
        int x = point_x(p, b->first_us);
        if (prev && b->first_us - prev->last_us > OXL_GAP_US)
            shade(c, p, prev->last_us, b->first_us);
        else if (prev)
            line(c, p, point_x(p, prev->last_us), point_y(p, (double)prev->last), x,
                 point_y(p, (double)b->first));
        line(c, p, x, point_y(p, (double)b->min), x, point_y(p, (double)b->max));
        prev = b;
    }
    if (now_us - h->newest_us > OXL_GAP_US)
        shade(c, p, h->newest_us, now_us);
}
