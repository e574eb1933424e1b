/* Mixer: cues, ticks and speech as samples. Pure: the same calls give the same samples. */
#ifndef OXYLAG_SOUND_MIXER_H
#define OXYLAG_SOUND_MIXER_H

#include "oxylag/sound.h"

/* cues.c: the sounds themselves, from -1 to 1. */
size_t oxl_cue_samples(enum oxl_cue c);
double oxl_cue_sample(enum oxl_cue c, size_t i);
size_t oxl_tick_samples(void);
double oxl_tick_sample(size_t i);
/* Ticks a second at a depth: one at rest, eight at the target; 0 when the depth is not known. */
double oxl_tick_hz(double depth);

struct oxl_mixer {
    double volume; /* 0 to 1 */
    enum oxl_cue cue;
    size_t cue_at;
    double tick_hz, tick_phase; /* a tick begins when the phase reaches 1 */
    size_t tick_at;
    const int16_t *speech; /* not owned; NULL: none */
    size_t speech_n, speech_at;
};
void oxl_mixer_init(struct oxl_mixer *m, double volume);
/* The newest cue is heard, but nothing covers one that says that a valve is to be shut. */
void oxl_mixer_cue(struct oxl_mixer *m, enum oxl_cue c);
void oxl_mixer_depth(struct oxl_mixer *m, double depth);
/* In place of what is being spoken; it begins when no cue sounds. */
void oxl_mixer_speech(struct oxl_mixer *m, const int16_t *samples, size_t n);
void oxl_mixer_render(struct oxl_mixer *m, int16_t *out, size_t n);

#endif
