/* UTF-16 with a byte order mark, which spreadsheets call "Unicode text", as UTF-8 (RFC 2781, RFC
 * 3629). */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "parts.h"

bool oxl_is_utf16(const char *text, size_t n)
{
    return n >= 2 && (memcmp(text, "\xFF\xFE", 2) == 0 || memcmp(text, "\xFE\xFF", 2) == 0);
}

static uint32_t code_unit(const char *text, bool big_endian)
{
    unsigned a = (unsigned char)text[0], b = (unsigned char)text[1];
    return big_endian ? a << 8 | b : b << 8 | a;
}

static size_t put(char *out, uint32_t c)
{
    if (c < 0x80) {
        out[0] = (char)c;
        return 1;
    }
    size_t n = c < 0x800 ? 2 : c < 0x10000 ? 3 : 4;
    for (size_t i = n; i-- > 1; c >>= 6)
        out[i] = (char)(0x80 | (c & 0x3F));
    out[0] = (char)(0xF00 >> n | c); /* as many ones as bytes, then a zero */
    return n;
}

enum oxl_status oxl_utf8_of_utf16(const char *text, size_t n, const char *file, char **out,
                                  size_t *out_n, struct oxl_error *err)
{
    bool big_endian = text[0] == '\xFE';
    if (n % 2)
        return oxl_fail(err, OXL_ERR_FORMAT, "%s: UTF-16 text that ends within a character", file);
    char *to = malloc(n / 2 * 3);
    if (!to)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory for %s", file);
    *out = to;
    for (size_t i = 2; i < n; i += 2) {
        uint32_t c = code_unit(text + i, big_endian), low;
        if (c >= 0xD800 && c < 0xDC00 && i + 2 < n &&
            (low = code_unit(text + i + 2, big_endian)) >= 0xDC00 && low < 0xE000) {
            c = 0x10000 + ((c - 0xD800) << 10) + (low - 0xDC00);
            i += 2;
        } else if (c >= 0xD800 && c < 0xE000) {
            c = 0xFFFD; /* half a pair */
        }
        to += put(to, c);
    }
    *out_n = (size_t)(to - *out);
    return OXL_OK;
}
