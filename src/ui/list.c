#include "list.h"

#include <string.h>
#include <strings.h>

#include "utf8.h"
#include "view.h"

enum { MARK_COLS = 2, GAP_COLS = 2, MIN_COLS = 4 };

/* ---- which rows are shown -------------------------------------------------------------------- */
static bool row_has(const struct oxl_list *l, size_t row, const char *word, size_t n)
{
    for (size_t i = 0; i < l->columns_n; i++)
        for (const char *t = l->cell(l->ctx, row, i); *t; t++)
            if (strncasecmp(t, word, n) == 0)
                return true;
    return false;
}

/* Every word that was typed is in some cell of the row. */
static bool is_shown(const struct oxl_list *l, size_t row)
{
    const char *word = l->filter + strspn(l->filter, " ");
    while (*word) {
        size_t n = strcspn(word, " ");
        if (!row_has(l, row, word, n))
            return false;
        word += n;
        word += strspn(word, " ");
    }
    return true;
}

bool oxl_list_has(const struct oxl_list *l)
{
    return l->selected < l->rows_n && is_shown(l, l->selected);
}

/* The next shown row that way, or the same one. */
static size_t next(const struct oxl_list *l, size_t from, int step)
{
    for (size_t row = from + (size_t)step; row < l->rows_n; row += (size_t)step)
        if (is_shown(l, row))
            return row;
    return from;
}

void oxl_list_changed(struct oxl_list *l)
{
    if (l->selected >= l->rows_n)
        l->selected = l->rows_n ? l->rows_n - 1 : 0;
    if (l->rows_n && !is_shown(l, l->selected))
        l->selected = next(l, l->selected, 1);
    if (l->rows_n && !is_shown(l, l->selected))
        l->selected = next(l, l->selected, -1);
}

/* ---- keys ------------------------------------------------------------------------------------ */
static void move(struct oxl_list *l, int step, size_t times)
{
    size_t screenful = l->rows.rows > 0 ? (size_t)l->rows.rows : 1;
    for (size_t was = l->rows_n; times && was != l->selected; times--) {
        was = l->selected;
        l->selected = next(l, l->selected, step);
    }
    if (l->text && l->selected + screenful > l->rows_n)
        l->selected = l->rows_n > screenful ? l->rows_n - screenful : 0;
}

static enum oxl_list_did typed(struct oxl_list *l, int key)
{
    if (key == 27 && l->filter[0])
        l->filter[0] = '\0';
    else if (!oxl_utf8_type(l->filter, sizeof l->filter, key))
        return OXL_LIST_NOTHING;
    if (!oxl_list_has(l)) /* from the top */
        l->selected = 0;
    oxl_list_changed(l);
    return OXL_LIST_USED;
}

static enum oxl_list_did open_row(struct oxl_list *l, size_t row)
{
    if (l->text || row >= l->rows_n || !is_shown(l, row))
        return OXL_LIST_NOTHING;
    l->selected = row;
    return OXL_LIST_OPEN;
}

enum oxl_list_did oxl_list_key(struct oxl_list *l, int key)
{
    size_t page = l->rows.rows > 1 ? (size_t)l->rows.rows - 1 : 1;
    switch (key) {
    case OXL_TERM_UP:
    case OXL_TERM_DOWN:
        move(l, key == OXL_TERM_UP ? -1 : 1, 1);
        return OXL_LIST_USED;
    case OXL_TERM_PAGE_UP:
    case OXL_TERM_PAGE_DOWN:
        move(l, key == OXL_TERM_PAGE_UP ? -1 : 1, page);
        return OXL_LIST_USED;
    case OXL_TERM_HOME:
    case OXL_TERM_END:
        move(l, key == OXL_TERM_HOME ? -1 : 1, l->rows_n);
        return OXL_LIST_USED;
    case '\n':
        return open_row(l, l->selected);
    default:
        if (l->filters)
            return typed(l, key);
        if (key == ' ')
            return open_row(l, l->selected);
        return key >= '1' && key <= '9' ? open_row(l, (size_t)(key - '1')) : OXL_LIST_NOTHING;
    }
}

enum oxl_list_did oxl_list_click(struct oxl_list *l, int row, int col)
{
    (void)col;
    int at = row - l->rows.row;
    if (l->text || at < 0 || at >= l->rows.rows)
        return OXL_LIST_NOTHING;
    size_t above = l->first + (size_t)at;
    for (size_t i = 0; i < l->rows_n; i++) {
        if (!is_shown(l, i) || above--)
            continue;
        bool again = i == l->selected;
        l->selected = i;
        return again ? OXL_LIST_OPEN : OXL_LIST_USED;
    }
    return OXL_LIST_NOTHING;
}

/* ---- drawing --------------------------------------------------------------------------------- */
/* What a column without a width of its own gets. */
static int shared_cols(const struct oxl_list *l, int cols)
{
    int left = cols - MARK_COLS, sharing = 0;
    for (size_t i = 0; i < l->columns_n; i++) {
        left -= l->columns[i].cols + (i ? GAP_COLS : 0);
        sharing += l->columns[i].cols == 0;
    }
    return sharing && left / sharing > MIN_COLS ? left / sharing : MIN_COLS;
}

static void draw_cells(const struct oxl_list *l, struct oxl_canvas *c, struct oxl_area a,
                       enum oxl_ink ink,
                       const char *(*text)(const struct oxl_list *, size_t, size_t), size_t row)
{
    int col = a.col + (l->text ? 0 : MARK_COLS), shared = shared_cols(l, a.cols);
    for (size_t i = 0; i < l->columns_n; i++) {
        const struct oxl_list_column *k = &l->columns[i];
        const char *t = text(l, row, i);
        int room = k->cols ? k->cols : l->text ? a.cols : shared, len = oxl_utf8_columns(t);
        int end = a.col + a.cols - col;
        int shown = room < end ? room : end;
        oxl_canvas_text(c, a.row, col, shown, ink, t);
        if (!l->text && len > shown && shown > 0) /* there is more of it */
            oxl_canvas_put(c, a.row, col + shown - 1, 0x2026, ink);
        col += room + GAP_COLS;
    }
}

static const char *title_of(const struct oxl_list *l, size_t row, size_t column)
{
    (void)row;
    return l->columns[column].title;
}

static const char *cell_of(const struct oxl_list *l, size_t row, size_t column)
{
    return l->cell(l->ctx, row, column);
}

static void draw_row(const struct oxl_list *l, struct oxl_canvas *c, struct oxl_area a, size_t row)
{
    bool at = !l->text && row == l->selected;
    enum oxl_ink ink = at ? OXL_INK_ACTION : l->ink ? l->ink(l->ctx, row) : OXL_INK_TEXT;
    for (int x = 0; at && x < a.cols; x++)
        oxl_canvas_put(c, a.row, a.col + x, ' ', ink);
    if (at)
        oxl_canvas_put(c, a.row, a.col, '>', ink);
    draw_cells(l, c, a, ink, cell_of, row);
}

static void draw_foot(const struct oxl_list *l, struct oxl_canvas *c, struct oxl_area a,
                      size_t above, size_t shown)
{
    int row = a.row + a.rows - 1, col = a.col;
    if (l->filters)
        col += oxl_view_print(c, row, col, a.cols / 2, OXL_INK_KEY, "Filter: %s_", l->filter) + 3;
    int room = a.col + a.cols - col;
    if (l->text)
        oxl_view_print(c, row, col, room, OXL_INK_DIM, "line %zu of %zu: up/down for more",
                       above + 1, shown);
    else if (shown && l->filter[0])
        oxl_view_print(c, row, col, room, OXL_INK_DIM, "%zu of %zu, out of %zu", above + 1, shown,
                       l->rows_n);
    else if (shown)
        oxl_view_print(c, row, col, room, OXL_INK_DIM, "%zu of %zu%s", above + 1, shown,
                       l->filters ? ": type to find one" : "");
    else
        oxl_canvas_text(c, row, col, room, OXL_INK_DIM, "nothing found: Backspace, or Esc");
}

static void count(const struct oxl_list *l, size_t *above, size_t *shown)
{
    *above = *shown = 0;
    for (size_t i = 0; i < l->rows_n; i++)
        if (is_shown(l, i)) {
            *above += i < l->selected;
            ++*shown;
        }
}

static void scroll(struct oxl_list *l, size_t above, size_t shown, int rows)
{
    size_t n = rows > 0 ? (size_t)rows : 1;
    if (l->first > above || l->text)
        l->first = above;
    if (above >= l->first + n)
        l->first = above - n + 1;
    if (l->first + n > shown)
        l->first = shown > n ? shown - n : 0;
}

static void draw_rows(struct oxl_list *l, struct oxl_canvas *c, struct oxl_area a)
{
    size_t at = 0;
    for (size_t i = 0; i < l->rows_n && at < l->first + (size_t)a.rows; i++) {
        if (!is_shown(l, i))
            continue;
        if (at >= l->first)
            draw_row(l, c, (struct oxl_area){a.row + (int)(at - l->first), a.col, 1, a.cols}, i);
        at++;
    }
}

void oxl_list_draw(struct oxl_list *l, struct oxl_canvas *c, struct oxl_area a)
{
    size_t above, shown;
    struct oxl_area rows = a;
    count(l, &above, &shown);
    bool titled = false;
    for (size_t i = 0; i < l->columns_n; i++)
        titled = titled || l->columns[i].title[0];
    if (titled && rows.rows > 2) {
        draw_cells(l, c, rows, OXL_INK_DIM, title_of, 0);
        rows.row++;
        rows.rows--;
    }
    if (((l->filters && l->rows_n) || shown > (size_t)(rows.rows > 0 ? rows.rows : 0)) &&
        rows.rows > 1) {
        draw_foot(l, c, a, above, shown);
        rows.rows--;
    }
    if (rows.rows < 0)
        rows.rows = 0;
    l->rows = rows;
    if (!l->rows_n && l->empty) {
        struct oxl_flow f = {c, rows, 0, 0};
        oxl_flow_text(&f, OXL_INK_TEXT, "", MARK_COLS, OXL_INK_TEXT, l->empty);
    }
    scroll(l, above, shown, rows.rows);
    draw_rows(l, c, rows);
}
