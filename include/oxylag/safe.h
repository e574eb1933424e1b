/* Safe text: what may go to a terminal, a page or a line of a log. Names of files, notes, adapter
 * lines and vehicle numbers come from outside, and none of them may steer what shows them.
 */
#ifndef OXYLAG_SAFE_H
#define OXYLAG_SAFE_H

#include <stddef.h>

/* Bytes of the UTF-8 character at the start of s (n bytes of it may be read), when it may be
 * shown; 0 for controls (C0, DEL, C1), for what turns the direction of writing or ends a line,
 * and for bytes that are no UTF-8. */
size_t oxl_safe_length(const char *s, size_t n);

/* Turns each unsafe byte into '?', but for characters in `keep` ("" or "\n"). */
void oxl_make_safe(char *text, const char *keep);

#endif
