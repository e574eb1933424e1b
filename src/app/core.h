/* A core as the program drives it: of a test (session.h) or of an inspection (inspect.h), set up as
 * a recording's header says. */
#ifndef OXL_APP_CORE_H
#define OXL_APP_CORE_H

#include <stdbool.h>
#include <stdint.h>

#include "oxylag/inspect.h"
#include "oxylag/record.h"
#include "oxylag/session.h"
#include "oxylag/status.h"

struct oxl_core {
    struct oxl_session *session; /* NULL: an inspection, or nothing yet */
    struct oxl_inspect *inspect;
};

struct oxl_session_config oxl_core_as_recorded(const struct oxl_record_header *h);
/* Hooks for a core that has no link: what it sends goes nowhere. */
struct oxl_session_out oxl_core_without_link(void *ctx,
                                             void (*event)(void *ctx, const struct oxl_event *ev));
/* Of an inspection what concerns it is taken from the same settings. */
enum oxl_status oxl_core_open(struct oxl_core *c, bool inspection,
                              const struct oxl_session_config *config,
                              const struct oxl_session_out *out, struct oxl_error *err);
void oxl_core_close(struct oxl_core *c);

bool oxl_core_step(const struct oxl_core *c, const struct oxl_input *in); /* did it matter? */
int64_t oxl_core_due_us(const struct oxl_core *c);
bool oxl_core_over(const struct oxl_core *c);
enum oxl_status oxl_core_outcome(const struct oxl_core *c, const char **text);

#endif
