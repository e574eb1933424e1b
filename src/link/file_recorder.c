#include "oxylag/link.h"

#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "file_sync.h"

enum { BUFFER = 65536, WRITE_EVERY_US = 200000, SYNC_EVERY_US = 1000000 };

/* Handed to the system five times a second, so that a killed program loses little; to the disk
 * once a second, so that a power cut loses a second. */
struct oxl_recorder {
    int fd;
    char *made; /* its name, when it was made by us; NULL: it was there */
    bool regular;
    bool unsynced;
    bool failed;
    bool ticked; /* the two times below are set */
    int64_t wrote_us, synced_us;
    uint64_t in_file; /* bytes of whole lines */
    size_t used;
    struct oxl_sync sync;
    char why[160];
    char buffer[BUFFER];
};

static enum oxl_status refuse(struct oxl_error *err, const char *path, const char *what)
{
    return oxl_fail(err, OXL_ERR_IO, "%s cannot be recorded to: %s: name another file with --out",
                    path, what);
}

/* A name that exists: accepted when there is nothing in it that could be lost. */
static int open_existing(const char *path, const char **what)
{
    struct stat st;
    int fd = open(path, O_WRONLY | O_APPEND | O_NONBLOCK | O_NOFOLLOW | O_CLOEXEC);
    if (fd < 0) {
        *what = errno == ENXIO   ? "it is not a file"
                : errno == ELOOP ? "it is a link"
                                 : strerror(errno);
        return -1;
    }
    if (fstat(fd, &st) != 0 || !(S_ISREG(st.st_mode) || S_ISCHR(st.st_mode)))
        *what = "it is not a file";
    else if (st.st_size > 0)
        *what = "it exists already and is never overwritten";
    else
        return fd;
    close(fd);
    return -1;
}

/* Without this a power cut may lose the new name itself. */
static void sync_folder(const char *path)
{
    char *copy = strdup(path);
    int fd = copy ? open(dirname(copy), O_RDONLY | O_CLOEXEC) : -1;
    if (fd >= 0) {
        (void)fsync(fd);
        close(fd);
    }
    free(copy);
}

static bool is_regular(int fd)
{
    struct stat st;
    return fstat(fd, &st) == 0 && S_ISREG(st.st_mode);
}

/* A file is one program's; a device, such as /dev/null, takes what several write. */
static bool is_taken(int fd)
{
    return is_regular(fd) && flock(fd, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK;
}

static int open_file(const char *path, bool *made, const char **what)
{
    int fd = open(path, O_WRONLY | O_APPEND | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    *made = fd >= 0;
    if (fd >= 0) {
        sync_folder(path);
    } else if (errno == EEXIST) {
        fd = open_existing(path, what);
    } else {
        *what = strerror(errno);
    }
    if (fd >= 0 && is_taken(fd)) {
        *what = "another program is recording to it";
        close(fd);
        fd = -1;
    }
    return fd;
}

enum oxl_status oxl_recorder_open(const char *path, struct oxl_recorder **out,
                                  struct oxl_error *err)
{
    const char *what = "";
    bool made = false;
    *out = NULL;
    int fd = open_file(path, &made, &what);
    if (fd < 0)
        return refuse(err, path, what);
    struct oxl_recorder *r = calloc(1, sizeof *r);
    char *name = r && made ? strdup(path) : NULL;
    if (!r || (made && !name)) {
        if (made)
            (void)unlink(path);
        close(fd);
        free(r);
        return oxl_fail(err, OXL_ERR_NOMEM, "out of memory");
    }
    r->fd = fd;
    r->made = name;
    oxl_sync_start(&r->sync, fd);
    r->regular = is_regular(fd);
    *out = r;
    return OXL_OK;
}

static void fail(struct oxl_recorder *r, int error)
{
    r->failed = true;
    r->used = 0;
    snprintf(r->why, sizeof r->why, "the recording stopped at %llu bytes: %s",
             (unsigned long long)r->in_file, strerror(error));
}

/* How much of the first n bytes is whole lines. */
static size_t whole_lines(const char *text, size_t n)
{
    while (n > 0 && text[n - 1] != '\n')
        n--;
    return n;
}

/* Writes all of it, or fails and leaves whole lines only. */
static void put(struct oxl_recorder *r, const char *text, size_t n)
{
    size_t done = 0;
    while (done < n) {
        ssize_t w = write(r->fd, text + done, n - done);
        if (w < 0 && errno == EINTR)
            continue;
        if (w <= 0) {
            int error = w < 0 ? errno : EIO;
            r->in_file += whole_lines(text, done);
            if (r->regular && done > 0 && ftruncate(r->fd, (off_t)r->in_file) != 0)
                error = errno;
            fail(r, error);
            return;
        }
        done += (size_t)w;
    }
    r->in_file += n;
    r->unsynced = true;
}

static void write_out(struct oxl_recorder *r)
{
    size_t n = r->used;
    if (n == 0 || r->failed)
        return;
    put(r, r->buffer, n);
    r->used = 0;
}

static void sync_out(struct oxl_recorder *r)
{
    if (!r->unsynced || r->failed || !r->regular)
        return;
    r->unsynced = false;
    oxl_sync_ask(&r->sync);
}

/* Told by the thread some time after the wish. */
static void mind_sync(struct oxl_recorder *r)
{
    int error = r->failed ? 0 : oxl_sync_error(&r->sync);
    if (error)
        fail(r, error);
}

void oxl_recorder_line(struct oxl_recorder *r, const char *line, size_t n)
{
    size_t room_for = n + (n > 0 && line[n - 1] != '\n');
    if (n == 0 || r->failed)
        return;
    if (room_for > BUFFER - r->used)
        write_out(r);
    if (r->failed)
        return;
    if (room_for > BUFFER) { /* longer than any line of ours */
        fail(r, EMSGSIZE);
        return;
    }
    memcpy(r->buffer + r->used, line, n);
    r->used += n;
    if (room_for > n)
        r->buffer[r->used++] = '\n';
}

void oxl_recorder_tick(struct oxl_recorder *r, int64_t now_us)
{
    if (!r->ticked) {
        r->ticked = true;
        r->wrote_us = r->synced_us = now_us;
    }
    mind_sync(r);
    if (now_us - r->wrote_us >= WRITE_EVERY_US) {
        write_out(r);
        r->wrote_us = now_us;
    }
    if (now_us - r->synced_us >= SYNC_EVERY_US) {
        write_out(r);
        sync_out(r);
        r->synced_us = now_us;
    }
}

void oxl_recorder_flush(struct oxl_recorder *r)
{
    write_out(r);
    sync_out(r);
}

bool oxl_recorder_failed(const struct oxl_recorder *r, const char **why)
{
    if (why)
        *why = r->failed ? r->why : NULL;
    return r->failed;
}

uint64_t oxl_recorder_bytes(const struct oxl_recorder *r)
{
    return r->in_file + r->used;
}

/* A file that was made for nothing goes again, if it is still the one that was made. */
static void drop_empty(const struct oxl_recorder *r)
{
    struct stat ours, named;
    if (r->made && fstat(r->fd, &ours) == 0 && lstat(r->made, &named) == 0 && ours.st_size == 0 &&
        ours.st_dev == named.st_dev && ours.st_ino == named.st_ino)
        (void)unlink(r->made);
}

enum oxl_status oxl_recorder_close(struct oxl_recorder *r, struct oxl_error *err)
{
    enum oxl_status status = OXL_OK;
    oxl_recorder_flush(r);
    int error = oxl_sync_end(&r->sync);
    if (error && !r->failed)
        fail(r, error);
    drop_empty(r);
    if (close(r->fd) != 0 && !r->failed)
        fail(r, errno);
    if (r->failed)
        status = oxl_fail(err, OXL_ERR_IO, "%s", r->why);
    free(r->made);
    free(r);
    return status;
}
