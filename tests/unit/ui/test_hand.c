/* What the hand at the valve is told: one source. Whatever the shift, the word at the gauge is that
 * of the headline. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "help_page.h"
#include "long.h"
#include "rig.h"
#include "ui/gauge.h"
#include "ui/headline.h"

static const struct {
    int rows, cols;
} sizes[] = {{24, 80}, {40, 120}, {20, 60}, {10, 40}};
enum { SIZES = sizeof sizes / sizeof sizes[0] };

static void a_word_for_each_hand(void **state)
{
    (void)state;
    assert_string_equal(oxl_gauge_word(OXL_HAND_OPEN), "open");
    assert_string_equal(oxl_gauge_word(OXL_HAND_MORE), "more gas");
    assert_string_equal(oxl_gauge_word(OXL_HAND_HOLD), "hold");
    assert_string_equal(oxl_gauge_word(OXL_HAND_LESS), "less gas");
    assert_string_equal(oxl_gauge_word(OXL_HAND_SHUT), "SHUT");
    assert_string_equal(oxl_gauge_word(OXL_HAND_STAY_SHUT), "keep shut");
    assert_string_equal(oxl_gauge_word(OXL_HAND_AS_IT_IS), "");
    assert_string_equal(oxl_gauge_word(OXL_HAND_OTHER), "");
    /* What moves the valve stands as a headline; a note would leave another word at the gauge. */
    for (int a = 0; a < OXL_ADV_COUNT; a++) {
        enum oxl_hand h = oxl_advice_hand((enum oxl_advice)a);
        if (h >= OXL_HAND_OPEN && h <= OXL_HAND_SHUT)
            assert_non_null(oxl_advice_headline((enum oxl_advice)a));
    }
}

/* By the words in large letters, not by the table that they and the gauge share. */
static void headline_words_mean_their_hand(const struct oxl_headline *h)
{
    static const struct {
        const char *in_words;
        enum oxl_hand hand;
    } meaning[] = {
        {"SHUT", OXL_HAND_SHUT},        {"CUT", OXL_HAND_SHUT},        {"CLOSE THE", OXL_HAND_SHUT},
        {"LESS", OXL_HAND_LESS},        {"BACK OFF", OXL_HAND_LESS},   {"MORE GAS", OXL_HAND_MORE},
        {"HOLD", OXL_HAND_HOLD},        {"ADD", OXL_HAND_OPEN},        {"OPEN ", OXL_HAND_OPEN},
        {"TIMING", OXL_HAND_STAY_SHUT}, {"STEADY", OXL_HAND_STAY_SHUT}};
    for (size_t i = 0; i < sizeof meaning / sizeof meaning[0]; i++)
        if (strstr(h->words, meaning[i].in_words) && h->advice != OXL_ADV_LEAK_STEADY)
            assert_int_equal(h->hand, meaning[i].hand);
}

static int gauges, frames;

static void check_size(const struct oxl_model *m, int i, const struct oxl_headline *h)
{
    static struct oxl_canvas *c;
    if (!c)
        c = oxl_canvas_new(1, 1);
    oxl_canvas_resize(c, sizes[i].rows, sizes[i].cols);
    oxl_view_draw(m, c);
    const char *word = page_gauge_word(c);
    frames++;
    gauges += word != NULL;
    if (word && strcmp(word, oxl_gauge_word(h->hand)) != 0)
        fail_msg("%s: the gauge says \"%s\" at %dx%d", h->words, word, sizes[i].cols,
                 sizes[i].rows);
}

/* The gauge's word, where there is a gauge, is the headline's: at every size, or at the next one
 * of them. */
static void check_frame(const struct oxl_model *m, bool every_size)
{
    struct oxl_headline h;
    h = oxl_headline(m);
    assert_int_equal(h.hand, oxl_advice_hand(h.advice));
    headline_words_mean_their_hand(&h);
    for (int i = 0; i < SIZES && every_size; i++)
        check_size(m, i, &h);
    if (!every_size)
        check_size(m, frames % SIZES, &h);
}

static void no_word_contradicts(void **state)
{
    (void)state;
    static const double shifts[] = {NAN, 0, -14.9, -20, -27, -44};
    gauges = frames = 0;
    for (int a = 0; a < OXL_ADV_COUNT; a++)
        for (int s = 0; s < OXL_STATE_COUNT; s++)
            for (size_t i = (size_t)(a + s) % long_or(1, 2); i < sizeof shifts / sizeof shifts[0];
                 i += long_or(1, 2)) /* by default each shift beside every other pair */
                for (int k = 0; k < 4; k++) {
                    struct page_case one = {(enum oxl_state)s, (enum oxl_advice)a, shifts[i], k & 1,
                                            k & 2};
                    struct oxl_model *m = page_of(&one);
                    check_frame(m, true);
                    scene_free(m);
                }
    /* One state of nine shows a gauge at every size but the one of 120 columns, which has more. */
    assert_true(gauges > frames / 9);
}

/* "hold 1.2 s" beside the sentence only while the headline says hold. */
static void no_hold_runs_down_under_another_headline(void **state)
{
    (void)state;
    for (int a = 0; a < OXL_ADV_COUNT; a++) {
        struct page_case one = {OXL_STATE_ENRICHMENT, (enum oxl_advice)a, -20, false, true};
        struct oxl_model *m = page_of(&one);
        struct oxl_headline h;
        h = oxl_headline(m);
        assert_int_equal(page_has(m, 24, 80, "hold 1.2 s"), h.hand == OXL_HAND_HOLD);
        scene_free(m);
    }
}

/* ---- whole tests ----------------------------------------------------------------------------- */
static void take(void *ctx, const struct oxl_event *ev)
{
    scene_event(ctx, ev);
    if (ev->kind == OXL_EV_ADVICE)
        check_frame(ctx, false);
}

static void whole_test(const char *scenario, enum oxl_tech_mode mode, enum oxl_ui_mode shown)
{
    const int64_t frame_us = 250000, most_us = INT64_C(240000000);
    struct oxl_model_config config = {.mode = shown, .title = "x"};
    struct oxl_model *m = scene_new(&config);
    struct rig r = {.ctx = m, .event = take};
    assert_true(rig_start(&r, scenario, 7, mode));
    int64_t t_us = frame_us;
    for (; t_us < most_us && !oxl_session_over(r.session); t_us += frame_us) {
        rig_run(&r, t_us);
        if (t_us == 300 * frame_us)
            rig_key(&r, OXL_KEY_RESTART);
        if (t_us == 600 * frame_us)
            rig_unplug(&r, 4000000);
        struct oxl_live live;
        struct oxl_surroundings around = {.now_us = r.now_us, .valve = NAN};
        oxl_session_live(r.session, r.now_us, &live);
        oxl_model_live(m, &live, &around);
        check_frame(m, false);
    }
    rig_stop(&r);
    scene_free(m);
}

static void no_frame_of_a_whole_test_contradicts(void **state)
{
    (void)state;
    static const char *const names[] = {"good",           "over-propane",     "under-propane",
                                        "valve-not-shut", "residual-propane", "frozen-trim",
                                        "switching-front"};
    gauges = frames = 0;
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i += long_or(1, 3))
        whole_test(names[i], OXL_TECH_GUIDED, i % 2 ? OXL_UI_REPLAY : OXL_UI_DEMO);
    whole_test("good", OXL_TECH_ALONE, OXL_UI_DEMO);
    assert_true(gauges > 500);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_word_for_each_hand),
        cmocka_unit_test(no_word_contradicts),
        cmocka_unit_test(no_hold_runs_down_under_another_headline),
        cmocka_unit_test(no_frame_of_a_whole_test_contradicts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
