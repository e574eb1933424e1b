/* Pictures of the screen, compared with tests/screen/NAME-COLSxROWS.txt.
 *
 * When a view was changed on purpose: run this program with OXL_ACCEPT=1, look at the changed
 * files (they are plain text) and commit them.
 */
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
#include "help_snapshot.h"

struct size {
    int rows, cols;
};
static const struct size sizes[] = {{24, 80}, {40, 120}, {20, 60}, {10, 40}, {5, 20}};

static void compare(const struct oxl_model *m, const char *name, struct size s)
{
    struct oxl_canvas *c = oxl_canvas_new(s.rows, s.cols);
    oxl_view_draw(m, c);
    snapshot_compare(c, name);
    oxl_canvas_free(c);
}

static void compare_all(struct oxl_model *m, const char *name)
{
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++)
        compare(m, name, sizes[i]);
    scene_free(m);
}

static void compare_one(struct oxl_model *m, const char *name)
{
    compare(m, name, sizes[0]);
    scene_free(m);
}

static struct oxl_model *play(double until_s)
{
    struct scene_options o = {.until_s = until_s};
    return scene_play(&o);
}

static void states(void **state)
{
    (void)state;
    compare_all(play(1.5), "connecting");
    compare_all(play(8), "precheck");
    compare_all(play(15), "baseline");
    compare_all(play(28), "enrichment");
    compare_all(play(31), "hold");
    compare_all(play(32.8), "release");
    compare_all(play(37.9), "timing");
    compare_all(play(43), "recovery");
    compare_all(play(70.5), "second-timing");
    struct oxl_model *m = play(28); /* the wish stays in sight when the next advice has come */
    scene_advice(m, 28, OXL_ADV_LEAK_LATER, "");
    scene_advice(m, 28.1, OXL_ADV_HOLD, "");
    compare_one(m, "leak-wanted");
}

static struct oxl_model *stopped(const char *why, bool gas)
{
    struct oxl_model *m = play(60);
    struct oxl_event ev = {.kind = OXL_EV_STATE, .t_us = 60000000};
    ev.u.state.state = OXL_STATE_STOPPED;
    ev.u.state.run = 2;
    scene_event(m, &ev);
    scene_advice(m, 60, OXL_ADV_ABORTED, why);
    scene_end(m, OXL_STATE_STOPPED, gas);
    return m;
}

static void ends(void **state)
{
    (void)state;
    struct oxl_model *m = play(116);
    scene_finish(m, OXL_CONCLUSION_QUESTIONABLE, false);
    compare_all(m, "done-questionable");
    struct scene_options o = {.until_s = 116, .held = true};
    m = scene_play(&o);
    scene_finish(m, OXL_CONCLUSION_GOOD, true);
    compare_one(m, "done-held");
    m = play(28);
    scene_finish(m, OXL_CONCLUSION_NONE, false);
    compare_one(m, "done-inconclusive");
    m = play(116);
    scene_check(m, "leak-check-1", OXL_GRADE_PASS, "rear +0.01 V while covered", "");
    scene_bad(m);
    compare_all(m, "done-bad");
    m = play(116);
    scene_advice(m, 116, OXL_ADV_DEEPER_OFFER, "");
    compare_one(m, "deeper-offer");
    compare_all(stopped("", false), "stopped");
    compare_all(stopped("", true), "stopped-with-gas");
    /* The longest that a link says: whole where the page tells why, by whole sentences above. */
    m = stopped("The adapter answers, the vehicle does not (the adapter found no protocol that "
                "the vehicle answers): ignition on? connector fully seated?",
                false);
    compare_one(m, "stopped-by-link");
}

static void troubles(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 37, .gap_from_s = 29, .gap_to_s = 33};
    compare_one(scene_play(&o), "gap");
    struct scene_options now = {.until_s = 31, .gap_from_s = 26, .gap_to_s = 99};
    struct oxl_model *m = scene_play(&now);
    struct oxl_surroundings around = scene_around(31);
    around.recording_trouble = "no space left on the disk";
    scene_surroundings(m, &now, &around);
    compare_one(m, "no-data");
    m = play(29);
    struct scene_options at = {.until_s = 29};
    scene_advice(m, 29, OXL_ADV_TOO_MUCH, "");
    scene_advice(m, 29, OXL_ADV_OVERRIDE, "");
    scene_surroundings(m, &at, &(struct oxl_surroundings){.now_us = 29000000, .valve = 0.35});
    compare_one(m, "by-hand");
}

/* Gas on means: first say shut the valve. */
static void gas(void **state)
{
    (void)state;
    struct scene_options at = {.until_s = 43};
    struct oxl_model *m = scene_play(&at);
    struct oxl_live live;
    struct oxl_surroundings around = scene_around(43);
    scene_live(&at, 43, &live);
    live.gas_may_flow = true;
    oxl_model_live(m, &live, &around);
    compare_all(m, "recovery-with-gas");
    m = play(116);
    scene_finish(m, OXL_CONCLUSION_QUESTIONABLE, false);
    scene_end(m, OXL_STATE_DONE, true);
    compare_all(m, "done-with-gas");
    m = play(37.9);
    scene_advice(m, 37.9, OXL_ADV_ENGINE_STOPPED, "");
    compare_all(m, "engine-stopped");
    m = play(31);
    scene_advice(m, 31, OXL_ADV_ABORT_AGAIN, "");
    compare_all(m, "abort-again");
    m = play(31);
    oxl_model_page(m, OXL_PAGE_HELP);
    compare_all(m, "help-in-hold");
    struct scene_options cut_off = {.until_s = 18, .gap_from_s = 14, .gap_to_s = 99};
    compare_one(scene_play(&cut_off), "no-data-no-gas");
}

static void checks(void **state)
{
    (void)state;
    struct oxl_model *m = play(8);
    scene_check(m, "codes-stored", OXL_GRADE_STOP, "stored: P0301, a misfire of cylinder 1",
                "Repair the misfire first: it makes any converter look bad, and propane on top "
                "of it overheats the converter.");
    scene_advice(m, 8, OXL_ADV_CHECK_STOPS, "");
    compare_all(m, "check-stops");
}

/* The live values of a leak check: its step, and what is left of it. */
static void leak_live(struct oxl_model *m, int step, double left_s)
{
    struct scene_options at = {.until_s = 50};
    struct oxl_live live;
    struct oxl_surroundings around = scene_around(50);
    scene_live(&at, 50, &live);
    live.state = OXL_STATE_LEAK_CHECK;
    live.leak_step = step;
    live.leak_left_s = left_s;
    oxl_model_live(m, &live, &around);
}

static void leak_check(void **state)
{
    (void)state;
    struct oxl_model *m = play(50);
    scene_advice(m, 50, OXL_ADV_LEAK_OFFER, "");
    compare_all(m, "leak-offer");
    m = play(50);
    scene_advice(m, 50, OXL_ADV_LEAK_STEADY, "");
    leak_live(m, 1, 0);
    compare(m, "leak-steady", sizes[0]);
    scene_advice(m, 50, OXL_ADV_LEAK_COVER, "");
    leak_live(m, 2, 11.3);
    compare_all(m, "leak-cover");
    m = play(50);
    scene_advice(m, 50, OXL_ADV_LEAK_UNCOVER, "");
    leak_live(m, 3, 20);
    compare_one(m, "leak-uncover");
    m = play(58); /* what it found stays beside its key when the note is gone */
    scene_check(m, "leak-check-1", OXL_GRADE_PASS, "rear +0.01 V while covered", "");
    compare_one(m, "leak-none");
}

/* The caution of the pre-check is to be read while the baseline is already taken. */
static void precheck_held(void **state)
{
    (void)state;
    compare_all(play(10.5), "precheck-held");
    struct oxl_model *m = play(31);
    oxl_model_page(m, OXL_PAGE_CHECKS);
    compare_one(m, "precheck-again");
}

static void ended_early(void **state)
{
    (void)state;
    static const struct {
        int wanted;
        const char *name;
    } cases[] = {{3, "done-early"}, {0, "done-early-unknown"}};
    for (size_t i = 0; i < 2; i++) {
        struct oxl_model *m = play(116);
        scene_finish(m, OXL_CONCLUSION_QUESTIONABLE, false);
        scene_early(m, cases[i].wanted);
        if (cases[i].wanted)
            scene_check(m, "ended-early", OXL_GRADE_CAUTION, "ended early, 2 of 3 runs",
                        "Stopped by the technician.");
        compare(m, cases[i].name, sizes[3]);
        compare_one(m, cases[i].name);
    }
}

static void modes(void **state)
{
    (void)state;
    struct scene_options ascii = {.until_s = 37.9, .ascii = true};
    compare_all(scene_play(&ascii), "ascii-timing");
    ascii.until_s = 30.5;
    compare_one(scene_play(&ascii), "ascii-hold");
    struct scene_options two = {.until_s = 28, .switching_front = true};
    compare_all(scene_play(&two), "switching");
    struct scene_options replay = {.until_s = 41, .mode = OXL_UI_REPLAY};
    struct oxl_model *m = scene_play(&replay);
    struct oxl_surroundings around = scene_around(41);
    around.replay_rate = 2;
    around.paused = true;
    scene_surroundings(m, &replay, &around);
    compare_one(m, "replay");
}

static void pages(void **state)
{
    (void)state;
    static const char *const lines[] = {
        "Propane burns and is heavier than air: no pit, no flame, no smoking, no sparks near it.",
        "Run the exhaust outdoors: carbon monoxide kills without a smell.",
        "Converter, shields and manifold are hot: gloves, no rags, no dry grass below.",
        "Fans start by themselves: keep sleeves, hair, hose and cable away from belts and fans.",
        "Park, brake, chocks, neutral; nobody in front of the vehicle. Wear eye protection.",
        "Keep a fire extinguisher for gas and fuel within reach.",
        "Do not test a vehicle with a fuel leak or a flashing misfire lamp.",
        "At the end shut the cylinder first, pull the hose, refit every port.",
        "The vehicle's service information and local rules come before this program.",
    };
    struct oxl_model *m = play(0.5);
    oxl_model_cautions(m, lines, sizeof lines / sizeof lines[0]);
    oxl_model_page(m, OXL_PAGE_CAUTIONS);
    compare_all(m, "cautions");
    m = play(0.5);
    oxl_model_page(m, OXL_PAGE_HELP);
    compare_all(m, "help");
}

/* A trainee's marks and the answers, made up. */
static struct oxl_quiz_shown quiz_shown(enum oxl_quiz_phase phase)
{
    struct oxl_quiz_shown q = {.phase = phase,
                               .front_marked = phase != OXL_QUIZ_FRONT,
                               .rear_marked = phase > OXL_QUIZ_REAR,
                               .front_us = 33500000,
                               .rear_us = 40350000};
    struct oxl_quiz_run first = {.run = 1, .delay_s = {6.43, 6.31, 6.55}};
    first.front = (struct oxl_quiz_mark){
        true, false, 33500000, {true, 33400000, 33350000, 33450000}, 100, 3, 3};
    first.rear = (struct oxl_quiz_mark){true, false, 40350000, {true, 39830000, 39780000, 39880000},
                                        520,  2,     3};
    struct oxl_quiz_run second = {.run = 2, .delay_s = {NAN, 9.1, INFINITY}};
    second.front =
        (struct oxl_quiz_mark){false, false, 0, {true, 66400000, 66350000, 66450000}, NAN, 0, 3};
    second.rear = (struct oxl_quiz_mark){false, true, 0, {false, 0, 0, 0}, NAN, 3, 3};
    if (phase >= OXL_QUIZ_ANSWER) {
        q.runs[q.runs_n++] = first;
        q.points = 5;
        q.of = 6;
    }
    if (phase >= OXL_QUIZ_VERDICT) {
        q.runs[q.runs_n++] = second;
        q.points = 8;
        q.of = 12;
    }
    if (phase == OXL_QUIZ_SCORE) {
        q.has_verdict = true;
        q.verdict = OXL_CONCLUSION_QUESTIONABLE;
        q.of += 6;
    }
    return q;
}

static void quiz(void **state)
{
    (void)state;
    static const char *const names[] = {"quiz-front",  "quiz-rear",    "quiz-marked",
                                        "quiz-answer", "quiz-verdict", "quiz-score"};
    for (int phase = OXL_QUIZ_FRONT; phase <= OXL_QUIZ_SCORE; phase++) {
        struct scene_options o = {.until_s = phase == OXL_QUIZ_FRONT ? 32 : 41,
                                  .mode = OXL_UI_REPLAY};
        struct oxl_model *m = scene_play(&o);
        struct oxl_surroundings around = scene_around(o.until_s);
        around.replay_rate = 0.5;
        around.paused = phase == OXL_QUIZ_MARKED;
        scene_surroundings(m, &o, &around);
        struct oxl_quiz_shown q = quiz_shown((enum oxl_quiz_phase)phase);
        struct oxl_event answer = {.kind = OXL_EV_RESULT, .t_us = 41000000};
        answer.u.result.conclusion = OXL_CONCLUSION_GOOD;
        answer.u.result.reasons =
            OXL_REASON_BIT(OXL_R_REAR_HELD) | OXL_REASON_BIT(OXL_R_GOOD_STORAGE);
        scene_event(m, &answer);
        oxl_model_quiz(m, &q);
        oxl_model_page(m, OXL_PAGE_QUIZ);
        compare_all(m, names[phase]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(states), cmocka_unit_test(ends),       cmocka_unit_test(troubles),
        cmocka_unit_test(gas),    cmocka_unit_test(checks),     cmocka_unit_test(ended_early),
        cmocka_unit_test(modes),  cmocka_unit_test(leak_check), cmocka_unit_test(precheck_held),
        cmocka_unit_test(pages),  cmocka_unit_test(quiz),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
