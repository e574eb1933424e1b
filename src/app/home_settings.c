/* The settings' form. */
#include <stdio.h>
#include <string.h>

#include "home.h"

static const char *const themes[] = {"auto", "light", "dark", "mono"};
static const char *const yes_no[] = {"no", "yes"};
static const char *const sounds[] = {"on", "bell", "off"};

static bool check(int which, const char *text, char *why, size_t n)
{
    struct oxl_error err = {OXL_OK, ""};
    return !text[0] || oxl_settings_check((enum oxl_setting)which, text, &err) == OXL_OK ||
           oxl_home_refused(&err, why, n);
}

static const struct {
    const char *label, *hint;
    const char *const *words; /* NULL: a text */
    size_t words_n;           /* the first one is the standard */
} table[OXL_SETTINGS] = {
    [OXL_SET_TECHNICIAN] = {"Technician", "Who does the tests; printed on the page (--technician).",
                            NULL, 0},
    [OXL_SET_FOLDER] = {"Folder",
                        "Where tests are recorded, from / on. Empty: .local/share/oxylag at home.",
                        NULL, 0},
    [OXL_SET_THEME] = {"Colours", "auto: those of the terminal (--theme).", themes, 4},
    [OXL_SET_ASCII] = {"Plain letters",
                       "yes: no drawn letters and lines; for a terminal that lacks them (--ascii).",
                       yes_no, 2},
    [OXL_SET_SOUND] = {"Sound", "on: a sound for each step; bell: the terminal's own (--sound).",
                       sounds, 3},
    [OXL_SET_VOICE] = {"Voice", "yes: what to do is spoken, too (--voice).", yes_no, 2},
    [OXL_SET_VOLUME] = {"Volume", "0 to 100 per cent; empty: 70 (--volume).", NULL, 0},
    [OXL_SET_MASK_VIN] = {"Hide VIN",
                          "yes: VIN, plate and vehicle are hidden, in recordings too (--mask-vin).",
                          yes_no, 2},
};

/* A setting whose option this program does not have is not shown. */
static bool exists(enum oxl_setting which)
{
    return oxl_settings_check(which,
                              which == OXL_SET_VOLUME ? "50"
                              : table[which].words    ? table[which].words[table[which].words_n - 1]
                              : which == OXL_SET_FOLDER ? "/"
                                                        : "x",
                              NULL) == OXL_OK;
}

static size_t fill(const struct oxl_settings *s, struct oxl_field *fields)
{
    size_t n = 0;
    for (int i = 0; i < OXL_SETTINGS; i++) {
        if (!exists((enum oxl_setting)i))
            continue;
        struct oxl_field *k = &fields[n++];
        *k = (struct oxl_field){.kind = table[i].words ? OXL_FIELD_CHOICE : OXL_FIELD_TEXT,
                                .label = table[i].label,
                                .hint = table[i].hint,
                                .words = table[i].words,
                                .words_n = table[i].words_n,
                                .id = i,
                                .check = check};
        snprintf(k->text, sizeof k->text, "%s", s->value[i]);
        for (size_t w = 0; w < k->words_n; w++)
            if (strcmp(k->words[w], s->value[i]) == 0)
                k->word = w;
    }
    fields[n] = (struct oxl_field){.kind = OXL_FIELD_BUTTON,
                                   .label = "Keep",
                                   .hint = "Written to the settings file and used from now on."};
    return n + 1;
}

static void keep(struct oxl_home *h, const struct oxl_field *fields, size_t n)
{
    struct oxl_error err = {OXL_OK, ""};
    for (size_t i = 0; i + 1 < n; i++) {
        const struct oxl_field *k = &fields[i];
        bool standard = k->words_n && k->word == 0;
        snprintf(h->settings->value[k->id], OXL_SETTING_BYTES, "%.*s", OXL_SETTING_BYTES - 1,
                 standard     ? ""
                 : k->words_n ? k->words[k->word]
                              : k->text);
    }
    if (oxl_settings_save(h->settings, &err) == OXL_OK)
        oxl_home_note(h, OXL_INK_GOOD, "Kept in %s", h->settings->path);
    else
        oxl_home_note(h, OXL_INK_BAD, "%s", err.text);
}

/* In the colours that were chosen. */
static void show_anew(struct oxl_home *h)
{
    struct oxl_error err;
    oxl_home_look(h);
    oxl_panel_close(&h->panel);
    if (oxl_panel_open(&h->panel, &h->look, &err) != OXL_OK)
        oxl_home_note(h, OXL_INK_BAD, "%s", err.text);
}

void oxl_home_settings(struct oxl_home *h)
{
    static const char *const keys[][2] = {{"up/down", "move"},
                                          {"left/right", "choose"},
                                          {"Enter", "next, or press"},
                                          {"Esc", "back, keeps nothing"},
                                          {NULL, NULL}};
    static struct oxl_field fields[OXL_SETTINGS + 1];
    char file[OXL_SETTINGS_PATH + 80];
    struct oxl_form form = {.fields = fields, .n = fill(h->settings, fields)};
    struct oxl_screen s = {
        .title = "SETTINGS",
        .sentence =
            "Change what you like, then Keep at the bottom. Every command uses it as the option "
            "in brackets.",
        .form = &form,
        .note = file,
        .note_ink = OXL_INK_DIM,
        .keys = keys};
    snprintf(file, sizeof file, "%s%s", h->settings->path[0] ? "Keep writes " : "",
             h->settings->path[0] ? h->settings->path
                                  : "No home folder: what is kept ends with the program.");
    for (;;) {
        enum oxl_panel_did did = oxl_panel_step(&h->panel, &s);
        if (did == OXL_PANEL_BACK)
            return;
        if (did == OXL_PANEL_OPEN && !oxl_form_go_to_fault(&form)) {
            keep(h, fields, form.n);
            show_anew(h);
            return;
        }
    }
}
