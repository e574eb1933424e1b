/* UTF-8 in, code points that take exactly one cell out. */
#ifndef OXYLAG_UI_UTF8_H
#define OXYLAG_UI_UTF8_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The next code point of *s, which moves on; 0 at the end. A malformed byte gives '?' and is
 * skipped alone. */
uint32_t oxl_utf8_next(const char **s);

/* ch when it is known to print in one cell, else '?'. */
uint32_t oxl_utf8_cell(uint32_t ch);

/* How many cells a text takes. */
int oxl_utf8_columns(const char *s);

/* A key typed at the end of a text with room for so many bytes: a byte of a character, Backspace,
 * or Ctrl-U, which empties it. False: the key does nothing here. */
bool oxl_utf8_type(char *text, size_t room, int key);

#endif
