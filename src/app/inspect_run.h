/* An inspection on an open connection: of the command, and of the link check. */
#ifndef OXL_APP_INSPECT_RUN_H
#define OXL_APP_INSPECT_RUN_H

#include <stdbool.h>
#include <stddef.h>

#include "connection.h"
#include "opts.h"
#include "oxylag/event.h"
#include "oxylag/record.h"
#include "oxylag/status.h"

/* p->port is set, without a watch p->ctx and p->event, too. All that can be refused is, before
 * anything is sent. */
enum oxl_status oxl_inspect_ready(struct oxl_connection *p, const struct oxl_opts *o,
                                  struct oxl_record_header *header,
                                  struct oxl_error *err) OXL_MUST_CHECK;
/* Who looks on: `going` is called each round with what the link does just now, and its false stops
 * the inspection as a signal does. */
struct oxl_inspect_watch {
    bool (*going)(void *ctx, const char *now);
    void *ctx;
    char now[160];
};
/* To its end; w NULL: nobody looks on, and p->event is the caller's. */
void oxl_inspect_run(struct oxl_connection *p, struct oxl_inspect_watch *w);
/* The command; w NULL: in lines and with its page, else nothing is printed. */
enum oxl_status oxl_inspect(const struct oxl_opts *o, struct oxl_inspect_watch *w,
                            struct oxl_error *err);
/* As it is for something so short: no back-off. */
void oxl_inspect_start(struct oxl_connection *p, const struct oxl_opts *o);

/* inspect_output.c: what is said of one, live or replayed. */
/* An event while it goes on. opts: a struct oxl_opts. */
void oxl_inspect_say(void *opts, const struct oxl_event *ev);
/* The whole at the end; the outcome as a status with its sentence. stopped_why: what stopped it
 * from outside, "" or NULL nothing. */
enum oxl_status oxl_inspect_tell(const struct oxl_opts *o, const struct oxl_inspect *core,
                                 const struct oxl_record_header *h, int64_t t_us,
                                 const char *stopped_why, struct oxl_error *err);

/* ---- link_check.c: may the port be opened, who else has it, does an adapter
 * answer and a vehicle behind it, which sensors, how often, how quickly. Each line says what to do
 * next. */
enum { OXL_LINK_LINES = 10 };
struct oxl_link_line {
    const char *name; /* in words; also the one of --json */
    enum oxl_grade grade;
    char found[256], advice[512];
};
struct oxl_link_check {
    struct oxl_link_line lines[OXL_LINK_LINES];
    size_t n;
    bool two_banks;
};

/* Fills *out line by line and calls `going` in between, ten times a second, with what the link does
 * just now; false leaves off. The status is that of `inspect`; the last line says why, too. */
enum oxl_status oxl_link_check(const char *port, unsigned speed_baud, struct oxl_link_check *out,
                               bool (*going)(void *ctx, const char *now), void *ctx,
                               struct oxl_error *err) OXL_MUST_CHECK;

/* ports --test */
enum oxl_status oxl_cmd_link_check(const struct oxl_opts *o, struct oxl_error *err);

/* Another process that has the file open: "name (process 123)". False: none that may be seen. */
bool oxl_port_holder(const char *path, char *out, size_t n);

#endif
