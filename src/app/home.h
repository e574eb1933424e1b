/* The home screen: `oxylag` alone on a terminal. It collects in forms what a command needs, shows
 * the command line that it stands for, and runs that command in this process, as the same option
 * parser reads it. */
#ifndef OXL_APP_HOME_H
#define OXL_APP_HOME_H

#include "args.h"
#include "class.h"
#include "inspect_run.h"
#include "lessons.h"
#include "oxylag/link.h"
#include "panel.h"
#include "settings.h"

/* ---- the menu -------------------------------------------------------------------------------- */
struct oxl_choice {
    const char *name, *does, *command; /* NULL: it stands for none */
};
/* Numbered, so that a digit takes one. */
void oxl_home_choices(struct oxl_list *l, const struct oxl_choice *rows, size_t n);
enum oxl_home_choice {
    OXL_HOME_TEST,
    OXL_HOME_INSPECT,
    OXL_HOME_PRACTISE,
    OXL_HOME_RECORDINGS,
    OXL_HOME_SETTINGS,
    OXL_HOME_QUIT,
    OXL_HOME_CHOICES
};
void oxl_home_menu(struct oxl_list *l);
const char *oxl_home_command(size_t choice); /* the one that it stands for; NULL: none */

/* ---- the form before a test, an inspection or a practice ------------------------------------- */
enum oxl_home_field {
    OXL_FIELD_PORT,    /* one of the ports that are there; practice: how the valve is worked */
    OXL_FIELD_ADDRESS, /* another one, typed */
    OXL_FIELD_CHECK,   /* button: link check */
    OXL_FIELD_ORDER,
    OXL_FIELD_PLATE,
    OXL_FIELD_ODOMETER,
    OXL_FIELD_VEHICLE,
    OXL_FIELD_TECHNICIAN,
    OXL_FIELD_INLET,
    OXL_FIELD_PACE,
    OXL_FIELD_BANK,
    OXL_FIELD_BEGIN,
    OXL_HOME_FIELDS
};
enum { OXL_HOME_PORTS = 16 };
struct oxl_home_form {
    enum oxl_command command; /* RUN, INSPECT or DEMO */
    char scenario[128];       /* DEMO */
    struct oxl_port_info ports[OXL_HOME_PORTS];
    size_t ports_n;
    char words[OXL_HOME_PORTS][160];
    const char *choices[OXL_HOME_PORTS + 1];
    size_t first; /* of choices that is a port: none is taken unasked that is not plugged in */
    struct oxl_field fields[OXL_HOME_FIELDS]; /* those of the command, in this order; id: which */
    struct oxl_form form;
};
/* What was typed before stays where it is of the same vehicle; the adapter's address always. */
void oxl_home_form(struct oxl_home_form *f, enum oxl_command command, bool same_vehicle,
                   const struct oxl_settings *s);
/* The ports that are there, age_s: since when each is there (NAN: not known). The one that was
 * chosen stays chosen. */
void oxl_home_form_ports(struct oxl_home_form *f, const struct oxl_port_info *ports,
                         const double *age_s, size_t n);
/* After a link check: the bank is asked for only where there are two. */
void oxl_home_form_banks(struct oxl_home_form *f, bool two);
/* The port that is chosen; "" none. */
const char *oxl_home_port(const struct oxl_home_form *f);
struct oxl_field *oxl_home_field(struct oxl_home_form *f, enum oxl_home_field which); /* or NULL */
/* The command; out "" : not recorded to a file yet. */
void oxl_home_args(const struct oxl_home_form *f, const char *out, struct oxl_args *a);
/* Would the command take this text of its option? Why not, without the option's name. */
bool oxl_home_option_fits(enum oxl_command command, const char *option, const char *text, char *why,
                          size_t n);
/* The same sentence of any error; false. */
bool oxl_home_refused(const struct oxl_error *err, char *why, size_t n);
extern const char *const oxl_home_form_keys[][2];
/* FOLDER/DATE-ORDER.jsonl, a name that is free. */
bool oxl_home_file_name(const char *folder, const char *stamp, const char *order, char *out,
                        size_t n);

/* ---- the screens that go on by themselves ---------------------------------------------------- */
struct oxl_home {
    struct oxl_settings *settings;
    struct oxl_opts look; /* theme and ASCII of the panel */
    enum oxl_status (*run)(const struct oxl_opts *o, struct oxl_error *err);
    struct oxl_panel panel;
    struct oxl_home_form form;
    char note[1024]; /* what came of the last step */
    enum oxl_ink note_ink;
    char recording[1024], before[1024]; /* of the last test; the one before a repair, "" none */
    bool past;                          /* it is one of the list, not the last test */
    char half[1024];                    /* then: the test of the same vehicle before it, "" none */
    char vin[18];                       /* then: of its vehicle; "" not known, or hidden */
    bool history;                       /* the pages are those of every test of that VIN */
    const struct oxl_lesson *lesson;    /* it is one of a lesson; NULL: none */
    char trainee[64], rate[8];          /* then: who is asked, "" nobody's name; how fast, "" 1 */
};
/* Says it on the next screen. */
void oxl_home_note(struct oxl_home *h, enum oxl_ink ink, const char *format, ...) OXL_PRINTF(3, 4);
/* Gives the terminal to a command and takes it back; the note says why it failed. */
enum oxl_status oxl_home_run(struct oxl_home *h, const struct oxl_args *a);
void oxl_home_check(struct oxl_home *h); /* the link check */
/* The inspection while it goes on. */
enum oxl_status oxl_home_inspect(struct oxl_home *h, const struct oxl_opts *o,
                                 struct oxl_error *err);
void oxl_home_settings(struct oxl_home *h); /* the settings */
enum oxl_home_next {
    OXL_NEXT_HOME,
    OXL_NEXT_AGAIN,
    OXL_NEXT_TEST,
    OXL_NEXT_COMPARE,
    OXL_NEXT_HISTORY
};
/* After a test or an inspection: what comes next. */
enum oxl_home_next oxl_home_after(struct oxl_home *h);

/* Form, test, what next; again with the same vehicle as often as wanted. True: home from there. */
bool oxl_home_go(struct oxl_home *h, enum oxl_command command);

/* What can be practised without a vehicle: a simulated one, the lessons, the class's table. */
void oxl_home_practise(struct oxl_home *h);
void oxl_home_practise_menu(struct oxl_list *l);
void oxl_home_scenarios(struct oxl_list *l);
struct oxl_course {
    struct oxl_class class;
    bool there[OXL_LESSONS];    /* its recording is */
    char best[OXL_LESSONS][24]; /* of this trainee, "" not done */
};
void oxl_home_course(struct oxl_list *l, const struct oxl_course *c);
void oxl_home_lessons(struct oxl_home *h);
void oxl_home_class(struct oxl_home *h);
/* Asks the trainee; the note says whether it is kept. */
void oxl_home_quiz(struct oxl_home *h, const struct oxl_args *a);

/* home_text.c: a text to read on the screen: a page, the class's table. */
struct oxl_home_text {
    struct oxl_buf bytes; /* the line ends become NUL */
    const char **lines;
    size_t n;
};
/* Its bytes into lines. False: no memory. */
bool oxl_home_text_split(struct oxl_home_text *t);
void oxl_home_text_read(struct oxl_home *h, const struct oxl_home_text *t, const char *title,
                        const char *sentence, const char *command);
void oxl_home_text_free(struct oxl_home_text *t);

/* The list of recordings; it opens the terminal, and gives it back. */
struct oxl_catalogue;
void oxl_home_past(struct oxl_list *l, const struct oxl_catalogue *c);
enum oxl_status oxl_home_recordings(const struct oxl_opts *o, const char *folder,
                                    struct oxl_error *err);

/* opener.c: a file opened with what the desktop has for it (xdg-open), beside this program. */
/* Its opener is written to program (n 0: not wanted). False: no desktop, or no opener. */
bool oxl_has_desktop(char *program, size_t n);
/* False: there is no desktop, or no opener. Whether the file was shown nobody says. */
bool oxl_open_on_desktop(const char *path);

/* After the settings have changed. */
void oxl_home_look(struct oxl_home *h);

/* problem: what is wrong with the settings; NULL: nothing. */
enum oxl_status oxl_home(struct oxl_settings *settings,
                         enum oxl_status (*run)(const struct oxl_opts *o, struct oxl_error *err),
                         const char *problem, struct oxl_error *err);

#endif
