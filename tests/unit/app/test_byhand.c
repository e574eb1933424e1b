/* By hand: the valve's steps, and what is said of the trainee's hand. */
#include "app/test_loop.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "oxylag/ui.h"

static struct oxl_test_record record;

static void steps(void **state)
{
    (void)state;
    struct oxl_hand_valve b;
    oxl_hand_valve_start(&b, true);
    for (int i = 0; i < 9; i++)
        assert_true(oxl_hand_valve_key(&b, OXL_TERM_RIGHT, 0));
    assert_true(b.valve == 0.45);
    oxl_hand_valve_key(&b, OXL_TERM_UP, 0);
    assert_true(b.valve == 0.46);
    oxl_hand_valve_key(&b, '7', 0);
    assert_true(b.valve == 0.7);
    for (int i = 0; i < 20; i++)
        oxl_hand_valve_key(&b, OXL_TERM_RIGHT, 0);
    assert_true(b.valve == 1);
    oxl_hand_valve_key(&b, OXL_TERM_DOWN, 0);
    assert_true(b.valve == 0);
    oxl_hand_valve_key(&b, OXL_TERM_LEFT, 0);
    assert_true(b.valve == 0);
    assert_false(oxl_hand_valve_key(&b, 'x', 0));
    oxl_hand_valve_start(&b, false);
    assert_false(oxl_hand_valve_key(&b, OXL_TERM_RIGHT, 0));
    assert_true(isnan(b.valve));
}

static void state_at(struct oxl_hand_valve *b, enum oxl_state s, double t_s)
{
    struct oxl_event ev = {.kind = OXL_EV_STATE, .t_us = (int64_t)(t_s * 1e6)};
    ev.u.state.state = s;
    oxl_hand_valve_event(b, &ev);
}

static void run_at(struct oxl_hand_valve *b, int run, double shift, bool valid)
{
    struct oxl_event ev = {.kind = OXL_EV_RUN};
    memset(&ev.u.run, 0, sizeof ev.u.run);
    ev.u.run.run = run;
    ev.u.run.shift_pct = shift;
    ev.u.run.valid = valid;
    oxl_test_record_event(&record, &ev);
    oxl_hand_valve_event(b, &ev);
}

static void said(const struct oxl_hand_valve *b, const char *words)
{
    struct oxl_buf out = {0};
    oxl_hand_valve_text(b, &record, &out);
    if (!strstr(out.data, words))
        fail_msg("\"%s\" lacks \"%s\"", out.data, words);
    oxl_buf_free(&out);
}

static void hand(void **state)
{
    (void)state;
    struct oxl_hand_valve b;
    oxl_test_record_init(&record, NULL);
    oxl_hand_valve_start(&b, true);
    said(&b, "no run was made");
    state_at(&b, OXL_STATE_BASELINE, 0);
    oxl_hand_valve_key(&b, '4', 15000000);
    state_at(&b, OXL_STATE_RELEASE, 30);
    oxl_hand_valve_key(&b, OXL_TERM_LEFT, 30200000); /* less is not shut */
    oxl_hand_valve_key(&b, OXL_TERM_DOWN, 30700000);
    run_at(&b, 1, -18.4, true);
    said(&b, "run 1: released at -18.4 %, 1.6 off the target, in range; valve shut "
             "0.7 s after the call\n");
    /* Shut before the call, too shallow. */
    state_at(&b, OXL_STATE_BASELINE, 60);
    oxl_hand_valve_key(&b, '3', 75000000);
    oxl_hand_valve_key(&b, OXL_TERM_DOWN, 80000000);
    state_at(&b, OXL_STATE_RELEASE, 81.5);
    run_at(&b, 2, -11, false);
    said(&b, "run 2: released at -11.0 %, 9.0 off the target, too shallow; valve shut 1.5 s before "
             "the call; the run does not count");
    /* Too deep, never shut; then without a depth. */
    state_at(&b, OXL_STATE_BASELINE, 120);
    oxl_hand_valve_key(&b, '9', 130000000);
    state_at(&b, OXL_STATE_RELEASE, 140);
    run_at(&b, 3, -31, true);
    said(&b, "run 3: released at -31.0 %, 11.0 off the target, too deep\n");
    state_at(&b, OXL_STATE_BASELINE, 160);
    run_at(&b, 4, NAN, false);
    said(&b, "run 4: depth not known; the run does not count");
    run_at(&b, 4, -18, true); /* said again */
    said(&b, "run 4: released at -18.0 %, 2.0 off the target, in range\n");
    assert_int_equal(b.runs_n, 4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steps),
        cmocka_unit_test(hand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
