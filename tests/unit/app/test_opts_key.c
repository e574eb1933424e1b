/* Options that are keys at the right moment. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "app/opts.h"

static struct oxl_event state_of(enum oxl_state state, int run)
{
    struct oxl_event ev = {.kind = OXL_EV_STATE};
    ev.u.state.state = state;
    ev.u.state.run = run;
    return ev;
}

/* A port that is opened after the baseline leads back to it: the key, which turns the wish on and
 * off, is not pressed again. */
static void deeper_is_asked_for_once(void **state)
{
    (void)state;
    const struct oxl_opts opts = {.deeper = true};
    struct oxl_event baseline = state_of(OXL_STATE_BASELINE, 1),
                     enrichment = state_of(OXL_STATE_ENRICHMENT, 1);
    bool pressed = false;
    assert_int_equal(oxl_key_by_option(&opts, &baseline, &pressed), OXL_KEY_NONE);
    assert_int_equal(oxl_key_by_option(&opts, &enrichment, &pressed), OXL_KEY_DEEPER);
    assert_int_equal(oxl_key_by_option(&opts, &baseline, &pressed), OXL_KEY_NONE);
    assert_int_equal(oxl_key_by_option(&opts, &enrichment, &pressed), OXL_KEY_NONE);
}

static void leak_check_is_asked_for_in_the_first_timing(void **state)
{
    (void)state;
    const struct oxl_opts opts = {.leak_check = true};
    struct oxl_event first = state_of(OXL_STATE_TIMING, 1), second = state_of(OXL_STATE_TIMING, 2);
    bool pressed = false;
    assert_int_equal(oxl_key_by_option(&opts, &second, &pressed), OXL_KEY_NONE);
    assert_int_equal(oxl_key_by_option(&opts, &first, &pressed), OXL_KEY_LEAK);
}

static void an_offer_is_refused(void **state)
{
    (void)state;
    const struct oxl_opts opts = {.no_deeper = true};
    struct oxl_event ev = {.kind = OXL_EV_ADVICE};
    bool pressed = false;
    ev.u.advice.advice = OXL_ADV_DEEPER_OFFER;
    assert_int_equal(oxl_key_by_option(&opts, &ev, &pressed), OXL_KEY_DEEPER);
    ev.u.advice.advice = OXL_ADV_HOLD;
    assert_int_equal(oxl_key_by_option(&opts, &ev, &pressed), OXL_KEY_NONE);
}

static void a_stop_is_passed_on_purpose_only(void **state)
{
    (void)state;
    const struct oxl_opts plain = {0}, opts = {.pass_stops = true};
    struct oxl_event ev = {.kind = OXL_EV_ADVICE};
    bool pressed = false;
    ev.u.advice.advice = OXL_ADV_CHECK_STOPS;
    assert_int_equal(oxl_key_by_option(&plain, &ev, &pressed), OXL_KEY_NONE);
    assert_int_equal(oxl_key_by_option(&opts, &ev, &pressed), OXL_KEY_NOW);
    ev.u.advice.advice = OXL_ADV_WAIT_WARM; /* a gate is not a stop */
    assert_int_equal(oxl_key_by_option(&opts, &ev, &pressed), OXL_KEY_NONE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(deeper_is_asked_for_once),
        cmocka_unit_test(leak_check_is_asked_for_in_the_first_timing),
        cmocka_unit_test(an_offer_is_refused),
        cmocka_unit_test(a_stop_is_passed_on_purpose_only),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
