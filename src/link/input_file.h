/* Files that are read: opened in one place, so that none that is named can hold the program up. */
#ifndef OXYLAG_LINK_INPUT_FILE_H
#define OXYLAG_LINK_INPUT_FILE_H

#include <stddef.h>
#include <sys/types.h>

/* Opens a regular file to be read and tells its size. -1 when it cannot be, with *why in a few
 * words that stand behind the name. A named pipe, a device or a socket is refused without being
 * waited for or touched: what is read must be there a second time, for its checksum and for a
 * rewind. */
int oxl_input_open(const char *path, size_t *size, const char **why);
/* How many bytes were read from `from` on, fewer than n at the file's end; -1 with errno. */
ssize_t oxl_input_read(int fd, size_t from, char *out, size_t n);

/* ---- sha256.c: SHA-256 (FIPS 180-4) by libnettle, so that a report can name its recording
 * beyond doubt. */
/* 64 lower-case hex digits and a NUL. */
void oxl_sha256(const void *data, size_t n, char out[65]);

#endif
