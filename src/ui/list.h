/* A list: rows of text in columns, one selected, narrowed by what is typed; or a text to read.
 * Pure: keys in, a drawing out. The rows stay with their owner and are asked for when they are
 * drawn. */
#ifndef OXYLAG_UI_LIST_H
#define OXYLAG_UI_LIST_H

#include "plot.h"

struct oxl_list_column {
    const char *title; /* "" in all columns: no row of titles */
    int cols;          /* 0: what the others leave */
};
enum { OXL_LIST_COLUMNS = 5 };

struct oxl_list {
    struct oxl_list_column columns[OXL_LIST_COLUMNS];
    size_t columns_n, rows_n;
    const void *ctx;
    /* The text of a cell, "" for none; valid until the next call. */
    const char *(*cell)(const void *ctx, size_t row, size_t column);
    enum oxl_ink (*ink)(const void *ctx, size_t row); /* NULL: all alike */
    const char *empty;                                /* stands there while there is no row */
    bool filters;                                     /* what is typed narrows the rows */
    bool text;                                        /* lines to read: none is selected */
    /* state; 0 at the start */
    size_t selected; /* row; of a text the one at the top */
    size_t first;    /* how many shown rows are above the area */
    char filter[48];
    struct oxl_area rows; /* where the rows were drawn, for mouse and page keys */
};

enum oxl_list_did { OXL_LIST_NOTHING, OXL_LIST_USED, OXL_LIST_OPEN };

/* Arrows, page keys, Home, End; Enter opens. In a list that filters, letters, Backspace, and Esc
 * while something is typed; in one that does not, space opens too, and a digit the row of that
 * number. */
enum oxl_list_did oxl_list_key(struct oxl_list *l, int key);
/* A click selects, one on the selected row opens. */
enum oxl_list_did oxl_list_click(struct oxl_list *l, int row, int col);
/* Is a row selected? None is while the filter leaves none. */
bool oxl_list_has(const struct oxl_list *l);
/* After the rows have changed: the selection stays on a row that is shown. */
void oxl_list_changed(struct oxl_list *l);
void oxl_list_draw(struct oxl_list *l, struct oxl_canvas *c, struct oxl_area a);

#endif
