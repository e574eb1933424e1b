/* A wire whose tokens are written down as text, one a line:
 *   P                    prompt
 *   W NO DATA            word (the names of the dialect)
 *   T 12.6V              text
 *   M 7E8 410C1AF8       message, with " BAD" behind it when the checksum is wrong
 * and, when times are wanted, " @t" or " @first-last" behind it. */
#ifndef OXYLAG_TEST_HELP_WIRE_H
#define OXYLAG_TEST_HELP_WIRE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/wire.h"

enum { TAP_MAX = 1 << 17 };

struct tap {
    struct oxl_wire *wire;
    bool times;
    size_t n;
    char log[TAP_MAX];
};

struct tap *tap_new(enum oxl_protocol p);
void tap_free(struct tap *t);
void tap_clear(struct tap *t);

/* Feeds text in one piece at t_us. */
void tap_feed(struct tap *t, const char *text, int64_t t_us);

/* Asserts that feeding `text` to a fresh wire of protocol p gives just these tokens. */
void tap_check(enum oxl_protocol p, const char *text, const char *tokens);

/* One CAN frame as the adapter writes it; returns the length. spaces: left on. */
size_t tap_can_line(char *out, uint32_t id, bool wide, const uint8_t *data, size_t n, bool spaces);

/* Cuts a payload into ISO 15765-2 frames of eight bytes (padding `pad`), each stored as length
 * byte and eight bytes; returns how many. Written from the standard's table, not from src/wire. */
size_t tap_segment(const uint8_t *payload, size_t len, uint8_t pad, uint8_t frames[][9],
                   size_t max);

/* Repeatable numbers for tests: the multiplicative generator of Park and Miller (1988). */
uint32_t tap_random(uint32_t *state);

#endif
