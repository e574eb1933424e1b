#include "help_ear.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <time.h>

void sleep_ms(int ms)
{
    struct timespec t = {ms / 1000, ms % 1000 * 1000000L};
    nanosleep(&t, NULL);
}

static void hang_while(struct ear *e, const bool *so)
{
    for (;;) {
        pthread_mutex_lock(&e->lock);
        bool on = *so;
        pthread_mutex_unlock(&e->lock);
        if (!on)
            return;
        sleep_ms(5);
    }
}

void ear_set(struct ear *e, bool *what, bool value)
{
    pthread_mutex_lock(&e->lock);
    *what = value;
    pthread_mutex_unlock(&e->lock);
}

static bool ear_open(void *ctx)
{
    struct ear *e = ctx;
    hang_while(e, &e->hang_open);
    return !e->fail_open;
}

static bool ear_write(void *ctx, const int16_t *samples, size_t n)
{
    struct ear *e = ctx;
    hang_while(e, &e->hang_write);
    oxl_pace_wait(&e->pace, n, 0);
    pthread_mutex_lock(&e->lock);
    assert_int_equal(n, BLOCK);
    e->over_us[e->n / BLOCK] = oxl_sound_now_us();
    for (size_t i = 0; i < n && e->n < MOST; i++)
        e->samples[e->n++] = samples[i];
    bool good = !e->fail_write;
    pthread_mutex_unlock(&e->lock);
    return good;
}

static void ear_close(void *ctx)
{
    struct ear *e = ctx;
    ear_set(e, &e->closed, true);
}

struct ear *new_ear(void)
{
    static struct ear all[32];
    static int used;
    struct ear *e = &all[used++];
    pthread_mutex_init(&e->lock, NULL);
    e->samples = calloc(MOST, sizeof *e->samples);
    return e;
}

struct oxl_sound *open_ear(struct ear *e, const struct oxl_sound_voice *voice)
{
    struct oxl_sound_sink sink = {e, ear_open, ear_write, ear_close};
    struct oxl_sound *s = oxl_sound_open(&sink, voice, 80);
    assert_non_null(s);
    return s;
}

void wait_until_heard(struct oxl_sound *s)
{
    for (int i = 0; i < 2000 && !oxl_sound_is_heard(s); i++)
        sleep_ms(10);
    assert_true(oxl_sound_is_heard(s));
}

void wait_until_closed(struct ear *e)
{
    bool closed = false;
    for (int i = 0; i < 2000 && !closed; i++) {
        sleep_ms(10);
        pthread_mutex_lock(&e->lock);
        closed = e->closed;
        pthread_mutex_unlock(&e->lock);
    }
    assert_true(closed);
}

int64_t call_all(struct oxl_sound *s)
{
    int64_t longest_us = 0;
    for (int i = 0; i < 2000; i++) {
        int64_t from_us = oxl_sound_now_us();
        oxl_sound_call(s, (enum oxl_cue)(i % OXL_CUE_COUNT), i % 3 ? "HOLD" : NULL);
        oxl_sound_depth(s, 0.5);
        (void)oxl_sound_is_heard(s);
        (void)oxl_sound_is_gone(s);
        int64_t took_us = oxl_sound_now_us() - from_us;
        longest_us = took_us > longest_us ? took_us : longest_us;
    }
    return longest_us;
}
