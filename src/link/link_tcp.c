#include "address.h"
#include "link_inside.h"

#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum { CONNECT_LIMIT_MS = 3000 };

static int64_t now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

/* Waits for a connect that is under way; 0 or an errno. */
static int finish_connect(int fd, int64_t deadline_ms)
{
    for (;;) {
        struct pollfd p = {.fd = fd, .events = POLLOUT};
        int64_t left = deadline_ms - now_ms();
        int r = poll(&p, 1, left > 0 ? (int)left : 0);
        if (r < 0 && errno != EINTR)
            return errno;
        if (r > 0)
            break;
        if (left <= 0)
            return ETIMEDOUT;
    }
    int error = 0;
    socklen_t n = sizeof error;
    return getsockopt(fd, SOL_SOCKET, SO_ERROR, &error, &n) == 0 ? error : errno;
}

/* A connected non-blocking socket, or -1 with *error set. */
static int connect_one(const struct addrinfo *a, int64_t deadline_ms, int *error)
{
    int fd = socket(a->ai_family, a->ai_socktype, a->ai_protocol), one = 1;
    if (fd < 0) {
        *error = errno;
        return -1;
    }
    *error = 0;
    if (fcntl(fd, F_SETFL, O_NONBLOCK) != 0 || fcntl(fd, F_SETFD, FD_CLOEXEC) != 0)
        *error = errno;
    else if (connect(fd, a->ai_addr, a->ai_addrlen) != 0)
        *error = errno == EINPROGRESS ? finish_connect(fd, deadline_ms) : errno;
    if (*error) {
        close(fd);
        return -1;
    }
    /* Requests are a few bytes each and wait for an answer: no gathering (Nagle). */
    (void)setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
    return fd;
}

static enum oxl_status refused(const char *where, int error, struct oxl_error *err)
{
    if (error == ECONNREFUSED)
        return oxl_fail(err, OXL_ERR_PORT_OPEN,
                        "nothing listens at %s: is the adapter on, and is the port number right?",
                        where);
    if (error == ETIMEDOUT || error == EHOSTUNREACH || error == ENETUNREACH)
        return oxl_fail(err, OXL_ERR_PORT_OPEN,
                        "%s cannot be reached: is this computer in the adapter's network?", where);
    return oxl_fail(err, OXL_ERR_PORT_OPEN, "%s: %s", where, strerror(error));
}

static enum oxl_status unknown_host(const char *host, int gai, struct oxl_error *err)
{
    return oxl_fail(err, OXL_ERR_PORT_MISSING, "the host %s is not known (%s)", host,
                    gai_strerror(gai));
}

enum oxl_status oxl_link_tcp(const char *where, struct oxl_link **out, struct oxl_error *err)
{
    struct oxl_address to;
    struct addrinfo hints = {.ai_family = AF_UNSPEC, .ai_socktype = SOCK_STREAM}, *list = NULL;
    int fd = -1, error = 0;
    enum oxl_status st = oxl_address_parse(where, false, &to, err);
    if (st != OXL_OK)
        return st;
    int gai = getaddrinfo(to.host, to.service, &hints, &list);
    if (gai != 0)
        return unknown_host(to.host, gai, err);
    int64_t deadline_ms = now_ms() + CONNECT_LIMIT_MS;
    for (const struct addrinfo *a = list; a && fd < 0; a = a->ai_next)
        fd = connect_one(a, deadline_ms, &error);
    freeaddrinfo(list);
    if (fd < 0)
        return refused(where, error, err);
    struct oxl_link_fd *l = oxl_link_fd_new(fd);
    if (!l) {
        close(fd);
        return oxl_fail(err, OXL_ERR_NOMEM, "out of memory");
    }
    l->socket = true;
    *out = &l->link;
    return OXL_OK;
}

void oxl_link_known(struct oxl_link *l, char *out, size_t n)
{
    struct sockaddr_storage a;
    socklen_t len = sizeof a;
    struct oxl_address at;
    int fd = l->ops->fd(l);
    out[0] = '\0';
    if (fd < 0 || getpeername(fd, (struct sockaddr *)&a, &len) != 0 ||
        getnameinfo((struct sockaddr *)&a, len, at.host, sizeof at.host, at.service,
                    sizeof at.service, NI_NUMERICHOST | NI_NUMERICSERV) != 0)
        return;
    bool v6 = a.ss_family == AF_INET6;
    int got = snprintf(out, n, "tcp:%s%s%s:%s", v6 ? "[" : "", at.host, v6 ? "]" : "", at.service);
    if (got < 0 || (size_t)got >= n)
        out[0] = '\0';
}
