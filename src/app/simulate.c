/* simulate: the simulated adapter and vehicle for any program, over TCP or a pseudo-terminal, in
 * real time. A technician who does not see the tester works the gas: steady idle, gas, hold, cut,
 * and again. */
#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include "clock.h"
#include "commands.h"
#include "link/address.h"
#include "oxylag/sim.h"

enum { PORTIONS = 16 }; /* of 512 bytes, in a round: a client that floods holds up nothing */

struct server {
    const struct oxl_opts *opts;
    struct oxl_sim *sim;
    int listen_fd; /* TCP only */
    int fd;        /* the client, or the pty's master */
    int keep_fd;   /* pty: our own slave, so that the master does not hang up between clients */
    bool pty, unplugged;
    int64_t start_us;
    FILE *truth;
    size_t truths;
    char out[4096];
    size_t out_n;
};

static int64_t now_us(const struct server *s)
{
    return oxl_wall_us() - s->start_us;
}

static void close_fd(int fd)
{
    if (fd >= 0)
        close(fd);
}

/* Only what is a symbolic link is ever taken away. */
static void drop_name(const char *path)
{
    struct stat about;
    if (path && lstat(path, &about) == 0 && S_ISLNK(about.st_mode))
        unlink(path);
}

/* ---- opening --------------------------------------------------------------------------------- */
static int listen_on(const struct addrinfo *a)
{
    int one = 1;
    int fd = socket(a->ai_family, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return -1;
    setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &one, sizeof one);
    if (bind(fd, a->ai_addr, a->ai_addrlen) == 0 && listen(fd, 1) == 0)
        return fd;
    close(fd);
    return -1;
}

static bool is_loopback(const char *host)
{
    static const char mapped[] = "::ffff:"; /* RFC 4291 section 2.5.5.2 */
    if (strncmp(host, mapped, sizeof mapped - 1) == 0)
        host += sizeof mapped - 1;
    return strncmp(host, "127.", 4) == 0 || strcmp(host, "::1") == 0;
}

static void say_address(const struct server *s)
{
    struct sockaddr_storage a;
    socklen_t len = sizeof a;
    char host[NI_MAXHOST] = "", port[NI_MAXSERV];
    if (getsockname(s->listen_fd, (struct sockaddr *)&a, &len) == 0 &&
        getnameinfo((struct sockaddr *)&a, len, host, sizeof host, port, sizeof port,
                    NI_NUMERICHOST | NI_NUMERICSERV) == 0)
        printf(strchr(host, ':') ? "tcp:[%s]:%s\n" : "tcp:%s:%s\n", host, port);
    fflush(stdout);
    if (!is_loopback(host))
        fprintf(stderr,
                "oxylag: others in the network can reach this port; 127.0.0.1 keeps it on this "
                "machine\n");
}

static enum oxl_status open_tcp(struct server *s, struct oxl_error *err)
{
    struct oxl_address at;
    enum oxl_status st = oxl_address_parse(s->opts->listen + 4, true, &at, err);
    if (st != OXL_OK)
        return st;
    struct addrinfo hints = {.ai_family = AF_UNSPEC, .ai_socktype = SOCK_STREAM}, *list = NULL;
    hints.ai_flags = AI_PASSIVE;
    if (getaddrinfo(at.host, at.service, &hints, &list) != 0)
        return oxl_fail(err, OXL_ERR_PORT_MISSING, "--listen: \"%s\" is no address of this machine",
                        s->opts->listen);
    for (const struct addrinfo *a = list; a && s->listen_fd < 0; a = a->ai_next)
        s->listen_fd = listen_on(a);
    freeaddrinfo(list);
    if (s->listen_fd < 0)
        return oxl_fail(err, OXL_ERR_PORT_OPEN, "%s: cannot listen there (%s)", s->opts->listen,
                        strerror(errno));
    fcntl(s->listen_fd, F_SETFL, O_NONBLOCK);
    say_address(s);
    return OXL_OK;
}

/* Again after each time that the plug was pulled, when nobody may be listening any more. */
static void say_name(const char *name)
{
    struct pollfd out = {.fd = STDOUT_FILENO, .events = POLLOUT};
    if (poll(&out, 1, 0) == 1 && out.revents & POLLOUT) {
        printf("%s\n", name);
        fflush(stdout);
    }
}

static enum oxl_status open_pty(struct server *s, struct oxl_error *err)
{
    char name[128];
    s->pty = true;
    s->fd = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (s->fd < 0 || grantpt(s->fd) != 0 || unlockpt(s->fd) != 0 ||
        ptsname_r(s->fd, name, sizeof name) != 0)
        return oxl_fail(err, OXL_ERR_PORT_OPEN, "cannot make a pseudo-terminal (%s)",
                        strerror(errno));
    s->keep_fd = open(name, O_RDWR | O_NOCTTY | O_CLOEXEC);
    struct termios t;
    if (s->keep_fd >= 0 && tcgetattr(s->keep_fd, &t) == 0) {
        cfmakeraw(&t);
        tcsetattr(s->keep_fd, TCSANOW, &t);
    }
    drop_name(s->opts->symlink);
    if (s->opts->symlink && symlink(name, s->opts->symlink) != 0)
        return oxl_fail(err, OXL_ERR_IO, "%s: cannot be made (%s)", s->opts->symlink,
                        strerror(errno));
    say_name(name);
    return OXL_OK;
}

/* ---- serving --------------------------------------------------------------------------------- */
static void drop_client(struct server *s)
{
    if (s->fd >= 0 && !s->pty) {
        close(s->fd);
        s->fd = -1;
    }
    s->out_n = 0;
}

static void let_go(struct server *s)
{
    close_fd(s->fd);
    close_fd(s->keep_fd);
    s->fd = s->keep_fd = -1;
}

/* The plug is pulled: a socket is reset, a terminal is gone. */
static void hang_up(struct server *s)
{
    struct linger at_once = {.l_onoff = 1, .l_linger = 0};
    s->unplugged = true;
    s->out_n = 0;
    if (s->fd >= 0 && !s->pty)
        setsockopt(s->fd, SOL_SOCKET, SO_LINGER, &at_once, sizeof at_once);
    let_go(s);
    if (s->pty)
        drop_name(s->opts->symlink);
}

/* Back again; a terminal has another name then, as real ones may. */
static void plug_in(struct server *s)
{
    s->unplugged = false;
    if (s->pty && open_pty(s, NULL) != OXL_OK) {
        let_go(s);
        s->unplugged = true; /* tried again in the next round */
    }
}

static void take_client(struct server *s)
{
    int fd = s->listen_fd >= 0 ? accept(s->listen_fd, NULL, NULL) : -1;
    if (fd < 0)
        return;
    fcntl(fd, F_SETFL, O_NONBLOCK);
    fcntl(fd, F_SETFD, FD_CLOEXEC);
    s->fd = fd;
}

/* The speed that the client has set on its side: a pty carries it though it has no line, so a
 * tester with the wrong speed is garbled as on a real one. 0: none. */
static unsigned client_speed(const struct server *s)
{
    return s->pty ? oxl_tty_baud(s->fd) : 0;
}

static void read_client(struct server *s)
{
    char buf[512];
    for (int portions = 0; s->fd >= 0 && portions < PORTIONS; portions++) {
        ssize_t n = read(s->fd, buf, sizeof buf);
        if (n < 0 && (errno == EAGAIN || errno == EINTR))
            return;
        if (n <= 0) { /* a pty's master sees no end */
            drop_client(s);
            return;
        }
        oxl_sim_write(s->sim, buf, (size_t)n, client_speed(s), now_us(s));
    }
}

/* A client that does not read loses what its adapter has no more room for, as on a serial line. */
static void lose(struct server *s)
{
    char lost[512];
    while (oxl_sim_read(s->sim, lost, sizeof lost, now_us(s)) == sizeof lost) {
    }
}

static void write_client(struct server *s)
{
    if (s->out_n == sizeof s->out)
        lose(s);
    s->out_n += oxl_sim_read(s->sim, s->out + s->out_n, sizeof s->out - s->out_n, now_us(s));
    if (s->fd < 0) {
        s->out_n = 0; /* no client: what the adapter sends is lost */
        return;
    }
    ssize_t n = s->out_n ? write(s->fd, s->out, s->out_n) : 0;
    if (n < 0 && errno != EAGAIN && errno != EINTR)
        drop_client(s);
    if (n > 0) {
        s->out_n -= (size_t)n;
        memmove(s->out, s->out + n, s->out_n);
    }
}

static void write_truth(struct server *s)
{
    if (s->truth && s->truths < oxl_sim_truth_count(s->sim)) {
        oxl_truth_rest(s->sim, &s->truths, s->truth);
        fflush(s->truth);
    }
}

static void one_round(struct server *s)
{
    int64_t due_us = oxl_sim_due_us(s->sim);
    int64_t until_us = oxl_wall_us() + 50000;
    if (due_us != INT64_MAX && s->start_us + due_us + 1 < until_us)
        until_us = s->start_us + due_us + 1;
    int listen_fd = s->unplugged ? -1 : s->listen_fd;
    oxl_wait(s->fd >= 0 ? s->fd : listen_fd, s->fd >= 0 && s->out_n > 0, -1, until_us);
    bool plugged = oxl_sim_plugged(s->sim, now_us(s));
    if (!plugged && !s->unplugged)
        hang_up(s);
    if (plugged && s->unplugged)
        plug_in(s);
    if (plugged && s->fd < 0)
        take_client(s);
    read_client(s);
    write_client(s);
    write_truth(s);
}

static enum oxl_status open_truth(struct server *s, struct oxl_error *err)
{
    enum oxl_status st = s->opts->truth ? oxl_create_file(s->opts->truth, &s->truth, err) : OXL_OK;
    if (s->truth)
        oxl_truth_header(s->sim, s->truth);
    return st;
}

static enum oxl_status open_where(struct server *s, struct oxl_error *err)
{
    if (strcmp(s->opts->listen, "pty") == 0)
        return open_pty(s, err);
    if (strncmp(s->opts->listen, "tcp:", 4) == 0)
        return open_tcp(s, err);
    return oxl_fail(err, OXL_ERR_USAGE, "--listen: found \"%s\", expected tcp:HOST:PORT or pty",
                    s->opts->listen);
}

enum oxl_status oxl_cmd_simulate(const struct oxl_opts *o, struct oxl_error *err)
{
    struct server s = {.opts = o, .listen_fd = -1, .fd = -1, .keep_fd = -1};
    struct oxl_scenario *scenario;
    enum oxl_status st = oxl_load_scenario(o->scenario ? o->scenario : "good", &scenario, err);
    if (st != OXL_OK)
        return st;
    s.sim = oxl_sim_new(scenario, o->seed, OXL_TECH_ALONE);
    oxl_scenario_free(scenario);
    if (!s.sim)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory");
    s.start_us = oxl_wall_us();
    st = open_truth(&s, err);
    if (st == OXL_OK)
        st = open_where(&s, err);
    oxl_signals_catch();
    while (st == OXL_OK && !oxl_signal_seen() &&
           (o->seconds <= 0 || (double)now_us(&s) < o->seconds * 1e6))
        one_round(&s);
    if (s.truth)
        fclose(s.truth);
    close_fd(s.fd);
    close_fd(s.listen_fd);
    close_fd(s.keep_fd);
    if (s.pty)
        drop_name(o->symlink);
    oxl_sim_free(s.sim);
    return st;
}
