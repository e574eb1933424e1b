/* Who is in command: no page hides an instruction, gas on means shut the valve first, a stop stops,
 * a question is seen. */
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
#include "ui/headline.h"

static bool asks(enum oxl_advice a)
{
    enum oxl_hand h = oxl_advice_hand(a);
    return h == OXL_HAND_OPEN || h == OXL_HAND_MORE || h == OXL_HAND_HOLD || h == OXL_HAND_LESS ||
           h == OXL_HAND_SHUT || h == OXL_HAND_OTHER;
}

static struct oxl_model *in_state(enum oxl_state s, bool gas)
{
    struct page_case one = {s, OXL_ADV_MARKED, -19, false, gas};
    return page_of(&one);
}

/* ---- pages ----------------------------------------------------------------------------------- */
static void every_page_gives_way_to_a_hand(void **state)
{
    (void)state;
    for (int a = 0; a < OXL_ADV_COUNT; a++)
        for (int s = 0; s < OXL_STATE_COUNT; s++)
            for (int page = OXL_PAGE_CAUTIONS; page <= OXL_PAGE_HELP; page++) {
                struct oxl_model *m = in_state((enum oxl_state)s, false);
                oxl_model_page(m, (enum oxl_page)page);
                scene_advice(m, 60, (enum oxl_advice)a, "");
                bool before = page == OXL_PAGE_CAUTIONS && s == OXL_STATE_PRECHECK;
                bool gone = asks((enum oxl_advice)a) && !before;
                assert_int_equal(oxl_model_current_page(m), gone ? OXL_PAGE_TEST : page);
                scene_free(m);
            }
}

/* A quiz shows a recording: its pages are the trainee's, and the test page has the answers. */
static void a_quiz_keeps_its_pages(void **state)
{
    (void)state;
    for (int page = OXL_PAGE_HELP; page <= OXL_PAGE_QUIZ; page++) {
        struct oxl_model *m = in_state(OXL_STATE_TIMING, false);
        oxl_model_page(m, OXL_PAGE_QUIZ);
        oxl_model_page(m, (enum oxl_page)page);
        struct page_case gas = {OXL_STATE_TIMING, OXL_ADV_MARKED, -19, false, true};
        page_live(m, &gas, 61000000);
        scene_advice(m, 61, OXL_ADV_CUT, "");
        assert_int_equal(oxl_model_current_page(m), page);
        assert_false(page_has(m, 5, 20, "CUT THE GAS NOW"));
        assert_false(page_has(m, 5, 20, "SHUT THE VALVE"));
        scene_free(m);
    }
}

/* What stands changes without an advice, too. */
static void help_gives_way_to_what_the_live_values_say(void **state)
{
    (void)state;
    static const struct page_case news[] = {
        {OXL_STATE_ENRICHMENT, OXL_ADV_HOLD, -19, true, true}, /* the link is gone */
        {OXL_STATE_RECOVERY, OXL_ADV_HOLD, -19, false, true},  /* gas, and none is wanted */
        {OXL_STATE_STOPPED, OXL_ADV_HOLD, -19, false, false},
    };
    for (size_t i = 0; i < sizeof news / sizeof news[0]; i++) {
        struct page_case one = {OXL_STATE_ENRICHMENT, OXL_ADV_HOLD, -19, false, true};
        struct oxl_model *m = page_of(&one);
        oxl_model_page(m, OXL_PAGE_HELP);
        page_live(m, &one, 61000000); /* nothing new: help stays */
        assert_int_equal(oxl_model_current_page(m), OXL_PAGE_HELP);
        page_live(m, &news[i], 62000000);
        assert_int_equal(oxl_model_current_page(m), OXL_PAGE_TEST);
        scene_free(m);
    }
}

/* Whatever stands while help is opened: its words and its sentence stay at the top. */
static void help_keeps_the_headline(void **state)
{
    (void)state;
    for (int a = 0; a < OXL_ADV_COUNT; a++) {
        struct page_case one = {OXL_STATE_ENRICHMENT, (enum oxl_advice)a, -19, false, true};
        struct oxl_model *m = page_of(&one);
        struct oxl_headline h;
        h = oxl_headline(m);
        char *with[2], *without[2];
        static const int rows[] = {24, 5}, cols[] = {80, 20};
        for (int i = 0; i < 2; i++)
            without[i] = page_text(m, rows[i], cols[i]);
        oxl_model_page(m, OXL_PAGE_HELP);
        for (int i = 0; i < 2; i++) {
            with[i] = page_text(m, rows[i], cols[i]);
            assert_string_not_equal(with[i], without[i]);
        }
        /* three rows of letters and the sentence; the words alone */
        char *path = strstr(without[0], "\n pre-check");
        assert_non_null(path);
        assert_memory_equal(with[0], without[0], (size_t)(path - without[0]) + 1);
        assert_memory_equal(with[1], h.words, strlen(h.words));
        for (int i = 0; i < 2; i++) {
            free(with[i]);
            free(without[i]);
        }
        scene_free(m);
    }
}

/* ---- gas on ---------------------------------------------------------------------------------- */
static void check_shut(const struct oxl_model *m, const char *sentence)
{
    struct oxl_headline h;
    h = oxl_headline(m);
    assert_string_equal(h.words, "SHUT THE VALVE");
    assert_int_equal(h.band, OXL_INK_BAND_STOP);
    assert_int_equal(h.hand, OXL_HAND_SHUT);
    assert_non_null(strstr(h.sentence, sentence));
    assert_true(page_has(m, 5, 20, "SHUT THE VALVE"));
    assert_true(page_has(m, 24, 80, sentence));
}

static void gas_where_none_is_wanted(void **state)
{
    (void)state;
    static const char over[] = "Shut the valve, then the cylinder; refit every hose.";
    for (int a = 0; a < OXL_ADV_COUNT; a++) {
        if (!oxl_advice_headline((enum oxl_advice)a) || a == OXL_ADV_LINK_TROUBLE)
            continue; /* these do not stand */
        bool own = oxl_advice_hand((enum oxl_advice)a) == OXL_HAND_SHUT;
        for (int s = 0; s < OXL_STATE_COUNT; s++) {
            struct page_case one = {(enum oxl_state)s, (enum oxl_advice)a, -19, false, true};
            struct oxl_model *m = page_of(&one);
            struct oxl_headline h;
            h = oxl_headline(m);
            if (s == OXL_STATE_DONE || s == OXL_STATE_STOPPED)
                check_shut(m, over);
            else if (s != OXL_STATE_ENRICHMENT && !own)
                check_shut(m, "! Shut the gas valve now.");
            else if (own)
                assert_int_equal(h.advice, a); /* it says why */
            one.link_down = true;
            page_live(m, &one, 61000000);
            if (s != OXL_STATE_DONE && s != OXL_STATE_STOPPED)
                check_shut(m, "No data: check connector, adapter and ignition.");
            one.gas = false;
            page_live(m, &one, 62000000);
            h = oxl_headline(m);
            if (s != OXL_STATE_DONE && s != OXL_STATE_STOPPED)
                assert_string_equal(h.words, "NO DATA");
            scene_free(m);
        }
    }
}

/* Restarted with gas on: no seconds run down to a baseline that is not taken. */
static void no_baseline_counts_down_in_gas(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 15};
    struct oxl_model *m = scene_play(&o);
    assert_true(page_has(m, 24, 80, "steady so far"));
    assert_true(page_has(m, 10, 40, "seconds left 7.0"));
    struct oxl_live live;
    struct oxl_surroundings around = scene_around(15);
    scene_live(&o, 15, &live);
    live.gas_may_flow = true;
    oxl_model_live(m, &live, &around);
    check_shut(m, "! Shut the gas valve now.");
    assert_false(page_has(m, 24, 80, "steady so far"));
    assert_true(page_has(m, 10, 40, "seconds left --"));
    scene_free(m);
}

/* Two that agree may be enough; once they were not, so many are made. */
static void it_says_how_many_runs_there_may_be(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 15};
    struct oxl_model *m = scene_play(&o);
    struct oxl_live live;
    struct oxl_surroundings around = scene_around(15);
    scene_live(&o, 15, &live);
    for (live.least_runs = 2; live.least_runs <= 3; live.least_runs++) {
        oxl_model_live(m, &live, &around);
        assert_true(page_has(m, 24, 80, live.least_runs < 3 ? " run 1 of 2-3\n" : " run 1 of 3\n"));
    }
    scene_free(m);
}

static void the_verdict_waits_below(void **state)
{
    (void)state;
    static const char *const words[] = {"INCONCLUSIVE", "BAD",     "NOT GOOD",
                                        "QUESTIONABLE", "NOT BAD", "GOOD"};
    for (int v = 0; v < OXL_CONCLUSIONS; v++) {
        struct oxl_model *m = in_state(OXL_STATE_RECOVERY, false);
        char below[40];
        snprintf(below, sizeof below, "verdict %s", oxl_conclusion_name((enum oxl_conclusion)v));
        scene_finish(m, (enum oxl_conclusion)v, false);
        scene_end(m, OXL_STATE_DONE, true);
        check_shut(m, "Shut the valve, then the cylinder");
        assert_true(page_has(m, 24, 80, below));
        assert_true(page_has(m, 10, 40, below));
        scene_end(m, OXL_STATE_DONE, false);
        struct oxl_headline h;
        h = oxl_headline(m);
        assert_string_equal(h.words, words[v]);
        assert_false(page_has(m, 24, 80, below));
        scene_free(m);
    }
}

/* ---- a stop stops, a question is seen -------------------------------------------------------- */
static void a_stop_is_seen_with_what_to_do(void **state)
{
    (void)state;
    struct oxl_model *m = in_state(OXL_STATE_PRECHECK, false);
    for (int i = 0; i < 12; i++) {
        char id[16];
        snprintf(id, sizeof id, "c%d", i);
        scene_check(m, id, i % 2 ? OXL_GRADE_PASS : OXL_GRADE_CAUTION, "something else", "");
    }
    /* Four of the longest kind: two rows of what was found, two of what to do. */
    static const char *const ids[] = {"first", "second", "third", "fourth"};
    for (int i = 0; i < 4; i++) {
        char found[96], todo[128];
        snprintf(found, sizeof found,
                 "the %s stop, told at such a length that it needs a second row of the list",
                 ids[i]);
        snprintf(todo, sizeof todo,
                 "do the %s, told at such a length that it needs a second row: end of the %s",
                 ids[i], ids[i]);
        scene_check(m, ids[i], OXL_GRADE_STOP, found, todo);
    }
    assert_true(page_has(m, 24, 80, "space now"));
    scene_advice(m, 60, OXL_ADV_CHECK_STOPS, "");
    static const char *const seen[] = {
        "do: do the first",     "do: do the second",       "do: do the third",  "of the fourth",
        "press space to go on", "The report will say so.", "space go on anyway"};
    for (size_t i = 0; i < sizeof seen / sizeof seen[0]; i++)
        assert_true(page_has(m, 24, 80, seen[i]));
    assert_true(page_has(m, 5, 20, "the first stop"));
    assert_true(page_has(m, 5, 20, "space: go on anyway"));
    scene_free(m);
}

/* Five seconds, whatever else is said, and the banner stays the valve's. */
static void a_question_stands_for_five_seconds(void **state)
{
    (void)state;
    static const enum oxl_advice then[] = {OXL_ADV_MARKED, OXL_ADV_MORE, OXL_ADV_OVERRIDE};
    assert_null(oxl_advice_headline(OXL_ADV_ABORT_AGAIN));
    for (int s = OXL_STATE_BASELINE; s <= OXL_STATE_RECOVERY; s++)
        for (size_t i = 0; i < sizeof then / sizeof then[0]; i++)
            for (int down = 0; down <= 1; down++) {
                struct page_case one = {(enum oxl_state)s, OXL_ADV_HOLD, -19, down, false};
                struct oxl_model *m = page_of(&one);
                struct oxl_headline before, h;
                scene_advice(m, 60, OXL_ADV_ABORT_AGAIN, "");
                scene_advice(m, 61, then[i], "");
                before = oxl_headline(m);
                page_live(m, &one, 65000000);
                h = oxl_headline(m);
                assert_string_equal(h.note[0] ? h.note : h.sentence,
                                    "! Press a once more to end the test.");
                assert_string_equal(h.words, before.words);
                assert_true(page_has(m, 5, 20, "! Press a once more\nto end the test."));
                page_live(m, &one, 65000001);
                h = oxl_headline(m);
                assert_null(strstr(h.sentence, "once more"));
                assert_null(strstr(h.note, "once more"));
                scene_free(m);
            }
}

static void the_result_of_a_test_cut_short(void **state)
{
    (void)state;
    struct oxl_model *m = in_state(OXL_STATE_RECOVERY, false);
    scene_early(m, 3);
    scene_end(m, OXL_STATE_STOPPED, false);
    assert_true(page_has(m, 24, 80, "questionable: delay at target 6.20 s (5.90 to 6.60)"));
    assert_true(page_has(m, 24, 80, "ended early, 2 of 3 runs"));
    scene_end(m, OXL_STATE_DONE, false);
    assert_true(page_has(m, 24, 80, " ended early, 2 of 3 runs\n"));
    scene_early(m, 0);
    assert_true(page_has(m, 24, 80, " ended early, 2 of 2 runs count\n"));
    scene_free(m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_page_gives_way_to_a_hand),
        cmocka_unit_test(a_quiz_keeps_its_pages),
        cmocka_unit_test(help_gives_way_to_what_the_live_values_say),
        cmocka_unit_test(help_keeps_the_headline),
        cmocka_unit_test(gas_where_none_is_wanted),
        cmocka_unit_test(no_baseline_counts_down_in_gas),
        cmocka_unit_test(the_verdict_waits_below),
        cmocka_unit_test(a_stop_is_seen_with_what_to_do),
        cmocka_unit_test(a_question_stands_for_five_seconds),
        cmocka_unit_test(the_result_of_a_test_cut_short),
        cmocka_unit_test(it_says_how_many_runs_there_may_be),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
