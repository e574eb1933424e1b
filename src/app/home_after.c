/* What can be done with a test that is over: its page on the screen or as a file, its replay, the
 * same vehicle again. After a repair the pages are those of both tests. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "clock.h"
#include "commands.h"
#include "home.h"
#include "recordings.h"

enum after {
    QUIZ,
    REPLAY_LESSON,
    PAGE,
    PDF,
    HTML,
    EXPORT,
    REPLAY,
    CHECK,
    COMPARE,
    HISTORY,
    AGAIN,
    TEST,
    HOME,
    AFTERS
};

static const struct {
    const char *name, *does, *pair, *history;
    enum oxl_home_next next; /* where it leads to another screen */
} table[AFTERS] = {
    [QUIZ] = {"Quiz", "the answer is hidden: mark what you see", NULL, NULL, 0},
    [REPLAY_LESSON] = {"Replay", "see it with everything shown", NULL, NULL, 0},
    [PAGE] = {"Page", "read it here", "of both tests, before and after: read it here",
              "the table of its tests: read it here", 0},
    [PDF] = {"Page as PDF", "written beside the recording", "of both tests, before and after",
             "its tests as a plot and a table", 0},
    [HTML] = {"Page as HTML", "for the browser", "of both tests, for the browser",
              "the same, for the browser", 0},
    [EXPORT] = {"Export", "every sample as CSV, written beside the recording", NULL, NULL, 0},
    [CHECK] = {"Check", "is it whole, does a replay give the same", NULL, NULL, 0},
    [COMPARE] = {"Compare", "with the test of this vehicle before it", NULL, NULL,
                 OXL_NEXT_COMPARE},
    [HISTORY] = {"History", "every test of this vehicle, as a plot", NULL, NULL, OXL_NEXT_HISTORY},
    [REPLAY] = {"Replay", "see the test again", NULL, NULL, 0},
    [AGAIN] = {"Same vehicle again", "after a repair: compared with this test by itself", NULL,
               NULL, OXL_NEXT_AGAIN},
    [TEST] = {"Test this vehicle", "the guided test with propane; what was typed stays", NULL, NULL,
              OXL_NEXT_TEST},
    [HOME] = {"Home", "the recording is kept", NULL, NULL, OXL_NEXT_HOME},
};

struct rows {
    const struct oxl_home *home;
    bool desktop; /* pages are opened there */
    enum after of[AFTERS];
    size_t n;
};

static const char *cell(const void *ctx, size_t row, size_t column)
{
    static char text[80];
    const struct rows *r = ctx;
    const enum after at = r->of[row];
    const bool back = at == HOME && r->home->past, opens = r->desktop && (at == PDF || at == HTML);
    if (column == 0)
        snprintf(text, sizeof text, "%zu  %s", row + 1, back ? "Back" : table[at].name);
    else
        snprintf(text, sizeof text, "%s%s",
                 back                                    ? "to the list"
                 : r->home->history && table[at].history ? table[at].history
                 : r->home->before[0] && table[at].pair  ? table[at].pair
                                                         : table[at].does,
                 opens ? ", then opened" : "");
    return text;
}

/* An inspection is read, there is nothing to see again, and nothing to compare. */
static bool offered(const struct oxl_home *h, enum after what)
{
    const bool inspected = h->form.command == OXL_CMD_INSPECT,
               one = !h->before[0] && !h->history;          /* not the pages of several tests */
    if (h->lesson || what == QUIZ || what == REPLAY_LESSON) /* in a folder of the system */
        return h->lesson && (what <= PAGE || what == HOME);
    switch (what) {
    case EXPORT:
        return h->past && !inspected && one;
    case CHECK:
        return h->past && one;
    case COMPARE:
        return h->past && h->half[0] && one;
    case HISTORY:
        return h->past && !inspected && h->vin[0] && one;
    case REPLAY:
        return !inspected && !(h->past && !one);
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
    *r = (struct rows){.home = h, .desktop = oxl_has_desktop(NULL, 0)};
    for (int i = 0; i < AFTERS; i++)
        if (offered(h, (enum after)i))
            r->of[r->n++] = (enum after)i;
}

/* Of what is written beside the recording. */
static const char *const endings[AFTERS] = {[PDF] = "pdf", [HTML] = "html", [EXPORT] = "csv"};

static int folder_length(const struct oxl_home *h) /* with its slash */
{
    return (int)(oxl_base_name(h->recording) - h->recording);
}

/* Beside the recording, a name that is free. */
static void page_name(const struct oxl_home *h, enum after what, char *out, size_t n)
{
    struct stat st;
    const int folder = folder_length(h), whole = (int)strlen(h->recording) - (int)strlen(".jsonl");
    char stem[sizeof h->recording + 32];
    snprintf(stem, sizeof stem, "%.*s%s%s", h->history ? folder : whole, h->recording,
             h->history ? h->vin : "",
             h->history     ? "-history"
             : h->before[0] ? "-compared"
                            : "");
    snprintf(out, n, "%s.%s", stem, endings[what]);
    for (int i = 2; lstat(out, &st) == 0 && i < 100; i++)
        snprintf(out, n, "%s-%d.%s", stem, i, endings[what]);
}

static void args_for(const struct oxl_home *h, enum after what, const char *out, struct oxl_args *a)
{
    const bool replay = what == REPLAY || what == REPLAY_LESSON || what == QUIZ;
    const char *before = what == COMPARE ? h->half : replay ? "" : h->before;
    const bool history = h->history || what == HISTORY;
    char folder[sizeof h->recording];
    snprintf(folder, sizeof folder, "%.*s", folder_length(h), h->recording);
    oxl_args_start(a, replay ? "replay" : what == CHECK ? "recordings" : "report");
    if (what == CHECK)
        oxl_args_add(a, "--check");
    if (history)
        oxl_args_option(a, "history", h->vin);
    else if (before[0])
        oxl_args_add(a, before);
    oxl_args_add(a, history ? folder : h->recording);
    if (endings[what]) {
        oxl_args_option(a, "format", endings[what]);
        oxl_args_option(a, "out", out);
    }
    if (what == QUIZ) {
        oxl_args_add(a, "--quiz");
        oxl_args_option(a, "trainee", h->trainee);
    }
    if (h->lesson && replay)
        oxl_args_option(a, "rate", h->rate);
}

/* The command that a row stands for; "": none. */
static void command_for(const struct oxl_home *h, enum after what, char *out, size_t n)
{
    char path[1200] = "";
    struct oxl_args a;
    struct oxl_home_form form = h->form;
    out[0] = '\0';
    if (what == HOME)
        return;
    if (endings[what])
        page_name(h, what, path, sizeof path);
    if (what == TEST)
        form.command = OXL_CMD_RUN;
    if (what == TEST || what == AGAIN)
        oxl_home_args(&form, "", &a);
    else
        args_for(h, what, path, &a);
    oxl_args_shown(&a, out, n);
}

/* ---- the page on the screen ------------------------------------------------------------------ */
/* The page as text, once: a long recording takes a second. */
static void make_text(struct oxl_home *h, struct oxl_home_text *t)
{
    struct oxl_args a;
    struct oxl_opts o;
    struct oxl_error err = {OXL_OK, ""};
    *t = (struct oxl_home_text){.lines = NULL};
    args_for(h, PAGE, "", &a);
    oxl_args_add(&a, "--quiet");
    enum oxl_status st = oxl_opts_parse(a.n, a.argv, h->settings, &o, &err);
    if (st == OXL_OK)
        st = oxl_report_make(&o, &t->bytes, &err);
    if ((st != OXL_OK || !oxl_home_text_split(t)) && !h->note[0])
        oxl_home_note(h, OXL_INK_BAD, "%s", err.text[0] ? err.text : "no memory for the page");
}

/* The verdict as the page has it: the line that is underlined. */
static void note_verdict(struct oxl_home *h, const struct oxl_home_text *t)
{
    for (size_t i = 1; i < t->n && !h->note[0]; i++)
        if (strncmp(t->lines[i], "====", 4) == 0)
            oxl_home_note(h, OXL_INK_TITLE, "%s", t->lines[i - 1]);
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
    for (char *c = words.data; c && *c; c++) /* in one line, with the checksum */
        if (*c == '\n')
            *c = c[1] ? ';' : '\0';
    oxl_home_note(h, oxl_past_sound(&row) ? OXL_INK_GOOD : OXL_INK_BAD, "%s",
                  words.data ? strstr(words.data, ": ") + 2 : "no memory for the check");
    oxl_buf_free(&words);
}

static bool take(struct oxl_home *h, enum after what, const struct oxl_home_text *t,
                 const char *command)
{
    struct oxl_args a;
    switch (what) {
    case PAGE:
        oxl_home_text_read(h, t, "PAGE",
                           h->lesson    ? "What the test of this lesson came to. Esc goes back."
                           : h->history ? "The tests of this vehicle; the PDF shows them as a "
                                          "plot, too. Esc goes back."
                                        : "The page for the repair order. Esc goes back.",
                           command);
        return true;
    case QUIZ:
        args_for(h, QUIZ, "", &a);
        oxl_home_quiz(h, &a);
        return true;
    case REPLAY:
    case REPLAY_LESSON:
        args_for(h, what, "", &a);
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

static void say_what(const struct oxl_home *h, char *out, size_t n)
{
    const char *name = oxl_base_name(h->recording);
    if (h->lesson)
        snprintf(out, n, "Lesson %u: %s.", oxl_lesson_number(h->lesson), h->lesson->title);
    else if (h->history)
        snprintf(out, n, "Every test of the vehicle %s.", h->vin);
    else if (h->before[0])
        snprintf(out, n, "Compared: %s, then %s", oxl_base_name(h->before), name);
    else
        snprintf(out, n, "Recorded: %s", name);
}

enum oxl_home_next oxl_home_after(struct oxl_home *h)
{
    const char *const keys[][2] = {{"up/down", "move"},
                                   {"Enter", "take it"},
                                   {"1-9", "at once"},
                                   {"Esc", h->past ? "back" : "home"},
                                   {NULL, NULL}};
    char command[2600], sentence[1200];
    struct rows r;
    struct oxl_home_text t;
    enum oxl_home_next next = OXL_NEXT_HOME;
    rows_for(&r, h);
    struct oxl_list l = {
        .columns = {{"", 22}, {"", 0}}, .columns_n = 2, .rows_n = r.n, .ctx = &r, .cell = cell};
    struct oxl_screen s = {.title = h->lesson ? "LESSON" : "WHAT NEXT",
                           .sentence = sentence,
                           .list = &l,
                           .command = command,
                           .keys = keys};
    say_what(h, sentence, sizeof sentence);
    make_text(h, &t);
    if (!h->lesson) /* it would give the answer away */
        note_verdict(h, &t);
    while (h->panel.term && !oxl_signal_seen()) {
        enum after at = r.of[l.selected];
        command_for(h, at, command, sizeof command);
        s.command = command[0] ? command : NULL;
        s.note = h->note;
        s.note_ink = h->note_ink;
        enum oxl_panel_did did = oxl_panel_step(&h->panel, &s);
        if (did == OXL_PANEL_BACK)
            break;
        if (did == OXL_PANEL_OPEN && endings[r.of[l.selected]]) {
            s.note = "Writing it ..";
            oxl_panel_show(&h->panel, &s);
        }
        if (did == OXL_PANEL_OPEN && !take(h, r.of[l.selected], &t, command)) {
            next = table[r.of[l.selected]].next;
            break;
        }
    }
    oxl_home_text_free(&t);
    h->note[0] = '\0';
    return next;
}
