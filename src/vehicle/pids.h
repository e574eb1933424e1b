/* How a positive service 01 answer falls apart into PIDs. */
#ifndef OXYLAG_VEHICLE_PIDS_H
#define OXYLAG_VEHICLE_PIDS_H

#include "oxylag/vehicle.h"

struct oxl_walk {
    const uint8_t *at, *end;
    struct oxl_decoding as; /* with one reading of the trims whose length is open */
    bool single;            /* one PID takes the whole answer */
};

struct oxl_pid {
    uint8_t id;
    const uint8_t *data;
    size_t len;
};

/* Is the bank of this trim PID's second byte (3 or 4) fitted, as the layout says? */
bool oxl_second_bank_fitted(uint8_t pid, const struct oxl_decoding *d);

/* False when the message is no trustworthy service 01 answer. */
bool oxl_walk_start(struct oxl_walk *w, const struct oxl_message *m, const struct oxl_decoding *d);

/* The next PID; false at the end and also where the bytes make no sense: w->at == w->end tells
 * the two apart. */
bool oxl_walk_next(struct oxl_walk *w, struct oxl_pid *pid);

#endif
