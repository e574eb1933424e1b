/* An inspection on an open connection: of the command, and of the link check. */
#ifndef OXL_APP_INSPECT_RUN_H
#define OXL_APP_INSPECT_RUN_H

#include "connection.h"
#include "oxylag/record.h"

/* p->port, p->ctx and p->event are set. All that can be refused is, before anything is sent. */
enum oxl_status oxl_inspect_ready(struct oxl_connection *p, const struct oxl_opts *o,
                                  struct oxl_record_header *header,
                                  struct oxl_error *err) OXL_MUST_CHECK;
/* To its end; `going` (NULL: none) is called each round, and its false stops it as a signal does.
 */
void oxl_inspect_run(struct oxl_connection *p, bool (*going)(void *ctx), void *ctx);
/* As it is for something so short: no back-off. */
void oxl_inspect_start(struct oxl_connection *p, const struct oxl_opts *o);

#endif
