/* What makes recordings replayable: a tick that is not due changes nothing, any split of the
 * bytes gives the same, and the inputs alone bring back every output. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_rig.h"

/* A session with everything in it. */
static void eventful(struct rig *r, bool kline)
{
    if (kline)
        fake_kline(&r->fake);
    r->fake.baud = 38400;
    rig_start(r, NULL);
    rig_run(r, 12);
    rig_focus(r, OXL_FOCUS_TRIMS);
    r->fake.answer_busy = true;
    rig_run(r, 1);
    r->fake.answer_pending = true;
    rig_run(r, 2);
    rig_focus(r, OXL_FOCUS_TIMING);
    r->fake.lose_prompt = true;
    rig_run(r, 3);
    r->fake.late_us = 1800000;
    rig_run(r, 5);
    r->fake.self_reset = true;
    rig_run(r, 4);
    r->fake.vehicle_off = true;
    rig_run(r, 9);
    r->fake.vehicle_off = false;
    rig_focus(r, OXL_FOCUS_ALL);
    rig_run(r, 12);
    rig_unplug(r);
    rig_run(r, 3);
    rig_plug(r);
    rig_run(r, 8);
}

static void assert_same_output(const struct rig *a, const struct rig *b)
{
    assert_true(a->samples_n > 100);
    assert_int_equal(a->callbacks, b->callbacks);
    assert_int_equal(a->dishonest + b->dishonest, 0);
    assert_string_equal(a->out, b->out);
}

static void assert_eventful(const struct rig *r)
{
    assert_true(rig_saw_state(r, OXL_LINK_STALLED));
    assert_true(rig_saw_state(r, OXL_LINK_LOST));
    assert_true(r->reopens > 0);
    assert_int_equal(oxl_poll_state(r->poll), OXL_LINK_READY);
}

static void test_extra_ticks(void **state)
{
    (void)state;
    for (int kline = 0; kline < 2; kline++) {
        struct rig *plain = rig_new(), *ticked = rig_new();
        ticked->extra_ticks = 20;
        eventful(plain, kline);
        eventful(ticked, kline);
        assert_eventful(plain);
        assert_same_output(plain, ticked);
        /* None of the extra ticks called anything back. */
        assert_int_equal(plain->inputs_n, ticked->inputs_n);
        rig_free(plain);
        rig_free(ticked);
    }
}

static void test_any_split(void **state)
{
    (void)state;
    for (int kline = 0; kline < 2; kline++) {
        struct rig *whole = rig_new(), *split = rig_new();
        split->split = true;
        eventful(whole, kline);
        eventful(split, kline);
        assert_same_output(whole, split);
        rig_free(whole);
        rig_free(split);
    }
}

static void test_replay(void **state)
{
    (void)state;
    for (int kline = 0; kline < 2; kline++) {
        const struct oxl_poll_config config = {.bank = 1, .has_speed = true};
        struct rig *live = rig_new();
        eventful(live, kline);
        struct rig *again = rig_replay(live, &config);
        assert_same_output(live, again);
        rig_free(live);
        rig_free(again);
    }
}

/* A process that was asleep: the tick comes late, its own time is the time of sending. */
static void test_late_tick(void **state)
{
    (void)state;
    struct rig *r = rig_new();
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_READY, 20));
    rig_run(r, 1);
    r->fake.silent = true;
    r->fake.n = 0;
    r->now_us += 2500000;
    oxl_poll_tick(r->poll, r->now_us);
    assert_int_equal(oxl_poll_state(r->poll), OXL_LINK_STALLED);
    assert_true(oxl_poll_due_us(r->poll) > r->now_us);
    r->fake.silent = false;
    fake_power(&r->fake);
    r->fake.echo = r->fake.spaces = r->fake.linefeeds = false;
    r->fake.headers = r->fake.searched = true;
    r->now_us += 700000;
    oxl_poll_tick(r->poll, r->now_us);
    unsigned from = r->samples_n;
    rig_run(r, 3);
    assert_int_equal(oxl_poll_state(r->poll), OXL_LINK_READY);
    for (unsigned i = from; i < r->samples_n; i++)
        assert_true(r->samples[i].sent_us >= r->now_us - 3000000);
    assert_true(r->samples_n > from);
    rig_free(r);
}

/* A tick before the deadline, even the first microsecond before, does nothing. */
static void test_tick_before_due(void **state)
{
    (void)state;
    struct rig *r = rig_new();
    r->fake.silent = true;
    rig_start(r, NULL);
    for (unsigned i = 0; i < 20; i++) {
        int64_t due = oxl_poll_due_us(r->poll);
        unsigned before = r->callbacks;
        oxl_poll_tick(r->poll, due - 1);
        assert_int_equal(r->callbacks, before);
        r->now_us = due;
        oxl_poll_tick(r->poll, due);
        if (oxl_poll_state(r->poll) == OXL_LINK_NO_ADAPTER)
            break;
        assert_true(r->callbacks > before);
    }
    rig_free(r);
}

static void test_no_port(void **state)
{
    (void)state;
    struct rig *r = rig_new();
    rig_start(r, NULL);
    rig_free(r);
    oxl_poll_free(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_extra_ticks),     cmocka_unit_test(test_any_split),
        cmocka_unit_test(test_replay),          cmocka_unit_test(test_late_tick),
        cmocka_unit_test(test_tick_before_due), cmocka_unit_test(test_no_port),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
