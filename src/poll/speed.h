/* The adapter's line speed, and how far the search for it is. */
#ifndef OXYLAG_POLL_SPEED_H
#define OXYLAG_POLL_SPEED_H

#include "oxylag/poll.h"

struct oxl_poll_speed {
    unsigned at, pass, step, asks;
    unsigned baud;               /* the speed that works; 0 unknown */
    bool bytes_seen, bytes_here; /* at any speed; at the one being tried */
};

void oxl_poll_speed_heard(struct oxl_poll *p); /* a byte came, of whatever */
void oxl_poll_probe_start(struct oxl_poll *p, int64_t t_us);
void oxl_poll_probe_next_speed(struct oxl_poll *p, int64_t t_us);
void oxl_poll_adapter_hung(struct oxl_poll *p);
void oxl_poll_probe_finished(struct oxl_poll *p, int64_t t_us);

#endif
