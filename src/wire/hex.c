#include "wire/hex.h"

bool oxl_hex_only(const char *s, size_t len)
{
    for (size_t i = 0; i < len; i++)
        if (oxl_hex_digit(s[i]) < 0)
            return false;
    return len > 0;
}

uint32_t oxl_hex_value(const char *s, size_t digits)
{
    uint32_t v = 0;
    for (size_t i = 0; i < digits; i++)
        v = v << 4 | (uint32_t)oxl_hex_digit(s[i]);
    return v;
}

void oxl_hex_bytes(const char *s, size_t n, uint8_t *out)
{
    for (size_t i = 0; i < n; i++)
        out[i] = (uint8_t)oxl_hex_value(s + 2 * i, 2);
}
