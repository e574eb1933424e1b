/* What is asked for in each focus, how often, and that no time is lost between requests. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_rig.h"

#define FRONT    oxl_channel(OXL_Q_O2_V, 1, 1)
#define REAR     oxl_channel(OXL_Q_O2_V, 1, 2)
#define STFT     oxl_channel(OXL_Q_STFT_PCT, 1, 0)
#define LTFT     oxl_channel(OXL_Q_LTFT_PCT, 1, 0)
#define AIR      oxl_channel(OXL_Q_AIR_G_S, 0, 0)
#define RPM      oxl_channel(OXL_Q_RPM, 0, 0)
#define FUEL     oxl_channel(OXL_Q_FUEL_SYSTEM, 1, 0)
#define SPEED    oxl_channel(OXL_Q_SPEED_KMH, 0, 0)
#define COOLANT  oxl_channel(OXL_Q_COOLANT_C, 0, 0)
#define RUN_TIME oxl_channel(OXL_Q_RUN_TIME_S, 0, 0)
#define CAT_TEMP oxl_channel(OXL_Q_CAT_TEMP_C, 1, 1)

static void make_ready(struct rig *r, enum oxl_focus focus)
{
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_READY, 20));
    rig_focus(r, focus);
    rig_run(r, 1);
    r->fake.idle_us = 0;
}

/* Samples of a channel a second, over the next `seconds`. */
static double rate(struct rig *r, struct oxl_channel c, double seconds)
{
    unsigned from = r->samples_n;
    rig_run(r, seconds);
    return rig_count(r, c, from) / seconds;
}

#define assert_near(value, want, tolerance)                                                        \
    do {                                                                                           \
        double near_value = (value);                                                               \
        if (fabs(near_value - (want)) > (tolerance))                                               \
            fail_msg("%s is %g, not %g", #value, near_value, (double)(want));                      \
    } while (0)

static double share(const struct rig *r, struct oxl_channel c, struct oxl_channel of, unsigned from)
{
    return (double)rig_count(r, c, from) / rig_count(r, of, from);
}

static double longest_gap_s(const struct rig *r, struct oxl_channel c, unsigned from)
{
    int64_t last = 0, gap = 0;
    for (unsigned i = from; i < r->samples_n; i++) {
        if (!oxl_channel_same(r->samples[i].channel, c))
            continue;
        if (last && r->samples[i].recv_us - last > gap)
            gap = r->samples[i].recv_us - last;
        last = r->samples[i].recv_us;
    }
    return last ? (double)gap / 1e6 : 1e9;
}

static void test_all_focus_on_can(void **state)
{
    struct rig *r = *state;
    make_ready(r, OXL_FOCUS_ALL);
    unsigned from = r->samples_n;
    rig_run(r, 20);
    /* Sensors and trims in every round, together. */
    assert_true(share(r, REAR, FRONT, from) == 1.0);
    assert_true(share(r, STFT, FRONT, from) == 1.0);
    assert_true(share(r, LTFT, FRONT, from) == 1.0);
    assert_true(rig_count(r, AIR, from) >= 40 && rig_count(r, RPM, from) >= 40);
    assert_true(longest_gap_s(r, AIR, from) <= 0.5 && longest_gap_s(r, RPM, from) <= 0.5);
    assert_true(longest_gap_s(r, FUEL, from) <= 2.0 && longest_gap_s(r, SPEED, from) <= 2.0);
    assert_true(longest_gap_s(r, COOLANT, from) <= 4.0);
    assert_true(longest_gap_s(r, RUN_TIME, from) <= 4.0);
    assert_true(longest_gap_s(r, CAT_TEMP, from) <= 4.0);
    /* Slow things are asked seldom: most rounds carry nothing but sensors and trims. */
    assert_true(share(r, COOLANT, FRONT, from) < 0.02);
    assert_true(fake_count(&r->fake, "01141506072", 0) > r->fake.log_n / 2);
}

static void test_front_and_rear_share_their_moment(void **state)
{
    struct rig *r = *state;
    make_ready(r, OXL_FOCUS_TIMING);
    unsigned from = r->samples_n, pairs = 0;
    rig_run(r, 2);
    for (unsigned i = from; i + 1 < r->samples_n; i++) {
        const struct oxl_sample *a = &r->samples[i];
        if (!oxl_channel_same(a->channel, FRONT))
            continue;
        pairs++;
        bool found = false;
        for (unsigned k = i + 1; k < i + 4 && k < r->samples_n; k++)
            found = found ||
                    (oxl_channel_same(r->samples[k].channel, REAR) &&
                     r->samples[k].sent_us == a->sent_us && r->samples[k].recv_us == a->recv_us);
        assert_true(found);
        assert_true(a->recv_us > a->sent_us);
    }
    assert_true(pairs > 100);
}

static void test_timing_focus_on_can(void **state)
{
    struct rig *r = *state;
    make_ready(r, OXL_FOCUS_TIMING);
    unsigned from = r->samples_n;
    rig_run(r, 20);
    assert_true(share(r, REAR, FRONT, from) == 1.0);
    assert_near(share(r, STFT, FRONT, from), 0.25, 0.01);
    assert_near(share(r, AIR, FRONT, from), 1 / 12.0, 0.01);
    assert_near(share(r, RPM, FRONT, from), 1 / 12.0, 0.01);
    assert_true(share(r, COOLANT, FRONT, from) < 0.01);
    /* 41 14 a b 15 c d is 7 bytes: one frame, so the digit is 1 (ISO 15765-2). */
    assert_true(fake_count(&r->fake, "0114151", 0) > r->fake.log_n / 2);
    /* 41 14 .. 15 .. 06 . 07 . is 11 bytes: first frame and one more. */
    assert_true(fake_count(&r->fake, "01141506072", 0) > r->fake.log_n / 8);
}

/* 41 34 a b c d 15 e f is 9 bytes, two frames; the trims fit in and ride along at no cost. */
static void test_trims_ride_free(void **state)
{
    struct rig *r = *state;
    r->fake.ecus[0].pids = "01 03 05 06 07 0C 0D 10 13 14 15 1F 20 34 40 4F";
    make_ready(r, OXL_FOCUS_TIMING);
    unsigned from = r->samples_n, log = r->fake.log_n;
    rig_run(r, 5);
    assert_true(share(r, STFT, oxl_channel(OXL_Q_LAMBDA, 1, 1), from) > 0.8);
    assert_true(fake_count(&r->fake, "01341506072", log) > 100);
}

/* Full speed: the next request leaves at the prompt, within the same call (spec 11: 98 %). */
static void test_no_idle_time(void **state)
{
    (void)state;
    for (int focus = OXL_FOCUS_ALL; focus <= OXL_FOCUS_TIMING; focus++) {
        struct rig *r = rig_new();
        make_ready(r, (enum oxl_focus)focus);
        rig_run(r, 10);
        assert_true((double)r->fake.idle_us < 0.02 * 10e6);
        assert_int_equal(r->fake.interrupts, 0);
        rig_free(r);
    }
}

/* At 115200 baud a front-and-rear round of this adapter takes: request of 8 characters 0.69 ms,
 * its latency 8 ms, one frame 0.25 ms on the bus and 20 characters 1.72 ms, the prompt's 2. */
static void test_rate_against_the_adapters_limit(void **state)
{
    struct rig *r = *state;
    r->fake.ecus[0].pids = "13 14 15"; /* nothing else to ask for */
    make_ready(r, OXL_FOCUS_TIMING);
    const double limit_hz = 1000 / (0.688 + 8 + 0.25 + 20 * 0.086 + 2 * 0.086);
    double hz = rate(r, FRONT, 10);
    assert_true(hz >= 0.98 * limit_hz);
    assert_true(hz <= 1.02 * limit_hz);
    /* At least twice a loop of single PIDs without the digit: 2 x (8 + 60) ms and more. */
    assert_true(hz >= 2 * 1000 / (2 * (0.43 + 8 + 0.25 + 1.72 + 60 + 0.17)));
}

static void test_stats_tell_the_true_rate(void **state)
{
    struct rig *r = *state;
    struct oxl_poll_stats s;
    rig_start(r, NULL);
    oxl_poll_stats(r->poll, r->now_us, &s);
    assert_true(s.front_hz == 0 && s.rear_hz == 0 && isnan(s.round_ms));
    assert_true(rig_until(r, OXL_LINK_READY, 20));
    rig_focus(r, OXL_FOCUS_TIMING);
    rig_run(r, 3);
    double hz = rate(r, FRONT, 2);
    oxl_poll_stats(r->poll, r->now_us, &s);
    assert_near(s.front_hz, hz, 1);
    assert_near(s.rear_hz, hz, 1);
    assert_near(s.round_ms, 1000 / hz, 0.5);
    assert_true(s.requests >= s.replies && s.replies > 100);
    /* They tell the last 2 s, not the past. */
    oxl_poll_stats(r->poll, r->now_us + 2100000, &s);
    assert_true(s.front_hz == 0 && isnan(s.round_ms));
}

static void test_kline_rates(void **state)
{
    struct rig *r = *state;
    fake_kline(&r->fake);
    r->fake.ecus[0].pids = "01 03 04 05 06 07 0C 0D 10 13 14 15 1F";
    make_ready(r, OXL_FOCUS_ALL);
    rig_run(r, 5); /* everything has been asked for once */
    unsigned from = r->samples_n, log = r->fake.log_n;
    rig_run(r, 30);
    /* About 8 requests a second; each of the six quantities about 1.3 times. */
    assert_near(rig_count(r, FRONT, from) / 30.0, 1.35, 0.15);
    assert_near(rig_count(r, REAR, from) / 30.0, 1.35, 0.15);
    assert_near(rig_count(r, STFT, from) / 30.0, 1.35, 0.15);
    assert_near(rig_count(r, AIR, from) / 30.0, 0.67, 0.1);
    assert_near(rig_count(r, RPM, from) / 30.0, 0.67, 0.1);
    assert_true(longest_gap_s(r, FUEL, from) < 3.2 && longest_gap_s(r, SPEED, from) < 3.2);
    assert_true(longest_gap_s(r, COOLANT, from) < 15);
    for (unsigned i = log; i < r->fake.log_n; i++) {
        assert_int_equal(strlen(r->fake.log[i]), 5); /* one PID and the digit */
        assert_int_equal(r->fake.log[i][4], '1');
    }
    rig_focus(r, OXL_FOCUS_TRIMS);
    from = r->samples_n;
    rig_run(r, 30);
    assert_near(rig_count(r, STFT, from) / 30.0, 1.6, 0.15);
    rig_focus(r, OXL_FOCUS_TIMING);
    from = r->samples_n;
    rig_run(r, 30);
    /* F R F R s F R F R F R F R l F R F R: eight of eighteen each, air and rpm in turn between
     * them. */
    assert_near(rig_count(r, FRONT, from) / 30.0, 3.1, 0.2);
    assert_near(rig_count(r, REAR, from) / 30.0, 3.1, 0.2);
    assert_near(share(r, STFT, FRONT, from), 1 / 8.0, 0.02);
    assert_near((rig_count(r, AIR, from) + rig_count(r, RPM, from)) / 30.0, 1 / 0.75, 0.1);
    assert_true(longest_gap_s(r, AIR, from) < 1.7 && longest_gap_s(r, RPM, from) < 1.7);
    assert_int_equal(rig_count(r, COOLANT, from), 0);
    assert_true((double)r->fake.idle_us < 0.02 * 95e6);
}

static void test_trims_focus_on_can(void **state)
{
    struct rig *r = *state;
    make_ready(r, OXL_FOCUS_TRIMS);
    unsigned from = r->samples_n;
    rig_run(r, 20);
    assert_true(share(r, REAR, FRONT, from) == 1.0);
    assert_true(share(r, STFT, FRONT, from) == 1.0);
    assert_true(rig_count(r, AIR, from) >= 40 && rig_count(r, RPM, from) >= 40);
}

/* No air meter: pressure takes its place; intake temperature comes seldom. */
static void test_speed_density(void **state)
{
    struct rig *r = *state;
    r->fake.ecus[0].pids = "01 03 05 06 07 0B 0C 0D 0F 13 14 15 1F";
    make_ready(r, OXL_FOCUS_ALL);
    unsigned from = r->samples_n;
    rig_run(r, 10);
    assert_true(rig_count(r, oxl_channel(OXL_Q_MAP_KPA, 0, 0), from) >= 20);
    assert_true(rig_count(r, oxl_channel(OXL_Q_INTAKE_C, 0, 0), from) >= 2);
    assert_int_equal(rig_count(r, AIR, from), 0);
}

static void test_pids_never_answered_are_dropped(void **state)
{
    struct rig *r = *state;
    r->fake.no_data = "05 0D";
    r->fake.first_pid_only = true; /* single requests: NO DATA for these */
    make_ready(r, OXL_FOCUS_ALL);
    rig_run(
        r,
        15); /* in live data until one was missed three times, once more to be sure, never again */
    unsigned coolant = fake_count(&r->fake, "01051", 0), speed = fake_count(&r->fake, "010D1", 0);
    assert_in_range(coolant, 2, 6);
    assert_in_range(speed, 2, 6);
    rig_run(r, 30);
    assert_int_equal(fake_count(&r->fake, "01051", 0), coolant);
    assert_int_equal(fake_count(&r->fake, "010D1", 0), speed);
    const struct oxl_vehicle *v = oxl_poll_vehicle(r->poll);
    assert_true(oxl_supports(&v->silent, 0x05) && oxl_supports(&v->silent, 0x0D));
    assert_false(oxl_supports(&v->support, 0x05) || oxl_supports(&v->support, 0x0D));
    assert_true(rig_count(r, RUN_TIME, 0) > 3);
    assert_false(rig_saw_state(r, OXL_LINK_STALLED));
}

static bool holds(const char *request, const char *pid)
{
    for (size_t i = 2; request[i] && request[i + 1]; i += 2)
        if (strncmp(request + i, pid, 2) == 0)
            return true;
    return false;
}

static void test_missing_in_several_is_dropped(void **state)
{
    struct rig *r = *state;
    r->fake.no_data = "1F";
    make_ready(r, OXL_FOCUS_ALL);
    rig_run(r, 20);
    unsigned asked = 0;
    for (unsigned i = 0; i < r->fake.log_n; i++)
        asked += strlen(r->fake.log[i]) > 12 && holds(r->fake.log[i], "1F");
    assert_int_equal(asked, 3);
    assert_true(rig_count(r, COOLANT, 0) > 3);
}

static void test_refused_pid_is_asked_once(void **state)
{
    struct rig *r = *state;
    r->fake.refuse_pid = 0x05;
    r->fake.first_pid_only = true;
    make_ready(r, OXL_FOCUS_ALL);
    rig_run(r, 30);
    assert_int_equal(fake_count(&r->fake, "01051", 0), 1);
    struct oxl_poll_stats s;
    oxl_poll_stats(r->poll, r->now_us, &s);
    assert_int_equal(s.negative, 1);
}

/* Front and rear are asked on, whatever happens. */
static void test_sensors_are_never_dropped(void **state)
{
    struct rig *r = *state;
    r->fake.first_pid_only = true;
    make_ready(r, OXL_FOCUS_ALL);
    r->fake.no_data = "15";
    rig_run(r, 10);
    unsigned from = r->samples_n;
    r->fake.no_data = NULL;
    rig_run(r, 2);
    assert_true(rig_count(r, REAR, from) > 5);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, rig_setup, rig_teardown)
    const struct CMUnitTest tests[] = {
        T(test_all_focus_on_can),
        T(test_front_and_rear_share_their_moment),
        T(test_timing_focus_on_can),
        T(test_trims_ride_free),
        cmocka_unit_test(test_no_idle_time),
        T(test_rate_against_the_adapters_limit),
        T(test_stats_tell_the_true_rate),
        T(test_kline_rates),
        T(test_trims_focus_on_can),
        T(test_speed_density),
        T(test_pids_never_answered_are_dropped),
        T(test_missing_in_several_is_dropped),
        T(test_refused_pid_is_asked_once),
        T(test_sensors_are_never_dropped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
