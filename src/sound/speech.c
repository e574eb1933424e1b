/* The only file that knows the voice library, libespeak-ng. It synthesizes; it plays nothing. */
#include "oxylag/sound.h"

#ifndef OXL_WITH_ESPEAK

bool oxl_sound_speech(struct oxl_sound_voice *out)
{
    (void)out;
    return false;
}

#else

#include <ctype.h>
#include <espeak-ng/speak_lib.h>
#include <math.h>
#include <stdlib.h>

struct speech {
    int hz;
};

/* One sentence on its way through the library's callback. */
struct saying {
    int16_t *out;
    size_t n, max;
    double step, at; /* samples of the library's for each of ours; where the next of ours lies */
    int16_t last;
    bool (*overtaken)(void *by);
    void *by;
};

/* Straight lines between the library's samples, of which there are fewer a second than of ours. */
static void take(struct saying *s, const short *samples, int n)
{
    for (int i = 0; i < n; i++) {
        for (; s->at < 1 && s->n < s->max; s->at += s->step)
            s->out[s->n++] = (int16_t)lrint(s->last + s->at * (samples[i] - s->last));
        s->at -= 1;
        s->last = samples[i];
    }
}

/* 1: give up. */
static int on_samples(short *samples, int n, espeak_EVENT *events)
{
    struct saying *s = events->user_data;
    if (samples && s)
        take(s, samples, n);
    return s && s->overtaken(s->by);
}

static bool speech_open(void *ctx)
{
    struct speech *v = ctx;
    const int words_a_minute = 190;
    v->hz = espeak_Initialize(AUDIO_OUTPUT_SYNCHRONOUS, 0, NULL, espeakINITIALIZE_DONT_EXIT);
    if (v->hz <= 0 || espeak_SetVoiceByName("en") != EE_OK)
        return false;
    espeak_SetParameter(espeakRATE, words_a_minute, 0);
    espeak_SetSynthCallback(on_samples);
    return true;
}

static size_t speech_speak(void *ctx, const char *words, int16_t *out, size_t max,
                           bool (*overtaken)(void *by), void *by)
{
    const struct speech *v = ctx;
    char text[128]; /* in small letters: capitals might be spelt */
    size_t n = 0;
    for (; words[n] && n + 1 < sizeof text; n++)
        text[n] = (char)tolower((unsigned char)words[n]);
    text[n] = '\0';
    struct saying s = {.out = out,
                       .max = max,
                       .step = (double)v->hz / OXL_SOUND_HZ,
                       .overtaken = overtaken,
                       .by = by};
    return espeak_Synth(text, n + 1, 0, POS_CHARACTER, 0, espeakCHARS_UTF8, NULL, &s) == EE_OK ? s.n
                                                                                               : 0;
}

static void speech_close(void *ctx)
{
    espeak_Terminate();
    free(ctx);
}

bool oxl_sound_speech(struct oxl_sound_voice *out)
{
    struct speech *v = calloc(1, sizeof *v);
    *out = (struct oxl_sound_voice){v, speech_open, speech_speak, speech_close};
    return v != NULL;
}

#endif
