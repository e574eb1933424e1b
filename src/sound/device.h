/* What passes between the program and the process that plays (player.c, device.c). */
#ifndef OXYLAG_SOUND_DEVICE_H
#define OXYLAG_SOUND_DEVICE_H

#include "oxylag/sound.h"

/* Samples go to it in pieces of this size. For each it may be sent, it says a byte: one when the
 * device is open, which is no piece, AHEAD at once, and then one for each that was taken. */
enum { OXL_PIECE = OXL_SOUND_HZ / 100, OXL_AHEAD = 2 };

#endif
