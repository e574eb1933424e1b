/* A command line that is put together from what was chosen, and how it looks in a shell. */
#ifndef OXL_APP_ARGS_H
#define OXL_APP_ARGS_H

#include <stdbool.h>
#include <stddef.h>

enum { OXL_ARGS_MAX = 40, OXL_ARGS_BYTES = 8192 };

struct oxl_args {
    char *argv[OXL_ARGS_MAX + 1]; /* NULL at the end */
    int n;
    char text[OXL_ARGS_BYTES];
    size_t used;
    bool full; /* something had no room: it is not to be run */
};

/* "oxylag COMMAND" */
void oxl_args_start(struct oxl_args *a, const char *command);
void oxl_args_add(struct oxl_args *a, const char *word);
/* "--name value"; nothing when the value is "". */
void oxl_args_option(struct oxl_args *a, const char *name, const char *value);
/* As it would be typed in a shell (POSIX quoting); cut when it does not fit. */
void oxl_args_shown(const struct oxl_args *a, char *out, size_t n);

#endif
