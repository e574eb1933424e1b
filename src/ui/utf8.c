#include "utf8.h"

#include <string.h>

#include "oxylag/safe.h"
#include "oxylag/ui.h"

uint32_t oxl_utf8_next(const char **s)
{
    const char *p = *s;
    if (*p == '\0')
        return 0;
    size_t n = oxl_utf8_length(p, strnlen(p, 4));
    *s += n ? n : 1;
    return n ? oxl_code_point(p, n) : '?';
}

uint32_t oxl_utf8_cell(uint32_t ch)
{
    /* An allow-list: whatever is not here may be a control, take no cell or two cells, or turn
     * the writing direction, and the text may come from an adapter. */
    static const uint32_t ranges[][2] = {
        {0x20, 0x7E},     {0xA0, 0xAC},     {0xAE, 0x24F},    {0x391, 0x3C9},   {0x400, 0x45F},
        {0x2010, 0x2027}, {0x2030, 0x203A}, {0x2070, 0x208E}, {0x20A0, 0x20BF}, {0x2190, 0x21FF},
        {0x2200, 0x22FF}, {0x2500, 0x257F}, {0x2580, 0x259F}, {0x25A0, 0x25F7}, {0x2800, 0x28FF},
    };
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++)
        if (ch >= ranges[i][0] && ch <= ranges[i][1])
            return ch;
    return '?';
}

int oxl_utf8_columns(const char *s)
{
    int n = 0;
    while (oxl_utf8_next(&s))
        n++;
    return n;
}

bool oxl_utf8_type(char *text, size_t room, int key)
{
    enum { CTRL_U = 21 };
    size_t n = strlen(text);
    unsigned char last = 0x80;
    if (key == OXL_TERM_BACKSPACE && n) {
        while (n && (last & 0xC0) == 0x80) { /* RFC 3629 section 3: in the middle of a character */
            last = (unsigned char)text[--n];
            text[n] = '\0';
        }
        return true;
    }
    if (key == CTRL_U) {
        text[0] = '\0';
        return true;
    }
    if (key < ' ' || key > 0xFF || key == 0x7F || n + 1 >= room)
        return false;
    text[n] = (char)key;
    text[n + 1] = '\0';
    return true;
}
