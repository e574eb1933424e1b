/* The lessons and the class's table on the screen: who learns, which lesson, and what came of it.
 */
#include <stdio.h>
#include <stdlib.h>

#include "class.h"
#include "clock.h"
#include "commands.h"
#include "home.h"

/* ---- who learns ------------------------------------------------------------------------------ */
static bool check_trainee(int id, const char *text, char *why, size_t n)
{
    (void)id;
    return oxl_home_option_fits(OXL_CMD_REPLAY, "trainee", text, why, n);
}

/* False: back. */
static bool ask_who(struct oxl_home *h)
{
    enum { WHO, PACE, BEGIN, FIELDS };
    static const char *const paces[] = {"as recorded", "half as fast"};
    static struct oxl_field fields[FIELDS];
    struct oxl_form form = {.fields = fields, .n = FIELDS};
    struct oxl_screen s = {.title = "LESSONS",
                           .sentence = "Who learns? Then Begin at the bottom.",
                           .form = &form,
                           .command = "oxylag lessons",
                           .keys = oxl_home_form_keys};
    fields[WHO] = (struct oxl_field){
        .kind = OXL_FIELD_TEXT,
        .label = "Trainee",
        .hint = "The results are kept under this name; empty: they are not kept.",
        .check = check_trainee};
    fields[PACE] = (struct oxl_field){.kind = OXL_FIELD_CHOICE,
                                      .label = "Pace",
                                      .hint = "Begin with half as fast; left and right choose.",
                                      .words = paces,
                                      .words_n = 2,
                                      .word = h->rate[0] != '\0'};
    fields[BEGIN] = (struct oxl_field){
        .kind = OXL_FIELD_BUTTON, .label = "Begin", .hint = "On to the twelve lessons."};
    snprintf(fields[WHO].text, sizeof fields[WHO].text, "%s",
             h->trainee[0] ? h->trainee : h->settings->value[OXL_SET_TECHNICIAN]);
    for (;;) {
        enum oxl_panel_did did = oxl_panel_step(&h->panel, &s);
        if (did == OXL_PANEL_BACK)
            return false;
        if (did == OXL_PANEL_OPEN && !oxl_form_go_to_fault(&form))
            break;
    }
    snprintf(h->trainee, sizeof h->trainee, "%.63s", fields[WHO].text);
    snprintf(h->rate, sizeof h->rate, "%s", fields[PACE].word ? "0.5" : "");
    return true;
}

/* ---- which lesson ---------------------------------------------------------------------------- */
static const char *cell(const void *ctx, size_t row, size_t column)
{
    static char text[120];
    const struct oxl_course *c = ctx;
    if (column)
        return !c->there[row] ? "missing" : c->best[row][0] ? c->best[row] : "not yet";
    snprintf(text, sizeof text, "%2zu  %s", row + 1, oxl_lessons[row].title);
    return text;
}

void oxl_home_course(struct oxl_list *l, const struct oxl_course *c)
{
    *l = (struct oxl_list){.columns = {{"LESSON", 0}, {"BEST", 8}},
                           .columns_n = 2,
                           .rows_n = OXL_LESSONS,
                           .ctx = c,
                           .cell = cell};
}

/* A lesson that was made again is another one: its file is known by its contents. */
static void look_at_lesson(const struct oxl_home *h, struct oxl_course *c, size_t i)
{
    char path[1024], sha256[65];
    c->best[i][0] = '\0';
    c->there[i] = oxl_lesson_file(&oxl_lessons[i], path, sizeof path);
    if (!c->there[i] || !oxl_lesson_sha256(path, sha256))
        return;
    const struct oxl_class_result *best = oxl_class_best(&c->class, h->trainee, sha256);
    if (best)
        snprintf(c->best[i], sizeof c->best[i], "%.0f of %.0f", best->score, best->of);
}

static void look(struct oxl_home *h, struct oxl_course *c)
{
    struct oxl_error err = {OXL_OK, ""};
    oxl_class_free(&c->class);
    if (oxl_class_read(&c->class, &err) != OXL_OK)
        oxl_home_note(h, OXL_INK_BAD, "%s", err.text);
    for (size_t i = 0; i < OXL_LESSONS; i++)
        look_at_lesson(h, c, i);
}

static void open_lesson(struct oxl_home *h, const struct oxl_course *c, size_t i)
{
    h->note[0] = '\0';
    if (!oxl_lesson_file(&oxl_lessons[i], h->recording, sizeof h->recording)) {
        oxl_home_note(h, OXL_INK_BAD,
                      "The recording of this lesson, %s.jsonl, is neither beside the program nor "
                      "where it is installed.",
                      oxl_lessons[i].name);
        return;
    }
    h->lesson = &oxl_lessons[i];
    h->past = true;
    h->form.command = OXL_CMD_RUN;
    h->before[0] = '\0';
    h->history = false;
    if (c->best[i][0])
        oxl_home_note(h, OXL_INK_TEXT,
                      "%s did it: %s points. In the quiz the instructor's key, a capital A, now "
                      "shows the answer.",
                      h->trainee, c->best[i]);
    (void)oxl_home_after(h);
    h->lesson = NULL;
    h->past = false;
}

void oxl_home_lessons(struct oxl_home *h)
{
    static const char *const keys[][2] = {
        {"up/down", "move"}, {"Enter", "open"}, {"1-9", "at once"}, {"Esc", "back"}, {NULL, NULL}};
    static struct oxl_course c;
    char sentence[120];
    struct oxl_list l;
    struct oxl_screen s = {.title = "LESSONS",
                           .sentence = sentence,
                           .list = &l,
                           .command = "oxylag lessons",
                           .keys = keys};
    if (!ask_who(h))
        return;
    oxl_home_course(&l, &c);
    snprintf(sentence, sizeof sentence, "%s%sTake the lessons in order.", h->trainee,
             h->trainee[0] ? ": " : "");
    look(h, &c);
    while (l.selected + 1 < OXL_LESSONS && c.best[l.selected][0])
        l.selected++; /* the first that is not done */
    while (h->panel.term && !oxl_signal_seen()) {
        s.note = h->note;
        s.note_ink = h->note_ink;
        enum oxl_panel_did did = oxl_panel_step(&h->panel, &s);
        if (did == OXL_PANEL_BACK)
            break;
        if (did != OXL_PANEL_OPEN)
            continue;
        open_lesson(h, &c, l.selected);
        look(h, &c);
    }
    oxl_class_free(&c.class);
    h->note[0] = '\0';
}

/* ---- the quiz -------------------------------------------------------------------------------- */
static size_t kept(struct oxl_class_result *last)
{
    struct oxl_class c;
    if (oxl_class_read(&c, NULL) != OXL_OK)
        return 0;
    const size_t n = c.n;
    if (n)
        *last = c.list[n - 1];
    oxl_class_free(&c);
    return n;
}

void oxl_home_quiz(struct oxl_home *h, const struct oxl_args *a)
{
    struct oxl_class_result last;
    const size_t before = kept(&last);
    if (oxl_home_run(h, a) != OXL_OK)
        return;
    if (!h->trainee[0])
        oxl_home_note(h, OXL_INK_TEXT, "Not kept: no trainee was named.");
    else if (kept(&last) > before)
        oxl_home_note(h, OXL_INK_GOOD, "Kept for %s: %.0f of %.0f points.", h->trainee, last.score,
                      last.of);
    else
        oxl_home_note(h, OXL_INK_CAUTION,
                      "Not kept: the quiz was not answered to its end, or its answer was shown.");
}

/* ---- the class ------------------------------------------------------------------------------- */
void oxl_home_class(struct oxl_home *h)
{
    struct oxl_class c;
    struct oxl_home_text t = {.lines = NULL};
    struct oxl_error err = {OXL_OK, "no memory for the class"};
    char sentence[160] =
        "Each trainee's first try, how many there were, the best one. Esc goes back.";
    enum oxl_status st = oxl_class_read(&c, &err);
    if (st == OXL_OK)
        oxl_class_text(&c, &t.bytes);
    if (c.damaged)
        snprintf(sentence, sizeof sentence, "%zu lines of the results are damaged and left out.",
                 c.damaged);
    oxl_class_free(&c);
    if (st == OXL_OK && oxl_home_text_split(&t))
        oxl_home_text_read(h, &t, "CLASS", sentence, "oxylag lessons --class");
    else
        oxl_home_note(h, OXL_INK_BAD, "%s", err.text);
    oxl_home_text_free(&t);
}
