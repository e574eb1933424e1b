/* The lines of an inspection: which facts it asks the grade room for (inspect_lines.c). */
#ifndef OXYLAG_PROC_INSPECT_H
#define OXYLAG_PROC_INSPECT_H

#include "oxylag/inspect.h"

void oxl_inspect_lines(struct oxl_inspection *v, const struct oxl_session_config *config);

#endif
