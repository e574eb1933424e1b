#include "clean.h"

#include <string.h>

#include "oxylag/safe.h"

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
        else if (oxl_safe_length(text, n) == 0)
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
