/* The lines of an inspection, one file a topic. */
#ifndef OXYLAG_PROC_INSPECT_H
#define OXYLAG_PROC_INSPECT_H

#include "oxylag/inspect.h"

void oxl_inspect_section(struct oxl_inspection *v, const char *title);
void oxl_inspect_line(struct oxl_inspection *v, const char *id, enum oxl_grade grade,
                      const char *advice, const char *fmt, ...) OXL_PRINTF(5, 6);

void oxl_inspect_link(struct oxl_inspection *v, bool no_identity); /* link, ECUs, sensors */
void oxl_inspect_codes(struct oxl_inspection *v);
void oxl_inspect_readiness(struct oxl_inspection *v);
void oxl_inspect_monitors(struct oxl_inspection *v);
void oxl_inspect_frozen(struct oxl_inspection *v);
void oxl_inspect_conditions(struct oxl_inspection *v, const struct oxl_profile *profile);

#endif
