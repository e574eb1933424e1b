#include "oxylag/safe.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* RFC 3629 section 4: the lead byte tells the length, and narrows the second byte so that there
 * are no over-long forms, no surrogates and nothing above U+10FFFF. */
size_t oxl_utf8_length(const char *s, size_t n)
{
    const unsigned char *u = (const unsigned char *)s;
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

uint32_t oxl_code_point(const char *s, size_t len)
{
    const unsigned char *u = (const unsigned char *)s;
    static const unsigned char lead_bits[] = {0, 0x7F, 0x1F, 0x0F, 0x07};
    uint32_t ch = u[0] & lead_bits[len];
    for (size_t i = 1; i < len; i++)
        ch = ch << 6 | (u[i] & 0x3FU);
    return ch;
}

/* C0, DEL and C1 controls (ECMA-48). Line and paragraph separator, and what annotates between
 * lines. All that Unicode calls default-ignorable (DerivedCoreProperties.txt), since it can be
 * there without being seen: soft hyphen, joiners, fillers, what has no width, variation selectors,
 * tags, and with them the controls of bidirectional text (UAX 9). What will never be a character
 * (the Unicode Standard, section 23.7). */
static bool unsafe(uint32_t ch)
{
    static const uint32_t ranges[][2] = {
        {0x00, 0x1F},     {0x7F, 0x9F},       {0xAD, 0xAD},       {0x034F, 0x034F},
        {0x061C, 0x061C}, {0x115F, 0x1160},   {0x17B4, 0x17B5},   {0x180B, 0x180F},
        {0x200B, 0x200F}, {0x2028, 0x202E},   {0x2060, 0x206F},   {0x3164, 0x3164},
        {0xFDD0, 0xFDEF}, {0xFE00, 0xFE0F},   {0xFEFF, 0xFEFF},   {0xFFA0, 0xFFA0},
        {0xFFF0, 0xFFFB}, {0x1BCA0, 0x1BCA3}, {0x1D173, 0x1D17A}, {0xE0000, 0xE0FFF},
    };
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++)
        if (ch >= ranges[i][0] && ch <= ranges[i][1])
            return true;
    return (ch & 0xFFFE) == 0xFFFE;
}

size_t oxl_safe_length(const char *s, size_t n)
{
    size_t len = oxl_utf8_length(s, n);
    return len && !unsafe(oxl_code_point(s, len)) ? len : 0;
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

void oxl_safe_copy(char *out, size_t n, const char *text)
{
    snprintf(out, n, "%.*s", (int)n - 1, text);
    oxl_make_safe(out, "");
}

bool oxl_append(char *text, size_t room, const char *fmt, ...)
{
    const size_t len = strnlen(text, room);
    va_list args;
    va_start(args, fmt);
    const int n = vsnprintf(text + len, room - len, fmt, args);
    va_end(args);
    return n >= 0 && (size_t)n < room - len;
}

bool oxl_append_word(char *text, size_t room, const char *separator, const char *word)
{
    return oxl_append(text, room, "%s%s", text[0] ? separator : "", word);
}
