#include "oxylag/out.h"

#include <errno.h>
#include <poll.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { PIECE = 4096, LEAVE_MS = 50 };

/* A ring. The thread reads from `first` on without the lock, which is safe as only it moves it on
 * and the caller never writes there. Owned by both: whoever leaves last frees it, since a write
 * that hangs in a disk may outlive the caller. */
struct oxl_writer {
    pthread_mutex_t lock;
    pthread_cond_t more, taken;
    pthread_t thread;
    int fd, error, owners;
    bool quit;
    size_t first, used, piece; /* piece: being written */
    char ring[OXL_WRITER_ROOM];
};

static size_t smaller(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* Called with the lock held; gives it up. */
static void let_go(struct oxl_writer *w)
{
    bool last = --w->owners == 0;
    pthread_cond_broadcast(&w->taken);
    pthread_mutex_unlock(&w->lock);
    if (!last)
        return;
    pthread_cond_destroy(&w->more);
    pthread_cond_destroy(&w->taken);
    pthread_mutex_destroy(&w->lock);
    free(w);
}

static void on_cancel(void *ctx)
{
    struct oxl_writer *w = ctx;
    pthread_mutex_lock(&w->lock);
    let_go(w);
}

/* A shared descriptor may be non-blocking by somebody else's wish. */
static void wait_for(int fd)
{
    struct pollfd p = {.fd = fd, .events = POLLOUT};
    (void)poll(&p, 1, 1000);
}

/* The one place that may wait for the descriptor, and the one at which the thread can be ended. */
static ssize_t write_some(struct oxl_writer *w, const char *from, size_t n)
{
    ssize_t put = -1;
    int old;
    pthread_cleanup_push(on_cancel, w);
    pthread_setcancelstate(PTHREAD_CANCEL_ENABLE, &old);
    put = write(w->fd, from, n);
    if (put < 0 && (errno == EAGAIN || errno == EWOULDBLOCK))
        wait_for(w->fd);
    pthread_setcancelstate(PTHREAD_CANCEL_DISABLE, &old);
    pthread_cleanup_pop(0);
    return put;
}

static bool again(int error)
{
    return error == EINTR || error == EAGAIN || error == EWOULDBLOCK;
}

/* With the lock held, which is let go while the piece is written. */
static void one_piece(struct oxl_writer *w)
{
    const char *from = w->ring + w->first;
    size_t n = smaller(smaller(w->used, OXL_WRITER_ROOM - w->first), PIECE);
    w->piece = n;
    pthread_mutex_unlock(&w->lock);
    errno = 0;
    ssize_t put = write_some(w, from, n);
    int error = put < 0 ? errno : put == 0 ? EIO : 0;
    pthread_mutex_lock(&w->lock);
    w->piece = 0;
    if (put > 0) {
        w->first = (w->first + (size_t)put) % OXL_WRITER_ROOM;
        w->used -= (size_t)put;
    } else if (!again(error)) {
        w->error = error;
        w->used = 0;
    }
    pthread_cond_broadcast(&w->taken);
}

static void *work(void *ctx)
{
    struct oxl_writer *w = ctx;
    int old;
    pthread_setcancelstate(PTHREAD_CANCEL_DISABLE, &old);
    pthread_mutex_lock(&w->lock);
    while (!w->quit) {
        if (w->used > 0 && !w->error)
            one_piece(w);
        else
            pthread_cond_wait(&w->more, &w->lock);
    }
    let_go(w);
    return NULL;
}

static void init_sync(struct oxl_writer *w)
{
    pthread_condattr_t by;
    pthread_condattr_init(&by);
    pthread_condattr_setclock(&by, CLOCK_MONOTONIC); /* a set date moves no deadline */
    pthread_mutex_init(&w->lock, NULL);
    pthread_cond_init(&w->more, NULL);
    pthread_cond_init(&w->taken, &by);
    pthread_condattr_destroy(&by);
}

struct oxl_writer *oxl_writer_new(int fd)
{
    struct oxl_writer *w = malloc(sizeof *w);
    if (!w)
        return NULL;
    memset(w, 0, offsetof(struct oxl_writer, ring));
    init_sync(w);
    w->fd = fd;
    w->owners = 2;
    if (oxl_thread_start(&w->thread, work, w) == 0) {
        pthread_detach(w->thread);
        return w;
    }
    pthread_mutex_lock(&w->lock);
    w->owners = 1;
    let_go(w);
    return NULL;
}

bool oxl_writer_put(struct oxl_writer *w, const void *bytes, size_t n)
{
    pthread_mutex_lock(&w->lock);
    bool fits = !w->error && n <= OXL_WRITER_ROOM - w->used;
    if (fits && n) {
        size_t at = (w->first + w->used) % OXL_WRITER_ROOM;
        size_t before_end = smaller(n, OXL_WRITER_ROOM - at);
        memcpy(w->ring + at, bytes, before_end);
        memcpy(w->ring, (const char *)bytes + before_end, n - before_end);
        w->used += n;
        pthread_cond_signal(&w->more);
    }
    pthread_mutex_unlock(&w->lock);
    return fits;
}

size_t oxl_writer_waiting(struct oxl_writer *w)
{
    pthread_mutex_lock(&w->lock);
    size_t n = w->used;
    pthread_mutex_unlock(&w->lock);
    return n;
}

int oxl_writer_error(struct oxl_writer *w)
{
    pthread_mutex_lock(&w->lock);
    int error = w->error;
    pthread_mutex_unlock(&w->lock);
    return error;
}

static struct timespec in_ms(int ms)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    int64_t ns = t.tv_nsec + ms % 1000 * INT64_C(1000000);
    t.tv_sec += ms / 1000 + (time_t)(ns / 1000000000);
    t.tv_nsec = (long)(ns % 1000000000);
    return t;
}

bool oxl_writer_drain(struct oxl_writer *w, int limit_ms)
{
    struct timespec until = in_ms(limit_ms);
    pthread_mutex_lock(&w->lock);
    int late = 0;
    while (w->used > 0 && !w->error && !late)
        late = pthread_cond_timedwait(&w->taken, &w->lock, &until);
    bool empty = w->used == 0;
    pthread_mutex_unlock(&w->lock);
    return empty;
}

void oxl_writer_free(struct oxl_writer *w)
{
    if (!w)
        return;
    pthread_mutex_lock(&w->lock);
    w->quit = true;
    pthread_cond_signal(&w->more);
    if (w->owners == 2 && w->piece)
        pthread_cancel(w->thread); /* it holds its share, so it is there */
    /* Gone in no time, but for a write that hangs in a disk: that one is left behind. */
    struct timespec until = in_ms(LEAVE_MS);
    for (int late = 0; w->owners == 2 && !late;)
        late = pthread_cond_timedwait(&w->taken, &w->lock, &until);
    let_go(w);
}
