/* What an adapter and an ECU make of a line: written anew for the tests, it shares nothing with the
 * program's own (src/poll/safe_request.c). */
#ifndef HELP_CHANGING_H
#define HELP_CHANGING_H

#include <stdbool.h>
#include <stddef.h>

/* These n characters (199 at most), ended by CR, are a request that changes something. */
bool line_changes(const char *line, size_t n);

#endif
