/* What is said of an inspection, live or replayed: the same lines. */
#ifndef OXL_APP_INSPECT_OUTPUT_H
#define OXL_APP_INSPECT_OUTPUT_H

#include "opts.h"
#include "oxylag/inspect.h"
#include "oxylag/record.h"
#include "oxylag/status.h"

/* An event while it goes on. */
void oxl_inspect_say(const struct oxl_opts *o, const struct oxl_event *ev);
/* The whole at the end; the outcome as a status with its sentence. stopped_why: what stopped it
 * from outside, "" or NULL nothing. */
enum oxl_status oxl_inspect_tell(const struct oxl_opts *o, const struct oxl_inspect *core,
                                 const struct oxl_record_header *h, int64_t t_us,
                                 const char *stopped_why, struct oxl_error *err);

#endif
