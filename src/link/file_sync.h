/* fdatasync beside the caller: a slow disk may take seconds, in which the test goes on. */
#ifndef OXYLAG_FILE_SYNC_H
#define OXYLAG_FILE_SYNC_H

#include <pthread.h>
#include <stdbool.h>

struct oxl_sync {
    pthread_mutex_t lock;
    pthread_cond_t change;
    pthread_t thread;
    int fd, error;
    bool threaded, wanted, quit;
};

void oxl_sync_start(struct oxl_sync *s, int fd);
/* What has been written so far is to be on the disk. Never waits, unless there was no thread to be
 * had. */
void oxl_sync_ask(struct oxl_sync *s);
/* The first failure so far, an errno; 0: none. */
int oxl_sync_error(struct oxl_sync *s);
/* Waits for what was asked, and ends: the first failure, or 0. */
int oxl_sync_end(struct oxl_sync *s);

#endif
