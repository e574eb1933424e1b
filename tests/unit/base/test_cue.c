/* What each advice sounds like. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "oxylag/cue.h"

/* By the sentence that is shown, not by the table of hands that the cue is taken from. */
static void a_cue_means_what_the_sentence_says(void **state)
{
    (void)state;
    static const struct {
        const char *in_text;
        enum oxl_cue cue;
    } meaning[] = {{"CUT THE GAS", OXL_CUE_CUT},
                   {"cut the gas now", OXL_CUE_CUT},
                   {"nearly there", OXL_CUE_SLOW},
                   {"Front is lean", OXL_CUE_FRONT_LEAN},
                   {"time taken", OXL_CUE_REAR_LEAN},
                   {"Rear held", OXL_CUE_REAR_LEAN},
                   {"close the valve a little", OXL_CUE_LESS},
                   {"back off", OXL_CUE_LESS},
                   {"Hold it there", OXL_CUE_HOLD},
                   {"shut the valve.", OXL_CUE_SHUT},
                   {"Shut the gas valve now", OXL_CUE_SHUT},
                   {"shut the gas valve now", OXL_CUE_SHUT},
                   {"is the valve shut", OXL_CUE_SHUT},
                   {"Shut the cylinder", OXL_CUE_SHUT},
                   {"No data:", OXL_CUE_TROUBLE},
                   {"Stopped:", OXL_CUE_TROUBLE},
                   {"does not count", OXL_CUE_TROUBLE},
                   {"No effect", OXL_CUE_TROUBLE},
                   {"Not decided yet", OXL_CUE_TROUBLE},
                   {"Press a once more", OXL_CUE_NONE},
                   {"Passed by hand", OXL_CUE_NONE},
                   {"A little more gas", OXL_CUE_NONE},
                   {"Add propane", OXL_CUE_NONE}};
    enum { MEANINGS = sizeof meaning / sizeof meaning[0] };
    int found[MEANINGS] = {0};
    for (int a = 0; a < OXL_ADV_COUNT; a++)
        for (int i = 0; i < MEANINGS; i++)
            if (strstr(oxl_advice_text((enum oxl_advice)a), meaning[i].in_text)) {
                assert_string_equal(oxl_cue_name(oxl_cue_of((enum oxl_advice)a)),
                                    oxl_cue_name(meaning[i].cue));
                found[i]++;
            }
    for (int i = 0; i < MEANINGS; i++)
        assert_true(found[i] > 0);
}

/* Whoever only has the terminal's bell hears at least what it rang before there were sounds. */
static void the_bell_rings_for_what_cannot_wait(void **state)
{
    (void)state;
    static const enum oxl_advice shut[] = {OXL_ADV_CUT,         OXL_ADV_CUT_HEAT,
                                           OXL_ADV_STUMBLE,     OXL_ADV_SHUT_VALVE,
                                           OXL_ADV_VALVE_DRIPS, OXL_ADV_ENGINE_STOPPED};
    for (size_t i = 0; i < sizeof shut / sizeof shut[0]; i++) {
        assert_int_equal(oxl_cue_strokes(oxl_cue_of(shut[i])), 3);
        assert_true(oxl_cue_is_urgent(oxl_cue_of(shut[i])));
    }
    assert_int_equal(oxl_cue_strokes(oxl_cue_of(OXL_ADV_REAR_LEAN)), 2);
    assert_int_equal(oxl_cue_strokes(oxl_cue_of(OXL_ADV_REAR_HELD)), 2);
    assert_int_equal(oxl_cue_strokes(oxl_cue_of(OXL_ADV_HOLD)), 1);
    assert_int_equal(oxl_cue_strokes(oxl_cue_of(OXL_ADV_DEEPER_HOLD)), 1);
    assert_int_equal(oxl_cue_strokes(oxl_cue_of(OXL_ADV_DEEPER_OFFER)), 1);
    assert_int_equal(oxl_cue_strokes(OXL_CUE_NONE), 0);
    assert_false(oxl_cue_is_urgent(OXL_CUE_HOLD));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cue_means_what_the_sentence_says),
        cmocka_unit_test(the_bell_rings_for_what_cannot_wait),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
