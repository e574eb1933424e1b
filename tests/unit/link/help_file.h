/* A folder of its own for every test, and a header line. */
#ifndef OXYLAG_TEST_HELP_FILE_H
#define OXYLAG_TEST_HELP_FILE_H

#include <stddef.h>

/* Setup and teardown for cmocka: *state is the folder's path; teardown removes all in it. */
int make_folder(void **state);
int remove_folder(void **state);

/* folder/name; static storage, four in turn. */
const char *in_folder(void **state, const char *name);
/* The whole file, NUL-terminated; free it. */
char *slurp(const char *path, size_t *n);
void spill(const char *path, const void *data, size_t n);
/* A legal first line with its newline. Returns its length. */
size_t header_line(char *out, size_t n);

#endif
