/* Pace: a sink that would take any number of samples at once is given them in real time. */
#ifndef OXYLAG_SOUND_PACE_H
#define OXYLAG_SOUND_PACE_H

#include <stddef.h>
#include <stdint.h>

#include "oxylag/sound.h"

int64_t oxl_sound_now_us(void);

struct oxl_pace {
    int64_t until_us; /* by when what was written is over; 0: nothing was */
};
/* n samples more are written: waits until no more than lead_us of them are still to be heard.
 * Returns how many were missed before them, because they came too late. */
size_t oxl_pace_wait(struct oxl_pace *p, size_t n, int64_t lead_us);

/* ---- player.c, device.c: what passes between the program and the process that plays */
/* Samples go to it in pieces of this size. For each it may be sent, it says a byte: one when the
 * device is open, which is no piece, AHEAD at once, and then one for each that was taken. */
enum { OXL_PIECE = OXL_SOUND_HZ / 100, OXL_AHEAD = 2 };

#endif
