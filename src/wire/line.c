#include "wire/line.h"

enum oxl_line_event oxl_line_push(struct oxl_line *l, uint8_t byte, int64_t t_us)
{
    if (byte == '\r' || byte == '\n')
        return OXL_LINE_END;
    if (byte == '>')
        return OXL_LINE_PROMPT;
    char c = byte == '\t' ? ' ' : (char)byte;
    if (l->len == 0 && !l->overlong) {
        /* Blanks do not begin a line, nor do more dots behind SEARCHING... */
        if (c == ' ' || (l->glued && c == '.'))
            return OXL_LINE_MORE;
        l->first_us = t_us;
    }
    if (c != ' ')
        l->last_us = t_us;
    if (l->len >= OXL_LINE_MAX)
        l->overlong = true;
    if (l->overlong)
        return OXL_LINE_MORE;
    l->text[l->len++] = c;
    return c == '.' ? OXL_LINE_DOT : OXL_LINE_MORE;
}

size_t oxl_line_go_on(struct oxl_line *l, const uint8_t *bytes, size_t n, int64_t t_us)
{
    size_t taken = 0, room = OXL_LINE_MAX - l->len;
    char *to = l->text + l->len;
    if (l->len == 0 || l->overlong)
        return 0;
    for (; taken < n && taken < room; taken++) {
        uint8_t c = bytes[taken];
        if (!(c >= '0' && c <= '9') && !(c >= 'A' && c <= 'Z'))
            break;
        to[taken] = (char)c;
    }
    l->len += taken;
    if (taken > 0)
        l->last_us = t_us;
    return taken;
}

bool oxl_line_is_blank(const struct oxl_line *l)
{
    return l->len == 0 && !l->overlong && !l->glued;
}

bool oxl_line_finish(struct oxl_line *l)
{
    while (l->len > 0 && l->text[l->len - 1] == ' ')
        l->len--;
    l->text[l->len] = '\0';
    for (size_t i = 0; i < l->len; i++) {
        unsigned char c = (unsigned char)l->text[i];
        if (c < 0x20 || c > 0x7e)
            return false;
    }
    return true;
}

void oxl_line_clear(struct oxl_line *l)
{
    l->len = 0;
    l->overlong = false;
    l->glued = false;
}

void oxl_line_cut_lead(struct oxl_line *l)
{
    l->len = 0;
    l->glued = true;
}

size_t oxl_line_compact(const char *text, char *out)
{
    size_t n = 0;
    for (; *text && n < OXL_LINE_MAX; text++) {
        char c = *text;
        if (c == ' ')
            continue;
        out[n++] = c >= 'a' && c <= 'z' ? (char)(c - 'a' + 'A') : c;
    }
    out[n] = '\0';
    return n;
}
