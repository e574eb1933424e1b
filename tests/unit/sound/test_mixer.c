/* The sounds as samples. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "listen.h"
#include "sound/mixer.h"

enum { SECOND = OXL_SOUND_HZ, MOST = 64 };

static struct heard heard[MOST];

static size_t hear(struct oxl_mixer *m, int16_t *into, size_t n)
{
    oxl_mixer_render(m, into, n);
    return listen_to(into, n, heard, MOST);
}

/* Every cue is told from every other by its pitches alone, and is short. */
static void each_cue_is_heard_as_itself(void **state)
{
    (void)state;
    static int16_t room[2 * SECOND];
    for (int c = 1; c < OXL_CUE_COUNT; c++) {
        struct oxl_mixer m;
        oxl_mixer_init(&m, 1);
        oxl_mixer_render(&m, room, SECOND / 2);
        oxl_mixer_cue(&m, (enum oxl_cue)c);
        oxl_mixer_render(&m, room + SECOND / 2, 3 * SECOND / 2);
        assert_int_equal(listen_to(room, 2 * SECOND, heard, MOST), 1);
        assert_string_equal(heard[0].what, oxl_cue_name((enum oxl_cue)c));
        assert_true(fabs(heard[0].at_s - 0.5) < 0.005);
        assert_true(oxl_cue_samples((enum oxl_cue)c) <= SECOND / 2);
        assert_int_equal(m.cue, OXL_CUE_NONE);
        assert_true(room[2 * SECOND - 1] == 0);
    }
}

static int loudest(const int16_t *x, size_t n)
{
    int most = 0;
    for (size_t i = 0; i < n; i++)
        most = abs(x[i]) > most ? abs(x[i]) : most;
    return most;
}

static void volume_is_a_share_of_full_scale(void **state)
{
    (void)state;
    static int16_t full[SECOND], half[SECOND], none[SECOND];
    int16_t *const rooms[] = {full, half, none};
    const double volumes[] = {1, 0.5, 0};
    for (int i = 0; i < 3; i++) {
        struct oxl_mixer m;
        oxl_mixer_init(&m, volumes[i]);
        oxl_mixer_cue(&m, OXL_CUE_HOLD);
        oxl_mixer_render(&m, rooms[i], SECOND);
    }
    assert_true(loudest(full, SECOND) > 20000 && loudest(full, SECOND) < 32767);
    assert_true(abs(2 * loudest(half, SECOND) - loudest(full, SECOND)) < 4);
    assert_int_equal(loudest(none, SECOND), 0);
}

/* Equal calls, equal samples, however they are cut into blocks. */
static void the_same_calls_give_the_same_samples(void **state)
{
    (void)state;
    static int16_t a[SECOND], b[SECOND];
    struct oxl_mixer m, n;
    oxl_mixer_init(&m, 0.7);
    oxl_mixer_init(&n, 0.7);
    oxl_mixer_depth(&m, 0.6);
    oxl_mixer_depth(&n, 0.6);
    oxl_mixer_render(&m, a, SECOND);
    for (size_t at = 0; at < SECOND;) {
        size_t k = at % 7 * 31 + 1;
        k = at + k > SECOND ? SECOND - at : k;
        oxl_mixer_render(&n, b + at, k);
        at += k;
    }
    assert_memory_equal(a, b, sizeof a);
}

static void nothing_covers_shut_the_valve(void **state)
{
    (void)state;
    static int16_t room[SECOND];
    for (int c = 1; c < OXL_CUE_COUNT; c++) {
        struct oxl_mixer m;
        oxl_mixer_init(&m, 1);
        oxl_mixer_cue(&m, OXL_CUE_SHUT);
        oxl_mixer_render(&m, room, SECOND / 20);
        oxl_mixer_cue(&m, (enum oxl_cue)c);
        assert_int_equal(m.cue, c == OXL_CUE_CUT ? OXL_CUE_CUT : OXL_CUE_SHUT);
        oxl_mixer_cue(&m, OXL_CUE_SHUT); /* ... and it covers any other at once */
        assert_int_equal(m.cue, OXL_CUE_SHUT);
    }
    struct oxl_mixer m;
    oxl_mixer_init(&m, 1);
    oxl_mixer_cue(&m, OXL_CUE_HOLD);
    oxl_mixer_cue(&m, OXL_CUE_FRONT_LEAN);
    assert_int_equal(m.cue, OXL_CUE_FRONT_LEAN);
}

static size_t ticks_in_four_seconds(double depth)
{
    static int16_t room[4 * SECOND];
    struct oxl_mixer m;
    oxl_mixer_init(&m, 1);
    oxl_mixer_depth(&m, depth);
    size_t n = hear(&m, room, 4 * SECOND);
    for (size_t i = 0; i < n; i++)
        assert_string_equal(heard[i].what, "tick");
    return n;
}

static void the_tick_quickens_towards_the_target(void **state)
{
    (void)state;
    assert_int_equal(ticks_in_four_seconds(NAN), 0);
    assert_int_equal(ticks_in_four_seconds(0), 4); /* the first one at once */
    assert_true(heard[0].at_s < 0.01);
    assert_int_equal(ticks_in_four_seconds(1), 32);
    size_t before = 0;
    for (double depth = 0; depth < 1.3; depth += 0.2) {
        size_t n = ticks_in_four_seconds(depth);
        assert_true(n > before);
        before = n;
    }
    assert_int_equal(ticks_in_four_seconds(INFINITY), ticks_in_four_seconds(2));
    assert_int_equal(ticks_in_four_seconds(-1), 4);
}

/* The rate follows a depth that grows: the moments draw nearer one after the other. */
static void the_tick_follows_the_depth(void **state)
{
    (void)state;
    static int16_t room[6 * SECOND];
    struct oxl_mixer m;
    oxl_mixer_init(&m, 1);
    for (size_t at = 0; at < 6 * SECOND; at += SECOND / 10) {
        oxl_mixer_depth(&m, (double)at / (6 * SECOND));
        oxl_mixer_render(&m, room + at, SECOND / 10);
    }
    size_t n = listen_to(room, 6 * SECOND, heard, MOST);
    assert_true(n > 15 && n < MOST);
    for (size_t i = 2; i < n; i++)
        assert_true(heard[i].at_s - heard[i - 1].at_s <
                    heard[i - 1].at_s - heard[i - 2].at_s + 0.012);
}

static size_t first_loud(const int16_t *x, size_t n)
{
    size_t i = 0;
    while (i < n && abs(x[i]) < 5000)
        i++;
    return i;
}

static void speech_waits_for_a_cue(void **state)
{
    (void)state;
    static int16_t speech[SECOND / 10], room[SECOND];
    struct oxl_mixer m;
    for (size_t i = 0; i < SECOND / 10; i++)
        speech[i] = 10000;
    oxl_mixer_init(&m, 1);
    oxl_mixer_cue(&m, OXL_CUE_TROUBLE);
    oxl_mixer_speech(&m, speech, SECOND / 10);
    oxl_mixer_render(&m, room, SECOND);
    size_t cue = oxl_cue_samples(OXL_CUE_TROUBLE);
    assert_int_equal(first_loud(room + cue, SECOND - cue), 0);
    for (size_t i = cue; i < cue + SECOND / 10; i++)
        assert_true(room[i] > 8000);
    assert_int_equal(room[cue + SECOND / 10], 0);
    oxl_mixer_speech(&m, speech, SECOND / 10);
    oxl_mixer_render(&m, room, 10);
    oxl_mixer_speech(&m, NULL, 0); /* overtaken: it ends at once */
    oxl_mixer_render(&m, room, 10);
    assert_int_equal(first_loud(room, 10), 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_cue_is_heard_as_itself),
        cmocka_unit_test(volume_is_a_share_of_full_scale),
        cmocka_unit_test(the_same_calls_give_the_same_samples),
        cmocka_unit_test(nothing_covers_shut_the_valve),
        cmocka_unit_test(the_tick_quickens_towards_the_target),
        cmocka_unit_test(the_tick_follows_the_depth),
        cmocka_unit_test(speech_waits_for_a_cue),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
