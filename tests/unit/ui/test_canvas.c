/* Text on the canvas, wrapping, and the looks of the roles. */
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
#include "ui/flow.h"
#include "ui/term_tty.h"
#include "ui/utf8.h"

static char *dump(const struct oxl_canvas *c)
{
    size_t n = canvas_dump(c, NULL, 0) + 1;
    char *text = malloc(n);
    canvas_dump(c, text, n);
    return text;
}

static void assert_screen(struct oxl_canvas *c, const char *want)
{
    char *got = dump(c);
    assert_string_equal(got, want);
    free(got);
}

static void text_is_cut_by_columns_not_bytes(void **state)
{
    (void)state;
    struct oxl_canvas *c = oxl_canvas_new(2, 6);
    assert_int_equal(oxl_canvas_text(c, 0, 0, 99, OXL_INK_TEXT, "h\xC3\xA9\xC3\xA9\xC3\xA9xyz"), 6);
    assert_int_equal(oxl_canvas_text(c, 1, 2, 3, OXL_INK_KEY, "\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9"),
                     3);
    assert_screen(c, "h\xC3\xA9\xC3\xA9\xC3\xA9xy\n  \xC3\xA9\xC3\xA9\xC3\xA9\n");
    assert_int_equal(oxl_canvas_at(c, 1, 3).ink, OXL_INK_KEY);
    assert_int_equal(oxl_canvas_at(c, 1, 5).ch, ' ');
    oxl_canvas_free(c);
}

static void controls_and_escapes_never_arrive(void **state)
{
    (void)state;
    struct oxl_canvas *c = oxl_canvas_new(1, 60);
    /* ESC, BEL, tab, newline, DEL; C1 CSI (U+009B); right-to-left override (U+202E); zero width
     * joiner (U+200D); a wide ideograph (U+6F22); a byte that is no UTF-8; a cut sequence. */
    oxl_canvas_text(c, 0, 0, 60, OXL_INK_TEXT,
                    "a\x1b[2J\a\t\n\x7f|\xC2\x9B|\xE2\x80\xAE|\xE2\x80\x8D|\xE6\xBC\xA2|\xFF|\xC3");
    assert_screen(c, "a?[2J????|?|?|?|?|?|?\n");
    oxl_canvas_put(c, 0, 0, 0x1B, OXL_INK_TEXT);
    assert_int_equal(oxl_canvas_at(c, 0, 0).ch, '?');
    oxl_canvas_free(c);
}

/* Examples of RFC 3629, section 7, and its forbidden forms, section 3 and 10. */
static void utf8_follows_rfc_3629(void **state)
{
    (void)state;
    const char *s = "A\xE2\x89\xA2\xCE\x91."; /* A<NOT IDENTICAL TO><ALPHA>. */
    const uint32_t want[] = {0x41, 0x2262, 0x391, 0x2E, 0};
    for (size_t i = 0; i < 5; i++)
        assert_int_equal(oxl_utf8_next(&s), want[i]);
    s = "\xF0\xA3\x8E\xB4";
    assert_int_equal(oxl_utf8_next(&s), 0x233B4);
    const char *bad[] = {"\xC0\x80", "\xED\xA1\x8C", "\xF4\x90\x80\x80", "\x80", "\xE2\x89"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        const char *start = bad[i];
        assert_int_equal(oxl_utf8_next(&start), '?');
        assert_ptr_equal(start, bad[i] + 1);
    }
    char out[4];
    assert_int_equal(utf8_put(out, 0x2262), 3);
    assert_memory_equal(out, "\xE2\x89\xA2", 3);
    assert_int_equal(utf8_put(out, 0x233B4), 4);
    assert_memory_equal(out, "\xF0\xA3\x8E\xB4", 4);
}

static void dump_says_the_length_it_needs(void **state)
{
    (void)state;
    struct oxl_canvas *c = oxl_canvas_new(2, 4);
    oxl_canvas_text(c, 0, 0, 4, OXL_INK_TEXT, "ab\xC3\xA9");
    char small[4];
    assert_int_equal(canvas_dump(c, small, sizeof small), 6); /* a b e' newline newline */
    assert_string_equal(small, "ab");                         /* never half a character */
    oxl_canvas_free(c);
}

static void write_words(struct oxl_flow *f, const void *ctx)
{
    oxl_flow_text(f, OXL_INK_KEY, "-", 2, OXL_INK_TEXT, ctx);
}

static void flow_wraps_and_turns(void **state)
{
    (void)state;
    struct oxl_canvas *c = oxl_canvas_new(4, 34);
    struct oxl_area all = {0, 0, 4, 10};
    oxl_flow_pages(c, all, 0, write_words, "one two three incomprehensible");
    assert_screen(c, "- one two\n  three\n  incompre\n  hensible\n");
    struct oxl_area two = {0, 0, 3, 34};
    two.cols = 30;
    oxl_canvas_clear(c);
    const char *text = "aaaaaaaaaaaaaaaaaaaaaaaaaa b bbbbbbbbbbbbbbbbbbbbbbbbbb "
                       "cccccccccccccccccccccccccc dddddddddddddddddddddddddd";
    oxl_flow_pages(c, two, 0, write_words, text);
    assert_screen(c, "- aaaaaaaaaaaaaaaaaaaaaaaaaa b\n  bbbbbbbbbbbbbbbbbbbbbbbbbb\n"
                     "part 1 of 2: up/down for more\n\n");
    oxl_canvas_clear(c);
    oxl_flow_pages(c, two, -1, write_words, text); /* before the first comes the last */
    assert_screen(c, "  cccccccccccccccccccccccccc\n  dddddddddddddddddddddddddd\n"
                     "part 2 of 2: up/down for more\n\n");
    oxl_canvas_free(c);
}

/* Every word of a text is shown on exactly one of its screenfuls. */
static void no_caution_is_lost_on_a_small_screen(void **state)
{
    (void)state;
    static const char *const lines[] = {"alpha beta gamma delta epsilon", "zeta eta theta",
                                        "iota kappa lambda my ny xi omikron pi rho", "sigma tau"};
    struct scene_options o = {.until_s = 0.5};
    struct oxl_model *m = scene_play(&o);
    oxl_model_cautions(m, lines, 4);
    oxl_model_page(m, OXL_PAGE_CAUTIONS);
    struct oxl_canvas *c = oxl_canvas_new(6, 20);
    char *all = calloc(1, 20000);
    for (int i = 0; i < 12; i++) {
        oxl_view_draw(m, c);
        char *text = dump(c);
        strcat(all, text);
        free(text);
        oxl_model_turn(m, 1);
    }
    static const char *const words[] = {"alpha",   "delta", "epsilon",  "theta",
                                        "omikron", "rho",   "sigma tau"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        assert_non_null(strstr(all, words[i]));
    free(all);
    oxl_canvas_free(c);
    oxl_model_free(m);
}

/* Relative luminance and contrast as defined in WCAG 2.1; 4.5 is its level AA for text. The cube
 * levels 0, 95, 135, 175, 215, 255 and greys 8 + 10 n are those of the usual 256 colour palette. */
static double luminance(int colour)
{
    static const int cube[] = {0, 95, 135, 175, 215, 255};
    int rgb[3];
    for (int i = 0; i < 3; i++) {
        static const int place[] = {36, 6, 1};
        rgb[i] = colour >= 232 ? 8 + 10 * (colour - 232) : cube[(colour - 16) / place[i] % 6];
    }
    double part[3];
    for (int i = 0; i < 3; i++) {
        double s = rgb[i] / 255.0;
        part[i] = s <= 0.03928 ? s / 12.92 : pow((s + 0.055) / 1.055, 2.4);
    }
    return 0.2126 * part[0] + 0.7152 * part[1] + 0.0722 * part[2];
}

static void inks_have_contrast(void **state)
{
    (void)state;
    for (int theme = OXL_THEME_LIGHT; theme <= OXL_THEME_DARK; theme++)
        for (int i = 0; i < OXL_INK_COUNT; i++) {
            struct oxl_paint p = oxl_ink_paint((enum oxl_ink)i, (enum oxl_theme)theme, 256);
            double a = luminance(p.fg), b = luminance(p.bg);
            double ratio = (fmax(a, b) + 0.05) / (fmin(a, b) + 0.05);
            if (ratio < 4.5)
                fail_msg("ink %d in theme %d has contrast %.1f", i, theme, ratio);
        }
}

static void inks_without_colour_have_attributes(void **state)
{
    (void)state;
    static const enum oxl_ink bands[] = {OXL_INK_ACTION, OXL_INK_BAND_CAUTION, OXL_INK_BAND_GOOD,
                                         OXL_INK_BAND_STOP};
    for (int i = 0; i < OXL_INK_COUNT; i++) {
        struct oxl_paint p = oxl_ink_paint((enum oxl_ink)i, OXL_THEME_MONO, 256);
        assert_true(p.fg == -1 && p.bg == -1);
        struct oxl_paint eight = oxl_ink_paint((enum oxl_ink)i, OXL_THEME_DARK, 8);
        assert_true(eight.fg >= 0 && eight.fg < 8 && eight.bg >= 0 && eight.bg < 8);
        assert_true(eight.fg != eight.bg);
        for (int theme = OXL_THEME_AUTO; theme <= OXL_THEME_MONO; theme++) {
            const struct oxl_paint few = oxl_ink_paint((enum oxl_ink)i, (enum oxl_theme)theme, 8);
            assert_false(few.fg == 0 && few.look & OXL_LOOK_BOLD); /* it would be grey */
        }
        struct oxl_paint sixteen = oxl_ink_paint((enum oxl_ink)i, OXL_THEME_LIGHT, 16);
        assert_true(sixteen.fg < 16 && sixteen.bg < 16 && sixteen.fg != sixteen.bg);
        struct oxl_paint none = oxl_ink_paint((enum oxl_ink)i, OXL_THEME_AUTO, 0);
        assert_true(none.fg == -1 && none.bg == -1);
    }
    for (size_t i = 0; i < 4; i++)
        assert_true(oxl_ink_paint(bands[i], OXL_THEME_MONO, 8).look & OXL_LOOK_REVERSE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_is_cut_by_columns_not_bytes),
        cmocka_unit_test(controls_and_escapes_never_arrive),
        cmocka_unit_test(utf8_follows_rfc_3629),
        cmocka_unit_test(dump_says_the_length_it_needs),
        cmocka_unit_test(flow_wraps_and_turns),
        cmocka_unit_test(no_caution_is_lost_on_a_small_screen),
        cmocka_unit_test(inks_have_contrast),
        cmocka_unit_test(inks_without_colour_have_attributes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
