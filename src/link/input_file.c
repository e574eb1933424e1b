#include "input_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* NULL for a regular file. */
static const char *what_else(const struct stat *st)
{
    if (S_ISREG(st->st_mode))
        return NULL;
    if (S_ISDIR(st->st_mode))
        return "it is a folder: name the file in it";
    if (S_ISFIFO(st->st_mode))
        return "it is a pipe: save what comes out of it in a file first, and name that";
    return "it is a device or a socket: name a file";
}

static int refuse(int fd, const char *what, const char **why)
{
    *why = what;
    if (fd >= 0)
        close(fd);
    return -1;
}

int oxl_input_open(const char *path, size_t *size, const char **why)
{
    struct stat st;
    const char *what;
    if (!path[0])
        return refuse(-1, "the name is empty", why);
    /* Looked at before it is opened: opening a tape or a terminal can move it. */
    if (stat(path, &st) != 0)
        return refuse(-1, strerror(errno), why);
    if ((what = what_else(&st)))
        return refuse(-1, what, why);
    /* Non-blocking, since a pipe may have taken the name meanwhile. */
    int fd = open(path, O_RDONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    if (fd < 0 || fstat(fd, &st) != 0)
        return refuse(fd, strerror(errno), why);
    if ((what = what_else(&st)))
        return refuse(fd, what, why);
    *size = st.st_size < 0 || (uintmax_t)st.st_size > SIZE_MAX ? SIZE_MAX : (size_t)st.st_size;
    return fd;
}

ssize_t oxl_input_read(int fd, size_t from, char *out, size_t n)
{
    size_t done = 0;
    for (ssize_t got = 1; got != 0 && done < n;) {
        got = pread(fd, out + done, n - done, (off_t)(from + done));
        if (got < 0 && errno != EINTR)
            return -1;
        done += got > 0 ? (size_t)got : 0;
    }
    return (ssize_t)done;
}
