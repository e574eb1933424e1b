/* An inspection on an open connection: of the command, and of the link check. */
#ifndef OXL_APP_INSPECT_RUN_H
#define OXL_APP_INSPECT_RUN_H

#include "connection.h"
#include "oxylag/record.h"

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

#endif
