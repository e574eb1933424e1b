#include "oxylag/safe.h"

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

/* RFC 3629 section 4: the lead byte tells the length, and narrows the second byte so that there
 * are no over-long forms, no surrogates and nothing above U+10FFFF. */
static size_t utf8_length(const unsigned char *u, size_t n)
{
    if (n == 0)
        return 0;
    if (u[0] < 0x80)
        return 1;
    size_t len = u[0] >= 0xF0 ? 4 : u[0] >= 0xE0 ? 3 : 2;
    if (u[0] < 0xC2 || u[0] > 0xF4 || len > n)
        return 0;
    for (size_t i = 1; i < len; i++)
        if ((u[i] & 0xC0) != 0x80)
            return 0;
    bool bad = (u[0] == 0xE0 && u[1] < 0xA0) || (u[0] == 0xED && u[1] > 0x9F) ||
               (u[0] == 0xF0 && u[1] < 0x90) || (u[0] == 0xF4 && u[1] > 0x8F);
    return bad ? 0 : len;
}

static uint32_t code_point(const unsigned char *u, size_t len)
{
    static const unsigned char lead_bits[] = {0, 0x7F, 0x1F, 0x0F, 0x07};
    uint32_t ch = u[0] & lead_bits[len];
    for (size_t i = 1; i < len; i++)
        ch = ch << 6 | (u[i] & 0x3FU);
    return ch;
}

/* C0, DEL and C1 controls (ECMA-48); soft hyphen and what has no width; the controls of
 * bidirectional text (Unicode UAX 9); line and paragraph separator; tags. */
static bool unsafe(uint32_t ch)
{
    static const uint32_t ranges[][2] = {
        {0x00, 0x1F},     {0x7F, 0x9F},     {0xAD, 0xAD},       {0x061C, 0x061C},
        {0x180E, 0x180E}, {0x200B, 0x200F}, {0x2028, 0x202E},   {0x2060, 0x206F},
        {0xFEFF, 0xFEFF}, {0xFFF9, 0xFFFB}, {0xE0000, 0xE007F},
    };
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++)
        if (ch >= ranges[i][0] && ch <= ranges[i][1])
            return true;
    return false;
}

size_t oxl_safe_length(const char *s, size_t n)
{
    const unsigned char *u = (const unsigned char *)s;
    size_t len = utf8_length(u, n);
    return len && !unsafe(code_point(u, len)) ? len : 0;
}

void oxl_make_safe(char *text, const char *keep)
{
    for (char *at = text; *at;) {
        size_t len = oxl_safe_length(at, strnlen(at, 4));
        if (len == 0 && !strchr(keep, *at))
            *at = '?';
        at += len ? len : 1;
    }
}
