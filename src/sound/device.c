/* The only file that knows the audio library, PortAudio: the process that plays what it reads. Its
 * blocking calls are used, so that nothing runs in a callback. */
#include "pace.h"

#ifndef OXL_WITH_PORTAUDIO

bool oxl_sound_plays(void)
{
    return false;
}

int oxl_sound_play(void)
{
    return 1;
}

#else

#include <portaudio.h>
#include <signal.h>
#include <sys/prctl.h>
#include <unistd.h>

/* A null device takes all at once. A real one holds less than this and is not slowed. */
enum { LEAD_US = 150000, FILES = 1024 };

bool oxl_sound_plays(void)
{
    return true;
}

static PaStream *open_stream(void)
{
    PaStream *stream = NULL;
    PaStreamParameters p = {.channelCount = 1, .sampleFormat = paInt16};
    if (Pa_Initialize() != paNoError)
        return NULL;
    p.device = Pa_GetDefaultOutputDevice();
    if (p.device == paNoDevice)
        return NULL;
    const double enough_s = 0.02, low_s = Pa_GetDeviceInfo(p.device)->defaultLowOutputLatency;
    p.suggestedLatency = low_s > enough_s ? low_s : enough_s;
    if (Pa_OpenStream(&stream, NULL, &p, OXL_SOUND_HZ, paFramesPerBufferUnspecified, paNoFlag, NULL,
                      NULL) != paNoError)
        return NULL;
    return Pa_StartStream(stream) == paNoError ? stream : NULL;
}

static bool read_piece(char *to, size_t n)
{
    for (ssize_t got; n > 0; to += got, n -= (size_t)got) {
        got = read(STDIN_FILENO, to, n);
        if (got <= 0)
            return false;
    }
    return true;
}

static bool say(size_t n)
{
    const char words[OXL_AHEAD + 1] = {0};
    return write(STDOUT_FILENO, words, n) == (ssize_t)n;
}

/* It ends with whoever started it, and keeps no port or file of his open. */
int oxl_sound_play(void)
{
    int16_t piece[OXL_PIECE];
    struct oxl_pace pace = {0};
    prctl(PR_SET_PDEATHSIG, SIGKILL);
    for (int fd = STDERR_FILENO + 1; fd < FILES; fd++)
        close(fd);
    PaStream *stream = open_stream();
    bool good = stream && say(1 + OXL_AHEAD);
    while (good && read_piece((char *)piece, sizeof piece)) {
        PaError e = Pa_WriteStream(stream, piece, OXL_PIECE);
        oxl_pace_wait(&pace, OXL_PIECE, LEAD_US);
        good = (e == paNoError || e == paOutputUnderflowed) && say(1);
    }
    if (stream)
        Pa_StopStream(stream); /* what it holds is heard */
    return good ? 0 : 1;
}

#endif
