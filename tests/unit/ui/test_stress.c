/* Any size, hostile text, millions of samples: run under ASan and UBSan. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <malloc.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "help_dump.h"
#include "help_scene.h"

static void assert_printable(const struct oxl_canvas *c, bool ascii)
{
    for (int row = 0; row < oxl_canvas_rows(c); row++)
        for (int col = 0; col < oxl_canvas_cols(c); col++) {
            struct oxl_cell cell = oxl_canvas_at(c, row, col);
            assert_true(cell.ch >= 0x20 && cell.ch != 0x7F);
            assert_true(cell.ch < 0x80 || cell.ch > 0x9F);
            assert_true(cell.ink < OXL_INK_COUNT);
            if (ascii)
                assert_true(cell.ch < 0x7F);
        }
}

/* From 300 by 100 down to 1 by 1, every state and page. */
static void every_size(void **state)
{
    (void)state;
    static const double times[] = {0.5, 8, 15, 31, 32.8, 38, 45};
    struct oxl_canvas *c = oxl_canvas_new(100, 300);
    for (size_t i = 0; i < 9; i++)
        for (int ascii = 0; ascii <= 1; ascii++) {
            struct scene_options o = {.until_s = i < 7 ? times[i] : 60, .ascii = ascii};
            struct oxl_model *m = scene_play(&o);
            if (i == 7)
                scene_finish(m, OXL_CONCLUSION_QUESTIONABLE, false);
            if (i == 8)
                scene_finish(m, OXL_CONCLUSION_GOOD, true);
            for (int page = OXL_PAGE_CAUTIONS; page <= OXL_PAGE_HELP; page++) {
                oxl_model_page(m, (enum oxl_page)page);
                for (int rows = 100, cols = 300; rows > 0 || cols > 0; rows -= 3, cols -= 7) {
                    oxl_canvas_resize(c, rows, cols);
                    oxl_view_draw(m, c);
                    oxl_canvas_resize(c, rows, 1 + (cols * 7 + rows * 13) % 150);
                    oxl_view_draw(m, c);
                    assert_printable(c, ascii);
                }
            }
            scene_free(m);
        }
    oxl_canvas_free(c);
}

static void each_small_size(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 31};
    struct oxl_model *m = scene_play(&o);
    struct oxl_canvas *c = oxl_canvas_new(1, 1);
    for (int rows = 1; rows <= 26; rows++)
        for (int cols = 1; cols <= 82; cols++) {
            oxl_canvas_resize(c, rows, cols);
            oxl_view_draw(m, c);
            char *text = malloc(canvas_dump(c, NULL, 0) + 1);
            free(text);
            assert_int_equal(oxl_canvas_rows(c), rows);
            assert_int_equal(oxl_canvas_cols(c), cols);
        }
    oxl_canvas_free(c);
    scene_free(m);
}

static void sides_are_clamped(void **state)
{
    (void)state;
    struct oxl_canvas *c = oxl_canvas_new(0, -4);
    assert_int_equal(oxl_canvas_rows(c), 1);
    assert_int_equal(oxl_canvas_cols(c), 1);
    oxl_canvas_put(c, -1, 0, 'x', OXL_INK_TEXT);
    oxl_canvas_put(c, 0, 1, 'x', OXL_INK_TEXT);
    assert_int_equal(oxl_canvas_text(c, 0, 1, 5, OXL_INK_TEXT, "abc"), 0);
    assert_int_equal(oxl_canvas_at(c, 0, 0).ch, ' ');
    assert_int_equal(oxl_canvas_at(c, 5, 5).ch, ' ');
    oxl_canvas_free(c);
}

/* A million samples, ten thousand checks, runs, marks and link texts: not one byte more. */
static void memory_stays_flat(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 31};
    struct oxl_model *m = scene_play(&o);
    struct oxl_canvas *c = oxl_canvas_new(40, 120);
    oxl_view_draw(m, c);
    struct mallinfo2 before = mallinfo2();
    struct oxl_event ev = {.kind = OXL_EV_SAMPLE};
    for (int i = 0; i < 1000000; i++) {
        ev.u.sample.channel =
            i % 2 ? oxl_channel(OXL_Q_LAMBDA, 1, 1) : oxl_channel(OXL_Q_O2_V, 1, 2);
        ev.u.sample.value = 1 + 0.001 * (i % 50);
        ev.u.sample.recv_us = 31000000 + i * INT64_C(20000);
        scene_event(m, &ev);
    }
    for (int i = 0; i < 10000; i++) {
        struct oxl_event more = {.kind = OXL_EV_CHECK, .t_us = i};
        snprintf(more.u.check.id, sizeof more.u.check.id, "check-%d", i);
        scene_event(m, &more);
        struct oxl_event mark = {.kind = OXL_EV_MARK, .t_us = i};
        scene_event(m, &mark);
        struct oxl_event run = {.kind = OXL_EV_RUN, .t_us = i};
        run.u.run.run = i;
        scene_event(m, &run);
    }
    oxl_view_draw(m, c);
    struct mallinfo2 after = mallinfo2();
    assert_int_equal(after.uordblks, before.uordblks);
    oxl_canvas_free(c);
    scene_free(m);
}

/* Texts of events come from adapters and files. */
static void hostile_text_in(bool ascii)
{
    static const char evil[] = "\x1b]0;owned\x07\x1b[2J\xC2\x9B"
                               "31m\r\n\t%s%n\xE2\x80\xAEx\xFF\xF0";
    struct scene_options o = {.until_s = 8, .ascii = ascii};
    struct oxl_model *m = scene_play(&o);
    struct oxl_event link = {.kind = OXL_EV_LINK};
    link.u.link.state = OXL_LINK_READY;
    snprintf(link.u.link.text, sizeof link.u.link.text, "%s", evil);
    struct oxl_event check = {.kind = OXL_EV_CHECK};
    snprintf(check.u.check.id, sizeof check.u.check.id, "%.20s", evil);
    snprintf(check.u.check.found, sizeof check.u.check.found, "%s", evil);
    snprintf(check.u.check.advice, sizeof check.u.check.advice, "%s", evil);
    struct oxl_event mark = {.kind = OXL_EV_MARK, .t_us = 8000000};
    snprintf(mark.u.mark.text, sizeof mark.u.mark.text, "%s", evil);
    struct oxl_event profile = {.kind = OXL_EV_PROFILE};
    snprintf(profile.u.profile.name, sizeof profile.u.profile.name, "%.31s", evil);
    snprintf(profile.u.profile.why, sizeof profile.u.profile.why, "%s", evil);
    scene_event(m, &link);
    scene_event(m, &check);
    scene_event(m, &mark);
    scene_event(m, &profile);
    struct oxl_surroundings around = scene_around(8);
    around.recording_trouble = evil;
    scene_surroundings(m, &o, &around);
    struct oxl_canvas *c = oxl_canvas_new(40, 120);
    oxl_view_draw(m, c);
    assert_printable(c, ascii);
    size_t n = canvas_dump(c, NULL, 0) + 1;
    char *text = malloc(n);
    canvas_dump(c, text, n);
    assert_non_null(strstr(text, "?]0;owned??[2J?31m???%s%n?x"));
    assert_null(strchr(text, '\x1b'));
    free(text);
    oxl_canvas_free(c);
    scene_free(m);
}

static void hostile_text(void **state)
{
    (void)state;
    hostile_text_in(false);
    hostile_text_in(true);
}

/* Values far outside what a sensor can say must not leave the plot or overflow. */
static void wild_values(void **state)
{
    (void)state;
    static const double wild[] = {1e300, -1e300, INFINITY, -INFINITY, NAN, 1e9, 0, -0.0};
    struct scene_options o = {.until_s = 31};
    struct oxl_model *m = scene_play(&o);
    struct oxl_event ev = {.kind = OXL_EV_SAMPLE};
    for (size_t i = 0; i < 8; i++) {
        ev.u.sample.value = wild[i];
        ev.u.sample.recv_us = 30000000 + (int64_t)i * 100000;
        ev.u.sample.channel = oxl_channel(OXL_Q_LAMBDA, 1, 1);
        scene_event(m, &ev);
        ev.u.sample.channel = oxl_channel(OXL_Q_O2_V, 1, 2);
        scene_event(m, &ev);
        ev.u.sample.channel = oxl_channel(OXL_Q_STFT_PCT, 1, 0);
        scene_event(m, &ev);
        struct oxl_live live;
        scene_live(&o, 31, &live);
        live.shift_pct = live.total_trim_pct = live.target_pct = live.back_off_pct = wild[i];
        live.timing_s = live.hold_left_s = live.front_hz = wild[i];
        struct oxl_surroundings around = scene_around(31);
        around.valve = wild[i];
        oxl_model_live(m, &live, &around);
        struct oxl_canvas *c = oxl_canvas_new(40, 120);
        oxl_view_draw(m, c);
        assert_printable(c, false);
        oxl_canvas_free(c);
    }
    scene_free(m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_size),        cmocka_unit_test(each_small_size),
        cmocka_unit_test(sides_are_clamped), cmocka_unit_test(memory_stays_flat),
        cmocka_unit_test(hostile_text),      cmocka_unit_test(wild_values),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
