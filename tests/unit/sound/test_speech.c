/* The voice: one sentence at a time, and none late. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "beside.h"
#include "help_ear.h"

/* Speaks "A" as a level of 1000, "B" as 2000, .., for 1.2 s, after a while. */
struct mouth {
    int takes_ms; /* 0: "A" is not ready before it is overtaken, the others at once */
    int begun, given_up;
};
static const double spoken_s = 1.2;

static bool mouth_open(void *ctx)
{
    (void)ctx;
    return true;
}

static size_t mouth_speak(void *ctx, const char *words, int16_t *out, size_t max,
                          bool (*overtaken)(void *by), void *by)
{
    struct mouth *m = ctx;
    m->begun++;
    bool never = !m->takes_ms && words[0] == 'A';
    for (int ms = 0; never || ms < m->takes_ms; ms += 10) {
        if (overtaken(by)) {
            m->given_up++;
            return 0;
        }
        sleep_ms(10);
    }
    size_t n = (size_t)(spoken_s * OXL_SOUND_HZ);
    assert_true(n <= max);
    for (size_t i = 0; i < n; i++)
        out[i] = (int16_t)(1000 * (words[0] - 'A' + 1));
    return n;
}

static void mouth_close(void *ctx)
{
    (void)ctx;
}

/* How long a letter was heard. */
static double heard_s(struct ear *e, char letter)
{
    size_t n = 0;
    int level = (int)(0.9 * 0.8 * 1000 * (letter - 'A' + 1));
    pthread_mutex_lock(&e->lock);
    for (size_t i = 1; i < e->n; i++)
        n += e->samples[i] == e->samples[i - 1] && abs(e->samples[i] - level) < 30;
    pthread_mutex_unlock(&e->lock);
    return (double)n / OXL_SOUND_HZ;
}

static void wait_for(struct ear *e, char letter, double seconds)
{
    for (int i = 0; i < 2000 && heard_s(e, letter) < seconds; i++)
        sleep_ms(10);
}

static struct oxl_sound *open_mouth(struct ear *e, struct mouth *m)
{
    struct oxl_sound_voice voice = {m, mouth_open, mouth_speak, mouth_close};
    struct oxl_sound *s = open_ear(e, &voice);
    wait_until_heard(s);
    return s;
}

static void a_sentence_that_is_overtaken_is_dropped(void **state)
{
    (void)state;
    static struct mouth m;
    struct ear *e = new_ear();
    struct oxl_sound *s = open_mouth(e, &m);
    oxl_sound_call(s, OXL_CUE_NONE, "A");
    sleep_ms(60); /* while it is made */
    oxl_sound_call(s, OXL_CUE_NONE, "B");
    wait_for(e, 'B', 0.01);               /* while it is spoken */
    oxl_sound_call(s, OXL_CUE_NONE, "A"); /* not ready, but the old words are no longer true */
    sleep_ms(1300);
    oxl_sound_call(s, OXL_CUE_NONE, "C");
    wait_for(e, 'C', spoken_s - 0.02);
    oxl_sound_close(s, LIMIT_MS);
    assert_true(heard_s(e, 'A') == 0);
    assert_true(heard_s(e, 'B') > 0 && heard_s(e, 'B') < spoken_s - 0.1);
    assert_true(fabs(heard_s(e, 'C') - spoken_s) < 0.02);
    assert_int_equal(m.given_up, m.begun - 2);
}

static void a_sentence_that_comes_late_is_dropped(void **state)
{
    (void)state;
    static struct mouth m = {.takes_ms = 1100};
    struct ear *e = new_ear();
    struct oxl_sound *s = open_mouth(e, &m);
    oxl_sound_call(s, OXL_CUE_NONE, "A");
    sleep_ms(1900);
    assert_true(call_all(s) < call_us);
    oxl_sound_close(s, LIMIT_MS);
    assert_true(heard_s(e, 'A') == 0);
}

static void a_sentence_waits_for_its_cue(void **state)
{
    (void)state;
    static struct mouth m = {.takes_ms = 10};
    struct ear *e = new_ear();
    struct oxl_sound *s = open_mouth(e, &m);
    struct heard heard[HEARD];
    oxl_sound_call(s, OXL_CUE_CUT, "A");
    wait_for(e, 'A', spoken_s - 0.02);
    oxl_sound_close(s, LIMIT_MS);
    assert_int_equal(listen_to(e->samples, e->n, heard, HEARD), 1);
    assert_string_equal(heard[0].what, "cut");
    assert_true(fabs(heard_s(e, 'A') - spoken_s) < 0.02);
}

static bool never(void *by)
{
    (void)by;
    return false;
}

static bool at_once(void *by)
{
    (void)by;
    return true;
}

/* The library that the program has: words take the time that words take. */
static void the_library_speaks(void **state)
{
    (void)state;
    struct oxl_sound_voice v;
    enum { MAX = 6 * OXL_SOUND_HZ };
    if (!oxl_sound_speech(&v))
        skip();
    int16_t *out = malloc(MAX * sizeof *out);
    assert_true(v.open(v.ctx));
    int64_t from_us = oxl_sound_now_us();
    size_t brief = v.speak(v.ctx, "HOLD", out, MAX, never, NULL);
    print_message("one word is made in %.0f ms\n", (double)(oxl_sound_now_us() - from_us) / 1000);
    size_t lengthy = v.speak(v.ctx, "CUT THE GAS NOW", out, MAX, never, NULL);
    int loud = 0;
    for (size_t i = 0; i < lengthy; i++)
        loud = abs(out[i]) > loud ? abs(out[i]) : loud;
    assert_true(brief > OXL_SOUND_HZ / 5 && brief < 2 * OXL_SOUND_HZ);
    assert_true(lengthy > brief && lengthy < 3 * OXL_SOUND_HZ);
    assert_true(loud > 5000);
    assert_true(v.speak(v.ctx, "CUT THE GAS NOW", out, MAX, at_once, NULL) < lengthy / 2);
    assert_int_equal(v.speak(v.ctx, "CUT THE GAS NOW", out, 100, never, NULL), 100);
    v.close(v.ctx);
    free(out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sentence_that_is_overtaken_is_dropped),
        cmocka_unit_test(a_sentence_that_comes_late_is_dropped),
        cmocka_unit_test(a_sentence_waits_for_its_cue),
        cmocka_unit_test(the_library_speaks),
    };
    return run_beside(tests, sizeof tests / sizeof tests[0]);
}
