#include "report.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

/* What a library says when it gives up is no line of ours, and its core file no use to anybody. */
static void be_quiet(void)
{
    const struct rlimit none = {0, 0};
    int null = open("/dev/null", O_WRONLY | O_CLOEXEC);
    if (null >= 0)
        (void)dup2(null, STDERR_FILENO);
    (void)setrlimit(RLIMIT_CORE, &none);
}

static bool write_all(int fd, const struct oxl_buf *b)
{
    for (size_t done = 0; done < b->len;) {
        ssize_t n = write(fd, b->data + done, b->len - done);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return false;
        done += (size_t)n;
    }
    return true;
}

/* The child: it ends here, without the parent's open files being written a second time. */
static void do_work(void (*work)(void *ctx, struct oxl_buf *out), void *ctx, int fd)
{
    struct oxl_buf b = {0};
    be_quiet();
    work(ctx, &b);
    _exit(!b.failed && write_all(fd, &b) ? EXIT_SUCCESS : EXIT_FAILURE);
}

static void read_all(int fd, struct oxl_buf *out)
{
    char piece[16384];
    for (;;) {
        ssize_t n = read(fd, piece, sizeof piece);
        if (n < 0 && errno == EINTR)
            continue;
        out->failed = out->failed || n < 0;
        if (n <= 0)
            return;
        oxl_buf_put(out, piece, (size_t)n);
    }
}

static bool ended_well(pid_t child)
{
    int how = 0;
    while (waitpid(child, &how, 0) < 0)
        if (errno != EINTR)
            return false;
    return WIFEXITED(how) && WEXITSTATUS(how) == EXIT_SUCCESS;
}

void oxl_in_child_process(void (*work)(void *ctx, struct oxl_buf *out), void *ctx,
                          struct oxl_buf *out)
{
    int ends[2];
    if (pipe(ends) != 0) {
        out->failed = true;
        return;
    }
    pid_t child = fork();
    if (child == 0) {
        close(ends[0]);
        do_work(work, ctx, ends[1]);
    }
    close(ends[1]);
    if (child > 0)
        read_all(ends[0], out);
    close(ends[0]);
    if (child < 0 || !ended_well(child))
        out->failed = true;
}
