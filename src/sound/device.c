/* The only file that knows the audio library, PortAudio. Its blocking calls are used, so that
 * nothing of ours runs in a callback. */
#include "oxylag/sound.h"

#ifndef OXL_WITH_PORTAUDIO

bool oxl_sound_device(struct oxl_sound_sink *out)
{
    (void)out;
    return false;
}

#else

#include <dlfcn.h>
#include <portaudio.h>
#include <stdlib.h>
#include <string.h>

#include "pace.h"

/* A null device takes all at once. A real one holds less than this and is not slowed. */
enum { LEAD_US = 150000 };

struct device {
    PaStream *stream;
    bool begun;
    struct oxl_pace pace;
};

static void no_alsa_words(const char *file, int line, const char *function, int err,
                          const char *fmt, ...)
{
    (void)file;
    (void)line;
    (void)function;
    (void)err;
    (void)fmt;
}

static void no_jack_words(const char *text)
{
    (void)text;
}

/* What stands beneath PortAudio writes to standard error, under the dashboard; each has a way to be
 * told not to. Looked up by name: neither is linked by us, nor has to be there. */
static void *beneath(const char *name)
{
    void *all = dlopen(NULL, RTLD_LAZY);
    return all ? dlsym(all, name) : NULL;
}

static void silence_libraries(void)
{
    typedef void alsa_words(const char *, int, const char *, int, const char *, ...);
    typedef void jack_words(const char *);
    int (*alsa)(alsa_words *) = NULL;
    void (*jack)(jack_words *) = NULL;
    void *at = beneath("snd_lib_error_set_handler");
    memcpy(&alsa, &at, sizeof at);
    if (alsa)
        alsa(no_alsa_words);
    static const char *const jacks[] = {"jack_set_error_function", "jack_set_info_function"};
    for (size_t i = 0; i < 2; i++) {
        at = beneath(jacks[i]);
        memcpy(&jack, &at, sizeof at);
        if (jack)
            jack(no_jack_words);
    }
}

static bool device_open(void *ctx)
{
    struct device *d = ctx;
    silence_libraries();
    if (Pa_Initialize() != paNoError)
        return false;
    d->begun = true;
    PaStreamParameters p = {
        .device = Pa_GetDefaultOutputDevice(), .channelCount = 1, .sampleFormat = paInt16};
    if (p.device == paNoDevice)
        return false;
    const double enough_s = 0.02, low_s = Pa_GetDeviceInfo(p.device)->defaultLowOutputLatency;
    p.suggestedLatency = low_s > enough_s ? low_s : enough_s;
    if (Pa_OpenStream(&d->stream, NULL, &p, OXL_SOUND_HZ, paFramesPerBufferUnspecified, paNoFlag,
                      NULL, NULL) == paNoError &&
        Pa_StartStream(d->stream) == paNoError)
        return true;
    return false;
}

static bool device_write(void *ctx, const int16_t *samples, size_t n)
{
    struct device *d = ctx;
    PaError e = Pa_WriteStream(d->stream, samples, n);
    oxl_pace_wait(&d->pace, n, LEAD_US);
    return e == paNoError || e == paOutputUnderflowed;
}

static void device_close(void *ctx)
{
    struct device *d = ctx;
    if (d->stream) {
        Pa_StopStream(d->stream); /* what it holds is heard */
        Pa_CloseStream(d->stream);
    }
    if (d->begun)
        Pa_Terminate();
    free(d);
}

bool oxl_sound_device(struct oxl_sound_sink *out)
{
    struct device *d = calloc(1, sizeof *d);
    *out = (struct oxl_sound_sink){d, device_open, device_write, device_close};
    return d != NULL;
}

#endif
