/* Lines to cells (RFC 4180, and its relatives with semicolons or tabs), cells to numbers. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "parts.h"

static struct cell trimmed(const char *text, size_t n)
{
    while (n > 0 && (*text == ' ' || *text == '\t' || *text == '\r'))
        text++, n--;
    while (n > 0 && (text[n - 1] == ' ' || text[n - 1] == '\t' || text[n - 1] == '\r'))
        n--;
    struct cell c = {text, n};
    return c;
}

/* The end of the cell that begins at `at`; false when its quote is not closed. */
static bool cell_end(const char *line, size_t n, char separator, size_t at, size_t *end)
{
    size_t i = at;
    while (i < n && line[i] == ' ')
        i++;
    bool quoted = i < n && line[i] == '"';
    for (i = quoted ? i + 1 : at; i < n; i++) {
        if (quoted && line[i] == '"') {
            if (i + 1 < n && line[i + 1] == '"')
                i++; /* a doubled quote is one quote (RFC 4180 clause 2.7) */
            else
                quoted = false;
        } else if (!quoted && line[i] == separator) {
            break;
        }
    }
    *end = i;
    return !quoted;
}

bool oxl_cells_split(const char *line, size_t n, char separator, struct cell *out, size_t *count)
{
    size_t at = 0, k = 0;
    for (;;) {
        size_t end;
        if (!cell_end(line, n, separator, at, &end))
            return false;
        struct cell c = trimmed(line + at, end - at);
        if (c.n >= 2 && c.text[0] == '"' && c.text[c.n - 1] == '"')
            c = trimmed(c.text + 1, c.n - 2);
        if (k < CELLS_MAX)
            out[k++] = c;
        if (end >= n)
            break;
        at = end + 1;
    }
    *count = k;
    return true;
}

bool oxl_cell_is(struct cell c, const char *name, bool any_case)
{
    struct cell want = trimmed(name, strlen(name));
    size_t i = 0, k = 0;
    for (; i < c.n && k < want.n; i++, k++) {
        char a = c.text[i], b = want.text[k];
        if (any_case ? oxl_lower(a) != oxl_lower(b) : a != b)
            return false;
        if (c.text[i] == '"' && i + 1 < c.n && c.text[i + 1] == '"')
            i++;
    }
    return i == c.n && k == want.n;
}

bool oxl_cell_missing(struct cell c)
{
    static const char *const ways[] = {"", "-", "--", "na", "n/a", "nan", "null", "none"};
    char low[8];
    if (c.n >= sizeof low)
        return false;
    for (size_t i = 0; i < c.n; i++)
        low[i] = oxl_lower(c.text[i]);
    low[c.n] = '\0';
    for (size_t i = 0; i < sizeof ways / sizeof ways[0]; i++)
        if (strcmp(low, ways[i]) == 0)
            return true;
    return false;
}

/* Digits, one point or one comma, an exponent: what strtod would take besides is no number here. */
static bool plain_number(struct cell c, char *out, size_t room)
{
    unsigned marks = 0, digits = 0;
    if (c.n >= room)
        return false;
    for (size_t i = 0; i < c.n; i++) {
        char ch = c.text[i];
        if (ch == '.' || ch == ',') {
            marks++;
            ch = '.';
        } else if (oxl_is_digit(ch)) {
            digits++;
        } else if (ch != '+' && ch != '-' && ch != 'e' && ch != 'E') {
            return false;
        }
        out[i] = ch;
    }
    out[c.n] = '\0';
    return marks <= 1 && digits > 0;
}

/* Where the number ends and the word of its unit begins: "0.68 V". */
static size_t number_length(struct cell c)
{
    size_t n = 0;
    while (n < c.n && c.text[n] && strchr("+-.,0123456789eE", c.text[n]))
        n++;
    return n;
}

enum cell_kind oxl_cell_amount(struct cell c, double *out, struct cell *unit)
{
    size_t n = number_length(c);
    struct cell number = trimmed(c.text, n);
    *unit = trimmed(c.text + n, c.n - n);
    if (oxl_cell_missing(c))
        return CELL_MISSING;
    return number.n ? oxl_cell_number(number, out) : CELL_WRONG;
}

enum cell_kind oxl_cell_number(struct cell c, double *out)
{
    char text[48], *end;
    if (oxl_cell_missing(c))
        return CELL_MISSING;
    if (!plain_number(c, text, sizeof text))
        return CELL_WRONG;
    double v = strtod(text, &end);
    if (*end || !isfinite(v))
        return CELL_WRONG;
    *out = v;
    return CELL_NUMBER;
}
