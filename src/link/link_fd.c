#include "link_inside.h"

#include <errno.h>
#include <libserialport.h>
#include <poll.h>
#include <stdlib.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

static struct oxl_link_fd *of(struct oxl_link *l)
{
    return (struct oxl_link_fd *)(void *)l;
}

static ssize_t take(const struct oxl_link_fd *l, void *buf, size_t n)
{
    ssize_t got;
    do
        got = read(l->fd, buf, n);
    while (got < 0 && errno == EINTR);
    return got;
}

static ssize_t down(int error)
{
    errno = error;
    return -1;
}

/* Zero bytes mean the end on a socket. On a tty they mean "nothing now" (VMIN 0) or a hang-up;
 * poll(2) tells the two apart, and a second read tells bytes that came in between. */
static ssize_t nothing_or_gone(const struct oxl_link_fd *l, void *buf, size_t n)
{
    struct pollfd p = {.fd = l->fd, .events = POLLIN};
    if (l->socket)
        return down(ECONNRESET);
    if (poll(&p, 1, 0) < 0)
        return errno == EINTR ? 0 : -1;
    if (!(p.revents & (POLLIN | POLLHUP | POLLERR | POLLNVAL)))
        return 0;
    ssize_t got = take(l, buf, n);
    if (got == 0)
        return down(EIO);
    return got < 0 && (errno == EAGAIN || errno == EWOULDBLOCK) ? 0 : got;
}

static ssize_t fd_read(struct oxl_link *link, void *buf, size_t n, int64_t now_us)
{
    const struct oxl_link_fd *l = of(link);
    (void)now_us;
    if (n == 0)
        return 0;
    ssize_t got = take(l, buf, n);
    if (got == 0)
        return nothing_or_gone(l, buf, n);
    return got < 0 && (errno == EAGAIN || errno == EWOULDBLOCK) ? 0 : got;
}

static ssize_t fd_write(struct oxl_link *link, const void *buf, size_t n, int64_t now_us)
{
    const struct oxl_link_fd *l = of(link);
    ssize_t put;
    (void)now_us;
    do
        put = l->socket ? send(l->fd, buf, n, MSG_NOSIGNAL) : write(l->fd, buf, n);
    while (put < 0 && errno == EINTR);
    return put < 0 && (errno == EAGAIN || errno == EWOULDBLOCK) ? 0 : put;
}

static int fd_set_speed(struct oxl_link *link, unsigned baud)
{
    struct oxl_link_fd *l = of(link);
    return l->speed ? l->speed(l, baud) : -1;
}

static int fd_fd(const struct oxl_link *link)
{
    return ((const struct oxl_link_fd *)(const void *)link)->fd;
}

static int64_t fd_next_due(const struct oxl_link *link)
{
    (void)link;
    return INT64_MAX;
}

/* A socket keeps what is not acknowledged; only a line can be held. */
static size_t fd_unsent(const struct oxl_link *link)
{
    const struct oxl_link_fd *l = (const void *)link;
    int n = 0;
    return !l->socket && ioctl(l->fd, TIOCOUTQ, &n) == 0 && n > 0 ? (size_t)n : 0;
}

static void fd_close(struct oxl_link *link)
{
    struct oxl_link_fd *l = of(link);
    if (!l->socket) /* or the close waits until a line that may be dead has sent it */
        (void)tcflush(l->fd, TCOFLUSH);
    if (l->port) {
        sp_close(l->port);
        sp_free_port(l->port);
    } else {
        close(l->fd);
    }
    free(l);
}

static const struct oxl_link_ops fd_ops = {
    .read = fd_read,
    .write = fd_write,
    .set_speed = fd_set_speed,
    .fd = fd_fd,
    .next_due_us = fd_next_due,
    .unsent = fd_unsent,
    .close = fd_close,
};

struct oxl_link_fd *oxl_link_fd_new(int fd)
{
    struct oxl_link_fd *l = calloc(1, sizeof *l);
    if (l) {
        l->link.ops = &fd_ops;
        l->fd = fd;
        (void)tcflow(fd, TCOON); /* another program may have stopped the line (no tty: no effect) */
    }
    return l;
}

int oxl_link_lock(int fd)
{
    /* The tty's own exclusive mode stops later opens, except root's; the lock stops ours. */
    if (flock(fd, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK)
        return EBUSY;
    (void)ioctl(fd, TIOCEXCL);
    return 0;
}
