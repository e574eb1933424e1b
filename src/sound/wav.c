/* A WAV file in real time: what a device would have played, and when. Layout from memory: RIFF
 * header, "fmt " chunk of 16 bytes (PCM), "data" chunk; all little-endian. */
#include <stdlib.h>

#include "oxylag/sound.h"
#include "pace.h"

enum { HEADER = 44, PIECE = 512, GAP_MAX = 10 * OXL_SOUND_HZ };

struct wav {
    FILE *f;
    uint64_t bytes;
    struct oxl_pace pace;
};

static void put(unsigned char *at, uint64_t value, int bytes)
{
    for (int i = 0; i < bytes; i++)
        at[i] = (unsigned char)(value >> 8 * i & 0xFF);
}

/* With sizes; those of a file that was never closed are as large as can be, to be read to its end.
 */
static bool write_header(struct wav *w, uint64_t bytes)
{
    unsigned char h[HEADER] = "RIFF....WAVEfmt ....................data";
    if (bytes > UINT32_MAX - HEADER)
        bytes = UINT32_MAX - HEADER;
    put(h + 4, bytes + HEADER - 8, 4);
    put(h + 16, 16, 4);
    put(h + 20, 1, 2); /* PCM */
    put(h + 22, 1, 2); /* one channel */
    put(h + 24, OXL_SOUND_HZ, 4);
    put(h + 28, UINT64_C(2) * OXL_SOUND_HZ, 4);
    put(h + 32, 2, 2);
    put(h + 34, 16, 2);
    put(h + 40, bytes, 4);
    return fwrite(h, 1, HEADER, w->f) == HEADER;
}

static bool wav_open(void *ctx)
{
    struct wav *w = ctx;
    setvbuf(w->f, NULL, _IONBF, 0); /* a program that is killed leaves all but 10 ms */
    return write_header(w, UINT32_MAX);
}

static bool append(struct wav *w, const int16_t *samples, size_t n)
{
    unsigned char bytes[2 * PIECE] = {0};
    for (size_t now; n > 0; n -= now) {
        now = n < PIECE ? n : PIECE;
        for (size_t i = 0; i < now; i++)
            put(bytes + 2 * i, samples ? (uint16_t)*samples++ : 0, 2);
        if (fwrite(bytes, 2, now, w->f) != now)
            return false;
        w->bytes += 2 * now;
    }
    return true;
}

/* A machine that was busy leaves a gap, as a device would, so that what follows is in its place. */
static bool wav_write(void *ctx, const int16_t *samples, size_t n)
{
    struct wav *w = ctx;
    size_t missed = oxl_pace_wait(&w->pace, n, 0);
    return append(w, NULL, missed < GAP_MAX ? missed : GAP_MAX) && append(w, samples, n);
}

static void wav_close(void *ctx)
{
    struct wav *w = ctx;
    if (fseek(w->f, 0, SEEK_SET) == 0)
        (void)write_header(w, w->bytes);
    fclose(w->f);
    free(w);
}

bool oxl_sound_wav(FILE *f, struct oxl_sound_sink *out)
{
    struct wav *w = calloc(1, sizeof *w);
    if (!w) {
        fclose(f);
        return false;
    }
    w->f = f;
    *out = (struct oxl_sound_sink){w, wav_open, wav_write, wav_close};
    return true;
}
