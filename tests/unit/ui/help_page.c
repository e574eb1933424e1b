#include "help_page.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "help_dump.h"

char *page_text(const struct oxl_model *m, int rows, int cols)
{
    struct oxl_canvas *c = oxl_canvas_new(rows, cols);
    oxl_view_draw(m, c);
    size_t n = canvas_dump(c, NULL, 0) + 1;
    char *text = malloc(n);
    canvas_dump(c, text, n);
    oxl_canvas_free(c);
    return text;
}

bool page_has(const struct oxl_model *m, int rows, int cols, const char *text)
{
    char *page = page_text(m, rows, cols);
    bool has = strstr(page, text) != NULL;
    free(page);
    return has;
}

/* A row from a column on as ASCII, other characters left out, without blanks around it. */
static const char *row_text(const struct oxl_canvas *c, int row, int col, char *out)
{
    int n = 0;
    for (; col < oxl_canvas_cols(c); col++) {
        uint32_t ch = oxl_canvas_at(c, row, col).ch;
        if (ch < 0x7F && (ch != ' ' || n > 0))
            out[n++] = (char)ch;
    }
    while (n > 0 && out[n - 1] == ' ')
        n--;
    out[n] = '\0';
    return out;
}

static bool find(const struct oxl_canvas *c, const char *text, int *row, int *col)
{
    for (*row = 0; *row < oxl_canvas_rows(c); ++*row)
        for (*col = 0; *col < oxl_canvas_cols(c); ++*col) {
            int i = 0;
            while (text[i] && oxl_canvas_at(c, *row, *col + i).ch == (unsigned char)text[i])
                i++;
            if (!text[i])
                return true;
        }
    return false;
}

/* The small layout has the word two rows under its title; the full one beside the pointer, two
 * rows under the scale's marks and twenty columns to the right of the title. */
const char *page_gauge_word(const struct oxl_canvas *c)
{
    static char text[400];
    static const char unknown[] = "shift --";
    int row, col;
    if (find(c, "% trim shift", &row, &col))
        return row_text(c, row + 2, col, text);
    if (!find(c, "trim shift, %", &row, &col))
        return NULL;
    const char *said = row_text(c, row + 2, col + 20, text), *figure = strstr(said, " %");
    if (strncmp(said, unknown, sizeof unknown - 1) == 0)
        said += sizeof unknown - 1;
    else
        said = figure ? figure + 2 : "no figure";
    return said + strspn(said, " ");
}

void page_live(struct oxl_model *m, const struct page_case *c, int64_t now_us)
{
    struct scene_options o = {0};
    struct oxl_live live;
    scene_live(&o, 30, &live);
    live.state = c->state;
    live.shift_pct = c->shift_pct;
    live.gas_may_flow = c->gas;
    live.link = c->link_down ? OXL_LINK_STALLED : OXL_LINK_READY;
    live.hold_left_s = 1.2;
    struct oxl_surroundings around = {.now_us = now_us, .valve = NAN};
    oxl_model_live(m, &live, &around);
}

struct oxl_model *page_of(const struct page_case *c)
{
    struct oxl_model_config config = {.title = "x"};
    struct oxl_model *m = scene_new(&config);
    struct oxl_event ev = {.kind = OXL_EV_STATE, .t_us = 29000000};
    ev.u.state.state = c->state;
    ev.u.state.run = 1;
    scene_event(m, &ev);
    scene_advice(m, 30, c->advice, "");
    page_live(m, c, 60000000); /* what was a note is over */
    return m;
}
