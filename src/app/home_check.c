/* The link check on the screen: its lines as they come, and what is wrong. */
#include <stdio.h>
#include <string.h>

#include "home.h"
#include "inspect_run.h"
#include "ui/flow.h"

enum { MAX_ROWS = 64, NAME_COLS = 21 };

struct row {
    const struct oxl_link_line *line; /* NULL: it goes on, or says what to do */
    const char *text;
    int len;
};
struct shown {
    struct oxl_home *home;
    const struct oxl_link_check *check;
    struct row rows[MAX_ROWS];
    struct oxl_list list;
    struct oxl_screen screen;
    char sentence[240], command[240];
    bool left;
};

static void add_rows(struct shown *s, const struct oxl_link_line *line, const char *text)
{
    int cols = oxl_canvas_cols(s->home->panel.canvas) - NAME_COLS;
    while (*text && s->list.rows_n < MAX_ROWS) {
        int n = (int)(oxl_flow_fit(text, cols) - text);
        s->rows[s->list.rows_n++] = (struct row){line, text, n};
        text += n + (text[n] == ' ');
        line = NULL;
    }
}

static void lay_out(struct shown *s)
{
    s->list.rows_n = 0;
    for (size_t i = 0; i < s->check->n; i++) {
        add_rows(s, &s->check->lines[i], s->check->lines[i].found);
        add_rows(s, NULL, s->check->lines[i].advice);
    }
}

static const char *cell(const void *ctx, size_t row, size_t column)
{
    static char text[256];
    const struct row *r = &((const struct shown *)ctx)->rows[row];
    if (column == 0)
        return r->line ? oxl_grade_name(r->line->grade) : "";
    if (column == 1)
        return r->line ? r->line->name : "";
    snprintf(text, sizeof text, "%.*s", r->len, r->text);
    return text;
}

static enum oxl_ink ink(const void *ctx, size_t row)
{
    static const enum oxl_ink inks[] = {[OXL_GRADE_UNKNOWN] = OXL_INK_DIM,
                                        [OXL_GRADE_PASS] = OXL_INK_GOOD,
                                        [OXL_GRADE_CAUTION] = OXL_INK_CAUTION,
                                        [OXL_GRADE_STOP] = OXL_INK_BAD};
    const struct row *r = &((const struct shown *)ctx)->rows[row];
    return r->line ? inks[r->line->grade] : OXL_INK_TEXT;
}

static bool going(void *ctx, const char *now)
{
    struct shown *s = ctx;
    lay_out(s);
    snprintf(s->sentence, sizeof s->sentence,
             "This takes ten seconds on CAN, twenty on K-line. Now: %s", now);
    oxl_panel_show(&s->home->panel, &s->screen);
    enum oxl_panel_did did = oxl_panel_poll(&s->home->panel, &s->screen);
    s->left = s->left || did == OXL_PANEL_BACK;
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
    static const char *const keys[][2] = {
        {"up/down", "turn"}, {"Enter", "back to the form"}, {"Esc", "back, or stop"}, {NULL, NULL}};
    static struct oxl_link_check check;
    struct oxl_error err = {OXL_OK, ""};
    check.n = 0;
    struct shown s = {.home = h,
                      .check = &check,
                      .list = {.columns = {{"", 8}, {"", 9}, {"", 0}},
                               .columns_n = 3,
                               .cell = cell,
                               .ink = ink,
                               .text = true}};
    s.list.ctx = &s;
    s.screen = (struct oxl_screen){.title = "LINK CHECK",
                                   .sentence = s.sentence,
                                   .list = &s.list,
                                   .command = s.command,
                                   .keys = keys};
    const char *port = oxl_home_port(&h->form);
    snprintf(s.command, sizeof s.command, "oxylag ports --test %s", port);
    enum oxl_status st = oxl_link_check(port, 0, &check, going, &s, &err);
    snprintf(s.sentence, sizeof s.sentence, "%s", verdict(st));
    while (!s.left) {
        lay_out(&s); /* the window may have another size */
        enum oxl_panel_did did = oxl_panel_step(&h->panel, &s.screen);
        s.left = did == OXL_PANEL_BACK || (did == OXL_PANEL_KEY && h->panel.key == '\n');
    }
    if (st != OXL_OK)
        return;
    oxl_home_form_banks(&h->form, check.two_banks);
    h->form.form.at++; /* on to the order */
    oxl_home_note(h, OXL_INK_GOOD, "The link works%s.",
                  check.two_banks ? "; two banks: choose which one is tested" : "");
}

/* ---- the inspection -------------------------------------------------------------------------- */
enum oxl_status oxl_home_inspect(struct oxl_home *h, const struct oxl_opts *o,
                                 struct oxl_error *err)
{
    static const char *const keys[][2] = {{"Esc", "stop"}, {NULL, NULL}};
    struct oxl_link_check none = {.n = 0};
    struct shown s = {.home = h, .check = &none};
    struct oxl_inspect_watch w = {.going = going, .ctx = &s, .now = "opening the port"};
    s.screen = (struct oxl_screen){
        .title = "INSPECT", .sentence = s.sentence, .command = s.command, .keys = keys};
    snprintf(s.command, sizeof s.command, "oxylag inspect --port %s", o->port);
    (void)going(&s, w.now);
    return oxl_inspect(o, &w, err);
}
