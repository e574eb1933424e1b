/* The sounds. What rises is well, what falls asks for less, what comes fast and alternates cannot
 * wait; every pitch belongs to one cue (common practice, no source). From 440 to 2700 Hz, which a
 * small loudspeaker gives and an idling engine covers least (from memory). */
#include <math.h>

#include "mixer.h"

struct note {
    double hz; /* 0: a pause */
    int ms;    /* 0: the end */
};

static const struct note scores[OXL_CUE_COUNT][8] = {
    [OXL_CUE_SLOW] = {{587, 110}, {494, 110}},
    [OXL_CUE_HOLD] = {{880, 320}},
    [OXL_CUE_LESS] = {{784, 80}, {698, 80}, {622, 120}},
    [OXL_CUE_CUT] = {{1568, 80}, {0, 30}, {1568, 80}, {0, 30}, {1568, 80}, {0, 30}, {1568, 160}},
    [OXL_CUE_FRONT_LEAN] = {{1175, 90}},
    [OXL_CUE_REAR_LEAN] = {{1319, 80}, {1760, 180}},
    [OXL_CUE_SHUT] = {{2093, 80}, {1047, 80}, {2093, 80}, {1047, 80}, {2093, 80}, {1047, 80}},
    [OXL_CUE_TROUBLE] = {{440, 130}, {0, 50}, {440, 130}},
};
static const struct note tick = {2637, 14};
enum { EDGE_MS = 5 };

static size_t in_samples(int ms)
{
    return (size_t)ms * OXL_SOUND_HZ / 1000;
}

/* Edges without a click. */
static double sample_of(const struct note *n, size_t i)
{
    double edge = (double)in_samples(EDGE_MS), left = (double)(in_samples(n->ms) - i);
    double loud = fmin(1, fmin((double)i, left) / edge);
    return loud * sin(2 * acos(-1) * n->hz * (double)i / OXL_SOUND_HZ);
}

size_t oxl_cue_samples(enum oxl_cue c)
{
    size_t n = 0;
    for (size_t k = 0; k < 8 && scores[c][k].ms; k++)
        n += in_samples(scores[c][k].ms);
    return n;
}

double oxl_cue_sample(enum oxl_cue c, size_t i)
{
    for (size_t k = 0; k < 8 && scores[c][k].ms; k++) {
        size_t n = in_samples(scores[c][k].ms);
        if (i < n)
            return sample_of(&scores[c][k], i);
        i -= n;
    }
    return 0;
}

size_t oxl_tick_samples(void)
{
    return in_samples(tick.ms);
}

double oxl_tick_sample(size_t i)
{
    return sample_of(&tick, i);
}

/* Equal steps of depth are equal ratios of the rate, as an ear compares. Beyond the target it goes
 * on rising, as far as ticks can be told apart. */
double oxl_tick_hz(double depth)
{
    return isnan(depth) ? 0 : pow(8, fmin(fmax(depth, 0), 1.3));
}
