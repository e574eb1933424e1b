/* Safe text: what may go to a terminal, a page, a table or a line of a log. Names of files, notes,
 * adapter lines and vehicle numbers come from outside, and none of them may steer what shows them,
 * or hide in it. This is the one rule: pages and plain lines show '?' for what it refuses, JSON
 * escapes it. (The dashboard draws less still, only what takes one cell: src/ui/utf8.c.)
 */
#ifndef OXYLAG_SAFE_H
#define OXYLAG_SAFE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/status.h"

/* Bytes of the UTF-8 character at the start of s (n bytes of it may be read); 0 when it is none, or
 * over-long, a surrogate or above U+10FFFF (RFC 3629). */
size_t oxl_utf8_length(const char *s, size_t n);
/* The character of that many bytes (1 to 4, as oxl_utf8_length gave). */
uint32_t oxl_code_point(const char *s, size_t len);

/* Bytes of the UTF-8 character at the start of s (n bytes of it may be read), when it may be
 * shown; 0 for controls (C0, DEL, C1), for what turns the direction of writing or ends a line, for
 * what is not seen (no width, fillers, variation selectors, tags), and for bytes that are no UTF-8.
 */
size_t oxl_safe_length(const char *s, size_t n);

/* Turns each unsafe byte into '?', but for characters in `keep` ("" or "\n"). */
void oxl_make_safe(char *text, const char *keep);
/* The text as one safe line, cut where it does not fit into out[n]. */
void oxl_safe_copy(char *out, size_t n, const char *text);

/* Behind what text[room] holds already, cut where it does not fit; false: it was. */
bool oxl_append(char *text, size_t room, const char *fmt, ...) OXL_PRINTF(3, 4);
/* A word of a list, behind the separator where it is not the first. */
bool oxl_append_word(char *text, size_t room, const char *separator, const char *word);

#endif
