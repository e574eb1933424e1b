#include "pace.h"

#include <time.h>

#include "oxylag/sound.h"

int64_t oxl_sound_now_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* A busy machine that is late by less catches up. */
enum { LATE_US = 100000 };

size_t oxl_pace_wait(struct oxl_pace *p, size_t n, int64_t lead_us)
{
    int64_t now_us = oxl_sound_now_us();
    int64_t late_us = p->until_us ? now_us - p->until_us : 0;
    int64_t missed_us = late_us > LATE_US ? late_us : 0;
    if (!p->until_us)
        p->until_us = now_us;
    p->until_us += missed_us + (int64_t)n * 1000000 / OXL_SOUND_HZ;
    int64_t wake_us = p->until_us - lead_us;
    struct timespec until = {(time_t)(wake_us / 1000000), (long)(wake_us % 1000000) * 1000};
    if (wake_us > now_us)
        clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL);
    return (size_t)(missed_us * OXL_SOUND_HZ / 1000000);
}
