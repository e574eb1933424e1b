/* When the simulated adapter does things: serial pace, bus times, waits, the moment at which
 * the vehicle samples. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "help_limit.h"
#include "help_unit.h"

static struct rig rig;

static int setup(void **state)
{
    (void)state;
    rig_defaults(&rig);
    return 0;
}

/* Asks n times as fast as the prompts come; replies a second. */
static double measured_hz(const char *request, int n)
{
    rig_ask(&rig, request);
    int64_t from_us = rig.t_us;
    for (int i = 0; i < n; i++)
        assert_null(strstr(rig_ask(&rig, request), "NO DATA"));
    return n * 1e6 / (double)(rig.t_us - from_us);
}

/* Measured against the closed form, the latter allowed to be off by `part`. */
static void check_within(const char *request, const char *setting, double part)
{
    rig_ready(&rig);
    assert_string_equal(rig_ask(&rig, setting), "OK||>");
    double hz = measured_hz(request, 1500);
    double limit = limit_hz(rig.adapter, (unsigned)strlen(request) + 1, (unsigned)rig.raw_len);
    if (fabs(hz / limit - 1) > part)
        fail_msg("%s: measured %.3f, closed form %.3f replies a second", request, hz, limit);
    rig_close(&rig);
}

static void check_limit(const char *request)
{
    check_within(request, "ATE0", 0.02);
}

static void test_limit_on_can(void **state)
{
    (void)state;
    check_limit("010C1");
    check_limit("0114151");
    check_limit("09023"); /* three frames with flow control */
    rig.set.latency_ms = 1;
    rig.set.jitter_ms = 3; /* some draws would be negative */
    check_limit("010C1");
    rig.set.latency_ms = rig.set.jitter_ms = 0;
    rig.ecu.answer_ms_min = rig.ecu.answer_ms_max = 1;
    check_limit("010C1");
    rig.set.protocol = 9;
    check_limit("010C1");
    check_limit("09023");
}

static void test_limit_by_line_speed(void **state)
{
    (void)state;
    static const unsigned bauds[] = {9600, 38400, 57600, 500000};
    for (size_t i = 0; i < sizeof bauds / sizeof bauds[0]; i++) {
        rig.set.baud = rig.baud = bauds[i];
        check_limit("010C1");
        check_limit("09023");
    }
}

static void test_limit_off_can(void **state)
{
    (void)state;
    for (rig.set.protocol = 1; rig.set.protocol <= 5; rig.set.protocol++)
        check_limit("010C1");
    rig.set.protocol = 3;
    rig.set.baud = rig.baud = 2400; /* slower than the 55 ms between requests */
    check_limit("010C1");
}

static void test_limit_without_count(void **state)
{
    (void)state;
    rig.set.reply_count = false;
    check_within("010C", "ATAT0", 0.02);
    check_within("010C", "ATAT1", 0.06); /* by what it has learned so far */
    rig.set.adaptive = false;
    check_within("010C", "ATST10", 0.02);
    rig.set.protocol = 3;
    check_within("010C", "ATST20", 0.02);
}

/* Each frame starts the wait anew: with nothing left to chance the closed form is exact. */
static void test_limit_without_count_of_several_frames(void **state)
{
    (void)state;
    rig.set.reply_count = rig.set.adaptive = false;
    rig.set.latency_ms = rig.set.jitter_ms = 0;
    rig.ecu.answer_ms_min = rig.ecu.answer_ms_max = 5;
    check_within("010C", "ATST0A", 0.0005);
    check_within("0114150C", "ATST0A", 0.0005);
    check_within("0902", "ATST0A", 0.0005);
    rig.set.baud = rig.baud = 9600; /* the lines are still leaving when the wait is over */
    check_within("0902", "ATST02", 0.0005);
}

/* Best case on a K-line from the standard's numbers (ISO 9141-2, ISO 14230-2): six bytes with
 * 5 ms between them, 25 ms, eight bytes, 55 ms; P1 here is 1 ms. */
static void test_kline_arithmetic(void **state)
{
    (void)state;
    const double byte_ms = 10 / 10.4;
    rig.set.protocol = 3;
    rig.set.latency_ms = rig.set.jitter_ms = 0;
    rig.ecu.answer_ms_min = rig.ecu.answer_ms_max = 5; /* the standard allows no less than 25 */
    rig_ready(&rig);
    double expected_ms = 6 * byte_ms + 5 * 5 + 25 + 8 * byte_ms + 7 * 1 + 55;
    assert_true(fabs(1000 / measured_hz("010C1", 50) - expected_ms) < 0.05);
    rig_close(&rig);
}

static void test_serial_pace(void **state)
{
    (void)state;
    rig.set.baud = rig.baud = 9600;
    rig_ready(&rig);
    rig_ask(&rig, "010C1");
    assert_int_equal(rig.raw_len, 22); /* 7E8, eight bytes, CR, CR, prompt */
    double took_us = (double)(rig.t_us - rig.first_us);
    assert_true(fabs(took_us - 21 * 10e6 / 9600) < 2);
    rig_close(&rig);
}

static void test_sampling_moment(void **state)
{
    (void)state;
    rig_ready(&rig);
    for (int i = 0; i < 500; i++) {
        int64_t sent_us = rig.t_us;
        unsigned before = rig.asked;
        rig_ask(&rig, i % 2 ? "010C1" : "0114150C0D0402");
        assert_int_equal(rig.asked, before + 1); /* one moment for all PIDs and frames */
        assert_true(rig.asked_us > sent_us && rig.asked_us < rig.first_us);
    }
    assert_false(rig.went_back);
    rig_close(&rig);
}

/* From the last data to the prompt. */
static double wait_ms(const char *request)
{
    rig_send(&rig, request);
    rig_send(&rig, "\r");
    rig_wait(&rig, 1000000);
    return (double)(rig.t_us - rig.first_us) / 1000;
}

static void test_waits(void **state)
{
    (void)state;
    const double line_ms = 21 * 10 / 115.2;
    rig_ready(&rig);
    assert_true(wait_ms("010C1") < line_ms + 0.01);
    for (int i = 0; i < 60; i++)
        wait_ms("010C");
    assert_true(wait_ms("010C") > 15 && wait_ms("010C") < 40);
    rig_ask(&rig, "ATAT2");
    assert_true(wait_ms("010C") < 30);
    rig_ask(&rig, "ATAT0");
    assert_true(fabs(wait_ms("010C") - 200) < 1); /* 32h counts of 4 ms */
    rig_ask(&rig, "ATST10");
    assert_true(fabs(wait_ms("010C") - 64) < 1);
    assert_true(wait_ms("010C1") < line_ms + 0.01);
    rig_close(&rig);
    rig.set.adaptive = false; /* says OK to ATAT, and waits the whole time all the same */
    rig_ready(&rig);
    assert_string_equal(rig_ask(&rig, "ATAT2"), "OK||>");
    for (int i = 0; i < 60; i++)
        assert_true(fabs(wait_ms("010C") - 200) < 1);
    rig_close(&rig);
}

static void test_adaptive_wait_loses_nothing(void **state)
{
    (void)state;
    static const unsigned ranges[][2] = {{5, 15}, {10, 50}, {25, 30}, {1, 30}};
    for (size_t i = 0; i < 4; i++)
        for (unsigned protocol = 3; protocol <= 6; protocol += 3) {
            rig_defaults(&rig);
            rig.set.protocol = protocol;
            rig.ecu.answer_ms_min = ranges[i][0];
            rig.ecu.answer_ms_max = ranges[i][1];
            rig_ready(&rig);
            measured_hz("010C", 2000);
            rig_close(&rig);
        }
}

static void test_search_and_initialisation_take_their_time(void **state)
{
    (void)state;
    rig.set.search_ms = 2345;
    rig.set.latency_ms = rig.set.jitter_ms = 0;
    rig_open(&rig);
    int64_t from_us = rig.t_us;
    rig_ask(&rig, "0100");
    double ms = (double)(rig.t_us - from_us) / 1000;
    assert_true(ms > 2345 + 200 && ms < 2345 + 230); /* the first wait is not adapted yet */
    rig_close(&rig);
    rig.set.protocol = 3;
    rig_ready(&rig);
    rig_ask(&rig, "ATSP3");
    from_us = rig.t_us;
    rig_ask(&rig, "0100");
    assert_true((double)(rig.t_us - from_us) / 1000 > 2600);
    rig_close(&rig);
}

static void test_idle_adapter_has_nothing_due(void **state)
{
    (void)state;
    rig_open(&rig);
    assert_true(oxl_adapter_due_us(rig.adapter) == INT64_MAX);
    rig_ask(&rig, "010C");
    assert_true(oxl_adapter_due_us(rig.adapter) == INT64_MAX);
    rig_close(&rig);
}

/* ---- determinism ---- */

struct heard {
    size_t n;
    int64_t t_us[20000];
    uint8_t byte[20000];
};

/* A tester that sends at fixed times and looks only every `every_us` (or when due: 0). */
static void listen_for(struct heard *h, uint64_t seed, int64_t every_us)
{
    static const char *const requests[] = {"010C\r", "0902\r", "011415\r", "", "ATRV\r"};
    rig_defaults(&rig);
    rig.seed = seed;
    rig.set.garbage = rig.ecu.second_ecu = true;
    rig_open(&rig);
    h->n = 0;
    int64_t t_us = 0, next_send_us = 0;
    for (int k = 0; t_us < 20000000;) {
        if (t_us == next_send_us) {
            const char *s = requests[k++ % 5];
            oxl_adapter_write(rig.adapter, s, strlen(s), 115200, t_us);
            next_send_us += k == 1 ? 2000000 : 130000;
        }
        uint8_t b;
        while (h->n < 20000 && oxl_adapter_read(rig.adapter, &b, 1, t_us) == 1) {
            h->t_us[h->n] = t_us;
            h->byte[h->n++] = b;
        }
        int64_t next = every_us ? t_us + every_us : oxl_adapter_due_us(rig.adapter);
        t_us = next < next_send_us ? next : next_send_us;
    }
    rig_close(&rig);
}

static void test_the_same_seed_gives_the_same_bytes(void **state)
{
    (void)state;
    static struct heard a, b, c, rough;
    listen_for(&a, 11, 0);
    listen_for(&b, 11, 0);
    listen_for(&c, 12, 0);
    listen_for(&rough, 11, 5000);
    assert_true(a.n > 3000 && a.n < 20000);
    assert_int_equal(a.n, b.n);
    assert_memory_equal(a.byte, b.byte, a.n);
    assert_memory_equal(a.t_us, b.t_us, a.n * sizeof a.t_us[0]);
    assert_false(a.n == c.n && memcmp(a.t_us, c.t_us, a.n * sizeof a.t_us[0]) == 0);
    /* However seldom the tester looks, it finds the same bytes, none before their time. */
    assert_int_equal(a.n, rough.n);
    assert_memory_equal(a.byte, rough.byte, a.n);
    for (size_t i = 0; i < a.n; i++)
        assert_true(rough.t_us[i] >= a.t_us[i] && rough.t_us[i] <= a.t_us[i] + 5000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_limit_on_can, setup),
        cmocka_unit_test_setup(test_limit_by_line_speed, setup),
        cmocka_unit_test_setup(test_limit_off_can, setup),
        cmocka_unit_test_setup(test_limit_without_count, setup),
        cmocka_unit_test_setup(test_limit_without_count_of_several_frames, setup),
        cmocka_unit_test_setup(test_kline_arithmetic, setup),
        cmocka_unit_test_setup(test_serial_pace, setup),
        cmocka_unit_test_setup(test_sampling_moment, setup),
        cmocka_unit_test_setup(test_waits, setup),
        cmocka_unit_test_setup(test_adaptive_wait_loses_nothing, setup),
        cmocka_unit_test_setup(test_search_and_initialisation_take_their_time, setup),
        cmocka_unit_test_setup(test_idle_adapter_has_nothing_due, setup),
        cmocka_unit_test(test_the_same_seed_gives_the_same_bytes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
