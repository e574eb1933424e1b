/* A writer before a pipe that is read late, never, or closed. */
#include "oxylag/out.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>

#include <cmocka.h>

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { PIPE_HOLDS = 65536 };

static int64_t now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

struct pipe_writer {
    int from, to;
    struct oxl_writer *w;
};

static struct pipe_writer on_pipe(void)
{
    int fd[2];
    assert_int_equal(pipe(fd), 0);
    struct pipe_writer p = {fd[0], fd[1], oxl_writer_new(fd[1])};
    assert_non_null(p.w);
    return p;
}

static void end(struct pipe_writer *p)
{
    oxl_writer_free(p->w);
    close(p->from);
    close(p->to);
}

/* A stream in which each place tells where it is. */
static void fill(char *out, size_t n, uint64_t from)
{
    for (size_t i = 0; i < n; i++)
        out[i] = (char)((from + i) * 2654435761u >> 13);
}

static void passes_in_order_around_its_ring(void **state)
{
    (void)state;
    struct pipe_writer p = on_pipe();
    static char put[50021], got[50021], want[50021];
    uint64_t in = 0, out = 0, all = (uint64_t)OXL_WRITER_ROOM * 3;
    while (out < all) {
        fill(put, sizeof put, in);
        if (in < all && oxl_writer_put(p.w, put, sizeof put))
            in += sizeof put;
        ssize_t n = read(p.from, got, sizeof got);
        assert_true(n > 0);
        fill(want, (size_t)n, out);
        assert_memory_equal(got, want, (size_t)n);
        out += (uint64_t)n;
    }
    assert_int_equal(oxl_writer_error(p.w), 0);
    end(&p);
}

static void a_reader_who_pauses_holds_nobody_up(void **state)
{
    (void)state;
    struct pipe_writer p = on_pipe();
    static char block[65536], got[65536];
    size_t in = 0, out = 0;
    int64_t start = now_ms();
    fill(block, sizeof block, 0);
    while (oxl_writer_put(p.w, block, sizeof block))
        in += sizeof block;
    assert_true(in >= OXL_WRITER_ROOM && in <= OXL_WRITER_ROOM + 2 * PIPE_HOLDS);
    assert_true(now_ms() - start < 20000); /* far away: it waits for nobody */
    assert_true(oxl_writer_waiting(p.w) >= OXL_WRITER_ROOM - sizeof block);
    assert_false(oxl_writer_drain(p.w, 50));
    assert_true(fcntl(p.to, F_GETFL) >= 0 && !(fcntl(p.to, F_GETFL) & O_NONBLOCK));
    while (out < in) {
        ssize_t n = read(p.from, got, sizeof got);
        assert_true(n > 0);
        for (ssize_t i = 0; i < n; i++)
            assert_int_equal(got[i], block[(out + (size_t)i) % sizeof block]);
        out += (size_t)n;
    }
    assert_true(oxl_writer_drain(p.w, 20000));
    assert_int_equal(out, in);
    end(&p);
}

static void ends_at_once_though_the_reader_pauses(void **state)
{
    (void)state;
    struct pipe_writer p = on_pipe();
    static char block[PIPE_HOLDS * 4];
    assert_true(oxl_writer_put(p.w, block, sizeof block));
    assert_false(oxl_writer_drain(p.w, 50));
    int64_t start = now_ms();
    end(&p);
    assert_true(now_ms() - start < 20000); /* else for good */
}

static void a_closed_pipe_is_told(void **state)
{
    (void)state;
    struct pipe_writer p = on_pipe();
    signal(SIGPIPE, SIG_IGN);
    close(p.from);
    p.from = open("/dev/null", O_RDONLY);
    assert_true(oxl_writer_put(p.w, "x", 1));
    for (int i = 0; i < 100 && !oxl_writer_error(p.w); i++)
        poll(NULL, 0, 10);
    assert_int_equal(oxl_writer_error(p.w), EPIPE);
    assert_false(oxl_writer_put(p.w, "y", 1));
    assert_int_equal(oxl_writer_waiting(p.w), 0);
    end(&p);
}

/* Somebody else's wish, as the description may be shared. */
static void a_descriptor_that_does_not_block_loses_nothing(void **state)
{
    (void)state;
    struct pipe_writer p = on_pipe();
    static char block[PIPE_HOLDS * 3], got[PIPE_HOLDS * 3];
    fcntl(p.to, F_SETFL, O_NONBLOCK);
    fill(block, sizeof block, 7);
    assert_true(oxl_writer_put(p.w, block, sizeof block));
    poll(NULL, 0, 50);
    for (size_t out = 0; out < sizeof block;) {
        ssize_t n = read(p.from, got + out, sizeof got - out);
        assert_true(n > 0);
        out += (size_t)n;
    }
    assert_memory_equal(got, block, sizeof block);
    end(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(passes_in_order_around_its_ring),
        cmocka_unit_test(a_reader_who_pauses_holds_nobody_up),
        cmocka_unit_test(ends_at_once_though_the_reader_pauses),
        cmocka_unit_test(a_closed_pipe_is_told),
        cmocka_unit_test(a_descriptor_that_does_not_block_loses_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
