/* The TCP link on the loopback; the test is the adapter. */
#include "oxylag/link.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

/* A listening socket on 127.0.0.1 (or a bound one that does not listen: backlog < 0). */
static int server(int backlog, char *port, size_t n)
{
    struct sockaddr_in a = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t len = sizeof a;
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    assert_true(fd >= 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&a, sizeof a), 0);
    if (backlog >= 0)
        assert_int_equal(listen(fd, backlog), 0);
    assert_int_equal(getsockname(fd, (struct sockaddr *)&a, &len), 0);
    snprintf(port, n, "tcp:127.0.0.1:%u", (unsigned)ntohs(a.sin_port));
    return fd;
}

static struct oxl_link *connected(int *listener, int *peer)
{
    char port[64];
    struct oxl_link *link = NULL;
    struct oxl_error err = {0};
    *listener = server(1, port, sizeof port);
    if (oxl_link_open(port, 115200, &link, &err) != OXL_OK)
        fail_msg("%s", err.text);
    *peer = accept(*listener, NULL, NULL);
    assert_true(*peer >= 0);
    return link;
}

static bool readable(int fd)
{
    struct pollfd w = {.fd = fd, .events = POLLIN};
    return poll(&w, 1, 2000) == 1;
}

static void bytes_pass_and_the_end_is_down(void **state)
{
    (void)state;
    int listener, peer, one = 0;
    socklen_t len = sizeof one;
    char buf[16];
    struct oxl_link *link = connected(&listener, &peer);
    int fd = link->ops->fd(link);
    assert_false(link->has_speed);
    assert_int_equal(link->ops->set_speed(link, 9600), -1);
    assert_true(fcntl(fd, F_GETFL) & O_NONBLOCK);
    assert_int_equal(getsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &one, &len), 0);
    assert_true(one != 0);
    assert_int_equal(link->ops->read(link, buf, sizeof buf, 0), 0);

    assert_int_equal(link->ops->write(link, "ATZ\r", 4, 0), 4);
    assert_int_equal(read(peer, buf, sizeof buf), 4);
    assert_memory_equal(buf, "ATZ\r", 4);
    assert_int_equal(write(peer, "\0\xff>", 3), 3);
    assert_true(readable(fd));
    assert_int_equal(link->ops->read(link, buf, sizeof buf, 0), 3);
    assert_memory_equal(buf, "\0\xff>", 3);

    close(peer);
    assert_true(readable(fd));
    assert_int_equal(link->ops->read(link, buf, sizeof buf, 0), -1);
    /* The first write may still be taken by the kernel; later ones fail, without a signal. */
    ssize_t put = 0;
    for (int i = 0; i < 50 && put >= 0; i++) {
        put = link->ops->write(link, "x", 1, 0);
        (void)poll(NULL, 0, 10);
    }
    assert_int_equal(put, -1);
    link->ops->close(link);
    close(listener);
}

static void full_socket_does_not_block(void **state)
{
    (void)state;
    static char block[65536];
    int listener, peer;
    struct oxl_link *link = connected(&listener, &peer);
    ssize_t r;
    size_t sent = 0;
    while ((r = link->ops->write(link, block, sizeof block, 0)) > 0) {
        sent += (size_t)r;
        assert_true(sent < 1000000000);
    }
    assert_int_equal(r, 0);
    link->ops->close(link);
    close(peer);
    close(listener);
}

static enum oxl_status attempt(const char *port, struct oxl_error *err)
{
    struct oxl_link *link = NULL;
    *err = (struct oxl_error){0};
    enum oxl_status s = oxl_link_open(port, 0, &link, err);
    if (link)
        link->ops->close(link);
    return s;
}

static void nobody_listens(void **state)
{
    (void)state;
    char port[64];
    struct oxl_error err;
    int fd = server(-1, port, sizeof port);
    assert_int_equal(attempt(port, &err), OXL_ERR_PORT_OPEN);
    assert_non_null(strstr(err.text, "nothing listens at 127.0.0.1:"));
    close(fd);
}

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

/* Linux drops connection requests when the queue of a listener is full: as silent as a host that
 * is not there. */
static void silence_ends_after_three_seconds(void **state)
{
    (void)state;
    char port[64];
    struct oxl_error err;
    int listener = server(0, port, sizeof port), extra[8];
    struct sockaddr_in a = {.sin_family = AF_INET};
    socklen_t len = sizeof a;
    assert_int_equal(getsockname(listener, (struct sockaddr *)&a, &len), 0);
    for (int i = 0; i < 8; i++) {
        extra[i] = socket(AF_INET, SOCK_STREAM, 0);
        assert_true(extra[i] >= 0);
        (void)fcntl(extra[i], F_SETFL, O_NONBLOCK);
        (void)connect(extra[i], (struct sockaddr *)&a, sizeof a);
    }
    (void)poll(NULL, 0, 50);
    double from = seconds();
    enum oxl_status s = attempt(port, &err);
    double took = seconds() - from;
    for (int i = 0; i < 8; i++)
        close(extra[i]);
    close(listener);
    if (s == OXL_OK)
        skip(); /* another system: it took one more */
    assert_int_equal(s, OXL_ERR_PORT_OPEN);
    assert_non_null(strstr(err.text, "cannot be reached"));
    assert_true(took > 2.9 && took < 60);
}

static void addresses_that_are_none(void **state)
{
    (void)state;
    static const char *const bad[] = {"tcp:",         "tcp:host",    "tcp:host:", "tcp::35000",
                                      "tcp:host:x",   "tcp:host:1x", "tcp:[::1]", "tcp:[::1:35000",
                                      "tcp:[]:35000", "tcp:a:b:1"};
    struct oxl_error err;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        if (attempt(bad[i], &err) != OXL_ERR_USAGE)
            fail_msg("%s: %s", bad[i], err.text);
        assert_non_null(strstr(err.text, "write tcp:HOST:PORT"));
    }
    assert_int_equal(attempt("tcp:127.0.0.1:123456", &err), OXL_ERR_USAGE);
    assert_non_null(strstr(err.text, "there is no port 123456: give a number from 1 to 65535"));
}

/* RFC 2606: names under .invalid never exist. */
static void unknown_host(void **state)
{
    (void)state;
    struct oxl_error err;
    assert_int_equal(attempt("tcp:adapter.invalid:35000", &err), OXL_ERR_PORT_MISSING);
    assert_non_null(strstr(err.text, "the host adapter.invalid is not known"));
}

static void ipv6_in_brackets(void **state)
{
    (void)state;
    struct sockaddr_in6 a = {.sin6_family = AF_INET6, .sin6_addr = IN6ADDR_LOOPBACK_INIT};
    socklen_t len = sizeof a;
    char port[64];
    struct oxl_error err;
    int fd = socket(AF_INET6, SOCK_STREAM, 0);
    if (fd < 0 || bind(fd, (struct sockaddr *)&a, sizeof a) != 0)
        skip(); /* no IPv6 on this machine */
    assert_int_equal(listen(fd, 1), 0);
    assert_int_equal(getsockname(fd, (struct sockaddr *)&a, &len), 0);
    snprintf(port, sizeof port, "tcp:[::1]:%u", (unsigned)ntohs(a.sin6_port));
    if (attempt(port, &err) != OXL_OK)
        fail_msg("%s", err.text);
    close(fd);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bytes_pass_and_the_end_is_down),
        cmocka_unit_test(full_socket_does_not_block),
        cmocka_unit_test(nobody_listens),
        cmocka_unit_test(silence_ends_after_three_seconds),
        cmocka_unit_test(addresses_that_are_none),
        cmocka_unit_test(unknown_host),
        cmocka_unit_test(ipv6_in_brackets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
