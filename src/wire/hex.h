/* Words and bytes of hex digits. */
#ifndef OXYLAG_WIRE_HEX_H
#define OXYLAG_WIRE_HEX_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/hex.h"

/* True for at least one digit and nothing else. */
bool oxl_hex_only(const char *s, size_t len);
/* The value of up to 8 digits, all of which must be hex. */
uint32_t oxl_hex_value(const char *s, size_t digits);
/* Turns 2 * n digits, all of which must be hex, into n bytes. */
void oxl_hex_bytes(const char *s, size_t n, uint8_t *out);

#endif
