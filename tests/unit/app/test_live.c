/* What the screen is told between the events, from a simulated test. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "oxylag/session.h"
#include "oxylag/sim.h"

struct bench {
    struct oxl_sim *sim;
    struct oxl_session *session;
    int64_t now_us;
};

static void on_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    struct bench *b = ctx;
    oxl_sim_write(b->sim, bytes, n, 0, t_us);
}

static void on_speed(void *ctx, unsigned baud, int64_t t_us)
{
    (void)ctx, (void)baud, (void)t_us;
}

static void on_reopen(void *ctx, int64_t t_us)
{
    (void)ctx, (void)t_us;
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct bench *b = ctx;
    oxl_sim_hear(b->sim, ev);
}

static void start(struct bench *b, const char *scenario_name)
{
    struct oxl_scenario *scenario;
    struct oxl_session_config config = {.bank = 1, .runs = 1};
    const struct oxl_session_out out = {b, on_send, on_speed, on_reopen, on_event};
    memset(b, 0, sizeof *b);
    assert_int_equal(oxl_scenario_load(scenario_name, &scenario, NULL), OXL_OK);
    b->sim = oxl_sim_new(scenario, 1, OXL_TECH_GUIDED);
    oxl_scenario_free(scenario);
    oxl_profile_defaults(&config.profile);
    b->session = oxl_session_new(&config, &out);
    assert_true(b->sim && b->session);
}

static void feed(struct bench *b, struct oxl_input in)
{
    in.t_us = b->now_us;
    oxl_session_step(b->session, &in);
}

static void one_step(struct bench *b)
{
    char buf[512];
    int64_t sim_us = oxl_sim_due_us(b->sim);
    int64_t next_us = oxl_earlier_us(sim_us, oxl_session_due_us(b->session));
    b->now_us = next_us > b->now_us ? next_us : b->now_us;
    size_t n = oxl_sim_read(b->sim, buf, sizeof buf, b->now_us);
    if (n)
        feed(b, (struct oxl_input){.kind = OXL_IN_RX, .bytes = buf, .n = n});
    feed(b, (struct oxl_input){.kind = OXL_IN_TICK});
}

/* An ordinary run has its minute. Past the depth of one, a deeper run has seconds only: the screen
 * counts those. */
static void a_deeper_run_counts_its_own_seconds(void **state)
{
    (void)state;
    struct bench b;
    struct oxl_live live;
    double last_s = NAN, before_s = 0;
    start(&b, "deeper-dead");
    feed(&b, (struct oxl_input){.kind = OXL_IN_LINK_UP});
    feed(&b, (struct oxl_input){.kind = OXL_IN_KEY, .key = OXL_KEY_DEEPER});
    while (!oxl_session_over(b.session) && b.now_us < 600000000) {
        one_step(&b);
        oxl_session_live(b.session, b.now_us, &live);
        if (live.state != OXL_STATE_ENRICHMENT || !oxl_known(live.heat_left_s))
            continue;
        if (live.deeper)
            last_s = live.heat_left_s;
        else
            before_s = fmax(before_s, live.heat_left_s);
    }
    assert_true(last_s > 0 && last_s <= 15); /* when the gas was cut */
    assert_true(before_s > 50 && before_s <= 60);
    oxl_session_free(b.session);
    oxl_sim_free(b.sim);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_deeper_run_counts_its_own_seconds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
