#include "oxylag/link.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "input_file.h"
#include "oxylag/record.h"

enum { SIZE_LIMIT = 1 << 30 };

static enum oxl_status refuse(struct oxl_error *err, const char *path, const char *what)
{
    return oxl_fail(err, OXL_ERR_FORMAT, "%s is not a recording: %s", path, what);
}

/* Every line is written with its newline; what follows the last one was cut off. */
static void drop_torn_line(struct oxl_recording *r)
{
    size_t n = r->size;
    while (n > 0 && r->text[n - 1] != '\n')
        n--;
    r->torn = n < r->size;
    r->size = n;
    r->text[n] = '\0';
}

static enum oxl_status check_header(const struct oxl_recording *r, const char *path,
                                    struct oxl_error *err)
{
    struct oxl_record_header header;
    const char *end = memchr(r->text, '\n', r->size);
    if (!end)
        return refuse(err, path, "its first line has no end");
    return oxl_record_decode_header(r->text, (size_t)(end - r->text), &header, path, err);
}

static enum oxl_status load(int fd, const char *path, struct oxl_recording *out,
                            struct oxl_error *err)
{
    if (out->size == 0)
        return refuse(err, path, "it is empty");
    if (out->size > SIZE_LIMIT)
        return refuse(err, path, "it is larger than 1 GiB");
    out->text = malloc(out->size + 1);
    if (!out->text)
        return oxl_fail(err, OXL_ERR_NOMEM, "out of memory");
    const ssize_t got = oxl_input_read(fd, 0, out->text, out->size);
    if (got < 0)
        return oxl_fail(err, OXL_ERR_FORMAT, "%s cannot be read: %s", path, strerror(errno));
    out->size = (size_t)got; /* a file that grows meanwhile is taken as it was */
    oxl_sha256(out->text, out->size, out->sha256);
    drop_torn_line(out);
    return check_header(out, path, err);
}

enum oxl_status oxl_recording_load(const char *path, struct oxl_recording *out,
                                   struct oxl_error *err)
{
    *out = (struct oxl_recording){0};
    const char *why = "";
    int fd = oxl_input_open(path, &out->size, &why);
    if (fd < 0)
        return oxl_fail(err, OXL_ERR_FORMAT, "%s cannot be read: %s", path[0] ? path : "\"\"", why);
    enum oxl_status status = load(fd, path, out, err);
    close(fd);
    if (status != OXL_OK)
        oxl_recording_free(out);
    return status;
}

void oxl_recording_free(struct oxl_recording *r)
{
    free(r->text);
    *r = (struct oxl_recording){0};
}
