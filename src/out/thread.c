#include <signal.h>

#include "oxylag/out.h"

int oxl_thread_start(pthread_t *thread, void *(*work)(void *), void *ctx)
{
    sigset_t all, old;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &old);
    int error = pthread_create(thread, NULL, work, ctx);
    pthread_sigmask(SIG_SETMASK, &old, NULL);
    return error;
}
