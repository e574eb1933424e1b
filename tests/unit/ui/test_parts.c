/* The parts of the screen, one by one. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "help_dump.h"
#include "help_scene.h"
#include "oxylag/figure.h"
#include "ui/gauge.h"
#include "ui/headline.h"
#include "ui/large.h"
#include "ui/plot.h"

static char *dump(const struct oxl_canvas *c)
{
    size_t n = canvas_dump(c, NULL, 0) + 1;
    char *text = malloc(n);
    canvas_dump(c, text, n);
    return text;
}

static void unknown_is_two_dashes(void **state)
{
    (void)state;
    assert_string_equal(oxl_figure_cell(NAN, 1, false).text, "--");
    assert_string_equal(oxl_figure_cell(INFINITY, 1, true).text, "--");
    assert_string_equal(oxl_figure_cell(0, 1, false).text, "0.0");
    assert_string_equal(oxl_figure_cell(-0.04, 1, false).text, "0.0");
    assert_string_equal(oxl_figure_cell(2.34, 1, true).text, "+2.3");
    assert_string_equal(oxl_figure_cell(-2.34, 1, true).text, "-2.3");
    assert_int_equal(strlen(oxl_figure_cell(1e300, 1, true).text), 23);
}

/* A model that was told nothing has no zero on its screen but those of scales. */
static void nothing_known_shows_no_zero_values(void **state)
{
    (void)state;
    struct oxl_model_config config = {.title = "x"};
    struct oxl_model *m = scene_new(&config);
    struct oxl_canvas *c = oxl_canvas_new(24, 80);
    for (int s = 0; s < OXL_STATE_COUNT; s++) {
        struct oxl_event ev = {.kind = OXL_EV_STATE};
        ev.u.state.state = (enum oxl_state)s;
        scene_event(m, &ev);
        oxl_view_draw(m, c);
        char *text = dump(c);
        assert_non_null(strstr(text, "--"));
        assert_null(strstr(text, " 0.0 "));
        assert_null(strstr(text, "+0.0"));
        assert_null(strstr(text, "run 0"));
        assert_null(strstr(text, "nan"));
        free(text);
    }
    oxl_canvas_free(c);
    scene_free(m);
}

static void stale_values_become_unknown(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 15};
    struct oxl_model *m = scene_play(&o);
    struct oxl_canvas *c = oxl_canvas_new(10, 40);
    oxl_view_draw(m, c);
    char *text = dump(c);
    assert_null(strstr(text, "front      -- lambda"));
    assert_non_null(strstr(text, "front   1.00"));
    free(text);
    struct oxl_surroundings around = scene_around(18); /* no sample for 3 s */
    scene_surroundings(m, &o, &around);
    oxl_view_draw(m, c);
    text = dump(c);
    assert_non_null(strstr(text, "front      -- lambda"));
    assert_non_null(strstr(text, "rear       -- V"));
    free(text);
    oxl_canvas_free(c);
    scene_free(m);
}

static void gauge_pointer_arithmetic(void **state)
{
    (void)state;
    /* cells 0..100 from +5 to -45: two cells for each per cent */
    assert_int_equal(oxl_gauge_cell(5, 5, -45, 101), 0);
    assert_int_equal(oxl_gauge_cell(0, 5, -45, 101), 10);
    assert_int_equal(oxl_gauge_cell(-20, 5, -45, 101), 50);
    assert_int_equal(oxl_gauge_cell(-20.3, 5, -45, 101), 51);
    assert_int_equal(oxl_gauge_cell(-45, 5, -45, 101), 100);
    assert_int_equal(oxl_gauge_cell(-80, 5, -45, 101), 100);
    assert_int_equal(oxl_gauge_cell(33, 5, -45, 101), 0);
    assert_int_equal(oxl_gauge_cell(NAN, 5, -45, 101), -1);
    assert_int_equal(oxl_gauge_cell(-20, 5, -45, 1), 0);
    assert_int_equal(oxl_gauge_cell(-20, 5, -45, 0), -1);
}

/* On the drawn gauge the pointer stands under the accepted band exactly when the shift is in it. */
static void gauge_pointer_agrees_with_the_band(void **state)
{
    (void)state;
    struct scene_options o = {0};
    struct oxl_live live;
    scene_live(&o, 30, &live);
    struct oxl_canvas *c = oxl_canvas_new(4, 181); /* four cells for each per cent */
    struct oxl_area a = {0, 0, 4, 181};
    for (double shift = 2; shift > -38; shift -= 0.25) {
        live.shift_pct = NAN;
        oxl_canvas_clear(c);
        oxl_gauge_draw(c, a, &live, OXL_HAND_MORE);
        uint32_t under[181];
        for (int x = 0; x < 181; x++)
            under[x] = oxl_canvas_at(c, 1, x).ch;
        live.shift_pct = shift;
        oxl_canvas_clear(c);
        oxl_gauge_draw(c, a, &live, OXL_HAND_MORE);
        int at = -1;
        for (int x = 0; x < 181; x++)
            if (oxl_canvas_at(c, 1, x).ch == 0x25B2) {
                assert_int_equal(at, -1);
                at = x;
                assert_int_equal(oxl_canvas_at(c, 2, x).ch, 0x25B2);
            }
        assert_in_range(at, 0, 180);
        assert_int_equal(under[at] == 0x2588, shift <= -15 && shift >= -25);
    }
    oxl_canvas_free(c);
}

static int rows_drawn(const char *text, int scale, bool ascii)
{
    struct oxl_canvas *c = oxl_canvas_new(16, 100);
    int cols = oxl_large_draw(c, 2, 3, text, scale, OXL_INK_TITLE, ascii);
    assert_int_equal(cols, oxl_large_cols(text, scale));
    int first = -1, last = -1;
    for (int row = 0; row < 16; row++)
        for (int x = 0; x < 100; x++)
            if (oxl_canvas_at(c, row, x).ch != ' ') {
                first = first < 0 ? row : first;
                last = row;
                assert_in_range(x, 3, 3 + cols - 1);
            }
    oxl_canvas_free(c);
    assert_int_equal(first, 2);
    return last - first + 1;
}

static void timer_digits_are_five_rows_or_more(void **state)
{
    (void)state;
    for (int scale = 2; scale <= 4; scale++)
        for (int ascii = 0; ascii <= 1; ascii++) {
            assert_true(rows_drawn("0123456789.", scale, ascii) >= 5);
            assert_int_equal(rows_drawn("0123456789.", scale, ascii), oxl_large_rows(scale));
        }
    assert_int_equal(oxl_large_rows(2), 5);
    assert_int_equal(oxl_large_rows(3), 8);
    assert_int_equal(oxl_large_rows(4), 10);
}

/* Ten figures, ten shapes. */
static void figures_differ_from_each_other(void **state)
{
    (void)state;
    for (int ascii = 0; ascii <= 1; ascii++)
        for (char a = '0'; a <= '9'; a++)
            for (char b = (char)(a + 1); b <= '9'; b++) {
                char one[2] = {a, 0}, two[2] = {b, 0};
                struct oxl_canvas *c = oxl_canvas_new(3, 3), *d = oxl_canvas_new(3, 3);
                oxl_large_draw(c, 0, 0, one, 1, OXL_INK_TITLE, ascii);
                oxl_large_draw(d, 0, 0, two, 1, OXL_INK_TITLE, ascii);
                char *s = dump(c), *t = dump(d);
                assert_string_not_equal(s, t);
                free(s);
                free(t);
                oxl_canvas_free(c);
                oxl_canvas_free(d);
            }
}

/* Every headline fits 80 columns in large letters, else it would be small when it matters. */
static void headlines_fit_80_columns(void **state)
{
    (void)state;
    struct oxl_model_config config = {.title = ""};
    int notes = 0;
    for (int a = 0; a < OXL_ADV_COUNT; a++) {
        if (!oxl_advice_headline((enum oxl_advice)a)) {
            notes++;
            continue;
        }
        struct oxl_model *m = scene_new(&config);
        struct oxl_event ev = {.kind = OXL_EV_STATE};
        ev.u.state.state = OXL_STATE_ENRICHMENT;
        scene_event(m, &ev);
        scene_advice(m, 0, (enum oxl_advice)a, "");
        struct oxl_headline h;
        h = oxl_headline(m);
        assert_true(oxl_large_can(h.words, 1, false));
        assert_in_range(oxl_large_cols(h.words, 1), 1, 78);
        assert_int_equal(h.sentence[0] == '!', oxl_advice_is_caution((enum oxl_advice)a));
        scene_free(m);
    }
    assert_int_equal(notes, 11);
}

/* A note is read for some seconds and does not take the action away. */
static void notes_leave_the_action(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 31};
    struct oxl_model *m = scene_play(&o);
    struct oxl_headline h;
    scene_advice(m, 31, OXL_ADV_MARKED, "");
    h = oxl_headline(m);
    assert_string_equal(h.words, "HOLD");
    assert_string_equal(h.sentence, "Hold it there.");
    assert_string_equal(h.note, "* Marked.");
    struct oxl_surroundings later = scene_around(40);
    scene_surroundings(m, &o, &later);
    h = oxl_headline(m);
    assert_string_equal(h.sentence, "Hold it there.");
    assert_string_equal(h.note, "");
    scene_advice(m, 41, OXL_ADV_LINK_TROUBLE, "");
    h = oxl_headline(m);
    assert_string_equal(h.words, "SHUT THE VALVE"); /* gas flows, and nobody sees it */
    assert_string_equal(h.sentence, "! No data: check connector, adapter and ignition.");
    scene_advice(m, 42, OXL_ADV_LINK_BACK, "");
    h = oxl_headline(m);
    assert_string_equal(h.words, "HOLD");
    scene_free(m);
}

static struct oxl_plot plot_10x4(void)
{
    struct oxl_plot p = {{0, 0, 4, 10}, 0, 20000000, 0, 16, OXL_INK_FRONT, false};
    return p; /* a point is one second by one unit */
}

static void plot_puts_points_where_they_belong(void **state)
{
    (void)state;
    struct oxl_plot p = plot_10x4();
    struct oxl_canvas *c = oxl_canvas_new(4, 10);
    struct oxl_history *h = malloc(sizeof *h);
    oxl_history_clear(h);
    oxl_history_push(h, 4500000, 0.5); /* fifth second, lowest unit: cell 2, left dot 7 */
    oxl_plot_history(c, &p, h, 4500000);
    assert_int_equal(oxl_canvas_at(c, 3, 2).ch, 0x2840);
    assert_int_equal(oxl_canvas_at(c, 3, 2).ink, OXL_INK_FRONT);
    oxl_history_push(h, 5400000, 15.5); /* sixth second, highest unit; the line joins them */
    oxl_canvas_clear(c);
    oxl_plot_history(c, &p, h, 5400000);
    for (int row = 0; row < 4; row++)
        assert_true(oxl_canvas_at(c, row, 2).ch > 0x2800);
    assert_int_equal(oxl_plot_row(&p, 15.5), 0);
    assert_int_equal(oxl_plot_row(&p, 0.5), 3);
    assert_int_equal(oxl_plot_row(&p, 16.5), -1);
    assert_int_equal(oxl_plot_row(&p, NAN), -1);
    assert_int_equal(oxl_plot_col(&p, 5400000), 2);
    assert_int_equal(oxl_plot_col(&p, 20000000), -1);
    free(h);
    oxl_canvas_free(c);
}

static void plot_leaves_gaps_open_and_shades_them(void **state)
{
    (void)state;
    struct oxl_plot p = plot_10x4();
    struct oxl_canvas *c = oxl_canvas_new(4, 10);
    struct oxl_history *h = malloc(sizeof *h);
    oxl_history_clear(h);
    oxl_history_push(h, 1000000, 2);
    oxl_history_push(h, 1900000, 2);
    oxl_history_push(h, 12000000, 2);
    oxl_plot_history(c, &p, h, 19000000);
    assert_int_equal(oxl_canvas_at(c, 2, 3).ch, 0x2591);
    assert_int_equal(oxl_canvas_at(c, 2, 3).ink, OXL_INK_CAUTION);
    assert_int_equal(oxl_canvas_at(c, 3, 3).ch, ' ');    /* no line across */
    assert_int_equal(oxl_canvas_at(c, 2, 8).ch, 0x2591); /* nothing since 12 s */
    assert_int_equal(oxl_canvas_at(c, 3, 0).ch & ~0xFFu, 0x2800);
    free(h);
    oxl_canvas_free(c);
}

static void history_is_bounded_and_keeps_extremes(void **state)
{
    (void)state;
    struct oxl_history *h = malloc(sizeof *h);
    oxl_history_clear(h);
    assert_true(isnan(oxl_history_latest(h, 0, INT64_MAX)));
    oxl_history_push(h, 10, NAN);
    oxl_history_push(h, -5, 1);
    assert_int_equal(h->newest_us, -1);
    for (int i = 0; i < 1000; i++) /* 1000 samples inside one bucket */
        oxl_history_push(h, 100000 + i, i == 500 ? 9 : i == 600 ? -9 : 1);
    double min, max;
    assert_true(oxl_history_range(h, 0, 200000, &min, &max));
    assert_true(min == -9 && max == 9);
    oxl_history_push(h, INT64_C(500000000), 3);
    assert_false(oxl_history_range(h, INT64_C(200000000), INT64_C(400000000), &min, &max));
    assert_true(oxl_history_latest(h, INT64_C(501000000), 1000000) == 3);
    assert_true(isnan(oxl_history_latest(h, INT64_C(501000001), 1000000)));
    free(h);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(unknown_is_two_dashes),
        cmocka_unit_test(nothing_known_shows_no_zero_values),
        cmocka_unit_test(stale_values_become_unknown),
        cmocka_unit_test(gauge_pointer_arithmetic),
        cmocka_unit_test(gauge_pointer_agrees_with_the_band),
        cmocka_unit_test(timer_digits_are_five_rows_or_more),
        cmocka_unit_test(figures_differ_from_each_other),
        cmocka_unit_test(headlines_fit_80_columns),
        cmocka_unit_test(notes_leave_the_action),
        cmocka_unit_test(plot_puts_points_where_they_belong),
        cmocka_unit_test(plot_leaves_gaps_open_and_shades_them),
        cmocka_unit_test(history_is_bounded_and_keeps_extremes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
