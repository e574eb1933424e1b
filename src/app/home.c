#include "home.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "clock.h"
#include "commands.h"
#include "output.h"
#include "oxylag/safe.h"

/* ---- the menu -------------------------------------------------------------------------------- */
static const struct oxl_choice choices[OXL_HOME_CHOICES] = {
    [OXL_HOME_TEST] = {"Test a vehicle", "the guided test with propane, recorded", "oxylag run"},
    [OXL_HOME_INSPECT] = {"Inspect only", "trouble codes, readiness, sensors, link; no gas",
                          "oxylag inspect"},
    [OXL_HOME_PRACTISE] = {"Practise", "a simulated vehicle, lessons with a quiz", NULL},
    [OXL_HOME_RECORDINGS] = {"Past recordings", "pages, before and after, replay",
                             "oxylag recordings"},
    [OXL_HOME_SETTINGS] = {"Settings", "technician, colours, sound, folder", NULL},
    [OXL_HOME_QUIT] = {"Quit", "leave the program", NULL},
};

static const char *choice_cell(const void *ctx, size_t row, size_t column)
{
    static char text[40];
    const struct oxl_choice *rows = ctx;
    snprintf(text, sizeof text, "%zu  %s", row + 1, rows[row].name);
    return column ? rows[row].does : text;
}

void oxl_home_choices(struct oxl_list *l, const struct oxl_choice *rows, size_t n)
{
    *l = (struct oxl_list){.columns = {{"", 20}, {"", 0}},
                           .columns_n = 2,
                           .rows_n = n,
                           .ctx = rows,
                           .cell = choice_cell};
}

void oxl_home_menu(struct oxl_list *l)
{
    oxl_home_choices(l, choices, OXL_HOME_CHOICES);
}

const char *oxl_home_command(size_t choice)
{
    return choice < OXL_HOME_CHOICES ? choices[choice].command : NULL;
}

/* ---- running a command ----------------------------------------------------------------------- */
void oxl_home_note(struct oxl_home *h, enum oxl_ink ink, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    vsnprintf(h->note, sizeof h->note, format, args);
    va_end(args);
    oxl_make_safe(h->note, "");
    h->note_ink = ink;
}

static void say_command(const struct oxl_args *a)
{
    char text[4096];
    oxl_args_shown(a, text, sizeof text);
    printf("\n$ %s\n", text);
    oxl_final_output_pass();
}

static enum oxl_status parse(struct oxl_home *h, const struct oxl_args *a, struct oxl_args *words,
                             struct oxl_opts *o, struct oxl_error *err)
{
    *words = *a; /* getopt moves them about */
    for (int i = 0; i < words->n; i++)
        words->argv[i] = words->text + (a->argv[i] - a->text);
    return a->full ? oxl_fail(err, OXL_ERR_USAGE, "what was typed is too long for one command")
                   : oxl_opts_parse(words->n, words->argv, h->settings, o, err);
}

/* An inspection has no dashboard: it is watched on the panel. A page is written behind it. */
static enum oxl_status run_beside(struct oxl_home *h, const struct oxl_args *a,
                                  const struct oxl_opts *o, struct oxl_error *err)
{
    struct oxl_error again = {OXL_OK, ""};
    if (o->command == OXL_CMD_INSPECT)
        return oxl_home_inspect(h, o, err);
    if (o->command == OXL_CMD_REPORT) {
        struct oxl_opts quiet = *o;
        quiet.quiet = true;
        return h->run(&quiet, err);
    }
    oxl_panel_close(&h->panel);
    say_command(a); /* what is seen while there is no screen */
    enum oxl_status st = h->run(o, err);
    oxl_final_output_pass();
    if (!oxl_signal_seen() && oxl_panel_open(&h->panel, &h->look, &again) != OXL_OK)
        return oxl_fail(err, OXL_ERR_INTERNAL, "%s", again.text);
    return st;
}

enum oxl_status oxl_home_run(struct oxl_home *h, const struct oxl_args *a)
{
    struct oxl_opts o = {.command = OXL_CMD_RUN};
    struct oxl_args words;
    struct oxl_error err = {OXL_OK, ""};
    enum oxl_status st = parse(h, a, &words, &o, &err);
    if (st == OXL_OK)
        st = run_beside(h, a, &o, &err);
    if (st != OXL_OK)
        oxl_home_note(h, OXL_INK_BAD, "%s", err.text);
    return st;
}

/* ---- the form -------------------------------------------------------------------------------- */
/* A device's node is made when it is plugged in. */
static void look_for_ports(struct oxl_home_form *f)
{
    static struct oxl_port_info ports[OXL_HOME_PORTS];
    double age_s[OXL_HOME_PORTS];
    struct stat st;
    size_t n;
    (void)!oxl_ports(ports, OXL_HOME_PORTS, &n, NULL); /* none listed: an address can be typed */
    n = n < OXL_HOME_PORTS ? n : OXL_HOME_PORTS;
    for (size_t i = 0; i < n; i++)
        age_s[i] = stat(ports[i].path, &st) == 0 ? difftime(time(NULL), st.st_ctime) : NAN;
    oxl_home_form_ports(f, ports, age_s, n);
}

const char *const oxl_home_form_keys[][2] = {{"up/down", "move"},
                                             {"left/right", "choose"},
                                             {"Enter", "next, or press"},
                                             {"Esc", "back"},
                                             {NULL, NULL}};

static bool may_begin(struct oxl_home *h)
{
    struct oxl_home_form *f = &h->form;
    if (oxl_form_go_to_fault(&f->form)) {
        oxl_home_note(h, OXL_INK_BAD, "Correct what is marked with ! first.");
        return false;
    }
    if (f->command != OXL_CMD_DEMO && !oxl_home_port(f)[0]) {
        oxl_home_note(h, OXL_INK_BAD, "No adapter is chosen: plug it in, or type its address.");
        f->form.at = 0;
        return false;
    }
    return true;
}

/* True: begin. */
static bool fill_in(struct oxl_home *h)
{
    static const char *const titles[] = {[OXL_CMD_RUN] = "TEST A VEHICLE",
                                         [OXL_CMD_DEMO] = "PRACTISE",
                                         [OXL_CMD_INSPECT] = "INSPECT"};
    struct oxl_home_form *f = &h->form;
    struct oxl_args a;
    char command[1024], last[1024] = "";
    struct oxl_screen s = {.title = titles[f->command],
                           .sentence = "Fill in what you know; all of it may stay empty. Then "
                                       "Begin, at the bottom.",
                           .form = &f->form,
                           .command = command,
                           .keys = oxl_home_form_keys};
    for (;;) {
        look_for_ports(f);
        oxl_home_args(f, "", &a);
        oxl_args_shown(&a, command, sizeof command);
        if (last[0] && strcmp(command, last) != 0) /* what was said is no longer so */
            h->note[0] = '\0';
        memcpy(last, command, sizeof last);
        s.note = h->note;
        s.note_ink = h->note_ink;
        enum oxl_panel_did did = oxl_panel_step(&h->panel, &s);
        if (did == OXL_PANEL_BACK)
            return false;
        if (did != OXL_PANEL_OPEN)
            continue;
        h->note[0] = '\0';
        if (may_begin(h) && f->fields[f->form.at].id == OXL_FIELD_BEGIN)
            return true;
        if (!h->note[0])
            oxl_home_check(h);
    }
}

/* ---- the way through ------------------------------------------------------------------------- */
/* Remembered for the next test; a file that cannot be written is said, and in no one's way. */
static void remember_technician(struct oxl_home *h)
{
    const char *now = oxl_home_field(&h->form, OXL_FIELD_TECHNICIAN)->text;
    struct oxl_error err = {OXL_OK, ""};
    if (!now[0] || strcmp(now, h->settings->value[OXL_SET_TECHNICIAN]) == 0)
        return;
    snprintf(h->settings->value[OXL_SET_TECHNICIAN], OXL_SETTING_BYTES, "%s", now);
    if (oxl_settings_save(h->settings, &err) != OXL_OK)
        oxl_home_note(h, OXL_INK_CAUTION, "%s", err.text);
}

static bool choose_file(struct oxl_home *h)
{
    char folder[OXL_FIELD_BYTES + 512], stamp[24];
    struct oxl_error err = {OXL_OK, ""};
    oxl_wall_stamp(stamp);
    if (oxl_settings_folder(h->settings, folder, sizeof folder, &err) != OXL_OK ||
        !oxl_home_file_name(folder, stamp, oxl_home_field(&h->form, OXL_FIELD_ORDER)->text,
                            h->recording, sizeof h->recording)) {
        oxl_home_note(h, OXL_INK_BAD, "%s",
                      err.text[0] ? err.text : "no free name for the recording in its folder");
        return false;
    }
    return true;
}

bool oxl_home_go(struct oxl_home *h, enum oxl_command command)
{
    struct oxl_args a;
    struct stat st;
    oxl_home_form(&h->form, command, false, h->settings);
    h->before[0] = '\0';
    while (fill_in(h)) {
        remember_technician(h);
        if (!choose_file(h))
            continue;
        oxl_home_args(&h->form, h->recording, &a);
        enum oxl_status came = oxl_home_run(h, &a);
        if (oxl_signal_seen() || !h->panel.term)
            return true;
        /* Left at the cautions, refused, stopped or unanswered: there is nothing to show. */
        if (came == OXL_ERR_NO_ADAPTER || came == OXL_ERR_NO_VEHICLE ||
            (came == OXL_ERR_STOPPED && h->form.command == OXL_CMD_INSPECT) ||
            stat(h->recording, &st) != 0 || st.st_size == 0)
            continue;
        enum oxl_home_next next = oxl_home_after(h);
        if (next == OXL_NEXT_HOME)
            return true;
        if (next == OXL_NEXT_TEST)
            oxl_home_form(&h->form, OXL_CMD_RUN, true, h->settings);
        else if (came == OXL_OK) /* else there is nothing to compare with */
            snprintf(h->before, sizeof h->before, "%s", h->recording);
    }
    return false;
}

static void recordings(struct oxl_home *h)
{
    struct oxl_args a;
    char folder[1024];
    struct oxl_error err = {OXL_OK, ""};
    if (oxl_settings_folder(h->settings, folder, sizeof folder, &err) != OXL_OK) {
        oxl_home_note(h, OXL_INK_BAD, "%s", err.text);
        return;
    }
    oxl_args_start(&a, "recordings");
    oxl_args_add(&a, folder);
    (void)oxl_home_run(h, &a);
}

static void take(struct oxl_home *h, size_t choice)
{
    h->note[0] = '\0';
    switch (choice) {
    case OXL_HOME_TEST:
        (void)oxl_home_go(h, OXL_CMD_RUN);
        break;
    case OXL_HOME_INSPECT:
        (void)oxl_home_go(h, OXL_CMD_INSPECT);
        break;
    case OXL_HOME_PRACTISE:
        oxl_home_practise(h);
        break;
    case OXL_HOME_RECORDINGS:
        recordings(h);
        break;
    default:
        oxl_home_settings(h);
    }
}

static const char *const home_keys[][2] = {
    {"up/down", "move"}, {"Enter", "take it"}, {"1-6", "at once"}, {"q", "quit"}, {NULL, NULL}};

void oxl_home_look(struct oxl_home *h)
{
    h->look = (struct oxl_opts){.command = OXL_CMD_RUN};
    oxl_settings_apply(h->settings, &h->look);
}

/* One terminal, which says its name so, often has fonts without blocks, which it shows as nothing,
 * and cannot be asked (seen with version 379 on a server without further fonts). */
static const char *may_lack_letters(const struct oxl_home *h)
{
    return getenv("XTERM_VERSION") && !h->panel.ascii
               ? "No large letters at the top? Then set Plain letters in the settings."
               : NULL;
}

enum oxl_status oxl_home(struct oxl_settings *settings,
                         enum oxl_status (*run)(const struct oxl_opts *o, struct oxl_error *err),
                         const char *problem, struct oxl_error *err)
{
    static struct oxl_home h;
    struct oxl_list menu;
    h = (struct oxl_home){.settings = settings, .run = run};
    oxl_home_look(&h);
    oxl_home_menu(&menu);
    struct oxl_screen s = {.title = "OXYLAG",
                           .sentence = "Propane oxygen-storage test of a catalytic converter. What "
                                       "do you want to do?",
                           .list = &menu,
                           .keys = home_keys};
    if (problem)
        oxl_home_note(&h, OXL_INK_CAUTION, "%s", problem);
    enum oxl_status st = oxl_panel_open(&h.panel, &h.look, err);
    while (st == OXL_OK && h.panel.term && !oxl_signal_seen()) {
        s.command = oxl_home_command(menu.selected);
        s.note = h.note[0] ? h.note : may_lack_letters(&h);
        s.note_ink = h.note[0] ? h.note_ink : OXL_INK_DIM;
        enum oxl_panel_did did = oxl_panel_step(&h.panel, &s);
        /* Esc is the start of what an unknown key sends, too: it does not leave the program. */
        if ((did == OXL_PANEL_BACK && h.panel.key == 'q') ||
            (did == OXL_PANEL_OPEN && menu.selected == OXL_HOME_QUIT))
            break;
        if (did == OXL_PANEL_OPEN)
            take(&h, menu.selected);
    }
    oxl_panel_close(&h.panel);
    return st;
}
