/* How a positive service 01 answer falls apart into PIDs. */
#ifndef OXYLAG_VEHICLE_PIDS_H
#define OXYLAG_VEHICLE_PIDS_H

#include "oxylag/vehicle.h"

/* One reading of the byte string: lengths of the PIDs whose length the standard leaves open. */
struct oxl_split {
    bool long_trims;  /* PIDs 06-09 carry a second byte although no layout says so */
    bool short_trims; /* PIDs 55-58 carry one byte only */
};

struct oxl_walk {
    const uint8_t *at, *end;
    const struct oxl_decoding *decoding;
    struct oxl_split split;
    bool single; /* one PID takes the whole answer */
};

struct oxl_pid {
    uint8_t id;
    const uint8_t *data;
    size_t len;
};

/* False when the message is no trustworthy service 01 answer. */
bool oxl_walk_start(struct oxl_walk *w, const struct oxl_message *m, const struct oxl_decoding *d);

/* The next PID; false at the end and also where the bytes make no sense: w->at == w->end tells
 * the two apart. */
bool oxl_walk_next(struct oxl_walk *w, struct oxl_pid *pid);

#endif
