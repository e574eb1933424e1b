/* The options and the commands, a row each: what the parser, the help and the completion know. */
#ifndef OXL_APP_OPTS_TABLE_H
#define OXL_APP_OPTS_TABLE_H

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
    const char *name, *arguments, *does;
    size_t files_min, files_max;
};
extern const struct oxl_command_row oxl_command_rows[OXL_CMD_COUNT];

#endif
