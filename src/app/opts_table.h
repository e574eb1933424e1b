/* The options and the commands, a row each: what the parser, the help and the completion know. */
#ifndef OXL_APP_OPTS_TABLE_H
#define OXL_APP_OPTS_TABLE_H

#include <stddef.h>

#include "opts.h"

enum oxl_option_kind { FLAG, TEXT, FIGURE, COUNT, NUMBER, WORD };

struct oxl_option_row {
    const char *name;
    char letter;
    enum oxl_option_kind kind;
    unsigned commands;
    size_t offset;
    double min, max;          /* COUNT, NUMBER; TEXT, FIGURE: max bytes */
    const char *value, *help; /* WORD: value has the words in the order of their enumeration */
};
enum { OXL_OPTION_ROWS = 57 };
extern const struct oxl_option_row oxl_option_rows[OXL_OPTION_ROWS];

struct oxl_command_row {
    const char *name;
    enum oxl_status (*run)(const struct oxl_opts *o, struct oxl_error *err);
    const char *arguments, *does;
    size_t files_min, files_max;
};
extern const struct oxl_command_row oxl_command_rows[OXL_CMD_COUNT];

/* ---- nearest.c: which of some words is meant by one that is none of them. */
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
