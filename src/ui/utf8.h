/* UTF-8 in, code points that take exactly one cell out. */
#ifndef OXYLAG_UI_UTF8_H
#define OXYLAG_UI_UTF8_H

#include <stddef.h>
#include <stdint.h>

/* The next code point of *s, which moves on; 0 at the end. A malformed byte gives '?' and is
 * skipped alone. */
uint32_t oxl_utf8_next(const char **s);

/* ch when it is known to print in one cell, else '?'. */
uint32_t oxl_utf8_cell(uint32_t ch);

#endif
