#include "file_sync.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "oxylag/out.h"

/* 0, or the errno of a failure that matters: some file systems have nothing to sync. */
static int sync_now(int fd)
{
    return fdatasync(fd) == 0 || errno == EINVAL || errno == EROFS ? 0 : errno;
}

static void *work(void *ctx)
{
    struct oxl_sync *s = ctx;
    pthread_mutex_lock(&s->lock);
    while (s->wanted || !s->quit) {
        if (!s->wanted) {
            pthread_cond_wait(&s->change, &s->lock);
            continue;
        }
        s->wanted = false;
        pthread_mutex_unlock(&s->lock);
        int error = sync_now(s->fd);
        pthread_mutex_lock(&s->lock);
        s->error = s->error ? s->error : error;
    }
    pthread_mutex_unlock(&s->lock);
    return NULL;
}

void oxl_sync_start(struct oxl_sync *s, int fd)
{
    memset(s, 0, sizeof *s);
    pthread_mutex_init(&s->lock, NULL);
    pthread_cond_init(&s->change, NULL);
    s->fd = fd;
}

/* At the first wish, as most recordings in virtual time are over before it. */
static bool threaded(struct oxl_sync *s)
{
    if (!s->threaded)
        s->threaded = oxl_thread_start(&s->thread, work, s) == 0;
    return s->threaded;
}

void oxl_sync_ask(struct oxl_sync *s)
{
    if (!threaded(s)) {
        int error = sync_now(s->fd);
        s->error = s->error ? s->error : error;
        return;
    }
    pthread_mutex_lock(&s->lock);
    s->wanted = true;
    pthread_cond_signal(&s->change);
    pthread_mutex_unlock(&s->lock);
}

int oxl_sync_error(struct oxl_sync *s)
{
    pthread_mutex_lock(&s->lock);
    int error = s->error;
    pthread_mutex_unlock(&s->lock);
    return error;
}

int oxl_sync_end(struct oxl_sync *s)
{
    if (s->threaded) {
        pthread_mutex_lock(&s->lock);
        s->quit = true;
        pthread_cond_signal(&s->change);
        pthread_mutex_unlock(&s->lock);
        pthread_join(s->thread, NULL);
    }
    pthread_cond_destroy(&s->change);
    pthread_mutex_destroy(&s->lock);
    return s->error;
}
