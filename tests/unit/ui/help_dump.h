/* A drawing as text. */
#ifndef HELP_DUMP_H
#define HELP_DUMP_H

#include <stddef.h>
#include <stdint.h>

#include "oxylag/ui.h"

/* Writes at most 4 bytes; returns how many. */
size_t utf8_put(char out[4], uint32_t ch);
/* The grid as UTF-8 lines, trailing blanks removed. Returns the length needed. */
size_t canvas_dump(const struct oxl_canvas *c, char *out, size_t n);

#endif
