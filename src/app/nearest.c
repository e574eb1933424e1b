#include "opts_table.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>

enum { LONGEST = 31 };

static unsigned least(unsigned a, unsigned b)
{
    return a < b ? a : b;
}

/* Optimal string alignment, row by row over the letters of a. */
unsigned oxl_edits(const char *a, const char *b)
{
    unsigned rows[3][LONGEST + 1] = {{0}};
    size_t an = strlen(a), bn = strlen(b);
    if (an > LONGEST || bn > LONGEST)
        return UINT_MAX;
    for (size_t j = 0; j <= bn; j++)
        rows[0][j] = (unsigned)j;
    for (size_t i = 1; i <= an; i++) {
        unsigned *now = rows[i % 3];
        const unsigned *last = rows[(i + 2) % 3], *before = rows[(i + 1) % 3];
        now[0] = (unsigned)i;
        for (size_t j = 1; j <= bn; j++) {
            now[j] = least(least(last[j], now[j - 1]) + 1, last[j - 1] + (a[i - 1] != b[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                now[j] = least(now[j], before[j - 2] + 1);
        }
    }
    return rows[an % 3][bn];
}

void oxl_nearest_try(struct oxl_nearest *n, const char *candidate)
{
    unsigned edits = oxl_edits(n->typed, candidate);
    if (edits > (strlen(candidate) + 2) / 3 || (n->meant && edits >= n->edits))
        return;
    n->meant = candidate;
    n->edits = edits;
}

const char *oxl_nearest_text(const struct oxl_nearest *n, char *out, size_t size)
{
    if (n->meant)
        snprintf(out, size, ": did you mean %s?", n->meant);
    else if (size > 0)
        out[0] = '\0';
    return out;
}
