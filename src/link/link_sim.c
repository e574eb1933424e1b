#include "oxylag/link.h"

#include <errno.h>
#include <stdlib.h>

#include "oxylag/sim.h"

struct link_sim {
    struct oxl_link link; /* first, so that the two pointers convert */
    struct oxl_sim *sim;
    int64_t packet_us; /* 0: every byte by itself */
    unsigned baud;     /* 0 until the tester sets one: then nothing is garbled */
    bool opened;
};

static struct link_sim *of(struct oxl_link *l)
{
    return (struct link_sim *)(void *)l;
}

static ssize_t unplugged(void)
{
    errno = ENODEV;
    return -1;
}

static int64_t sim_next_due(const struct oxl_link *link)
{
    const struct link_sim *l = (const void *)link;
    int64_t due_us = oxl_sim_due_us(l->sim);
    if (l->packet_us == 0 || due_us > INT64_MAX - l->packet_us)
        return due_us;
    return (due_us + l->packet_us - 1) / l->packet_us * l->packet_us;
}

/* True when the adapter is there; to it the port is open from the first use. */
static bool reach(struct link_sim *l, int64_t now_us)
{
    bool there = oxl_sim_plugged(l->sim, now_us);
    if (there && !l->opened)
        oxl_sim_opened(l->sim, now_us);
    l->opened = l->opened || there;
    return there;
}

static ssize_t sim_read(struct oxl_link *link, void *buf, size_t n, int64_t now_us)
{
    struct link_sim *l = of(link);
    if (!reach(l, now_us))
        return unplugged();
    if (now_us < sim_next_due(link)) /* the packet is not full yet */
        return 0;
    return (ssize_t)oxl_sim_read(l->sim, buf, n, now_us);
}

static ssize_t sim_write(struct oxl_link *link, const void *buf, size_t n, int64_t now_us)
{
    struct link_sim *l = of(link);
    if (!reach(l, now_us))
        return unplugged();
    if (oxl_sim_held(l->sim))
        return 0;
    oxl_sim_write(l->sim, buf, n, l->baud, now_us);
    return (ssize_t)n;
}

static int sim_set_speed(struct oxl_link *link, unsigned baud)
{
    of(link)->baud = baud;
    return 0;
}

static int sim_fd(const struct oxl_link *link)
{
    (void)link;
    return -1;
}

static void sim_close(struct oxl_link *link)
{
    free(of(link));
}

void oxl_link_sim_packets(struct oxl_link *l, int64_t packet_us)
{
    of(l)->packet_us = packet_us;
}

struct oxl_link *oxl_link_sim(struct oxl_sim *sim)
{
    static const struct oxl_link_ops ops = {
        .read = sim_read,
        .write = sim_write,
        .set_speed = sim_set_speed,
        .fd = sim_fd,
        .next_due_us = sim_next_due,
        .close = sim_close,
    };
    struct link_sim *l = calloc(1, sizeof *l);
    if (!l)
        return NULL;
    l->link.ops = &ops;
    l->link.has_speed = true;
    l->sim = sim;
    return &l->link;
}
