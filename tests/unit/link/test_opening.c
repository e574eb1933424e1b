/* Opening beside the caller: the caller waits for nothing, whatever the port does. */
#include "oxylag/link.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>

#include <cmocka.h>

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum { STUFFING = 8 };

static int64_t now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static int server(int backlog, struct sockaddr_in *a, char *port, size_t n)
{
    socklen_t len = sizeof *a;
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    *a = (struct sockaddr_in){.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    assert_true(fd >= 0 && bind(fd, (struct sockaddr *)a, sizeof *a) == 0);
    assert_int_equal(listen(fd, backlog), 0);
    assert_int_equal(getsockname(fd, (struct sockaddr *)a, &len), 0);
    snprintf(port, n, "tcp:127.0.0.1:%u", (unsigned)ntohs(a->sin_port));
    return fd;
}

/* Asks as the loop does, how often is returned; the limit is far away. */
static unsigned ask_until(struct oxl_opening *o, struct oxl_link **link)
{
    unsigned asked = 1;
    for (int64_t start = now_ms(); !oxl_opening_over(o, link); asked++) {
        assert_true(now_ms() - start < 60000);
        poll(NULL, 0, 5);
    }
    return asked;
}

static void opens_and_knows_the_address(void **state)
{
    (void)state;
    struct sockaddr_in a;
    char port[64], name[64], known[64] = "?";
    struct oxl_link *link = NULL;
    int fd = server(4, &a, port, sizeof port);
    snprintf(name, sizeof name, "tcp:localhost:%u", (unsigned)ntohs(a.sin_port));
    struct oxl_opening *o = oxl_opening_start(name, "", 0);
    assert_non_null(o);
    ask_until(o, &link);
    assert_non_null(link);
    oxl_link_known(link, known, sizeof known);
    assert_string_equal(known, port);
    oxl_link_known(link, known, 10); /* too short for it: none, and not half of it */
    assert_string_equal(known, "");
    link->ops->close(link);
    close(fd);
}

static void the_known_address_comes_first(void **state)
{
    (void)state;
    struct sockaddr_in a;
    char port[64];
    struct oxl_link *link = NULL;
    int fd = server(4, &a, port, sizeof port);
    /* RFC 6761 section 6.4: such a name never resolves. */
    struct oxl_opening *o = oxl_opening_start("tcp:adapter.invalid:1", port, 0);
    ask_until(o, &link);
    assert_non_null(link);
    link->ops->close(link);
    /* It is gone: the name is tried then. */
    char other[64];
    struct sockaddr_in b;
    int second = server(4, &b, other, sizeof other);
    close(fd);
    o = oxl_opening_start(other, port, 0);
    ask_until(o, &link);
    assert_non_null(link);
    link->ops->close(link);
    close(second);
}

static void refused_is_over_without_a_link(void **state)
{
    (void)state;
    struct sockaddr_in a;
    char port[64];
    struct oxl_link *link = (void *)port;
    close(server(1, &a, port, sizeof port));
    struct oxl_opening *o = oxl_opening_start(port, "", 0);
    ask_until(o, &link);
    assert_null(link);
    o = oxl_opening_start("/dev/null/none", "", 9600);
    link = (void *)port;
    ask_until(o, &link);
    assert_null(link);
}

/* A listener whose queue is full drops what comes, so that a connection hangs. */
static void a_connection_that_hangs_is_given_up(void **state)
{
    (void)state;
    struct sockaddr_in a;
    char port[64];
    int stuffing[STUFFING];
    struct oxl_link *link = (void *)port;
    int fd = server(0, &a, port, sizeof port);
    for (int i = 0; i < STUFFING; i++) {
        stuffing[i] = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK, 0);
        (void)connect(stuffing[i], (struct sockaddr *)&a, sizeof a);
    }
    int64_t start = now_ms();
    struct oxl_opening *left = oxl_opening_start(port, "", 0);
    oxl_opening_leave(left);
    struct oxl_opening *o = oxl_opening_start(port, "", 0);
    /* Neither start nor question waited for the connect's 3 s: it is not over when they are. */
    assert_true(ask_until(o, &link) > 1);
    assert_null(link);
    assert_true(now_ms() - start > 2500); /* it did hang */
    oxl_opening_leave(NULL);
    for (int i = 0; i < STUFFING; i++)
        close(stuffing[i]);
    close(fd);
}

/* What was left to itself does not keep the port. */
static void a_link_that_nobody_takes_is_closed(void **state)
{
    (void)state;
    struct sockaddr_in a;
    char port[64], byte;
    int fd = server(4, &a, port, sizeof port);
    oxl_opening_leave(oxl_opening_start(port, "", 0));
    int peer = accept(fd, NULL, NULL);
    struct pollfd p = {.fd = peer, .events = POLLIN};
    assert_true(peer >= 0);
    assert_int_equal(poll(&p, 1, 2000), 1);
    assert_int_equal(read(peer, &byte, 1), 0);
    close(peer);
    close(fd);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(opens_and_knows_the_address),
        cmocka_unit_test(the_known_address_comes_first),
        cmocka_unit_test(refused_is_over_without_a_link),
        cmocka_unit_test(a_connection_that_hangs_is_given_up),
        cmocka_unit_test(a_link_that_nobody_takes_is_closed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
