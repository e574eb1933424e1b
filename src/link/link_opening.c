#include "link_inside.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>

#include "oxylag/out.h"

/* Shared by the thread that opens and by the caller; whoever leaves last frees it. A look-up or a
 * driver may take its time, and the caller does not wait for it even to leave. */
struct oxl_opening {
    pthread_mutex_t lock;
    int owners;
    bool over;
    unsigned baud;
    struct oxl_link *link;
    char port[128], known[128];
};

/* Called with the lock held; gives it up. A link that nobody took is closed. */
static void let_go(struct oxl_opening *o)
{
    bool last = --o->owners == 0;
    pthread_mutex_unlock(&o->lock);
    if (!last)
        return;
    if (o->link)
        o->link->ops->close(o->link);
    pthread_mutex_destroy(&o->lock);
    free(o);
}

/* The address that answered last needs no look-up, so it is tried first. */
static void *work(void *ctx)
{
    struct oxl_opening *o = ctx;
    struct oxl_link *link = NULL;
    enum oxl_status st = OXL_ERR_PORT_OPEN;
    if (o->known[0])
        st = oxl_link_open(o->known, o->baud, &link, NULL);
    if (st != OXL_OK && oxl_link_open(o->port, o->baud, &link, NULL) != OXL_OK)
        link = NULL;
    pthread_mutex_lock(&o->lock);
    o->over = true;
    o->link = link;
    let_go(o);
    return NULL;
}

struct oxl_opening *oxl_opening_start(const char *port, const char *known, unsigned baud)
{
    pthread_t thread;
    struct oxl_opening *o = calloc(1, sizeof *o);
    if (!o)
        return NULL;
    pthread_mutex_init(&o->lock, NULL);
    o->owners = 2;
    o->baud = baud;
    snprintf(o->port, sizeof o->port, "%s", port);
    snprintf(o->known, sizeof o->known, "%s", known);
    if (oxl_thread_start(&thread, work, o) == 0) {
        pthread_detach(thread);
        return o;
    }
    pthread_mutex_lock(&o->lock);
    o->owners = 1;
    let_go(o);
    return NULL;
}

bool oxl_opening_over(struct oxl_opening *o, struct oxl_link **out)
{
    pthread_mutex_lock(&o->lock);
    if (!o->over) {
        pthread_mutex_unlock(&o->lock);
        return false;
    }
    *out = o->link;
    o->link = NULL;
    let_go(o);
    return true;
}

void oxl_opening_leave(struct oxl_opening *o)
{
    if (!o)
        return;
    pthread_mutex_lock(&o->lock);
    let_go(o);
}
