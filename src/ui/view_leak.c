/* The leak check: which of its steps runs and for how long, where to look and how. */
#include "view.h"

#include <math.h>
#include <stdio.h>

enum { STEPS = 3, LEAD_COLS = 8 };

static const struct {
    const char *what, *then; /* then: what the step waits for when its least time is over */
} steps[STEPS] = {
    {"leave everything as it is", "waits for a steady rear"},
    {"cover the place and keep it covered", "compares"},
    {"uncover it and stand back", "compares"},
};

/* "12 s left", or what is waited for: nothing stands at 0. */
static void left_text(const struct oxl_live *l, char *out, size_t n)
{
    if (!oxl_known(l->leak_left_s))
        snprintf(out, n, "waits until the gas is gone");
    else if (l->leak_left_s > 0)
        snprintf(out, n, "%.0f s left", ceil(l->leak_left_s));
    else
        snprintf(out, n, "%s", steps[l->leak_step - 1].then);
}

static void draw_step(struct oxl_canvas *c, struct oxl_area a, const struct oxl_live *l, int step)
{
    char left[64] = "";
    bool now = step == l->leak_step, wide = a.cols >= 56;
    if (now)
        left_text(l, left, sizeof left);
    oxl_view_print(c, a.row, a.col, a.cols, now ? OXL_INK_TITLE : OXL_INK_DIM,
                   "%s step %d of %d: %s%s%s",
                   now                   ? ">"
                   : step < l->leak_step ? "+"
                                         : " ",
                   step, STEPS, wide ? steps[step - 1].what : "", wide && now ? ": " : "", left);
}

static void write_where(struct oxl_flow *f, const void *ctx)
{
    (void)ctx;
    oxl_flow_text(f, OXL_INK_CAUTION, "! hot", LEAD_COLS, OXL_INK_CAUTION,
                  "Hot pipe: gloves, no bare skin, leave no rag on it.");
    oxl_flow_text(
        f, OXL_INK_TITLE, "where", LEAD_COLS, OXL_INK_TEXT,
        "Every joint from the front sensor to the rear sensor, the rear sensor's boss, the "
        "flange.");
    oxl_flow_text(f, OXL_INK_TITLE, "how", LEAD_COLS, OXL_INK_TEXT,
                  "Listen for a hiss or ticking, feel for puffs with a rag at arm's length. Cover "
                  "the place with a gloved, folded rag.");
}

void oxl_view_leak(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    const struct oxl_live *l = &m->live;
    bool all = a.rows >= 10;
    int row = a.row;
    for (int step = 1; step <= STEPS; step++)
        if (l->leak_step && (all || step == l->leak_step))
            draw_step(c, (struct oxl_area){row++, a.col, 1, a.cols}, l, step);
    struct oxl_area text = {row, a.col, a.row + a.rows - row, a.cols};
    text.rows = all && text.rows > 6 ? 6 : text.rows;
    oxl_flow_pages(c, text, m->screenful, write_where, m);
    struct oxl_area traces = {text.row + text.rows, a.col, a.row + a.rows - text.row - text.rows,
                              a.cols};
    if (traces.rows > 0)
        oxl_view_traces(m, c, traces);
}
