/* Commands: one function each; they return a status and fill *err for the one line on stderr. */
#ifndef OXL_APP_COMMANDS_H
#define OXL_APP_COMMANDS_H

#include <jansson.h>
#include <stdio.h>

#include "event_sinks.h"
#include "opts.h"
#include "oxylag/link.h"
#include "oxylag/report.h"
#include "oxylag/sim.h"
#include "oxylag/status.h"

enum oxl_status oxl_cmd_test(const struct oxl_opts *o, struct oxl_error *err); /* run, demo */
enum oxl_status oxl_cmd_inspect(const struct oxl_opts *o, struct oxl_error *err);
enum oxl_status oxl_cmd_replay(const struct oxl_opts *o, struct oxl_error *err);
enum oxl_status oxl_cmd_report(const struct oxl_opts *o, struct oxl_error *err);
enum oxl_status oxl_cmd_ports(const struct oxl_opts *o, struct oxl_error *err);
enum oxl_status oxl_cmd_profiles(const struct oxl_opts *o, struct oxl_error *err);
enum oxl_status oxl_cmd_scenarios(const struct oxl_opts *o, struct oxl_error *err);
enum oxl_status oxl_cmd_simulate(const struct oxl_opts *o, struct oxl_error *err);
enum oxl_status oxl_cmd_import(const struct oxl_opts *o, struct oxl_error *err);
enum oxl_status oxl_cmd_lessons(const struct oxl_opts *o, struct oxl_error *err);
enum oxl_status oxl_cmd_recordings(const struct oxl_opts *o, struct oxl_error *err);

/* What `report` writes, into a buffer that the caller frees. */
enum oxl_status oxl_report_make(const struct oxl_opts *o, struct oxl_buf *out,
                                struct oxl_error *err) OXL_MUST_CHECK;

/* PORT as given, or the only one that is plugged in, which is then said on standard error. */
enum oxl_status oxl_pick_port(const struct oxl_opts *o, char *out, size_t n, struct oxl_error *err);
/* Puts the port before what went wrong with the adapter or the vehicle behind it; other errors
 * stay. */
void oxl_name_port(const char *port, struct oxl_error *err);
/* A profile by built-in name or file. NULL name: the defaults. */
enum oxl_status oxl_load_profile(const char *name, struct oxl_profile *out,
                                 struct oxl_error *err) OXL_MUST_CHECK;
/* A scenario by built-in name or file. */
enum oxl_status oxl_load_scenario(const char *name, struct oxl_scenario **out,
                                  struct oxl_error *err) OXL_MUST_CHECK;
/* A new file, mode 0600 less umask; refused when the name exists, also as a link. */
enum oxl_status oxl_create_file(const char *path, FILE **out, struct oxl_error *err) OXL_MUST_CHECK;
/* What really happened in a simulation, a line each: what it is of, then each pulse from *written
 * on. */
void oxl_truth_header(const struct oxl_sim *sim, FILE *f);
void oxl_truth_rest(struct oxl_sim *sim, size_t *written, FILE *f);
/* To standard output; the text is freed, the object given up. */
void oxl_print(struct oxl_buf *text);
/* The same; nothing of it where it is not whole for want of memory. */
enum oxl_status oxl_print_whole(struct oxl_buf *text, struct oxl_error *err) OXL_MUST_CHECK;
void oxl_print_json(json_t *object);
/* The name without its folders; points into path. */
const char *oxl_base_name(const char *path);
/* A whole file; owned by the caller (free). */
enum oxl_status oxl_read_bytes(const char *path, size_t max, char **out, size_t *n,
                               struct oxl_error *err) OXL_MUST_CHECK;
/* The same, of text: it has no NUL bytes and ends with one. */
enum oxl_status oxl_read_text(const char *path, size_t max, char **out,
                              struct oxl_error *err) OXL_MUST_CHECK;

#endif
