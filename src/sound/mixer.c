#include "mixer.h"

#include <math.h>
#include <string.h>

static const double cue_loud = 0.8, tick_loud = 0.4, speech_loud = 0.9;

void oxl_mixer_init(struct oxl_mixer *m, double volume)
{
    memset(m, 0, sizeof *m);
    m->volume = fmin(fmax(volume, 0), 1);
    m->tick_at = oxl_tick_samples();
}

void oxl_mixer_cue(struct oxl_mixer *m, enum oxl_cue c)
{
    if (oxl_cue_is_urgent(m->cue) && !oxl_cue_is_urgent(c))
        return;
    m->cue = c;
    m->cue_at = 0;
}

void oxl_mixer_depth(struct oxl_mixer *m, double depth)
{
    double hz = oxl_tick_hz(depth);
    if (m->tick_hz == 0 && hz > 0)
        m->tick_phase = 1; /* the first one at once */
    m->tick_hz = hz;
}

void oxl_mixer_speech(struct oxl_mixer *m, const int16_t *samples, size_t n)
{
    m->speech = samples;
    m->speech_n = samples ? n : 0;
    m->speech_at = 0;
}

static double next_cue(struct oxl_mixer *m)
{
    double x = oxl_cue_sample(m->cue, m->cue_at++);
    if (m->cue_at >= oxl_cue_samples(m->cue))
        m->cue = OXL_CUE_NONE;
    return cue_loud * x;
}

static double next_tick(struct oxl_mixer *m)
{
    m->tick_phase += m->tick_hz / OXL_SOUND_HZ;
    if (m->tick_hz > 0 && m->tick_phase >= 1) {
        m->tick_phase -= 1;
        m->tick_at = 0;
    }
    return m->tick_at < oxl_tick_samples() ? tick_loud * oxl_tick_sample(m->tick_at++) : 0;
}

static double next_speech(struct oxl_mixer *m)
{
    return m->speech_at < m->speech_n ? speech_loud * m->speech[m->speech_at++] / 32768 : 0;
}

/* A cue has the air to itself; speech waits for its end. */
void oxl_mixer_render(struct oxl_mixer *m, int16_t *out, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        double ticking = next_tick(m);
        double x = m->cue != OXL_CUE_NONE ? next_cue(m) : ticking + next_speech(m);
        out[i] = (int16_t)lrint(32767 * m->volume * fmin(fmax(x, -1), 1));
    }
}
