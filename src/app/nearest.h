/* Did you mean: which of some words is meant by one that is none of them. */
#ifndef OXL_APP_NEAREST_H
#define OXL_APP_NEAREST_H

#include <stddef.h>

struct oxl_nearest {
    const char *typed;
    const char *meant; /* NULL: none is near */
    unsigned edits;    /* by which it differs */
};

/* The least number of letters to add, drop, change or swap with their neighbour that makes one word
 * of the other; words of more than 31 letters are far from everything. */
unsigned oxl_edits(const char *a, const char *b);
/* Takes the candidate when it is nearer than the last one, and near at all: one edit in three
 * letters. Not owned. */
void oxl_nearest_try(struct oxl_nearest *n, const char *candidate);
/* ": did you mean demo?", or "" when none is near. */
const char *oxl_nearest_text(const struct oxl_nearest *n, char *out, size_t size);

#endif
