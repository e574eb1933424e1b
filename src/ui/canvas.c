#include "oxylag/ui.h"

#include <stdlib.h>

#include "utf8.h"

enum { MAX_SIDE = 1000 };

struct oxl_canvas {
    int rows, cols;
    size_t capacity;
    struct oxl_cell *cells;
};

static int clamp_side(int n)
{
    return n < 1 ? 1 : n > MAX_SIDE ? MAX_SIDE : n;
}

struct oxl_canvas *oxl_canvas_new(int rows, int cols)
{
    struct oxl_canvas *c = calloc(1, sizeof *c);
    if (c && !oxl_canvas_resize(c, rows, cols)) {
        free(c);
        return NULL;
    }
    return c;
}

void oxl_canvas_free(struct oxl_canvas *c)
{
    if (!c)
        return;
    free(c->cells);
    free(c);
}

bool oxl_canvas_resize(struct oxl_canvas *c, int rows, int cols)
{
    rows = clamp_side(rows);
    cols = clamp_side(cols);
    size_t need = (size_t)rows * (size_t)cols;
    if (!c->cells || need > c->capacity) {
        struct oxl_cell *cells = realloc(c->cells, need * sizeof *cells);
        if (!cells)
            return false;
        c->cells = cells;
        c->capacity = need;
    }
    c->rows = rows;
    c->cols = cols;
    oxl_canvas_clear(c);
    return true;
}

void oxl_canvas_clear(struct oxl_canvas *c)
{
    const struct oxl_cell blank = {' ', OXL_INK_TEXT};
    for (size_t i = 0; i < (size_t)c->rows * (size_t)c->cols; i++)
        c->cells[i] = blank;
}

int oxl_canvas_rows(const struct oxl_canvas *c)
{
    return c->rows;
}

int oxl_canvas_cols(const struct oxl_canvas *c)
{
    return c->cols;
}

static struct oxl_cell *cell_at(const struct oxl_canvas *c, int row, int col)
{
    if (row < 0 || row >= c->rows || col < 0 || col >= c->cols)
        return NULL;
    return &c->cells[(size_t)row * (size_t)c->cols + (size_t)col];
}

struct oxl_cell oxl_canvas_at(const struct oxl_canvas *c, int row, int col)
{
    const struct oxl_cell blank = {' ', OXL_INK_TEXT};
    const struct oxl_cell *cell = cell_at(c, row, col);
    return cell ? *cell : blank;
}

void oxl_canvas_put(struct oxl_canvas *c, int row, int col, uint32_t ch, enum oxl_ink ink)
{
    struct oxl_cell *cell = cell_at(c, row, col);
    if (!cell)
        return;
    cell->ch = oxl_utf8_cell(ch);
    cell->ink = (uint8_t)ink;
}

int oxl_canvas_text(struct oxl_canvas *c, int row, int col, int max_cols, enum oxl_ink ink,
                    const char *utf8)
{
    int n = 0;
    for (uint32_t ch; n < max_cols && col + n < c->cols && (ch = oxl_utf8_next(&utf8)) != 0; n++)
        oxl_canvas_put(c, row, col + n, ch, ink);
    return n;
}
