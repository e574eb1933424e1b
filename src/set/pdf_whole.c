#include "pdf_whole.h"

#include <string.h>

/* A part of the file that is read from its start to its end. */
struct piece {
    const char *at, *end;
};

static bool skip(struct piece *p, const char *words)
{
    size_t n = strlen(words);
    if ((size_t)(p->end - p->at) < n || memcmp(p->at, words, n) != 0)
        return false;
    p->at += n;
    return true;
}

static bool number(struct piece *p, size_t *out)
{
    const char *from = p->at;
    *out = 0;
    while (p->at < p->end && *p->at >= '0' && *p->at <= '9' && p->at - from < 12)
        *out = *out * 10 + (size_t)(*p->at++ - '0');
    return p->at > from;
}

/* "startxref", where the table is, and the mark of the end are the last three lines. */
static bool find_table(const char *data, size_t n, struct piece *table)
{
    enum { TAIL = 64 };
    size_t at = n > TAIL ? n - TAIL : 0, offset;
    struct piece tail = {NULL, data + n};
    for (; at + 9 <= n && !tail.at; at++)
        if (memcmp(data + at, "startxref", 9) == 0)
            tail.at = data + at;
    if (!tail.at || !skip(&tail, "startxref\n") || !number(&tail, &offset) ||
        !skip(&tail, "\n%%EOF\n") || tail.at != tail.end || offset >= n)
        return false;
    *table = (struct piece){data + offset, data + n};
    return true;
}

static bool begins_at(const char *data, size_t n, size_t offset, size_t object)
{
    struct piece p = {data + (offset < n ? offset : n), data + n};
    size_t found;
    return number(&p, &found) && found == object && skip(&p, " 0 obj");
}

bool oxl_pdf_is_whole(const char *data, size_t n)
{
    struct piece table;
    size_t objects, offset;
    if (n < 5 || memcmp(data, "%PDF-", 5) != 0 || !find_table(data, n, &table) ||
        !skip(&table, "xref\n0 ") || !number(&table, &objects) || objects < 2 ||
        !skip(&table, "\n0000000000 65535 f \n"))
        return false;
    for (size_t i = 1; i < objects; i++)
        if (!number(&table, &offset) || !skip(&table, " 00000 n \n") ||
            !begins_at(data, n, offset, i))
            return false;
    return skip(&table, "trailer\n<<");
}
