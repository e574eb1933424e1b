/* Lines of hex digits to frames of a bus. */
#ifndef OXYLAG_WIRE_FRAME_H
#define OXYLAG_WIRE_FRAME_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/wire.h"

enum {
    /* ISO 14230-2: three header bytes, a length byte, 255 data bytes, a checksum. */
    OXL_FRAME_MAX = 3 + 1 + 255 + 1
};

enum oxl_frame_kind {
    OXL_FRAME_NONE,   /* not a frame of this protocol */
    OXL_FRAME_OTHER,  /* a frame, but no answer to a tester: not for us */
    OXL_FRAME_LENGTH, /* an answer whose length cannot be */
    OXL_FRAME_CAN,    /* one CAN frame: data are PCI and what follows (ISO 15765-2) */
    OXL_FRAME_WHOLE,  /* one K-line or J1850 message: data without header and checksum */
};

struct oxl_frame {
    enum oxl_frame_kind kind;
    uint32_t ecu;
    uint8_t bytes[OXL_FRAME_MAX];
    size_t at, len; /* the data are bytes[at] .. bytes[at + len - 1] */
    bool bad_checksum;
};

/* Reads `digits` hex digits (compact text, all hex) as one frame of protocol p; UNKNOWN takes a
 * shape only where it is unambiguous. */
void oxl_frame_read(enum oxl_protocol p, const char *s, size_t digits, struct oxl_frame *f);

/* ISO 9141-2 and ISO 14230-2: sum of all bytes, modulo 256. */
uint8_t oxl_checksum_sum(const uint8_t *p, size_t n);
/* SAE J1850: CRC-8, polynomial 1Dh, start FFh, inverted. */
uint8_t oxl_checksum_j1850(const uint8_t *p, size_t n);

#endif
