#include "markup.h"

#include <string.h>

#include "record/json_out.h"

static uint32_t code_point(const char *s, size_t n)
{
    const unsigned char *u = (const unsigned char *)s;
    uint32_t c = n == 1 ? u[0] : u[0] & (0x7fu >> n);
    for (size_t i = 1; i < n; i++)
        c = c << 6 | (u[i] & 0x3fu);
    return c;
}

static bool turns_writing(uint32_t c)
{
    return c == 0x061c || c == 0x200e || c == 0x200f || (c >= 0x202a && c <= 0x202e) ||
           (c >= 0x2066 && c <= 0x2069);
}

/* Line and paragraph separators end a line as a control would. */
static bool refused(uint32_t c)
{
    return c < 0x20 || (c >= 0x7f && c < 0xa0) || c == 0x2028 || c == 0x2029 ||
           (c & 0xfffe) == 0xfffe || (c >= 0xfdd0 && c <= 0xfdef) || turns_writing(c);
}

static const char *reference(char c)
{
    switch (c) {
    case '&':
        return "&amp;";
    case '<':
        return "&lt;";
    case '>':
        return "&gt;";
    case '"':
        return "&quot;";
    case '\'':
        return "&#39;";
    default:
        return NULL;
    }
}

static void add(struct oxl_buf *out, const char *text, bool markup)
{
    while (*text) {
        size_t n = oxl_utf8_length(text, strnlen(text, 4));
        const char *as = n == 1 && markup ? reference(*text) : NULL;
        if (n == 1 && strchr("\n\r\t", *text))
            as = " ";
        else if (n == 0 || refused(code_point(text, n)))
            as = "?";
        if (as)
            oxl_buf_put(out, as, strlen(as));
        else
            oxl_buf_put(out, text, n);
        text += n ? n : 1;
    }
}

void oxl_clean_add(struct oxl_buf *out, const char *text)
{
    add(out, text, false);
}

void oxl_markup_add(struct oxl_buf *out, const char *text)
{
    add(out, text, true);
}
