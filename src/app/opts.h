/* Command line: one table of options, one row for each command that says which it takes. */
#ifndef OXL_APP_OPTS_H
#define OXL_APP_OPTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/report.h"
#include "oxylag/session.h"
#include "oxylag/status.h"
#include "oxylag/ui.h"
#include "settings.h"

enum oxl_command {
    OXL_CMD_RUN,
    OXL_CMD_DEMO,
    OXL_CMD_INSPECT,
    OXL_CMD_REPLAY,
    OXL_CMD_REPORT,
    OXL_CMD_PORTS,
    OXL_CMD_PROFILES,
    OXL_CMD_SCENARIOS,
    OXL_CMD_SIMULATE,
    OXL_CMD_IMPORT,
    OXL_CMD_RECORDINGS,
    OXL_CMD_LESSONS,
    OXL_CMD_COUNT
};

enum oxl_report_format {
    OXL_FORMAT_TEXT,
    OXL_FORMAT_JSON,
    OXL_FORMAT_CSV,
    OXL_FORMAT_HTML,
    OXL_FORMAT_PDF
};

enum { OXL_MAX_FILES = 16 };

struct oxl_opts {
    enum oxl_command command;
    bool help;
    const char *port, *profile, *out, *truth, *scenario, *listen, *symlink;
    const char *columns, *separator, *answers, *test, *sound;
    const char *order, *inlet, *note, *technician, *plate, *odometer, *vehicle;
    const char *trainee, *history;
    const char *vin, *verdict, *since; /* which recordings */
    unsigned bank, runs, speed_baud, packet_ms, volume_pct;
    uint64_t seed;
    double rate;    /* 1 = real time */
    double from_s;  /* replay: start here */
    double seconds; /* simulate: end after; 0 = never */
    bool json, samples, plain, accept_cautions, virtual_time, mask_vin, by_hand, quiet, ascii, quiz;
    bool leak_check, new_converter, deeper, no_deeper, pass_stops, check, csv, class, voice;
    enum oxl_theme theme;
    enum oxl_report_format format;
    enum oxl_paper paper;
    const char *files[OXL_MAX_FILES];
    size_t files_n;
};

/* Fills *o: the settings (NULL: none) first, what is given over them. On error *err says what is
 * wrong and how to get help. */
enum oxl_status oxl_opts_parse(int argc, char **argv, const struct oxl_settings *s,
                               struct oxl_opts *o, struct oxl_error *err) OXL_MUST_CHECK;

/* As if the option were given, where o->command takes it; a flag whatever the value. */
void oxl_opts_apply(struct oxl_opts *o, const char *option, const char *value);
/* Would the command take this value (of a flag: NULL) of its option? *err says why not. */
enum oxl_status oxl_opts_check(enum oxl_command c, const char *option, const char *value,
                               struct oxl_error *err) OXL_MUST_CHECK;

/* Are there options that only make sense with others? */
enum oxl_status oxl_opts_together(const struct oxl_opts *o, struct oxl_error *err) OXL_MUST_CHECK;

/* Help as text: of the whole program, or of one command. */
void oxl_help_program(struct oxl_buf *out);
void oxl_help_command(enum oxl_command c, struct oxl_buf *out);

/* What an option asks for at this event: the same key that a person would press. *deeper: the
 * deeper run has been asked for; false at the start. */
enum oxl_key oxl_key_by_option(const struct oxl_opts *opts, const struct oxl_event *ev,
                               bool *deeper);

#endif
