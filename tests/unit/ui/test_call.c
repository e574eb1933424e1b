/* What is to be heard: a call for each change of the headline, once, and the depth of the gas. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "help_page.h"
#include "ui/headline.h"

static void expect(struct oxl_model *m, enum oxl_cue cue, const char *words)
{
    struct oxl_call call = {OXL_CUE_NONE, NULL};
    assert_int_equal(oxl_model_call(m, &call), cue != OXL_CUE_NONE || words);
    assert_string_equal(oxl_cue_name(call.cue), oxl_cue_name(cue));
    if (words)
        assert_string_equal(call.words, words);
    else
        assert_null(call.words);
}

static void expect_nothing(struct oxl_model *m)
{
    expect(m, OXL_CUE_NONE, NULL);
}

static void each_change_is_called_once(void **state)
{
    (void)state;
    struct oxl_model_config config = {.title = "x"};
    struct oxl_model *m = scene_new(&config);
    expect_nothing(m); /* at the beginning all is as it is */
    scene_advice(m, 1, OXL_ADV_ADD_GAS, "");
    expect(m, OXL_CUE_NONE, "ADD PROPANE SLOWLY");
    scene_advice(m, 2, OXL_ADV_SLOW, "");
    expect(m, OXL_CUE_SLOW, "SLOW NOW");
    expect_nothing(m);
    scene_advice(m, 3, OXL_ADV_HOLD, "");
    expect(m, OXL_CUE_HOLD, "HOLD");
    scene_advice(m, 4, OXL_ADV_WAIT_RICH, ""); /* the same hand, the same words */
    expect_nothing(m);
    scene_advice(m, 5, OXL_ADV_CUT, "");
    expect(m, OXL_CUE_CUT, "CUT THE GAS NOW");
    scene_advice(m, 6, OXL_ADV_FRONT_LEAN, "");
    expect(m, OXL_CUE_FRONT_LEAN, "TIMING");
    scene_advice(m, 7, OXL_ADV_RUN_INVALID, ""); /* a note: the headline stays */
    expect(m, OXL_CUE_TROUBLE, NULL);
    expect_nothing(m);
    scene_advice(m, 8, OXL_ADV_MARKED, ""); /* an answer to a key */
    expect_nothing(m);
    scene_advice(m, 9, OXL_ADV_REAR_LEAN, "");
    scene_advice(m, 9, OXL_ADV_RECOVER, ""); /* in the same step: the time was taken all the same */
    expect(m, OXL_CUE_REAR_LEAN, "WAIT");
    expect_nothing(m);
    scene_advice(m, 10, OXL_ADV_REAR_LEAN, "");
    scene_advice(m, 10, OXL_ADV_LEAK_OFFER, ""); /* heard one after the other */
    expect(m, OXL_CUE_REAR_LEAN, "PRESS L OR N");
    expect(m, OXL_CUE_TROUBLE, NULL);
    expect_nothing(m);
    scene_free(m);
}

/* No advice is said when the link goes: the headline knows, and so does the ear. */
static void gas_that_nobody_sees_is_called(void **state)
{
    (void)state;
    struct page_case c = {OXL_STATE_ENRICHMENT, OXL_ADV_HOLD, -20, false, true};
    struct oxl_model *m = page_of(&c);
    struct oxl_call call;
    (void)oxl_model_call(m, &call);
    c.link_down = true;
    page_live(m, &c, 61000000);
    scene_advice(m, 61, OXL_ADV_RUN_INVALID, "");
    expect(m, OXL_CUE_SHUT, "SHUT THE VALVE"); /* and not the note beside it */
    scene_advice(m, 61, OXL_ADV_RUN_INVALID, "");
    expect_nothing(m);
    c.link_down = false;
    page_live(m, &c, 62000000);
    expect(m, OXL_CUE_HOLD, "HOLD");
    c.link_down = true;
    c.gas = false;
    page_live(m, &c, 63000000);
    expect(m, OXL_CUE_TROUBLE, "NO DATA");
    scene_free(m);
}

/* Whatever is advised in whatever state: the cue is that of the headline, not of what was said. */
static void the_cue_is_the_headlines(void **state)
{
    (void)state;
    for (int a = 0; a < OXL_ADV_COUNT; a++)
        for (int s = 0; s < OXL_STATE_COUNT; s++)
            for (int k = 0; k < 4; k++) {
                struct page_case c = {(enum oxl_state)s, (enum oxl_advice)a, -20, k & 1, k & 2};
                struct oxl_model *m = page_of(&c);
                struct oxl_headline h;
                struct oxl_call call = {OXL_CUE_NONE, NULL};
                h = oxl_headline(m);
                bool any = oxl_model_call(m, &call);
                if (any && call.words && oxl_cue_of(h.advice) != OXL_CUE_NONE)
                    assert_int_equal(call.cue, oxl_cue_of(h.advice));
                if (h.hand == OXL_HAND_SHUT && strstr(h.words, "SHUT"))
                    assert_int_equal(call.cue, OXL_CUE_SHUT);
                if (call.words)
                    assert_ptr_equal(call.words, h.words);
                scene_free(m);
            }
}

static double depth_of(enum oxl_state s, enum oxl_advice a, double shift, bool link_down)
{
    struct page_case c = {s, a, shift, link_down, false};
    struct oxl_model *m = page_of(&c);
    double depth = oxl_model_depth(m);
    scene_free(m);
    return depth;
}

static void the_depth_is_known_while_gas_is_asked_for(void **state)
{
    (void)state;
    const enum oxl_state gas = OXL_STATE_ENRICHMENT;
    const double target = -20; /* of page_live */
    assert_true(fabs(depth_of(gas, OXL_ADV_ADD_GAS, target / 2, false) - 0.5) < 1e-9);
    assert_true(fabs(depth_of(gas, OXL_ADV_HOLD, target, false) - 1) < 1e-9);
    assert_true(depth_of(gas, OXL_ADV_ADD_GAS, +3, false) == 0);
    assert_true(isnan(depth_of(gas, OXL_ADV_ADD_GAS, NAN, false)));
    assert_true(isnan(depth_of(gas, OXL_ADV_DEPTH_UNKNOWN, target, false)));
    assert_true(isnan(depth_of(gas, OXL_ADV_STUMBLE, target, false)));
    assert_true(isnan(depth_of(gas, OXL_ADV_ADD_GAS, target, true)));
    for (int s = 0; s < OXL_STATE_COUNT; s++)
        if (s != OXL_STATE_ENRICHMENT)
            assert_true(isnan(depth_of((enum oxl_state)s, OXL_ADV_STEADY, target, false)));
}

/* Whoever counts on sounds sees that there are none. */
static void no_device_is_shown(void **state)
{
    (void)state;
    struct scene_options o = {.until_s = 10};
    struct oxl_model *m = scene_play(&o);
    struct oxl_surroundings around = scene_around(10);
    around.sound = true;
    scene_surroundings(m, &o, &around);
    assert_false(page_has(m, 24, 80, "bell only"));
    around.bell_only = true;
    scene_surroundings(m, &o, &around);
    assert_true(page_has(m, 24, 80, "bell only"));
    around.sound = false;
    scene_surroundings(m, &o, &around);
    assert_true(page_has(m, 24, 80, "silent"));
    assert_false(page_has(m, 24, 80, "bell only"));
    scene_free(m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_change_is_called_once),
        cmocka_unit_test(gas_that_nobody_sees_is_called),
        cmocka_unit_test(the_cue_is_the_headlines),
        cmocka_unit_test(the_depth_is_known_while_gas_is_asked_for),
        cmocka_unit_test(no_device_is_shown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
