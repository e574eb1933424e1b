/* Past recordings on the screen: a list that is narrowed by what is typed; what can be done with
 * the one that is opened is what can be done after a test. */
#include <stdio.h>
#include <string.h>

#include "clock.h"
#include "commands.h"
#include "home.h"
#include "recordings.h"

/* The part of a VIN that tells vehicles apart: its end (ISO 3779: the indicator section is the last
 * eight, from memory), or what was not hidden. */
static const char *vin_end(const char *vin, char out[9])
{
    const size_t n = strlen(vin);
    snprintf(out, 9, "%.8s", strchr(vin, '*') || n < 8 ? vin : vin + n - 8);
    return out;
}

/* "3.95 s (3.60 to 4.32)": the unit says which figure it is. */
static const char *figure(const char *lead)
{
    static const char *const names[] = {"delay at target ", "delay ", "stored oxygen "};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strncmp(lead, names[i], strlen(names[i])) == 0)
            return lead + strlen(names[i]);
    return lead;
}

static const char *cell(const void *ctx, size_t row, size_t column)
{
    static struct oxl_past_words w;
    static char all[sizeof w], vin[9];
    const struct oxl_catalogue *c = ctx;
    w = oxl_past_words(&c->rows[row]);
    /* What has no room is found all the same. */
    snprintf(all, sizeof all, "%s  %s %s %s %s", figure(w.rest), w.file, w.order, w.vehicle, w.vin);
    const char *const cells[] = {w.date, w.verdict, vin_end(w.vin, vin),
                                 w.plate[0] ? w.plate : w.order, all};
    return cells[column];
}

static enum oxl_ink ink(const void *ctx, size_t row)
{
    const struct oxl_past *r = &((const struct oxl_catalogue *)ctx)->rows[row];
    return strcmp(r->kind, "unreadable") == 0 || strcmp(r->replay, "differs") == 0 ? OXL_INK_BAD
           : r->verdict[0] || strcmp(r->kind, "test") != 0                         ? OXL_INK_TEXT
                                                                                   : OXL_INK_DIM;
}

void oxl_home_past(struct oxl_list *l, const struct oxl_catalogue *c)
{
    *l = (struct oxl_list){
        .columns = {{"DATE", 16},
                    {"VERDICT", 12},
                    {"VIN, END", 8},
                    {"PLATE, ORDER", 12},
                    {"LEADING FIGURE", 0}},
        .columns_n = 5,
        .rows_n = c->n,
        .ctx = c,
        .cell = cell,
        .ink = ink,
        .empty =
            "No recordings here. Tests, inspections and practices from the home screen come here.",
        .filters = true};
}

/* Only what the screen of a past test begins. */
static enum oxl_status run(const struct oxl_opts *o, struct oxl_error *err)
{
    return o->command == OXL_CMD_REPLAY ? oxl_cmd_replay(o, err) : oxl_cmd_report(o, err);
}

/* The other half of its pair once it is asked for. */
static void open_row(struct oxl_home *h, const struct oxl_past *row, const char *folder)
{
    if (strcmp(row->kind, "unreadable") == 0)
        return; /* why stands below the list */
    snprintf(h->recording, sizeof h->recording, "%s/%s", folder, row->file);
    snprintf(h->half, sizeof h->half, "%s%s%s", row->before[0] ? folder : "",
             row->before[0] ? "/" : "", row->before);
    h->form.command = strcmp(row->kind, "inspection") == 0 ? OXL_CMD_INSPECT : OXL_CMD_RUN;
    snprintf(h->vin, sizeof h->vin, "%s", strchr(row->vin, '*') ? "" : row->vin);
    h->before[0] = h->note[0] = '\0';
    h->history = false;
    for (;;) {
        enum oxl_home_next next = oxl_home_after(h);
        if (next != OXL_NEXT_COMPARE && next != OXL_NEXT_HISTORY)
            return;
        h->history = next == OXL_NEXT_HISTORY;
        snprintf(h->before, sizeof h->before, "%s", h->history ? "" : h->half);
    }
}

static enum oxl_status load(const struct oxl_opts *o, const char *folder, struct oxl_catalogue *c,
                            struct oxl_list *l, struct oxl_error *err)
{
    struct oxl_opts quiet = *o;
    struct oxl_list was = *l;
    quiet.quiet = true; /* the terminal belongs to the screen */
    oxl_catalogue_free(c);
    enum oxl_status st = oxl_recordings_load(&quiet, folder, c, err);
    oxl_home_past(l, c);
    l->selected = was.selected;
    l->first = was.first;
    memcpy(l->filter, was.filter, sizeof l->filter);
    oxl_list_changed(l);
    return st;
}

static void say(const struct oxl_catalogue *c, const struct oxl_list *l, char *note, size_t n,
                char *command, size_t command_n, const char *folder)
{
    char path[1024];
    struct oxl_args a;
    note[0] = command[0] = '\0';
    if (!oxl_list_has(l))
        return;
    const struct oxl_past_words w = oxl_past_words(&c->rows[l->selected]);
    snprintf(note, n, "%.200s. %.400s%s%.200s", w.file, w.rest, w.before[0] ? ". After " : "",
             w.before);
    oxl_args_start(&a, "report");
    snprintf(path, sizeof path, "%s/%s", folder, w.file);
    oxl_args_add(&a, path);
    oxl_args_shown(&a, command, command_n);
}

enum oxl_status oxl_home_recordings(const struct oxl_opts *o, const char *folder,
                                    struct oxl_error *err)
{
    static const char *const keys[][2] = {
        {"up/down", "move"}, {"letters", "find"}, {"Enter", "open"}, {"Esc", "back"}, {NULL, NULL}};
    static struct oxl_settings settings;
    static struct oxl_home h;
    struct oxl_catalogue c = {0};
    struct oxl_list l = {0};
    char note[1024], command[1200];
    const bool wrong = oxl_settings_load(&settings, NULL) != OXL_OK;
    (void)wrong; /* said at the start */
    snprintf(settings.value[OXL_SET_MASK_VIN], sizeof settings.value[0], "%s",
             o->mask_vin ? "yes" : "no");
    h = (struct oxl_home){.settings = &settings, .run = run, .look = *o, .past = true};
    struct oxl_screen s = {.title = "PAST RECORDINGS",
                           .sentence =
                               "Pick a recording; type a word, a date or an order to find it.",
                           .list = &l,
                           .note = note,
                           .note_ink = OXL_INK_TEXT,
                           .command = command,
                           .keys = keys};
    enum oxl_status st = load(o, folder, &c, &l, err);
    if (st == OXL_OK)
        st = oxl_panel_open(&h.panel, &h.look, err);
    while (st == OXL_OK && h.panel.term && !oxl_signal_seen()) {
        say(&c, &l, note, sizeof note, command, sizeof command, folder);
        s.command = command[0] ? command : NULL;
        enum oxl_panel_did did = oxl_panel_step(&h.panel, &s);
        if (did == OXL_PANEL_BACK)
            break;
        if (did != OXL_PANEL_OPEN || !oxl_list_has(&l))
            continue;
        open_row(&h, &c.rows[l.selected], folder);
        st = load(o, folder, &c, &l, err);
    }
    oxl_panel_close(&h.panel);
    oxl_catalogue_free(&c);
    return st;
}
