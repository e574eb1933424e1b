#include "home.h"

#include <stdlib.h>
#include <string.h>

static const char *line_cell(const void *ctx, size_t row, size_t column)
{
    (void)column;
    return ((const struct oxl_home_text *)ctx)->lines[row];
}

bool oxl_home_text_split(struct oxl_home_text *t)
{
    size_t n = 1;
    if (!t->bytes.data || t->bytes.failed)
        return false;
    for (const char *c = t->bytes.data; *c; c++)
        n += *c == '\n';
    t->lines = calloc(n, sizeof *t->lines);
    for (char *at = t->bytes.data; t->lines && *at && t->n < n;) {
        t->lines[t->n++] = at;
        at += strcspn(at, "\n");
        if (*at)
            *at++ = '\0';
    }
    return t->lines != NULL;
}

void oxl_home_text_read(struct oxl_home *h, const struct oxl_home_text *t, const char *title,
                        const char *sentence, const char *command)
{
    static const char *const keys[][2] = {
        {"up/down", "a line"}, {"PgUp/PgDn", "a page"}, {"Esc", "back"}, {NULL, NULL}};
    struct oxl_list l = {.columns = {{"", 0}},
                         .columns_n = 1,
                         .rows_n = t->n,
                         .ctx = t,
                         .cell = line_cell,
                         .text = true};
    struct oxl_screen s = {
        .title = title, .sentence = sentence, .list = &l, .command = command, .keys = keys};
    while (oxl_panel_step(&h->panel, &s) != OXL_PANEL_BACK)
        continue;
}

void oxl_home_text_free(struct oxl_home_text *t)
{
    free(t->lines);
    oxl_buf_free(&t->bytes);
    *t = (struct oxl_home_text){0};
}
