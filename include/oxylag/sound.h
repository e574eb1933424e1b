/* Sound: cues, a tick that tells how deep the gas is, and a voice, for those whose eyes are on the
 * valve. A thread renders them and waits for the device; a second one makes the speech. The caller
 * leaves what is to be heard and never waits; what would be heard late is not heard at all.
 */
#ifndef OXYLAG_SOUND_H
#define OXYLAG_SOUND_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "oxylag/cue.h"

enum { OXL_SOUND_HZ = 44100 }; /* one channel, 16 bits */

/* Where the samples go. All three are called by the thread and may take their time; close frees
 * what ctx is, and comes also after an open that failed. */
struct oxl_sound_sink {
    void *ctx;
    bool (*open)(void *ctx);
    /* Waits until they are taken, and takes no more than there is time for. False: it is gone. */
    bool (*write)(void *ctx, const int16_t *samples, size_t n);
    void (*close)(void *ctx);
};
/* The default device, played to by a process of its own: PROGRAM OXL_SOUND_PLAY, whose main shall
 * return oxl_sound_play(). False: built without, or no memory. */
#define OXL_SOUND_PLAY "--play-sound"
bool oxl_sound_device(const char *program, struct oxl_sound_sink *out);
int oxl_sound_play(void);
/* It is built with a library for it. */
bool oxl_sound_plays(void);
/* A WAV file as long as the sound is open; it takes f. False: no memory, f is closed. */
bool oxl_sound_wav(FILE *f, struct oxl_sound_sink *out);

/* Who speaks; called by a thread of its own. */
struct oxl_sound_voice {
    void *ctx;
    bool (*open)(void *ctx);
    /* Samples of the words, at most max; it gives up when overtaken(by) says so. */
    size_t (*speak)(void *ctx, const char *words, int16_t *out, size_t max,
                    bool (*overtaken)(void *by), void *by);
    void (*close)(void *ctx);
};
/* False: built without, or no memory. */
bool oxl_sound_speech(struct oxl_sound_voice *out);

struct oxl_sound; /* opaque */
/* volume_pct: of full scale. voice: NULL: none. It takes both. NULL: no memory. */
struct oxl_sound *oxl_sound_open(const struct oxl_sound_sink *sink,
                                 const struct oxl_sound_voice *voice, double volume_pct);
/* A call to be heard now. words: NULL: those that are being spoken stay; others end them. */
void oxl_sound_call(struct oxl_sound *s, enum oxl_cue cue, const char *words);
/* How near the target the gas is, several times a second (oxl_model_depth); NAN: no tick. */
void oxl_sound_depth(struct oxl_sound *s, double depth);
/* Silence at once, and nothing is kept for later. */
void oxl_sound_mute(struct oxl_sound *s, bool muted);
/* What is called now will be heard: the device is open and takes what it is given. */
bool oxl_sound_is_heard(struct oxl_sound *s);
/* The opening has failed or the device is gone: nothing more will be heard. */
bool oxl_sound_is_gone(struct oxl_sound *s);
/* Ends within limit_ms, in which a cue that sounds is heard to its end; 50 ms where nothing is
 * heard. A device that hangs is left behind. NULL is accepted. */
void oxl_sound_close(struct oxl_sound *s, int limit_ms);

#endif
