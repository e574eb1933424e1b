/* What can be done with a test that is over: its page on the screen or as a file, its replay, the
 * same vehicle again. After a repair the pages are those of both tests. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "clock.h"
#include "commands.h"
#include "home.h"
#include "opener.h"
#include "recordings.h"

enum after { PAGE, PDF, HTML, EXPORT, REPLAY, CHECK, COMPARE, AGAIN, TEST, HOME, AFTERS };

static const struct {
    const char *name, *does, *pair;
} table[AFTERS] = {
    [PAGE] = {"Page", "read it here", "of both tests, before and after: read it here"},
    [PDF] = {"Page as PDF", "written beside the recording, then opened",
             "of both tests, before and after: written, then opened"},
    [HTML] = {"Page as HTML", "for the browser", "of both tests, for the browser"},
    [EXPORT] = {"Export", "every sample as CSV, written beside the recording", NULL},
    [CHECK] = {"Check", "is it whole, does a replay give the same", NULL},
    [COMPARE] = {"Compare", "with the test of this vehicle before it", NULL},
    [REPLAY] = {"Replay", "see the test again", NULL},
    [AGAIN] = {"Same vehicle again", "after a repair: compared with this test by itself", NULL},
    [TEST] = {"Test this vehicle", "the guided test with propane; what was typed stays", NULL},
    [HOME] = {"Home", "the recording is kept", NULL},
};

struct rows {
    const struct oxl_home *home;
    enum after of[AFTERS];
    size_t n;
};

static const char *cell(const void *ctx, size_t row, size_t column)
{
    static char text[40];
    const struct rows *r = ctx;
    enum after at = r->of[row];
    const bool back = at == HOME && r->home->past;
    snprintf(text, sizeof text, "%zu  %s", row + 1, back ? "Back" : table[at].name);
    if (column == 0 || back)
        return column ? "to the list" : text;
    return r->home->before[0] && table[at].pair ? table[at].pair : table[at].does;
}

/* An inspection is read, there is nothing to see again, and nothing to compare. */
static bool offered(const struct oxl_home *h, enum after what)
{
    const bool inspected = h->form.command == OXL_CMD_INSPECT;
    switch (what) {
    case EXPORT:
        return h->past && !inspected && !h->before[0];
    case CHECK:
        return h->past && !h->before[0];
    case COMPARE:
        return h->past && h->half[0] && !h->before[0];
    case REPLAY:
        return !inspected && !(h->past && h->before[0]);
    case AGAIN:
        return !h->past && !inspected;
    case TEST:
        return !h->past && inspected;
    default:
        return true;
    }
}

static void rows_for(struct rows *r, const struct oxl_home *h)
{
    *r = (struct rows){.home = h};
    for (int i = 0; i < AFTERS; i++)
        if (offered(h, (enum after)i))
            r->of[r->n++] = (enum after)i;
}

static const char *ending(enum after what)
{
    return what == PDF ? "pdf" : what == EXPORT ? "csv" : "html";
}

/* Beside the recording, a name that is free. */
static void page_name(const struct oxl_home *h, enum after what, char *out, size_t n)
{
    struct stat st;
    int stem = (int)strlen(h->recording) - (int)strlen(".jsonl");
    const char *both = h->before[0] ? "-compared" : "";
    snprintf(out, n, "%.*s%s.%s", stem, h->recording, both, ending(what));
    for (int i = 2; lstat(out, &st) == 0 && i < 100; i++)
        snprintf(out, n, "%.*s%s-%d.%s", stem, h->recording, both, i, ending(what));
}

static void args_for(const struct oxl_home *h, enum after what, const char *out, struct oxl_args *a)
{
    oxl_args_start(a, what == REPLAY ? "replay" : what == CHECK ? "recordings" : "report");
    if (what == CHECK)
        oxl_args_add(a, "--check");
    if (h->before[0] && what != REPLAY)
        oxl_args_add(a, h->before);
    oxl_args_add(a, h->recording);
    if (what == PDF || what == HTML || what == EXPORT) {
        oxl_args_option(a, "format", ending(what));
        oxl_args_option(a, "out", out);
    }
}

/* ---- the page on the screen ------------------------------------------------------------------ */
struct text {
    struct oxl_buf bytes;
    const char **lines;
    size_t n;
};

static const char *line_cell(const void *ctx, size_t row, size_t column)
{
    (void)column;
    return ((const struct text *)ctx)->lines[row];
}

static void split(struct text *t)
{
    size_t n = 1;
    for (const char *c = t->bytes.data; *c; c++)
        n += *c == '\n';
    t->lines = calloc(n, sizeof *t->lines);
    for (char *at = t->bytes.data; t->lines && *at && t->n < n;) {
        t->lines[t->n++] = at;
        at += strcspn(at, "\n");
        if (*at)
            *at++ = '\0';
    }
}

/* The page as text, once: a long recording takes a second. */
static void make_text(struct oxl_home *h, struct text *t)
{
    struct oxl_args a;
    struct oxl_opts o;
    struct oxl_error err = {OXL_OK, ""};
    *t = (struct text){{0}, NULL, 0};
    args_for(h, PAGE, "", &a);
    oxl_args_add(&a, "--quiet");
    enum oxl_status st = oxl_opts_parse(a.n, a.argv, h->settings, &o, &err);
    if (st == OXL_OK)
        st = oxl_report_make(&o, &t->bytes, &err);
    if (st == OXL_OK && t->bytes.data)
        split(t);
    else if (!h->note[0])
        oxl_home_note(h, OXL_INK_BAD, "%s", err.text[0] ? err.text : "no memory for the page");
}

/* The verdict as the page has it: the line that is underlined. */
static void note_verdict(struct oxl_home *h, const struct text *t)
{
    for (size_t i = 1; i < t->n && !h->note[0]; i++)
        if (t->lines && t->lines[i] && strncmp(t->lines[i], "====", 4) == 0)
            oxl_home_note(h, OXL_INK_TITLE, "%s", t->lines[i - 1]);
}

static void read_page(struct oxl_home *h, const struct text *t, const char *command)
{
    static const char *const keys[][2] = {
        {"up/down", "a line"}, {"PgUp/PgDn", "a page"}, {"Esc", "back"}, {NULL, NULL}};
    static const struct oxl_list_column columns[] = {{"", 0, false}};
    struct oxl_list l = {.columns = columns,
                         .columns_n = 1,
                         .rows_n = t->n,
                         .ctx = t,
                         .cell = line_cell,
                         .text = true};
    struct oxl_screen s = {.title = "PAGE",
                           .sentence = "The page for the repair order. Esc goes back.",
                           .list = &l,
                           .command = command,
                           .keys = keys};
    enum oxl_panel_did did = OXL_PANEL_NOTHING;
    while (did != OXL_PANEL_BACK && did != OXL_PANEL_END)
        did = oxl_panel_step(&h->panel, &s);
}

/* ---- files ----------------------------------------------------------------------------------- */
static void write_page(struct oxl_home *h, enum after what)
{
    char path[1200];
    struct oxl_args a;
    page_name(h, what, path, sizeof path);
    args_for(h, what, path, &a);
    if (oxl_home_run(h, &a) != OXL_OK)
        return;
    bool opened = what != EXPORT && oxl_open_on_desktop(path);
    oxl_home_note(h, OXL_INK_GOOD, "%s: %s", opened ? "Written and opened" : "Written", path);
}

static void check(struct oxl_home *h)
{
    struct oxl_past row;
    struct oxl_buf words = {0};
    oxl_recordings_check(h->recording, &row);
    oxl_past_checked(&row, &words);
    if (words.data)
        words.data[strcspn(words.data, "\n")] = '\0';
    oxl_home_note(h, oxl_past_sound(&row) ? OXL_INK_GOOD : OXL_INK_BAD, "%s",
                  words.data ? words.data : "no memory for the check");
    oxl_buf_free(&words);
}

static bool take(struct oxl_home *h, enum after what, const struct text *t, const char *command)
{
    struct oxl_args a;
    switch (what) {
    case PAGE:
        read_page(h, t, command);
        return true;
    case REPLAY:
        args_for(h, REPLAY, "", &a);
        (void)oxl_home_run(h, &a);
        return true;
    case CHECK:
        check(h);
        return true;
    case PDF:
    case HTML:
    case EXPORT:
        write_page(h, what);
        return true;
    default:
        return false;
    }
}

enum oxl_home_next oxl_home_after(struct oxl_home *h)
{
    static const struct oxl_list_column columns[] = {{"", 22, false}, {"", 0, false}};
    static const char *const keys[][2] = {
        {"up/down", "move"}, {"Enter", "take it"}, {"Esc", "home"}, {NULL, NULL}};
    char command[2600], path[1200], sentence[1200];
    struct rows r;
    struct oxl_args a;
    struct text t;
    enum oxl_home_next next = OXL_NEXT_HOME;
    rows_for(&r, h);
    struct oxl_list l = {
        .columns = columns, .columns_n = 2, .rows_n = r.n, .ctx = &r, .cell = cell};
    struct oxl_screen s = {
        .title = "WHAT NEXT", .sentence = sentence, .list = &l, .command = command, .keys = keys};
    snprintf(sentence, sizeof sentence, "Recorded: %s", oxl_base_name(h->recording));
    make_text(h, &t);
    note_verdict(h, &t);
    while (h->panel.term && !oxl_signal_seen()) {
        enum after at = r.of[l.selected];
        page_name(h, at, path, sizeof path);
        args_for(h, at, path, &a);
        oxl_args_shown(&a, command, sizeof command);
        s.command = at < COMPARE ? command : NULL;
        s.note = h->note;
        s.note_ink = h->note_ink;
        enum oxl_panel_did did = oxl_panel_step(&h->panel, &s);
        if (did == OXL_PANEL_BACK || did == OXL_PANEL_END)
            break;
        if (did == OXL_PANEL_OPEN && !take(h, r.of[l.selected], &t, command)) {
            next = r.of[l.selected] == AGAIN     ? OXL_NEXT_AGAIN
                   : r.of[l.selected] == TEST    ? OXL_NEXT_TEST
                   : r.of[l.selected] == COMPARE ? OXL_NEXT_COMPARE
                                                 : OXL_NEXT_HOME;
            break;
        }
    }
    free(t.lines);
    oxl_buf_free(&t.bytes);
    h->note[0] = '\0';
    return next;
}
