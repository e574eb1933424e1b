/* What the screen is told between events: of a session before anything is known, and of one whose
 * samples come from a table, where each figure is known by how the table was made. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "help_car.h"

static void no_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    (void)ctx, (void)bytes, (void)n, (void)t_us;
}

static void no_speed(void *ctx, unsigned baud, int64_t t_us)
{
    (void)ctx, (void)baud, (void)t_us;
}

static void no_reopen(void *ctx, int64_t t_us)
{
    (void)ctx, (void)t_us;
}

static void no_event(void *ctx, const struct oxl_event *ev)
{
    (void)ctx, (void)ev;
}

static struct oxl_session *session_of(const struct oxl_session_config *config)
{
    const struct oxl_session_out out = {NULL, no_send, no_speed, no_reopen, no_event};
    struct oxl_session *s = oxl_session_new(config, &out);
    assert_non_null(s);
    return s;
}

static struct oxl_session_config of_defaults(void)
{
    struct oxl_session_config config = {.bank = 1, .profile_given = true};
    oxl_profile_defaults(&config.profile);
    return config;
}

static void nothing_is_known_at_first(void **state)
{
    (void)state;
    const struct oxl_session_config config = of_defaults();
    struct oxl_session *s = session_of(&config);
    struct oxl_live live;
    oxl_session_live(s, 1000000, &live);
    assert_int_equal(live.state, OXL_STATE_PRECHECK);
    assert_true(isnan(live.total_trim_pct) && isnan(live.baseline_pct) && isnan(live.shift_pct));
    assert_true(isnan(live.hold_left_s) && isnan(live.heat_left_s) && isnan(live.timing_s));
    assert_true(isnan(live.baseline_left_s) && isnan(live.offer_left_s));
    assert_true(isnan(live.removed_mg) && isnan(live.needed_mg) && isnan(live.leak_left_s));
    assert_false(live.gas_may_flow || live.deeper || live.front_rich || live.rear_lean);
    /* The depths are the profile's. */
    const struct oxl_profile *f = &config.profile;
    assert_true(live.target_pct == f->target_pct && live.slow_pct == f->slow_pct);
    assert_true(live.accept_low_pct == f->accept_low_pct);
    assert_true(live.accept_high_pct == f->accept_high_pct);
    assert_true(live.back_off_pct == f->back_off_pct && f->back_off_pct < f->accept_low_pct);
    oxl_session_free(s);
}

static char marked[128];

static void keep_mark(void *ctx, const struct oxl_event *ev)
{
    (void)ctx;
    if (ev->kind == OXL_EV_MARK)
        snprintf(marked, sizeof marked, "%s", ev->u.mark.text);
}

/* What comes from outside goes to a terminal: nothing in it may steer that. */
static void a_note_is_made_safe(void **state)
{
    static const char text[] = "lost\x1b[2Jpower";
    const struct oxl_session_config config = of_defaults();
    const struct oxl_session_out out = {NULL, no_send, no_speed, no_reopen, keep_mark};
    struct oxl_session *s = oxl_session_new(&config, &out);
    (void)state;
    assert_non_null(s);
    const struct oxl_input in = {
        .kind = OXL_IN_NOTE, .t_us = 1000000, .bytes = (const void *)text, .n = sizeof text - 1};
    oxl_session_step(s, &in);
    assert_memory_equal(marked, "lost", 4);
    assert_non_null(strstr(marked, "power"));
    assert_null(strchr(marked, 0x1b));
    oxl_session_free(s);
}

/* An inspection over, or a session: nothing is due any more, and what comes is not taken. */
static void what_is_over_waits_for_nothing(void **state)
{
    (void)state;
    const struct oxl_session_config config = of_defaults();
    struct oxl_session *s = session_of(&config);
    struct oxl_input in = {.kind = OXL_IN_LINK_UP, .t_us = 1000000};
    oxl_session_step(s, &in);
    assert_true(oxl_session_due_us(s) < INT64_MAX);
    in.kind = OXL_IN_KEY;
    in.key = OXL_KEY_ABORT;
    in.t_us = 2000000;
    oxl_session_step(s, &in);
    assert_true(oxl_session_over(s));
    assert_true(oxl_session_due_us(s) == INT64_MAX);
    in.kind = OXL_IN_TICK;
    in.t_us = 1500000; /* nor does a clock that jumps back */
    assert_false(oxl_session_step(s, &in));
    oxl_session_free(s);
    oxl_session_free(NULL);
}

/* ---- a table --------------------------------------------------------------------------------- */
enum { COLUMNS = 6 };

static struct oxl_session_config of_table(void)
{
    struct oxl_session_config config = of_defaults();
    const struct oxl_channel columns[COLUMNS] = {
        oxl_channel(OXL_Q_LAMBDA, 1, 1),   oxl_channel(OXL_Q_O2_V, 1, 2),
        oxl_channel(OXL_Q_STFT_PCT, 1, 0), oxl_channel(OXL_Q_LTFT_PCT, 1, 0),
        oxl_channel(OXL_Q_RPM, 0, 0),      oxl_channel(OXL_Q_AIR_G_S, 0, 0)};
    config.imported = (struct oxl_imported){
        .on = true, .channels_n = COLUMNS, .row_us = 100000, .table = "a.csv"};
    for (size_t i = 0; i < COLUMNS; i++)
        config.imported.channels[i] = columns[i];
    return config;
}

static void row(struct oxl_session *s, int64_t t_us, double lambda, double stft_pct)
{
    double rear_v = t_us / 100000 % 2 ? 0.70 : 0.705;
    const double values[COLUMNS] = {lambda, rear_v, stft_pct, 2.0, 750, 3.0};
    const struct oxl_input in = {
        .kind = OXL_IN_SAMPLES, .t_us = t_us, .values = values, .n = COLUMNS};
    oxl_session_step(s, &in);
    const struct oxl_input tick = {.kind = OXL_IN_TICK, .t_us = t_us};
    oxl_session_step(s, &tick);
}

/* Trims of 2 + 1.5 % at rest; gas from `gas_s` on takes 20 % away in 5 s. */
static void row_at(struct oxl_session *s, double t_s, double gas_s, struct oxl_live *live)
{
    const int64_t t_us = (int64_t)(1e6 * t_s + 0.5);
    const double t = t_s - gas_s;
    row(s, t_us, t > 0 && t < 3 ? 0.97 : 1, 1.5 - fmin(20, fmax(0, 4 * t)));
    oxl_session_live(s, t_us, live);
}

static bool is_near(double a, double b, double by)
{
    return fabs(a - b) < by;
}

/* The window of the baseline, the hold and the heat run down by the clock, to their end. */
static void times_run_down(void **state)
{
    (void)state;
    const struct oxl_session_config config = of_table();
    const struct oxl_profile *f = &config.profile;
    struct oxl_session *s = session_of(&config);
    struct oxl_live live, before = {.hold_left_s = NAN};
    double baseline_s = NAN, least_baseline_s = INFINITY, held_s = NAN, least_hold_s = INFINITY;
    for (int i = 0; i < 280; i++) {
        const double t_s = 0.1 * i;
        row_at(s, t_s, 20, &live);
        if (live.state == OXL_STATE_BASELINE) {
            baseline_s = before.state == OXL_STATE_BASELINE ? baseline_s : t_s;
            assert_true(is_near(live.baseline_left_s, f->window_s - (t_s - baseline_s), 1e-6));
            least_baseline_s = fmin(least_baseline_s, live.baseline_left_s);
        } else {
            assert_true(isnan(live.baseline_left_s));
        }
        if (isnan(before.hold_left_s) && !isnan(live.hold_left_s))
            held_s = t_s; /* it has come into the accepted range */
        if (!isnan(live.hold_left_s)) {
            assert_true(is_near(live.hold_left_s, fmax(0, f->hold_s - (t_s - held_s)), 1e-6));
            if (live.hold_left_s > 0)
                least_hold_s = fmin(least_hold_s, live.hold_left_s);
        }
        if (!isnan(before.hold_left_s)) /* before, the gas is still found to have begun earlier */
            assert_true(is_near(before.heat_left_s - live.heat_left_s, 0.1, 1e-6));
        before = live;
    }
    assert_true(least_baseline_s < 0.5 && least_hold_s < 0.5);
    assert_int_equal(live.state, OXL_STATE_ENRICHMENT);
    assert_true(is_near(live.baseline_pct, 3.5, 1e-9) && is_near(live.shift_pct, -20, 1e-9));
    assert_true(is_near(live.total_trim_pct, -16.5, 1e-9));
    assert_true(live.heat_left_s > 0 && isnan(live.timing_s));
    assert_int_equal(live.link, OXL_LINK_READY); /* a table has no link, and no rates of one */
    assert_true(isnan(live.front_hz) && isnan(live.rear_hz));
    oxl_session_free(s);
}

/* The gas of a table may come long after its baseline, which goes along with the engine until then;
 * but not with a step that may be gas. */
static void a_baseline_goes_along_until_the_gas(void **state)
{
    (void)state;
    static const struct {
        double by_pct, want_pct, within_pct; /* what is less than 0.3 % is not worth following */
    } rows[] = {{0.8, 4.3, 0.3}, {-0.8, 2.7, 0.3}, {0.2, 3.5, 1e-9}, {2.0, 3.5, 1e-9}};
    for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        const struct oxl_session_config config = of_table();
        struct oxl_session *s = session_of(&config);
        struct oxl_live live;
        for (int i = 0; i < 400; i++)
            row(s, 100000 * i, 1, 1.5 + (i < 150 ? 0 : rows[k].by_pct));
        oxl_session_live(s, 40000000, &live);
        assert_int_equal(live.state, OXL_STATE_ENRICHMENT);
        if (!is_near(live.baseline_pct, rows[k].want_pct, rows[k].within_pct))
            fail_msg("by %.1f: %.3f is not %.3f", rows[k].by_pct, live.baseline_pct,
                     rows[k].want_pct);
        oxl_session_free(s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_known_at_first),
        cmocka_unit_test(a_note_is_made_safe),
        cmocka_unit_test(what_is_over_waits_for_nothing),
        cmocka_unit_test(times_run_down),
        cmocka_unit_test(a_baseline_goes_along_until_the_gas),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
