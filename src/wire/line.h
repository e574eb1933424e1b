/* Bytes to lines. Pure state: no callbacks, no clock. */
#ifndef OXYLAG_WIRE_LINE_H
#define OXYLAG_WIRE_LINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The longest line that can mean something is an ISO 14230-2 message of 255 data bytes with
 * spaces left on: (4 + 255 + 1) x 3 = 780 characters, and a glued word before and behind. */
enum { OXL_LINE_MAX = 1023 };

struct oxl_line {
    char text[OXL_LINE_MAX + 1];
    size_t len;
    bool overlong;
    bool glued; /* a leading word of this line has been taken off it already */
    int64_t first_us, last_us;
};

enum oxl_line_event {
    OXL_LINE_MORE,   /* nothing yet */
    OXL_LINE_DOT,    /* a dot was added: the line so far may be a leading word */
    OXL_LINE_END,    /* CR or LF */
    OXL_LINE_PROMPT, /* '>': ends the line too */
};

/* Takes one byte; NUL bytes are the caller's to drop. */
enum oxl_line_event oxl_line_push(struct oxl_line *l, uint8_t byte, int64_t t_us);

/* Takes the digits and capitals at the start of n bytes that merely go on with a line that has
 * begun, as most do; returns how many. All else is for oxl_line_push. */
size_t oxl_line_go_on(struct oxl_line *l, const uint8_t *bytes, size_t n, int64_t t_us);

/* Nothing but blanks so far, and no leading word either. */
bool oxl_line_is_blank(const struct oxl_line *l);

/* Terminates the text and cuts blanks off its end. False when it holds bytes that are not
 * printable ASCII (wrong speed, line noise). */
bool oxl_line_finish(struct oxl_line *l);

/* Starts the next line. */
void oxl_line_clear(struct oxl_line *l);
/* Takes a leading word off: what follows on the same line has its own first byte. */
void oxl_line_cut_lead(struct oxl_line *l);

/* Copies `text` without blanks, in upper case; returns the length. out holds OXL_LINE_MAX + 1. */
size_t oxl_line_compact(const char *text, char *out);

#endif
