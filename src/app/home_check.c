/* The link check on the screen: its lines as they come, and what is wrong. */
#include <stdio.h>
#include <string.h>

#include "clock.h"
#include "home.h"

enum { MAX_ROWS = 2 * OXL_LINK_LINES };
struct shown {
    struct oxl_home *home;
    const struct oxl_link_check *check;
    struct oxl_list list;
    struct oxl_screen screen;
    char sentence[240], command[240];
    bool left;
};

/* A line is two rows: what was found, and what to do about it. */
static const struct oxl_link_line *line_of(const struct oxl_link_check *c, size_t row, bool *advice)
{
    for (size_t i = 0; i < c->n; i++) {
        size_t rows = 1 + (c->lines[i].advice[0] != '\0');
        if (row < rows) {
            *advice = row == 1;
            return &c->lines[i];
        }
        row -= rows;
    }
    return NULL;
}

static const char *cell(const void *ctx, size_t row, size_t column)
{
    bool advice = false;
    const struct oxl_link_line *l = line_of(ctx, row, &advice);
    if (!l)
        return "";
    if (column < 2)
        return advice ? "" : column == 0 ? oxl_grade_name(l->grade) : l->name;
    return advice ? l->advice : l->found;
}

static enum oxl_ink ink(const void *ctx, size_t row)
{
    static const enum oxl_ink inks[] = {[OXL_GRADE_UNKNOWN] = OXL_INK_DIM,
                                        [OXL_GRADE_PASS] = OXL_INK_GOOD,
                                        [OXL_GRADE_CAUTION] = OXL_INK_CAUTION,
                                        [OXL_GRADE_STOP] = OXL_INK_BAD};
    bool advice = false;
    const struct oxl_link_line *l = line_of(ctx, row, &advice);
    return l && !advice ? inks[l->grade] : OXL_INK_TEXT;
}

static void count_rows(struct shown *s)
{
    bool advice;
    for (s->list.rows_n = 0; line_of(s->check, s->list.rows_n, &advice);)
        s->list.rows_n++;
}

static bool going(void *ctx, const char *now)
{
    struct shown *s = ctx;
    count_rows(s);
    snprintf(s->sentence, sizeof s->sentence, "%s", now);
    oxl_panel_show(&s->home->panel, &s->screen);
    enum oxl_panel_did did = oxl_panel_poll(&s->home->panel, &s->screen);
    s->left = s->left || did == OXL_PANEL_BACK || did == OXL_PANEL_END;
    return !s->left;
}

static const char *verdict(enum oxl_status st)
{
    return st == OXL_OK               ? "The link works: go back and begin."
           : st == OXL_ERR_UNSUITABLE ? "The link works, but this vehicle lacks a sensor."
                                      : "The link does not work: do what the line says, then test "
                                        "it again.";
}

void oxl_home_check(struct oxl_home *h)
{
    static const struct oxl_list_column columns[] = {
        {"", 8, false}, {"", 9, false}, {"", 0, false}};
    static const char *const keys[][2] = {{"up/down", "turn"}, {"Esc", "back"}, {NULL, NULL}};
    static struct oxl_link_check check;
    struct oxl_error err = {OXL_OK, ""};
    check.n = 0;
    struct shown s = {.home = h,
                      .check = &check,
                      .list = {.columns = columns,
                               .columns_n = 3,
                               .ctx = &check,
                               .cell = cell,
                               .ink = ink,
                               .empty = "This takes ten seconds on CAN, twenty on K-line.",
                               .text = true}};
    s.screen = (struct oxl_screen){.title = "LINK CHECK",
                                   .sentence = s.sentence,
                                   .list = &s.list,
                                   .command = s.command,
                                   .keys = keys};
    const char *port = oxl_home_port(&h->form);
    snprintf(s.command, sizeof s.command, "oxylag ports --test %s", port);
    enum oxl_status st = oxl_link_check(port, 0, &check, going, &s, &err);
    count_rows(&s);
    snprintf(s.sentence, sizeof s.sentence, "%s", verdict(st));
    while (!s.left) {
        enum oxl_panel_did did = oxl_panel_step(&h->panel, &s.screen);
        s.left = did == OXL_PANEL_BACK || did == OXL_PANEL_END ||
                 (did == OXL_PANEL_KEY && h->panel.key == '\n');
    }
    if (st == OXL_OK)
        oxl_home_note(h, OXL_INK_GOOD, "The link works.");
}
