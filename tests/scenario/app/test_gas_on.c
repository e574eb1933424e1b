/* Whole simulated tests with a hand that works the valve by itself, shuts it late or not at all,
 * and presses keys at any moment: whatever leaves a run says SHUT THE VALVE before anything else,
 * and no baseline is taken while gas flows. The truth is the hand's own opening, not what the tool
 * thinks. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "long.h"
#include "rig.h"
#include "sim/parts.h"

static const int64_t second_us = 1000000;

struct hand {
    struct rig rig;
    struct oxl_random chance;
    const char *scenario;
    double opening;     /* what the hand holds */
    int64_t shut_us;    /* since when it is 0 */
    int64_t to_shut_us; /* it will shut then; INT64_MAX not on its way */
    enum oxl_state state;
    bool left_with_gas; /* the last state change left enrichment or release, the valve open */
    unsigned left, wrong, baselines, gas_baselines;
    char first_wrong[160];
};

static double unit(struct hand *h)
{
    return oxl_random_unit(&h->chance);
}

static bool in_gas(enum oxl_state s)
{
    return s == OXL_STATE_ENRICHMENT || s == OXL_STATE_RELEASE;
}

static void complain(struct hand *h, const struct oxl_event *ev, const char *what)
{
    if (h->wrong++ == 0)
        snprintf(h->first_wrong, sizeof h->first_wrong, "%s: %s at %.1f s, state %s, valve %.2f",
                 h->scenario, what, (double)ev->t_us / 1e6, oxl_state_name(h->state), h->opening);
}

static void hear_advice(struct hand *h, const struct oxl_event *ev)
{
    enum oxl_advice a = ev->u.advice.advice;
    enum oxl_hand hand = oxl_advice_hand(a);
    if (hand == OXL_HAND_SHUT) {
        h->left_with_gas = false;
        /* Two of three shut it, after up to half a minute. */
        if (h->opening > 0 && h->to_shut_us == INT64_MAX && unit(h) < 0.67)
            h->to_shut_us = ev->t_us + (int64_t)(30e6 * unit(h) * unit(h));
    } else if (h->opening > 0 && hand != OXL_HAND_AS_IT_IS && !in_gas(h->state) &&
               h->state != OXL_STATE_TIMING) {
        if (h->left_with_gas)
            complain(h, ev, oxl_advice_code(a));
    }
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct hand *h = ctx;
    if (ev->kind == OXL_EV_STATE) {
        bool leaves = in_gas(h->state) && !in_gas(ev->u.state.state) &&
                      ev->u.state.state != OXL_STATE_TIMING && h->opening > 0;
        /* At the end it is said before the state. */
        bool end = ev->u.state.state == OXL_STATE_DONE || ev->u.state.state == OXL_STATE_STOPPED;
        h->left += leaves;
        h->left_with_gas = leaves && !end;
        h->state = ev->u.state.state;
    } else if (ev->kind == OXL_EV_BASELINE) {
        h->baselines++;
        if (h->opening > 0) {
            h->gas_baselines++;
            complain(h, ev, "baseline");
        }
    } else if (ev->kind == OXL_EV_ADVICE) {
        hear_advice(h, ev);
    }
}

static void set_valve(struct hand *h, double opening)
{
    h->opening = opening;
    oxl_sim_valve(h->rig.sim, opening, h->rig.now_us);
}

/* Opens in the enrichment after a second or two, far enough to be seen; shuts when its time is up.
 */
static void move(struct hand *h)
{
    if (h->state == OXL_STATE_ENRICHMENT && h->opening <= 0 && unit(h) < 0.1)
        set_valve(h, 0.3 + 0.25 * unit(h));
    if (h->rig.now_us >= h->to_shut_us) {
        set_valve(h, 0);
        h->to_shut_us = INT64_MAX;
    }
}

/* Any key but the one that overrides, which is on purpose. */
static void press_something(struct hand *h)
{
    static const enum oxl_key keys[] = {OXL_KEY_RESTART, OXL_KEY_LEAK, OXL_KEY_MARK,
                                        OXL_KEY_DEEPER,  OXL_KEY_NEW,  OXL_KEY_RESTART};
    if (unit(h) < 0.01)
        rig_key(&h->rig, keys[(size_t)(unit(h) * 6)]);
    if (unit(h) < 0.0005)
        rig_unplug(&h->rig, (int64_t)(20e6 * unit(h)));
}

static void one_test(struct hand *h, const char *scenario, uint64_t seed, double limit_s)
{
    h->scenario = scenario;
    h->opening = 0;
    h->to_shut_us = INT64_MAX;
    h->state = OXL_STATE_PRECHECK;
    h->left_with_gas = false;
    h->rig = (struct rig){.ctx = h, .event = on_event, .deaf = true};
    oxl_random_seed(&h->chance, seed);
    assert_true(rig_start(&h->rig, scenario, seed, OXL_TECH_BY_HAND));
    while (!oxl_session_over(h->rig.session) && h->rig.now_us < (int64_t)(limit_s * 1e6)) {
        rig_run(&h->rig, h->rig.now_us + second_us / 10);
        move(h);
        press_something(h);
    }
    rig_stop(&h->rig);
}

static void shut_comes_first_and_no_baseline_in_gas(void **state)
{
    (void)state;
    static const char *const scenarios[] = {"good", "dead", "switching-front", "kline",
                                            "wide-rear"};
    static struct hand h;
    const unsigned tests = long_or(25, 5);
    for (uint64_t i = 0; i < tests; i++) {
        one_test(&h, scenarios[i % 5], 7100 + i, 400);
        if (h.wrong)
            print_error("seed %u: %s\n", (unsigned)(7100 + i), h.first_wrong);
        assert_int_equal(h.wrong, 0);
    }
    print_message("%u runs left with gas on, %u baselines, %u of them in gas\n", h.left,
                  h.baselines, h.gas_baselines);
    /* Else the test would have proved nothing. */
    assert_true(h.left > tests);
    assert_true(h.baselines > tests);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(shut_comes_first_and_no_baseline_in_gas)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
