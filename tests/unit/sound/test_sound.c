/* The threads: what is called is heard soon or not at all, and nobody waits for a device. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "listen.h"
#include "oxylag/sound.h"
#include "sound/pace.h"

enum { MOST = 20 * OXL_SOUND_HZ, HEARD = 64, BLOCK = OXL_SOUND_HZ / 100 };
/* A device of these tests hangs until it is told not to: whoever waits for it, waits longer than
 * any busy machine makes him. */
static const int64_t call_us = 2000000;
enum { LIMIT_MS = 10000 }; /* to hear a cue out, on a busy machine */

static void sleep_ms(int ms)
{
    struct timespec t = {ms / 1000, ms % 1000 * 1000000L};
    nanosleep(&t, NULL);
}

/* ---- sinks of the test ----------------------------------------------------------------------- */
/* A sink in memory that keeps time as a device does, or hangs where it is told to. Never freed by
 * itself, since a thread may be left in it. */
struct ear {
    pthread_mutex_t lock;
    int16_t *samples;
    size_t n;
    int64_t over_us[MOST / BLOCK + 1]; /* when each block had been heard */
    struct oxl_pace pace;
    bool hang_open, hang_write, fail_open, fail_write, closed;
};

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

static void set(struct ear *e, bool *what, bool value)
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
    set(e, &e->closed, true);
}

static struct ear *ears; /* the one in use: reachable, so no leak where a thread is left in it */

static struct ear *new_ear(void)
{
    static struct ear all[32];
    static int used;
    struct ear *e = &all[used++];
    pthread_mutex_init(&e->lock, NULL);
    e->samples = calloc(MOST, sizeof *e->samples);
    ears = e;
    return e;
}

static struct oxl_sound *open_ear(struct ear *e, const struct oxl_sound_voice *voice)
{
    struct oxl_sound_sink sink = {e, ear_open, ear_write, ear_close};
    struct oxl_sound *s = oxl_sound_open(&sink, voice, 80);
    assert_non_null(s);
    return s;
}

static void wait_until_heard(struct oxl_sound *s)
{
    for (int i = 0; i < 2000 && !oxl_sound_is_heard(s); i++)
        sleep_ms(10);
    assert_true(oxl_sound_is_heard(s));
}

/* Everything that a loop calls; the longest of the calls, in microseconds. */
static int64_t call_all(struct oxl_sound *s)
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

static void wait_until_closed(struct ear *e)
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

static int64_t close_us(struct oxl_sound *s)
{
    int64_t from_us = oxl_sound_now_us();
    oxl_sound_close(s, LIMIT_MS);
    return oxl_sound_now_us() - from_us;
}

/* When that was heard. */
static int64_t moment_us(const struct ear *e, double at_s)
{
    double block = at_s * OXL_SOUND_HZ / BLOCK;
    return e->over_us[(int)block] - (int64_t)((1 - fmod(block, 1)) * 1e6 * BLOCK / OXL_SOUND_HZ);
}

/* ---- what is heard --------------------------------------------------------------------------- */
/* The longest time from a call to its sound, of a call for each cue; NAN: not all of them are
 * heard, as a machine may be too busy for. */
static double longest_ms(void)
{
    struct ear *e = new_ear();
    struct oxl_sound *s = open_ear(e, NULL);
    int64_t called_us[OXL_CUE_COUNT];
    struct heard heard[HEARD];
    double worst_ms = 0;
    wait_until_heard(s);
    for (int c = 1; c < OXL_CUE_COUNT; c++) {
        sleep_ms(600 + 3 * c); /* not always at the same place of a block */
        called_us[c] = oxl_sound_now_us();
        oxl_sound_call(s, (enum oxl_cue)c, NULL);
    }
    oxl_sound_close(s, LIMIT_MS); /* the last one is heard to its end */
    if (listen_to(e->samples, e->n, heard, HEARD) != OXL_CUE_COUNT - 1)
        return NAN;
    for (int c = 1; c < OXL_CUE_COUNT; c++) {
        assert_string_equal(heard[c - 1].what, oxl_cue_name((enum oxl_cue)c));
        double late_ms = (double)(moment_us(e, heard[c - 1].at_s) - called_us[c]) / 1000;
        worst_ms = fmax(worst_ms, late_ms);
        assert_true(late_ms > -5);
    }
    return worst_ms;
}

/* Other programs may have the processors for a while, but not every time. */
static void each_cue_is_heard_within_100_ms(void **state)
{
    (void)state;
    double ms = NAN;
    for (int i = 0; i < 8 && !(ms < 100); i++)
        ms = longest_ms();
    print_message("from the call to the sound: at most %.0f ms\n", ms);
    assert_true(ms < 100);
}

static void a_depth_that_is_not_renewed_falls_silent(void **state)
{
    (void)state;
    struct ear *e = new_ear();
    struct oxl_sound *s = open_ear(e, NULL);
    struct heard heard[HEARD];
    wait_until_heard(s);
    oxl_sound_depth(s, 1);
    sleep_ms(2000); /* a program that hangs does not go on ticking */
    oxl_sound_close(s, LIMIT_MS);
    size_t n = listen_to(e->samples, e->n, heard, HEARD);
    assert_true(n >= 1 && n <= 8); /* eight a second: 16 of them, if it went on */
}

static void muted_is_silent_and_keeps_nothing(void **state)
{
    (void)state;
    struct ear *e = new_ear();
    struct oxl_sound *s = open_ear(e, NULL);
    struct heard heard[HEARD];
    wait_until_heard(s);
    oxl_sound_mute(s, true);
    oxl_sound_call(s, OXL_CUE_CUT, NULL);
    oxl_sound_depth(s, 1);
    sleep_ms(300);
    oxl_sound_mute(s, false);
    sleep_ms(600);
    oxl_sound_call(s, OXL_CUE_HOLD, NULL);
    oxl_sound_close(s, LIMIT_MS);
    size_t n = listen_to(e->samples, e->n, heard, HEARD), cues = 0;
    for (size_t i = 0; i < n; i++)
        if (strcmp(heard[i].what, "tick") != 0) {
            assert_string_equal(heard[i].what, "hold");
            cues++;
        }
    assert_int_equal(cues, 1);
}

/* ---- devices that hang, fail, are not there -------------------------------------------------- */
static void an_opening_that_hangs_holds_up_nobody(void **state)
{
    (void)state;
    struct ear *e = new_ear();
    e->hang_open = true;
    struct oxl_sound *s = open_ear(e, NULL);
    sleep_ms(100);
    assert_false(oxl_sound_is_heard(s));
    assert_false(oxl_sound_is_gone(s)); /* it may still come */
    assert_true(call_all(s) < call_us);
    assert_true(close_us(s) < call_us);
    assert_int_equal(e->n, 0);
    assert_false(e->closed);
    set(e, &e->hang_open, false); /* whoever was left behind goes in order */
    wait_until_closed(e);
    struct heard heard[HEARD];
    assert_int_equal(listen_to(e->samples, e->n, heard, HEARD), 0);
}

static void what_waited_for_a_device_is_not_heard(void **state)
{
    (void)state;
    struct ear *e = new_ear();
    struct oxl_sound *s = open_ear(e, NULL);
    struct heard heard[HEARD];
    wait_until_heard(s);
    oxl_sound_call(s, OXL_CUE_SHUT, NULL);
    sleep_ms(60);
    set(e, &e->hang_write, true);
    sleep_ms(100);
    oxl_sound_call(s, OXL_CUE_CUT, NULL);
    sleep_ms(500);
    assert_true(call_all(s) < call_us);
    assert_false(oxl_sound_is_heard(s));
    sleep_ms(600); /* all that was called is late now */
    set(e, &e->hang_write, false);
    wait_until_heard(s);
    oxl_sound_call(s, OXL_CUE_HOLD, NULL);
    oxl_sound_close(s, LIMIT_MS);
    size_t n = listen_to(e->samples, e->n, heard, HEARD);
    assert_true(n >= 1 && n <= 2); /* what was begun, the new one, and none of those between */
    assert_string_equal(heard[n - 1].what, "hold");
    for (size_t i = 0; i < n; i++)
        assert_string_not_equal(heard[i].what, "cut");
}

static void a_write_that_hangs_is_left_behind(void **state)
{
    (void)state;
    struct ear *e = new_ear();
    struct oxl_sound *s = open_ear(e, NULL);
    wait_until_heard(s);
    set(e, &e->hang_write, true);
    sleep_ms(400);
    assert_true(close_us(s) < call_us);
    assert_false(e->closed);
    set(e, &e->hang_write, false);
    wait_until_closed(e);
}

static void a_device_that_is_gone_is_known(void **state)
{
    (void)state;
    for (int i = 0; i < 2; i++) {
        struct ear *e = new_ear();
        e->fail_open = i == 0;
        e->fail_write = i == 1;
        struct oxl_sound *s = open_ear(e, NULL);
        for (int k = 0; k < 2000 && !oxl_sound_is_gone(s); k++)
            sleep_ms(10);
        assert_true(oxl_sound_is_gone(s));
        assert_false(oxl_sound_is_heard(s));
        assert_true(call_all(s) < call_us);
        assert_true(close_us(s) < call_us);
        assert_true(e->closed);
    }
}

/* ---- the voice ------------------------------------------------------------------------------- */
/* Speaks "A" as a level of 1000, "B" as 2000, .., for three seconds, after a while. */
struct mouth {
    int takes_ms; /* 0: "A" is not ready before it is overtaken, the others at once */
    int begun, given_up;
};
static const double spoken_s = 3;

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
    wait_for(e, 'B', 0.01); /* while it is spoken */
    oxl_sound_call(s, OXL_CUE_NONE, "C");
    wait_for(e, 'C', spoken_s - 0.02);
    oxl_sound_close(s, LIMIT_MS);
    assert_true(heard_s(e, 'A') == 0);
    assert_true(heard_s(e, 'B') > 0 && heard_s(e, 'B') < spoken_s / 2);
    assert_true(fabs(heard_s(e, 'C') - spoken_s) < 0.02);
    assert_int_equal(m.given_up, m.begun - 2);
}

static void a_sentence_that_comes_late_is_dropped(void **state)
{
    (void)state;
    static struct mouth m = {.takes_ms = 1300};
    struct ear *e = new_ear();
    struct oxl_sound *s = open_mouth(e, &m);
    oxl_sound_call(s, OXL_CUE_NONE, "A");
    sleep_ms(2200);
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

/* ---- the file -------------------------------------------------------------------------------- */
static void a_file_holds_what_was_heard(void **state)
{
    (void)state;
    FILE *f = tmpfile(), *again = fdopen(dup(fileno(f)), "rb");
    struct oxl_sound_sink sink;
    assert_true(oxl_sound_wav(f, &sink));
    struct oxl_sound *s = oxl_sound_open(&sink, NULL, 80);
    wait_until_heard(s);
    sleep_ms(300);
    oxl_sound_call(s, OXL_CUE_REAR_LEAN, NULL);
    oxl_sound_close(s, LIMIT_MS);
    static unsigned char bytes[4 * OXL_SOUND_HZ];
    static int16_t samples[2 * OXL_SOUND_HZ];
    rewind(again);
    size_t n = fread(bytes, 1, sizeof bytes, again), data = 0;
    fclose(again);
    assert_true(n > 44);
    assert_memory_equal(bytes, "RIFF", 4);
    assert_memory_equal(bytes + 36, "data", 4);
    for (int i = 3; i >= 0; i--)
        data = data << 8 | bytes[40 + i];
    assert_int_equal(data, n - 44);
    for (size_t i = 0; i < data / 2; i++)
        samples[i] = (int16_t)(bytes[44 + 2 * i] | bytes[45 + 2 * i] << 8);
    struct heard heard[HEARD];
    assert_int_equal(listen_to(samples, data / 2, heard, HEARD), 1);
    assert_string_equal(heard[0].what, "rear-lean");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_cue_is_heard_within_100_ms),
        cmocka_unit_test(a_depth_that_is_not_renewed_falls_silent),
        cmocka_unit_test(muted_is_silent_and_keeps_nothing),
        cmocka_unit_test(an_opening_that_hangs_holds_up_nobody),
        cmocka_unit_test(what_waited_for_a_device_is_not_heard),
        cmocka_unit_test(a_write_that_hangs_is_left_behind),
        cmocka_unit_test(a_device_that_is_gone_is_known),
        cmocka_unit_test(a_sentence_that_is_overtaken_is_dropped),
        cmocka_unit_test(a_sentence_that_comes_late_is_dropped),
        cmocka_unit_test(a_sentence_waits_for_its_cue),
        cmocka_unit_test(the_library_speaks),
        cmocka_unit_test(a_file_holds_what_was_heard),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
