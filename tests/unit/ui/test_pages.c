/* Pages come and go: what was not seen stays, a key shows it again, and no page hides a hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "help_page.h"
#include "ui/headline.h"

static void live_at(struct oxl_model *m, enum oxl_state s, double t_s)
{
    struct scene_options o = {0};
    struct oxl_live live;
    struct oxl_surroundings around = scene_around(t_s);
    scene_live(&o, 15, &live);
    live.state = s;
    oxl_model_live(m, &live, &around);
}

/* A pre-check with one line, said at 50 s, that is over at over_s. */
static struct oxl_model *checked(enum oxl_ui_mode mode, enum oxl_grade grade, double over_s)
{
    struct oxl_model_config config = {.mode = mode, .title = "x"};
    struct oxl_model *m = scene_new(&config);
    live_at(m, OXL_STATE_PRECHECK, 50);
    struct oxl_event ev = {.kind = OXL_EV_CHECK, .t_us = 50000000};
    ev.u.check = (struct oxl_check){"codes", grade, "stored: P0420", "Note the freeze frame."};
    scene_event(m, &ev);
    if (over_s > 50)
        live_at(m, OXL_STATE_BASELINE, over_s);
    return m;
}

/* The scene at 31 s, as a state that asks for this sees it; the caller changes what it is about and
 * shows it. */
static struct oxl_model *asked(enum oxl_state state, enum oxl_advice advice, struct oxl_live *live)
{
    struct scene_options o = {.until_s = 31};
    struct oxl_model *m = scene_play(&o);
    scene_advice(m, 31, advice, "");
    scene_live(&o, 31, live);
    live->state = state;
    live->gas_may_flow = state == OXL_STATE_ENRICHMENT;
    return m;
}

static void show(struct oxl_model *m, const struct oxl_live *live)
{
    const struct oxl_surroundings around = scene_around(31);
    oxl_model_live(m, live, &around);
}

static void a_caution_stays_ten_seconds(void **state)
{
    (void)state;
    for (int grade = OXL_GRADE_UNKNOWN; grade <= OXL_GRADE_STOP; grade++) {
        bool held = grade >= OXL_GRADE_CAUTION;
        struct oxl_model *m = checked(OXL_UI_LIVE, (enum oxl_grade)grade, 53);
        assert_int_equal(oxl_model_current_page(m), held ? OXL_PAGE_CHECKS : OXL_PAGE_TEST);
        assert_int_equal(page_has(m, 24, 80, "Read this first: goes on in 7 s"), held);
        live_at(m, OXL_STATE_BASELINE, 59.9);
        assert_int_equal(oxl_model_current_page(m), held ? OXL_PAGE_CHECKS : OXL_PAGE_TEST);
        live_at(m, OXL_STATE_BASELINE, 60);
        assert_int_equal(oxl_model_current_page(m), OXL_PAGE_TEST);
        scene_free(m);
    }
    /* Shown for as long already; and in a replay, where nobody has to act on it. */
    struct oxl_model *m = checked(OXL_UI_LIVE, OXL_GRADE_CAUTION, 60.5);
    assert_int_equal(oxl_model_current_page(m), OXL_PAGE_TEST);
    scene_free(m);
    m = checked(OXL_UI_REPLAY, OXL_GRADE_CAUTION, 53);
    assert_int_equal(oxl_model_current_page(m), OXL_PAGE_TEST);
    scene_free(m);
}

static void a_key_or_a_hand_ends_it(void **state)
{
    (void)state;
    struct oxl_model *m = checked(OXL_UI_LIVE, OXL_GRADE_CAUTION, 53);
    assert_true(oxl_model_page_key(m, OXL_TERM_DOWN)); /* turns, and is no leaving */
    assert_int_equal(oxl_model_current_page(m), OXL_PAGE_CHECKS);
    assert_true(oxl_model_page_key(m, ' ')); /* used up: it is no "now" */
    assert_int_equal(oxl_model_current_page(m), OXL_PAGE_TEST);
    assert_false(oxl_model_page_key(m, ' '));
    scene_free(m);
    m = checked(OXL_UI_LIVE, OXL_GRADE_CAUTION, 53);
    scene_advice(m, 54, OXL_ADV_ADD_GAS, "");
    assert_int_equal(oxl_model_current_page(m), OXL_PAGE_TEST);
    scene_free(m);
    /* A hand that is needed while the baseline begins is not hidden. */
    m = checked(OXL_UI_LIVE, OXL_GRADE_CAUTION, 0);
    scene_advice(m, 52, OXL_ADV_START_ENGINE, "");
    live_at(m, OXL_STATE_BASELINE, 53);
    live_at(m, OXL_STATE_BASELINE, 53.1); /* the next frame: what began it has been said by then */
    assert_int_equal(oxl_model_current_page(m), OXL_PAGE_TEST);
    scene_free(m);
    /* A key in the pre-check: somebody has seen it. */
    m = checked(OXL_UI_LIVE, OXL_GRADE_CAUTION, 0);
    assert_false(oxl_model_page_key(m, 'm'));
    live_at(m, OXL_STATE_BASELINE, 53);
    assert_int_equal(oxl_model_current_page(m), OXL_PAGE_TEST);
    scene_free(m);
}

static void a_key_shows_it_again(void **state)
{
    (void)state;
    struct oxl_model *m = checked(OXL_UI_LIVE, OXL_GRADE_CAUTION, 60.5);
    assert_true(page_has(m, 24, 80, "c checks"));
    assert_false(page_has(m, 24, 80, "Note the freeze frame."));
    assert_true(oxl_model_page_key(m, 'c'));
    assert_true(page_has(m, 24, 80, "Note the freeze frame."));
    live_at(m, OXL_STATE_BASELINE, 90); /* asked for: no time takes it away */
    assert_int_equal(oxl_model_current_page(m), OXL_PAGE_CHECKS);
    scene_advice(m, 91, OXL_ADV_CUT, "");
    assert_int_equal(oxl_model_current_page(m), OXL_PAGE_TEST);
    oxl_model_page_key(m, 'c');
    assert_true(oxl_model_page_key(m, '?'));
    assert_int_equal(oxl_model_current_page(m), OXL_PAGE_HELP);
    assert_true(oxl_model_page_key(m, 'c'));
    assert_true(oxl_model_page_key(m, 'c'));
    assert_int_equal(oxl_model_current_page(m), OXL_PAGE_TEST);
    oxl_model_page(m, OXL_PAGE_QUIZ); /* the checks of a quiz would tell of its answer */
    assert_false(oxl_model_page_key(m, 'c'));
    assert_int_equal(oxl_model_current_page(m), OXL_PAGE_QUIZ);
    scene_free(m);
}

/* ---- cautions -------------------------------------------------------------------------------- */
static void every_part_of_the_cautions_is_shown(void **state)
{
    (void)state;
    static const char *lines[12];
    for (size_t i = 0; i < 12; i++)
        lines[i] = "A caution of such a length that it needs two rows where rows are short.";
    struct oxl_model_config config = {.title = "x"};
    struct oxl_model *m = scene_new(&config);
    oxl_model_cautions(m, lines, 12);
    oxl_model_page(m, OXL_PAGE_CAUTIONS);
    assert_true(oxl_model_cautions_read(m, 40, 120)); /* all on one screen */
    int parts = 1;
    oxl_model_turn(m, -1); /* not backwards to the last part */
    for (; !oxl_model_cautions_read(m, 10, 40); parts++) {
        char part[40];
        snprintf(part, sizeof part, "part %d of ", parts);
        assert_true(page_has(m, 10, 40, part));
        assert_true(page_has(m, 10, 40, "Enter: next part"));
        oxl_model_turn(m, 1);
    }
    assert_int_equal(parts, 6);
    assert_true(page_has(m, 10, 40, "part 6 of 6"));
    assert_true(page_has(m, 10, 40, "Enter: I have read this"));
    oxl_model_turn(m, -1); /* what was shown was shown */
    assert_true(oxl_model_cautions_read(m, 10, 40));
    oxl_model_page(m, OXL_PAGE_CAUTIONS); /* another size: from the start */
    assert_false(oxl_model_cautions_read(m, 10, 40));
    scene_free(m);
}

/* ---- keys answer ----------------------------------------------------------------------------- */
static void n_answers(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 31};
    struct oxl_model *m = scene_play(&o);
    assert_true(page_has(m, 24, 80, "n new"));
    struct oxl_event ev = {.kind = OXL_EV_CHECK, .t_us = 31000000};
    ev.u.check =
        (struct oxl_check){"converter", OXL_GRADE_CAUTION, "new, as the technician says", ""};
    scene_event(m, &ev);
    assert_true(page_has(m, 24, 80, "* The converter is new, as the technician says"));
    assert_true(page_has(m, 24, 80, "n NEW"));
    struct oxl_surroundings later = scene_around(41);
    scene_surroundings(m, &o, &later); /* the note is gone, the answer stays */
    assert_false(page_has(m, 24, 80, "The converter is new"));
    assert_true(page_has(m, 24, 80, "n NEW"));
    ev.u.check =
        (struct oxl_check){"converter", OXL_GRADE_PASS, "not new, as the technician says", ""};
    scene_event(m, &ev);
    assert_true(page_has(m, 24, 80, "n new"));
    scene_free(m);
}

/* The question whether to look for leaks does not stay when it was answered. */
static void an_answered_offer_is_taken_back(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 58};
    struct oxl_model *m = scene_play(&o);
    struct oxl_headline h;
    scene_advice(m, 58, OXL_ADV_LEAK_OFFER, "");
    h = oxl_headline(m);
    assert_string_equal(h.words, "PRESS L OR N");
    scene_advice(m, 58, OXL_ADV_LEAK_LATER, "");
    struct oxl_surroundings later = scene_around(68);
    scene_surroundings(m, &o, &later); /* the note is gone */
    h = oxl_headline(m);
    assert_string_equal(h.words, "LEAK CHECK NEXT");
    assert_string_equal(h.sentence, "The leak check comes when this run is over.");
    scene_free(m);
}

/* Nor does the question whether it is new; the leak check stays on offer. */
static void an_answer_is_not_asked_again(void **state)
{
    (void)state;
    for (int leak = 0; leak <= 1; leak++) {
        struct oxl_live live;
        struct oxl_model *m =
            asked(OXL_STATE_RECOVERY, leak ? OXL_ADV_LEAK_OFFER : OXL_ADV_ASK_NEW, &live);
        struct oxl_headline h;
        live.offer_left_s = 16.2;
        show(m, &live);
        scene_check(m, "converter", OXL_GRADE_CAUTION, "new, as the technician says", "");
        h = oxl_headline(m);
        assert_string_equal(h.words, "NOTED AS NEW");
        assert_true(page_has(m, 24, 80, "result in 17 s"));
        assert_true(page_has(m, 10, 40, "n takes it back"));
        assert_int_equal(page_has(m, 24, 80, "l: leak check"), leak);
        scene_check(m, "converter", OXL_GRADE_PASS, "not new, as the technician says", "");
        h = oxl_headline(m);
        assert_string_equal(h.words, leak ? "PRESS L OR N" : "IS IT NEW?");
        assert_true(page_has(m, 24, 80, "no key: result in 17 s"));
        scene_free(m);
    }
}

/* Lines of the pre-check beneath "looking for the vehicle" would contradict it. */
static void a_vehicle_that_was_found_is_not_looked_for(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 0.2};
    struct oxl_model *m = scene_play(&o);
    struct oxl_headline h;
    scene_advice(m, 1, OXL_ADV_CONNECTING, "");
    h = oxl_headline(m);
    assert_string_equal(h.words, "CONNECTING");
    scene_check(m, "air", OXL_GRADE_PASS, "air meter", "");
    h = oxl_headline(m);
    assert_string_equal(h.words, "PRE-CHECK");
    assert_string_equal(h.sentence, "The vehicle answers: waiting for its sensors.");
    scene_free(m);
}

static void a_leak_check_is_not_forgotten(void **state)
{
    (void)state;
    static const char *const words[] = {"leak: unclear", "leak: none", NULL, "leak: FOUND"};
    static const char *const result[] = {"leak check  unclear: the last one",
                                         "leak check  no leak seen: the last one", NULL,
                                         "leak check  LEAK FOUND: the last one"};
    for (int grade = OXL_GRADE_UNKNOWN; grade <= OXL_GRADE_STOP; grade++) {
        if (!words[grade])
            continue;
        struct scene_options o = {.until_s = 58};
        struct oxl_model *m = scene_play(&o);
        scene_check(m, "leak-check-1", OXL_GRADE_STOP, "an older one", "");
        scene_check(m, "leak-check-2", (enum oxl_grade)grade, "the last one", "");
        assert_true(page_has(m, 24, 80, words[grade]));
        scene_finish(m, OXL_CONCLUSION_BAD, false);
        scene_end(m, OXL_STATE_DONE, false);
        assert_true(page_has(m, 40, 120, result[grade]));
        scene_free(m);
    }
}

/* What does not fit into one row goes on in a second, at a word. */
static void a_note_is_wrapped_at_words(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 15};
    struct oxl_model *m = scene_play(&o);
    struct oxl_event ev = {.kind = OXL_EV_MARK, .t_us = 15000000};
    snprintf(ev.u.mark.text, sizeof ev.u.mark.text, "%s",
             "the hose slipped off the port and was pushed on again by the second technician");
    scene_event(m, &ev);
    assert_true(page_has(m, 24, 80,
                         "\n * Mark: the hose slipped off the port and was pushed on again by the "
                         "second\n technician\n"));
    scene_free(m);
}

/* What the hand at the valve has to do stays on the screen, whatever else is said. */
static void no_note_hides_what_the_hand_does(void **state)
{
    (void)state;
    for (int a = 0; a < OXL_ADV_COUNT; a++) {
        struct oxl_headline h, with;
        struct scene_options o = {.until_s = 31};
        struct oxl_model *m = scene_play(&o);
        if (!oxl_advice_headline((enum oxl_advice)a) || a == OXL_ADV_ABORT_AGAIN ||
            !oxl_headline_asks_a_hand((enum oxl_advice)a)) {
            scene_free(m);
            continue;
        }
        scene_advice(m, 31, (enum oxl_advice)a, "");
        h = oxl_headline(m);
        scene_advice(m, 31, OXL_ADV_MARKED, "");
        scene_advice(m, 31, OXL_ADV_ABORT_AGAIN, "");
        with = oxl_headline(m);
        assert_string_equal(with.sentence, h.sentence);
        assert_string_equal(with.note, "! Press a once more to end the test.");
        for (int small = 0; small <= 1; small++) {
            int rows = small ? 10 : 24, cols = small ? 40 : 80;
            char begin[20];
            snprintf(begin, sizeof begin, "%.12s", h.sentence);
            assert_true(page_has(m, rows, cols, begin));
            assert_true(page_has(m, rows, cols, "! Press a once more"));
        }
        scene_free(m);
    }
}

/* What is offered says how long an answer is waited for. */
static void an_offer_counts_down(void **state)
{
    (void)state;
    static const struct {
        enum oxl_state state;
        enum oxl_advice advice;
        const char *words;
    } cases[] = {
        {OXL_STATE_RECOVERY, OXL_ADV_LEAK_OFFER, "no key: result in 17 s"},
        {OXL_STATE_RECOVERY, OXL_ADV_ASK_NEW, "no key: result in 17 s"},
        {OXL_STATE_PRECHECK, OXL_ADV_CHECK_STOPS, "17 s to answer"},
        {OXL_STATE_ENRICHMENT, OXL_ADV_DEEPER_ADD, "open it within 17 s"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct oxl_live live;
        struct oxl_model *m = asked(cases[i].state, cases[i].advice, &live);
        live.gas_may_flow = false;
        live.offer_left_s = 16.2;
        show(m, &live);
        assert_true(page_has(m, 24, 80, cases[i].words));
        assert_true(page_has(m, 10, 40, cases[i].words));
        live.offer_left_s = NAN;
        show(m, &live);
        assert_false(page_has(m, 24, 80, cases[i].words));
        scene_free(m);
    }
}

/* After the end the pre-check is shown as it was judged, without values that have gone on. */
static void after_the_end_the_checks_stand_alone(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 58};
    struct oxl_model *m = scene_play(&o);
    scene_check(m, "coolant", OXL_GRADE_PASS, "coolant 88 C", "");
    assert_true(oxl_model_page_key(m, 'c'));
    assert_true(page_has(m, 24, 80, " lambda"));
    scene_finish(m, OXL_CONCLUSION_GOOD, false);
    scene_end(m, OXL_STATE_DONE, false);
    oxl_model_page(m, OXL_PAGE_CHECKS);
    assert_true(page_has(m, 24, 80, "coolant 88 C"));
    assert_false(page_has(m, 24, 80, " lambda"));
    assert_false(page_has(m, 40, 120, "C cut"));
    scene_free(m);
}

/* ---- no countdown stands at 0 ---------------------------------------------------------------- */
static void at_zero_it_says_what_is_waited_for(void **state)
{
    (void)state;
    static const struct {
        enum oxl_state state;
        enum oxl_advice advice;
        const char *words;
    } cases[] = {
        {OXL_STATE_ENRICHMENT, OXL_ADV_HOLD, "until the rear is rich   shut the gas now"},
        {OXL_STATE_BASELINE, OXL_ADV_STEADY, "waits until trims and speed are steady"},
        {OXL_STATE_LEAK_CHECK, OXL_ADV_LEAK_STEADY, "waits for a steady rear"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct oxl_live live;
        struct oxl_model *m = asked(cases[i].state, cases[i].advice, &live);
        live.hold_left_s = live.heat_left_s = live.baseline_left_s = live.leak_left_s = 0;
        live.leak_step = 1;
        show(m, &live);
        assert_true(page_has(m, 24, 80, cases[i].words));
        for (int small = 0; small <= 1; small++) {
            assert_false(page_has(m, small ? 10 : 24, small ? 40 : 80, " 0 s"));
            assert_false(page_has(m, small ? 10 : 24, small ? 40 : 80, " 0.0 s"));
            assert_false(page_has(m, small ? 10 : 24, small ? 40 : 80, "left 0.0"));
        }
        scene_free(m);
    }
}

/* On the smallest screen the limit of heat is not cut off by what stands before it. */
static void a_narrow_countdown_is_whole(void **state)
{
    (void)state;
    struct oxl_live live;
    struct oxl_model *m = asked(OXL_STATE_ENRICHMENT, OXL_ADV_HOLD, &live);
    live.hold_left_s = 0;
    live.heat_left_s = 42;
    show(m, &live);
    assert_true(page_has(m, 10, 40, "until rich   shut the gas within 42 s"));
    assert_true(page_has(m, 24, 80, "until the rear is rich   shut the gas within 42 s"));
    scene_free(m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_caution_stays_ten_seconds),
        cmocka_unit_test(a_key_or_a_hand_ends_it),
        cmocka_unit_test(a_key_shows_it_again),
        cmocka_unit_test(every_part_of_the_cautions_is_shown),
        cmocka_unit_test(n_answers),
        cmocka_unit_test(an_answered_offer_is_taken_back),
        cmocka_unit_test(an_answer_is_not_asked_again),
        cmocka_unit_test(a_vehicle_that_was_found_is_not_looked_for),
        cmocka_unit_test(a_leak_check_is_not_forgotten),
        cmocka_unit_test(a_note_is_wrapped_at_words),
        cmocka_unit_test(at_zero_it_says_what_is_waited_for),
        cmocka_unit_test(a_narrow_countdown_is_whole),
        cmocka_unit_test(no_note_hides_what_the_hand_does),
        cmocka_unit_test(an_offer_counts_down),
        cmocka_unit_test(after_the_end_the_checks_stand_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
