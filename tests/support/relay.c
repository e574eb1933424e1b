/* The bad network of an end-to-end test: passes bytes between a tester and a served simulator, and
 * misbehaves when told to.
 *
 *   relay TARGET_PORT     on 127.0.0.1; says the port that it listens on
 *
 * Commands, a line each on standard input:
 *   flood, calm   sends the tester what nobody asked for, without end; stops that
 *   cut           closes the connection
 *   deaf, hear    a new connection is neither taken nor refused, so that it hangs; takes them again
 *   quit
 * At the end of a flood it says how many bytes were taken. */
#define _GNU_SOURCE 1
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum { STUFFING = 8 };

struct relay {
    int listener, tester, target;
    struct sockaddr_in here, there;
    bool flooding, deaf, quit;
    unsigned long long flooded;
    int stuffing[STUFFING]; /* connections that fill the listener's queue */
};

static void drop(int *fd)
{
    if (*fd >= 0)
        close(*fd);
    *fd = -1;
}

static void listen_again(struct relay *r, int backlog)
{
    int one = 1;
    socklen_t n = sizeof r->here;
    drop(&r->listener);
    r->listener = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    setsockopt(r->listener, SOL_SOCKET, SO_REUSEADDR, &one, sizeof one);
    if (bind(r->listener, (struct sockaddr *)&r->here, sizeof r->here) != 0 ||
        listen(r->listener, backlog) != 0)
        exit(9);
    getsockname(r->listener, (struct sockaddr *)&r->here, &n);
}

static void cut(struct relay *r)
{
    drop(&r->tester);
    drop(&r->target);
}

static void be_deaf(struct relay *r)
{
    listen_again(r, 0);
    for (int i = 0; i < STUFFING; i++) {
        r->stuffing[i] = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
        (void)connect(r->stuffing[i], (struct sockaddr *)&r->here, sizeof r->here);
    }
    r->deaf = true;
}

static void hear(struct relay *r)
{
    for (int i = 0; i < STUFFING; i++)
        drop(&r->stuffing[i]);
    listen_again(r, 4);
    r->deaf = false;
}

static void obey(struct relay *r, const char *line)
{
    if (strcmp(line, "flood\n") == 0)
        r->flooding = true;
    else if (strcmp(line, "cut\n") == 0)
        cut(r);
    else if (strcmp(line, "deaf\n") == 0)
        be_deaf(r);
    else if (strcmp(line, "hear\n") == 0)
        hear(r);
    else if (strcmp(line, "calm\n") == 0)
        r->flooding = false;
    else
        r->quit = true;
    if (strcmp(line, "calm\n") == 0)
        printf("flooded %llu\n", r->flooded);
}

static void take(struct relay *r)
{
    int fd = accept(r->listener, NULL, NULL);
    if (fd < 0)
        return;
    cut(r);
    r->tester = fd;
    r->target = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (connect(r->target, (struct sockaddr *)&r->there, sizeof r->there) != 0)
        cut(r);
}

static void pass(struct relay *r, int from, int to)
{
    char buf[4096];
    ssize_t n = recv(from, buf, sizeof buf, MSG_DONTWAIT);
    if (n == 0 || (n < 0 && errno != EAGAIN))
        cut(r);
    else if (n > 0 && send(to, buf, (size_t)n, MSG_NOSIGNAL) != n)
        cut(r);
}

static void flood(struct relay *r)
{
    static char junk[65536];
    for (size_t i = 0; i < sizeof junk; i++)
        junk[i] = "7E8 04 41 0C 0D A7\r7F FF\r>"[i % 26];
    ssize_t n = send(r->tester, junk, sizeof junk, MSG_NOSIGNAL | MSG_DONTWAIT);
    if (n > 0)
        r->flooded += (unsigned long long)n;
    else if (n < 0 && errno != EAGAIN)
        cut(r);
}

static void one_round(struct relay *r)
{
    bool pour = r->flooding && r->tester >= 0;
    struct pollfd p[4] = {{STDIN_FILENO, POLLIN, 0},
                          {r->deaf ? -1 : r->listener, POLLIN, 0},
                          {r->tester, (short)(POLLIN | (pour ? POLLOUT : 0)), 0},
                          {r->target, POLLIN, 0}};
    char line[64];
    poll(p, 4, 50);
    if (p[0].revents) {
        r->quit = !fgets(line, sizeof line, stdin);
        if (!r->quit)
            obey(r, line);
    }
    if (p[1].revents && r->listener == p[1].fd)
        take(r);
    if (p[2].revents & ~POLLOUT && r->tester == p[2].fd)
        pass(r, r->tester, r->target);
    if (p[3].revents && r->target == p[3].fd)
        pass(r, r->target, r->tester);
    if (pour && r->tester >= 0)
        flood(r);
}

int main(int argc, char **argv)
{
    struct relay r = {.listener = -1, .tester = -1, .target = -1};
    if (argc != 2)
        return 2;
    for (int i = 0; i < STUFFING; i++)
        r.stuffing[i] = -1;
    setvbuf(stdout, NULL, _IOLBF, 0);
    setvbuf(stdin, NULL, _IONBF, 0);
    r.here.sin_family = r.there.sin_family = AF_INET;
    r.here.sin_addr.s_addr = r.there.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    r.there.sin_port = htons((uint16_t)strtoul(argv[1], NULL, 10));
    listen_again(&r, 4);
    printf("tcp:127.0.0.1:%u\n", (unsigned)ntohs(r.here.sin_port));
    while (!r.quit)
        one_round(&r);
    return 0;
}
