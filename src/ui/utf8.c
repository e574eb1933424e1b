#include "utf8.h"

#include <string.h>

#include "oxylag/ui.h"

/* Length by the lead byte, RFC 3629 section 3; 0 for what can lead nothing. */
static int sequence_length(unsigned char lead)
{
    if (lead < 0x80)
        return 1;
    if (lead >= 0xC2 && lead <= 0xDF)
        return 2;
    if (lead >= 0xE0 && lead <= 0xEF)
        return 3;
    return lead >= 0xF0 && lead <= 0xF4 ? 4 : 0;
}

uint32_t oxl_utf8_next(const char **s)
{
    static const uint32_t lead_mask[] = {0, 0x7F, 0x1F, 0x0F, 0x07};
    static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000}; /* over-long forms are refused */
    const unsigned char *p = (const unsigned char *)*s;
    if (*p == 0)
        return 0;
    int n = sequence_length(*p);
    uint32_t ch = n ? *p & lead_mask[n] : 0;
    for (int i = 1; i < n; i++) {
        if ((p[i] & 0xC0) != 0x80) {
            n = 0;
            break;
        }
        ch = ch << 6 | (p[i] & 0x3Fu);
    }
    if (n == 0 || ch < least[n] || (ch >= 0xD800 && ch <= 0xDFFF) || ch > 0x10FFFF) {
        *s += 1;
        return '?';
    }
    *s += n;
    return ch;
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
