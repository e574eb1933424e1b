/* ISO 15765-2 reassembly, normal addressing, one message at a time for each ECU. */
#ifndef OXYLAG_WIRE_ISOTP_H
#define OXYLAG_WIRE_ISOTP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    OXL_ISOTP_ECUS = 8,  /* ISO 15765-4: at most eight emission-related ECUs answer */
    OXL_ISOTP_MAX = 4095 /* 12-bit length of the first frame */
};

/* One ECU's message under way. */
struct oxl_isotp_slot {
    bool used;
    uint32_t ecu;
    uint8_t next; /* expected consecutive number */
    size_t total, have;
    int64_t first_us;
    uint64_t age; /* when it began, in first frames */
    uint8_t data[OXL_ISOTP_MAX];
};

struct oxl_isotp {
    struct oxl_isotp_slot slots[OXL_ISOTP_ECUS];
    uint64_t first_frames;
};

/* A finished message; data points into the frame or into the slot and is good until the next
 * call. */
struct oxl_isotp_done {
    const uint8_t *data;
    size_t len;
    int64_t first_us;
};

/* Takes one CAN frame's 1..8 bytes. True when it completes a message. *broken is increased for
 * each message that is lost or impossible. */
bool oxl_isotp_push(struct oxl_isotp *t, uint32_t ecu, const uint8_t *b, size_t n, int64_t first_us,
                    uint64_t *broken, struct oxl_isotp_done *done);

/* Bytes that this ECU's message still lacks; 0: none is under way. */
size_t oxl_isotp_missing(struct oxl_isotp *t, uint32_t ecu);

/* Forgets what is under way; returns how many messages that were. */
size_t oxl_isotp_drop_all(struct oxl_isotp *t);

#endif
