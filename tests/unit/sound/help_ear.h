/* A sink in memory that keeps time as a device does, or hangs where it is told to. */
#ifndef HELP_EAR_H
#define HELP_EAR_H

#include <pthread.h>

#include "listen.h"
#include "oxylag/sound.h"
#include "sound/pace.h"

enum { MOST = 20 * OXL_SOUND_HZ, HEARD = 64, BLOCK = OXL_SOUND_HZ / 100 };
/* A device of these tests hangs until it is told not to: whoever waits for it, waits longer than
 * any busy machine makes him. */
static const int64_t call_us = 2000000;
enum { LIMIT_MS = 10000 }; /* to hear a cue out, on a busy machine */

/* Never freed, since a thread may be left in it. */
struct ear {
    pthread_mutex_t lock;
    int16_t *samples;
    size_t n;
    int64_t over_us[MOST / BLOCK + 1]; /* when each block had been heard */
    struct oxl_pace pace;
    bool hang_open, hang_write, fail_open, fail_write, closed;
};
struct ear *new_ear(void);
void ear_set(struct ear *e, bool *what, bool value);
struct oxl_sound *open_ear(struct ear *e, const struct oxl_sound_voice *voice);
void wait_until_heard(struct oxl_sound *s);
void wait_until_closed(struct ear *e);
/* Everything that a loop calls; the longest of the calls, in microseconds. */
int64_t call_all(struct oxl_sound *s);
void sleep_ms(int ms);

#endif
