/* The settings' form. */
#include <stdio.h>
#include <string.h>

#include "home.h"

static const char *const themes[] = {"auto", "light", "dark", "mono"};
static const char *const yes_no[] = {"no", "yes"};
static const char *const sounds[] = {"on", "bell", "off"};

static bool check(enum oxl_setting which, const char *text, char *why, size_t n)
{
    struct oxl_error err = {OXL_OK, ""};
    if (!text[0] || oxl_settings_check(which, text, &err))
        return true;
    const char *after = strstr(err.text, ": ");
    snprintf(why, n, "%s", after ? after + 2 : err.text);
    return false;
}

static bool check_technician(const char *text, char *why, size_t n)
{
    return check(OXL_SET_TECHNICIAN, text, why, n);
}

static bool check_folder(const char *text, char *why, size_t n)
{
    return check(OXL_SET_FOLDER, text, why, n);
}

static bool check_volume(const char *text, char *why, size_t n)
{
    return check(OXL_SET_VOLUME, text, why, n);
}

static const struct {
    const char *label, *hint;
    bool (*check)(const char *text, char *why, size_t n); /* NULL: a choice */
    const char *const *words;
    size_t words_n; /* the first one is the standard */
} table[OXL_SETTINGS] = {
    [OXL_SET_TECHNICIAN] = {"Technician", "Who does the tests; printed on the page (--technician).",
                            check_technician, NULL, 0},
    [OXL_SET_FOLDER] = {"Folder",
                        "Where tests are recorded, from / on. Empty: .local/share/oxylag at home.",
                        check_folder, NULL, 0},
    [OXL_SET_THEME] = {"Colours", "auto: those of the terminal (--theme).", NULL, themes, 4},
    [OXL_SET_ASCII] = {"Plain letters",
                       "yes: no drawn letters and lines; for a terminal that lacks them (--ascii).",
                       NULL, yes_no, 2},
    [OXL_SET_SOUND] = {"Sound", "on: a sound for each step; bell: the terminal's own (--sound).",
                       NULL, sounds, 3},
    [OXL_SET_VOICE] = {"Voice", "yes: what to do is spoken, too (--voice).", NULL, yes_no, 2},
    [OXL_SET_VOLUME] = {"Volume", "0 to 100 per cent; empty: 70 (--volume).", check_volume, NULL,
                        0},
    [OXL_SET_MASK_VIN] = {"Hide VIN",
                          "yes: VIN, plate and vehicle are hidden, in recordings too (--mask-vin).",
                          NULL, yes_no, 2},
};

/* A setting whose option this program does not have is not shown. */
static bool exists(enum oxl_setting which)
{
    return oxl_settings_check(which,
                              which == OXL_SET_VOLUME ? "50"
                              : table[which].words    ? table[which].words[table[which].words_n - 1]
                              : which == OXL_SET_FOLDER ? "/"
                                                        : "x",
                              NULL);
}

static size_t fill(const struct oxl_settings *s, struct oxl_field *fields, enum oxl_setting *of)
{
    size_t n = 0;
    for (int i = 0; i < OXL_SETTINGS; i++) {
        if (!exists((enum oxl_setting)i))
            continue;
        struct oxl_field *k = &fields[n];
        *k = (struct oxl_field){.kind = table[i].words ? OXL_FIELD_CHOICE : OXL_FIELD_TEXT,
                                .label = table[i].label,
                                .hint = table[i].hint,
                                .words = table[i].words,
                                .words_n = table[i].words_n,
                                .check = table[i].check};
        snprintf(k->text, sizeof k->text, "%s", s->value[i]);
        for (size_t w = 0; w < k->words_n; w++)
            if (strcmp(k->words[w], s->value[i]) == 0)
                k->word = w;
        of[n++] = (enum oxl_setting)i;
    }
    fields[n] = (struct oxl_field){.kind = OXL_FIELD_BUTTON,
                                   .label = "Keep",
                                   .hint = "Written to the settings file and used from now on."};
    return n + 1;
}

static void keep(struct oxl_home *h, const struct oxl_field *fields, const enum oxl_setting *of,
                 size_t n)
{
    struct oxl_error err = {OXL_OK, ""};
    for (size_t i = 0; i + 1 < n; i++) {
        const struct oxl_field *k = &fields[i];
        bool standard = k->words_n && k->word == 0;
        snprintf(h->settings->value[of[i]], OXL_SETTING_BYTES, "%.*s", OXL_SETTING_BYTES - 1,
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
    enum oxl_setting of[OXL_SETTINGS];
    char file[OXL_SETTINGS_PATH + 80];
    struct oxl_form form = {.fields = fields, .n = fill(h->settings, fields, of)};
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
        if (did == OXL_PANEL_BACK || did == OXL_PANEL_END)
            return;
        if (did == OXL_PANEL_OPEN && !oxl_form_go_to_fault(&form)) {
            keep(h, fields, of, form.n);
            show_anew(h);
            return;
        }
    }
}
