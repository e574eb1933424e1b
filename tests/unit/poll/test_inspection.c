/* What an inspection asks and finds, by the simulated vehicles of src/sim: one CAN bus with two
 * ECUs and answers that are put off, K-line, J1850 and two banks. Held against files that a person
 * has read, as test_conversations.c; the meaning of the bytes is proven in the tests of the room
 * vehicle. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "help_transcript.h"
#include "oxylag/sim.h"

struct talk {
    struct oxl_sim *sim;
    int64_t now_us, live_us;
    unsigned baud;
    char out[1 << 18];
    size_t n;
};

static void __attribute__((format(printf, 2, 3))) note(struct talk *t, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    int n = vsnprintf(t->out + t->n, sizeof t->out - t->n, format, args);
    va_end(args);
    assert_in_range(n, 1, sizeof t->out - t->n - 1);
    t->n += (size_t)n;
}

static void on_send(void *ctx, const char *bytes, size_t n)
{
    struct talk *t = ctx;
    bool whole = bytes[n - 1] == '\r';
    note(t, "%lld %s %.*s\n", (long long)t->now_us, whole ? "send" : "part", (int)(n - whole),
         bytes);
    oxl_sim_write(t->sim, bytes, n, t->baud, t->now_us);
}

static void on_speed(void *ctx, unsigned baud)
{
    struct talk *t = ctx;
    t->baud = baud;
}

static void on_reopen(void *ctx)
{
    struct talk *t = ctx;
    note(t, "%lld reopen\n", (long long)t->now_us);
}

static void on_sample(void *ctx, const struct oxl_sample *s)
{
    (void)ctx, (void)s;
}

static void on_link(void *ctx, enum oxl_link_state s, const char *text)
{
    struct talk *t = ctx;
    if (s == OXL_LINK_READY && t->live_us == INT64_MAX)
        t->live_us = t->now_us;
    note(t, "%lld link %s %s\n", (long long)t->now_us, oxl_link_state_name(s), text);
}

static void on_vehicle(void *ctx)
{
    struct talk *t = ctx;
    note(t, "%lld vehicle\n", (long long)t->now_us);
}

static void inspect(struct talk *t, struct oxl_poll *p, int64_t end_us)
{
    char buf[512];
    size_t n;
    oxl_poll_link(p, true, 0);
    while (t->now_us < end_us && t->live_us == INT64_MAX) {
        int64_t sim = oxl_sim_due_us(t->sim), own = oxl_poll_due_us(p);
        int64_t due = sim < own ? sim : own;
        t->now_us = due > t->now_us ? due : t->now_us + 1;
        while ((n = oxl_sim_read(t->sim, buf, sizeof buf, t->now_us)) > 0)
            oxl_poll_rx(p, buf, n, t->now_us);
        oxl_poll_tick(p, t->now_us);
    }
}

static void converse(const char *name, const char *scenario, bool inspection)
{
    static char text[1 << 17];
    static struct talk t;
    struct oxl_scenario *s = NULL;
    struct oxl_poll_config config = {.bank = 1, .has_speed = true, .inspection = inspection};
    struct oxl_poll_out out = {&t, on_send, on_speed, on_reopen, on_sample, on_link, on_vehicle};
    memset(&t, 0, sizeof t);
    t.live_us = INT64_MAX;
    assert_int_equal(oxl_scenario_parse(scenario, name, &s, NULL), OXL_OK);
    t.sim = oxl_sim_new(s, 1, OXL_TECH_ALONE);
    struct oxl_poll *p = oxl_poll_new(&config, &out);
    assert_true(t.sim && p);
    inspect(&t, p, 90000000);
    text[0] = '\0';
    transcript_add(text, sizeof text, t.out, t.live_us);
    transcript_facts(text, sizeof text, p, t.now_us);
    transcript_onboard(text, sizeof text, oxl_poll_onboard(p));
    oxl_poll_free(p);
    oxl_sim_free(t.sim);
    oxl_scenario_free(s);
    transcript_compare(name, text);
}

#define CODES                                                                                      \
    "stored = P0420 P0141\npending = P0171 P0304\npermanent = P0420\nsecond_ecu = yes\n"           \
    "second_stored = P0700\n"

static void can(void **state)
{
    (void)state;
    converse("inspect-can",
             "[ecu]\nfront = wide-current\nhas_cat_temp = yes\n" CODES
             "pending_pct = 30\npending_ms = 60\n",
             true);
}

static void kline(void **state)
{
    (void)state;
    converse("inspect-kline", "[ecu]\n" CODES "[adapter]\nprotocol = 5\n", true);
}

/* In a test they get a second: the technician waits. */
static void kline_in_a_test(void **state)
{
    (void)state;
    converse("test-kline",
             "[ecu]\nanswer_ms_min = 300\nanswer_ms_max = 320\n" CODES "[adapter]\nprotocol = 5\n",
             false);
}

static void j1850(void **state)
{
    (void)state;
    converse("inspect-j1850", "[ecu]\n" CODES "[adapter]\nprotocol = 2\n", true);
}

static void two_banks(void **state)
{
    (void)state;
    converse("inspect-two-banks", "[ecu]\n" CODES "[plant]\nbanks = 2\n", true);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(can),   cmocka_unit_test(kline),     cmocka_unit_test(kline_in_a_test),
        cmocka_unit_test(j1850), cmocka_unit_test(two_banks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
