/* The samples that are kept around each run. */
#include "oxylag/report.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct oxl_tracks tracks;

static void near_to(double a, double b)
{
    if (fabs(a - b) > 1e-6)
        fail_msg("%.9g, expected %.9g", a, b);
}

static void say_state(int64_t t_us, enum oxl_state s)
{
    struct oxl_event ev = {.kind = OXL_EV_STATE, .t_us = t_us};
    ev.u.state.state = s;
    oxl_tracks_event(&tracks, &ev);
}

static void say(int64_t t_us, struct oxl_channel channel, double value)
{
    struct oxl_event ev = {.kind = OXL_EV_SAMPLE, .t_us = t_us};
    ev.u.sample = (struct oxl_sample){
        .channel = channel, .value = value, .sent_us = t_us - 20000, .recv_us = t_us};
    oxl_tracks_event(&tracks, &ev);
}

static void say_run(int64_t t_us)
{
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = t_us};
    ev.u.run.run = (int)tracks.runs_n + 1;
    oxl_tracks_event(&tracks, &ev);
}

/* Bank 1: item 24 (wide-range front) and item 15 (switching rear), long-term trim supported. */
static void say_vehicle(void)
{
    struct oxl_vehicle v = {.decoding = {.layout = OXL_LAYOUT_13, .sensors = 0x03}};
    const uint8_t low[4] = {0x06, 0, 0x08, 0}; /* 06, 07 and 15 of 01..20 */
    const uint8_t high[4] = {0x10, 0, 0, 0};   /* 24 of 21..40 */
    oxl_support_add(&v.support, 0x00, low);
    oxl_support_add(&v.support, 0x20, high);
    struct oxl_event ev = {.kind = OXL_EV_VEHICLE};
    ev.u.vehicle = &v;
    oxl_tracks_event(&tracks, &ev);
    assert_int_equal(tracks.pair.front_kind, OXL_SENSOR_WIDE);
    assert_int_equal(tracks.pair.rear_kind, OXL_SENSOR_SWITCHING);
    assert_true(tracks.has_ltft);
}

static const struct oxl_channel stft = {OXL_Q_STFT_PCT, 1, 0}, ltft = {OXL_Q_LTFT_PCT, 1, 0};

static void runs_keep_their_samples(void **state)
{
    (void)state;
    oxl_tracks_init(&tracks, 1);
    say_vehicle();
    const struct oxl_channel front = tracks.pair.front, rear = tracks.pair.rear;
    say(900000, front, 1.0); /* before the run: not kept */
    say_state(1000000, OXL_STATE_ENRICHMENT);
    say(1100000, stft, -20); /* the other part is not known yet */
    say(1200000, ltft, 2.5);
    say(1300000, front, 0.97);
    say(1300000, rear, 0.8);
    say(1400000, front, NAN);
    say(1450000, oxl_channel(OXL_Q_STFT_PCT, 2, 0), -1); /* the other bank */
    say_state(1500000, OXL_STATE_RELEASE);
    say_run(2000000);
    say(3000000, rear, 0.1);  /* the tail */
    say(9000000, rear, 0.05); /* too late */
    assert_int_equal(tracks.runs_n, 1);
    const struct oxl_track *k = &tracks.runs[0];
    assert_int_equal(k->cut_us, 1500000);
    assert_int_equal(k->lanes[OXL_LANE_TRIM].n, 1);
    near_to(k->lanes[OXL_LANE_TRIM].value[0], -17.5);
    near_to(k->lanes[OXL_LANE_TRIM].t_s[0], 1.19); /* between request and reply */
    assert_int_equal(k->lanes[OXL_LANE_FRONT].n, 1);
    assert_int_equal(k->lanes[OXL_LANE_REAR].n, 2);
    near_to(k->lanes[OXL_LANE_REAR].value[1], 0.1);
    /* A restart empties what was begun; a run without enrichment has no samples of another. */
    say_state(10000000, OXL_STATE_ENRICHMENT);
    say(10100000, front, 0.9);
    say_state(11000000, OXL_STATE_ENRICHMENT);
    say(11100000, front, 0.8);
    say_run(12000000);
    assert_int_equal(tracks.runs[1].lanes[OXL_LANE_FRONT].n, 1);
    near_to(tracks.runs[1].lanes[OXL_LANE_FRONT].value[0], 0.8);
    say_run(13000000);
    assert_int_equal(tracks.runs_n, 3);
    assert_int_equal(tracks.runs[2].lanes[OXL_LANE_FRONT].n, 0);
    struct oxl_event back = {.kind = OXL_EV_RUN, .t_us = 14000000, .u.run.run = 3};
    oxl_tracks_event(&tracks, &back); /* taken back: no further run */
    assert_int_equal(tracks.runs_n, 3);
}

/* However long a run lasts and however many there are. */
static void floods_are_bounded(void **state)
{
    (void)state;
    oxl_tracks_init(&tracks, 0);
    assert_int_equal(tracks.bank, 1);
    say_vehicle();
    say_state(0, OXL_STATE_ENRICHMENT);
    for (int64_t i = 1; i <= 100000; i++)
        say(i * 10000, tracks.pair.rear, (double)i);
    const struct oxl_track *k = &tracks.runs[0];
    const size_t n = k->lanes[OXL_LANE_REAR].n;
    assert_true(n <= OXL_TRACK_POINTS && n > OXL_TRACK_POINTS / 2);
    near_to(k->lanes[OXL_LANE_REAR].value[0], 1);
    near_to(k->lanes[OXL_LANE_REAR].value[n - 1], 100000);
    for (size_t i = 1; i < n; i++)
        assert_true(k->lanes[OXL_LANE_REAR].t_s[i] > k->lanes[OXL_LANE_REAR].t_s[i - 1]);
    /* The newest ones are all there. */
    for (size_t i = 0; i < 200 && i < n; i++)
        near_to(k->lanes[OXL_LANE_REAR].value[n - 1 - i], 100000 - (double)i);
    for (int64_t i = 0; i < 2 * OXL_RECORD_MAX_RUNS; i++) {
        say_state(2000000000 + i * 10000000, OXL_STATE_ENRICHMENT);
        say(2000000000 + i * 10000000 + 100, tracks.pair.rear, 1);
        say_run(2000000000 + i * 10000000 + 200);
    }
    assert_int_equal(tracks.runs_n, OXL_RECORD_MAX_RUNS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(runs_keep_their_samples),
        cmocka_unit_test(floods_are_bounded),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
