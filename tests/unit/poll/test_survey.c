/* What the survey learns, whom it listens to, and what is found out by behaviour. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_rig.h"

static const struct oxl_vehicle *surveyed(struct rig *r)
{
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_READY, 20));
    const struct oxl_vehicle *v = oxl_poll_vehicle(r->poll);
    assert_true(v->survey_done);
    return v;
}

static void test_identity(void **state)
{
    const struct oxl_vehicle *v = surveyed(*state);
    assert_int_equal(v->protocol, OXL_PROTO_CAN11_500);
    assert_int_equal(v->ecu, 0x7E8);
    assert_int_equal(v->ecus_seen, 1);
    assert_string_equal(v->vin, "1A9BB0CD0EF123456");
    assert_int_equal(v->decoding.layout, OXL_LAYOUT_13);
    assert_int_equal(v->decoding.sensors, 0x03);
    assert_true(oxl_supports(&v->support, 0x3C));
    assert_true(oxl_supports(&v->support, 0x4F));
    assert_false(oxl_supports(&v->support, 0x66));
    /* 01 01 81 07 65 04: lamp on, one code (bit table of SAE J1979 PID 01). */
    assert_true(v->readiness.known && v->readiness.mil_on);
    assert_int_equal(v->readiness.stored_dtcs, 1);
    assert_true(v->dtcs[OXL_DTC_STORED].known && v->dtcs[OXL_DTC_PENDING].known &&
                v->dtcs[OXL_DTC_PERMANENT].known);
    assert_int_equal(v->dtcs[OXL_DTC_STORED].n, 1);
    assert_int_equal(v->dtcs[OXL_DTC_STORED].codes[0], 0x0420); /* P0420, SAE J2012 coding */
    assert_int_equal(v->dtcs[OXL_DTC_PENDING].n, 0);
    assert_true(v->reply_count && v->multi_pid);
    struct oxl_pair pair = oxl_poll_pair(((struct rig *)*state)->poll);
    assert_int_equal(pair.front_pid, 0x14);
    assert_int_equal(pair.rear_pid, 0x15);
    assert_int_equal(((struct rig *)*state)->vehicles, 2);
}

static void test_kline_identity(void **state)
{
    struct rig *r = *state;
    fake_kline(&r->fake);
    const struct oxl_vehicle *v = surveyed(r);
    assert_string_equal(v->vin, "1A9BB0CD0EF123456");
    assert_true(v->dtcs[OXL_DTC_STORED].known);
    assert_int_equal(v->dtcs[OXL_DTC_STORED].n, 0);
    assert_false(v->dtcs[OXL_DTC_PERMANENT].known); /* not asked for on K-line */
    assert_int_equal(fake_count(&r->fake, "0A", 0), 0);
    assert_false(v->multi_pid); /* one PID a request, ISO 15031-5 */
    assert_true(v->reply_count);
}

/* The gearbox answers first and has no sensors; the engine ECU is listened to, nobody else. */
static void test_two_units(void **state)
{
    struct rig *r = *state;
    r->fake.ecus[1] = r->fake.ecus[0];
    r->fake.ecus[1].id = "7EA";
    r->fake.ecus[0] = (struct fake_ecu){"7E8", "01 05 0C 0D 1F", NULL};
    r->fake.ecus_n = 2;
    const struct oxl_vehicle *v = surveyed(r);
    assert_int_equal(v->ecu, 0x7EA);
    assert_int_equal(v->ecus_seen, 2);
    assert_false(oxl_supports(&v->support, 0x02));
    assert_true(oxl_supports(&v->support, 0x14));
    assert_true(v->reply_count);
    rig_run(r, 5);
    for (unsigned i = 0; i < r->samples_n; i++) {
        assert_int_equal(r->samples[i].ecu, 0x7EA);
        /* The gearbox says 0B B8 = 3000 / 4, the engine ECU 0F A0 = 4000 / 4. */
        if (r->samples[i].channel.quantity == OXL_Q_RPM)
            assert_true(r->samples[i].value == 1000.0);
    }
    assert_true(rig_count(r, oxl_channel(OXL_Q_RPM, 0, 0), 0) > 5);
    struct oxl_poll_stats s;
    oxl_poll_stats(r->poll, r->now_us, &s);
    assert_true(s.other > 5);
    assert_int_equal(s.late, 0);
    /* Both ECUs have engine speed and coolant: such a request awaits the gearbox's frame too. */
    assert_true(fake_count(&r->fake, "0114150607100C4", 0) > 5);
    /* The digit covers both ECUs' answers, so no answer was cut off and no wait was long. */
    assert_int_equal(s.timeouts, 0);
    assert_int_equal(r->fake.interrupts, 0);
}

static void test_count_refused(void **state)
{
    struct rig *r = *state;
    r->fake.count_refused = true;
    const struct oxl_vehicle *v = surveyed(r);
    assert_false(v->reply_count);
    assert_true(v->multi_pid);
    assert_int_equal(fake_count(&r->fake, "01001", 0), 1);
    rig_run(r, 2);
    assert_true(r->samples_n > 40);
}

/* An adapter that swallows the digit and waits all the same gains nothing by it. */
static void test_count_ignored(void **state)
{
    struct rig *r = *state;
    r->fake.count_ignored = true;
    const struct oxl_vehicle *v = surveyed(r);
    assert_false(v->reply_count);
}

/* Its prompt is late behind every answer, but much later where it waits for more: the digit works.
 */
static void test_count_with_a_late_prompt(void **state)
{
    struct rig *r = *state;
    r->fake.prompt_late_us = 20000;
    assert_true(surveyed(r)->reply_count);
}

/* A request is whole bytes of two hex digits; one more is the expected-reply-count digit. */
static int digit_of(const char *command)
{
    size_t n = strlen(command);
    return n % 2 ? command[n - 1] - '0' : 0;
}

/* The digit cuts answers of several frames: then it is used for single frames only. */
static void test_count_cuts(void **state)
{
    struct rig *r = *state;
    r->fake.count_cuts = true;
    const struct oxl_vehicle *v = surveyed(r);
    assert_true(v->reply_count && v->multi_pid);
    assert_string_equal(v->vin, "1A9BB0CD0EF123456");
    unsigned from = r->fake.log_n;
    rig_run(r, 3);
    for (unsigned i = from; i < r->fake.log_n; i++)
        assert_true(digit_of(r->fake.log[i]) <= 1);
    assert_true(rig_count(r, oxl_channel(OXL_Q_STFT_PCT, 1, 0), 0) > 10);
}

static void test_first_pid_only(void **state)
{
    struct rig *r = *state;
    r->fake.first_pid_only = true;
    const struct oxl_vehicle *v = surveyed(r);
    assert_false(v->multi_pid);
    rig_run(r, 2);
    unsigned front = rig_count(r, oxl_channel(OXL_Q_O2_V, 1, 1), 0);
    unsigned rear = rig_count(r, oxl_channel(OXL_Q_O2_V, 1, 2), 0);
    assert_true(front > 10 && rear + 1 >= front && front + 1 >= rear);
}

/* A buffer for four PIDs at most. */
static void test_small_buffer(void **state)
{
    struct rig *r = *state;
    r->fake.most_pids = 4;
    const struct oxl_vehicle *v = surveyed(r);
    assert_true(v->multi_pid);
    unsigned from = r->samples_n;
    rig_run(r, 4);
    assert_true(rig_count(r, oxl_channel(OXL_Q_STFT_PCT, 1, 0), from) > 40);
    assert_true(rig_count(r, oxl_channel(OXL_Q_AIR_G_S, 0, 0), from) > 8);
    assert_true(rig_count(r, oxl_channel(OXL_Q_FUEL_SYSTEM, 1, 0), from) >= 2);
}

static void test_survey_survives_mishaps(void **state)
{
    struct rig *r = *state;
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_SURVEY, 10));
    r->fake.answer_busy = true;
    rig_run(r, 0.1);
    r->fake.answer_pending = true;
    rig_run(r, 0.1);
    r->fake.stop_word = true;
    rig_run(r, 0.1);
    assert_true(rig_until(r, OXL_LINK_READY, 10));
    const struct oxl_vehicle *v = oxl_poll_vehicle(r->poll);
    assert_true(v->dtcs[OXL_DTC_STORED].known && v->dtcs[OXL_DTC_PENDING].known &&
                v->dtcs[OXL_DTC_PERMANENT].known && v->readiness.known);
    assert_string_equal(v->vin, "1A9BB0CD0EF123456");
}

/* PID 00 announced PID 20, so its sensors exist: a mask that is not answered at first, or is
 * promised and then withheld, is asked for again. */
static void test_a_withheld_mask_is_asked_again(void **state)
{
    struct rig *r = *state;
    r->fake.ecus[0].pids = "01 03 05 06 07 0C 0D 13 15 1F 20 34";
    r->fake.withheld = 4;
    r->fake.promised_first = true;
    rig_start(r, NULL);
    assert_true(rig_until(r, OXL_LINK_READY, 20));
    assert_int_equal(r->fake.withheld, 0);
    assert_int_equal(oxl_poll_pair(r->poll).front_pid, 0x34);
}

static void test_bank_2_wide_front(void **state)
{
    struct rig *r = *state;
    const struct oxl_poll_config config = {.bank = 2, .has_speed = true};
    r->fake.ecus[0].pids = "01 03 05 06 07 08 09 0C 0D 13 14 15 18 19 1F 20 38 66 40 4F 60";
    rig_start(r, &config);
    assert_true(rig_until(r, OXL_LINK_READY, 10));
    struct oxl_pair pair = oxl_poll_pair(r->poll);
    assert_int_equal(pair.front_kind, OXL_SENSOR_WIDE);
    assert_int_equal(pair.front_pid, 0x38);
    assert_int_equal(pair.rear_pid, 0x19);
    assert_true(oxl_poll_vehicle(r->poll)->multi_pid);
    rig_run(r, 1);
    assert_true(rig_count(r, oxl_channel(OXL_Q_LAMBDA, 2, 1), 0) > 10);
    assert_true(rig_count(r, oxl_channel(OXL_Q_O2_V, 2, 2), 0) > 10);
    assert_true(rig_count(r, oxl_channel(OXL_Q_STFT_PCT, 2, 0), 0) > 10);
    /* The other bank is looked at, but seldom: one value a second at most. */
    rig_run(r, 3);
    size_t other = rig_count(r, oxl_channel(OXL_Q_STFT_PCT, 1, 0), 0);
    assert_in_range(other, 2, 5);
    assert_in_range(rig_count(r, oxl_channel(OXL_Q_O2_V, 1, 1), 0), 2, 5);
    oxl_poll_focus(r->poll, OXL_FOCUS_TIMING);
    rig_run(r, 5);
    assert_in_range(rig_count(r, oxl_channel(OXL_Q_STFT_PCT, 1, 0), 0), other, other + 1);
    assert_true(rig_count(r, oxl_channel(OXL_Q_AIR_G_S, 0, 0), 0) >= 2);
}

static bool is_request(const char *c, const char *services)
{
    char two[3] = {c[0], c[0] ? c[1] : '\0', '\0'};
    return strlen(two) == 2 && strstr(services, two);
}

/* Services 04 and 08 are never sent, whatever happens: the test asks for live data, codes, the
 * VIN and (06) monitor results; an inspection also for the freeze frame (02). */
static void only_asks(const struct rig *r, const char *services)
{
    for (unsigned i = 0; i < r->fake.log_n; i++) {
        const char *c = r->fake.log[i];
        assert_true(strncmp(c, "AT", 2) == 0 || c[0] == '\0' || is_request(c, services));
    }
}

static void test_reads_only(void **state)
{
    struct rig *r = *state;
    (void)surveyed(r);
    rig_run(r, 3);
    only_asks(r, "01 03 06 07 09 0A");
    /* A vehicle that answers no mask of service 06 is not asked twice. */
    unsigned asked = 0;
    for (unsigned i = 0; i < r->fake.log_n; i++)
        asked += is_request(r->fake.log[i], "06");
    assert_true(asked <= 2);
    assert_false(oxl_poll_vehicle(r->poll)->results_known);
}

/* An inspection of a vehicle that answers none of it still comes to live data. */
static void test_inspection_reads_only(void **state)
{
    struct rig *r = *state;
    const struct oxl_poll_config config = {.bank = 1, .has_speed = true, .inspection = true};
    rig_start(r, &config);
    assert_true(rig_until(r, OXL_LINK_READY, 20));
    rig_run(r, 2);
    only_asks(r, "01 02 03 06 07 09 0A");
    const struct oxl_onboard *o = oxl_poll_onboard(r->poll);
    assert_true(o->done);
    assert_int_equal(o->ecus_n, 1);
    assert_true(o->ecus[0].dtcs[OXL_DTC_STORED].known);
    assert_int_equal(o->ecus[0].dtcs[OXL_DTC_STORED].codes[0], 0x0420);
    assert_false(o->frozen_known || o->results_known);
    assert_true(rig_flows(r));
}

/* Each ECU has monitors of its own; an inspection asks for those of all, and keeps whose they are.
 */
static void test_monitors_of_two_ecus(void **state)
{
    struct rig *r = *state;
    const struct oxl_poll_config config = {.bank = 1, .has_speed = true, .inspection = true};
    r->fake.ecus[1] = (struct fake_ecu){"7EA", "0C 0D", NULL};
    r->fake.monitors[0] = "01 20 21";
    r->fake.monitors[1] = "01 20 31";
    r->fake.ecus_n = 2;
    rig_start(r, &config);
    assert_true(rig_until(r, OXL_LINK_READY, 20));
    const struct oxl_onboard *o = oxl_poll_onboard(r->poll);
    static const struct {
        uint32_t ecu;
        uint8_t monitor;
    } kept[] = {{0x7E8, 0x01}, {0x7EA, 0x01}, {0x7E8, 0x21}, {0x7EA, 0x31}};
    assert_true(o->results_known);
    assert_int_equal(o->results_n, 4);
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(o->results[i].ecu, kept[i].ecu);
        assert_int_equal(o->results[i].monitor, kept[i].monitor);
    }
}

/* The last of all masks is not followed by the first one. */
static void test_all_masks_of_monitors(void **state)
{
    struct rig *r = *state;
    const struct oxl_poll_config config = {.bank = 1, .has_speed = true, .inspection = true};
    r->fake.monitors[0] = "20 40 60 80 A0 C0 E0 E1";
    rig_start(r, &config);
    assert_true(rig_until(r, OXL_LINK_READY, 20));
    assert_int_equal(fake_count(&r->fake, "06001", 0), 1);
    const struct oxl_onboard *o = oxl_poll_onboard(r->poll);
    assert_int_equal(o->results_n, 1);
    assert_int_equal(o->results[0].monitor, 0xE1);
}

/* As many results of one monitor as there is room for results at all. */
static void test_a_monitor_of_many_tests(void **state)
{
    struct rig *r = *state;
    const struct oxl_poll_config config = {.bank = 1, .has_speed = true, .inspection = true};
    r->fake.monitors[0] = "01 02 03";
    r->fake.monitor_tests = 70;
    rig_start(r, &config);
    assert_true(rig_until(r, OXL_LINK_READY, 20));
    const struct oxl_onboard *o = oxl_poll_onboard(r->poll);
    assert_int_equal(o->results_n, OXL_MAX_RESULTS);
    assert_int_equal(o->results[69].monitor, 0x01);
    assert_int_equal(o->results[69].test, 70);
    assert_int_equal(o->results[70].monitor, 0x02);
}

/* An answer that comes later than it is waited for leaves an adapter that works off a buffer one
 * prompt behind: each answer is then met by the next question. No mask may be lost by that. */
static void test_an_adapter_a_prompt_behind_loses_no_mask(void **state)
{
    static const unsigned late_ms[] = {1200, 2100, 2300, 2600, 3200, 4500};
    (void)state;
    for (unsigned i = 0; i < sizeof late_ms / sizeof late_ms[0]; i++) {
        struct rig *r = rig_new();
        r->fake.queues = true;
        r->fake.ecus[0].pids = "01 03 05 06 07 0C 0D 10 13 15 1F 20 34 40 44";
        rig_start(r, NULL);
        assert_true(rig_until(r, OXL_LINK_SURVEY, 20));
        r->fake.late_us = late_ms[i] * 1000;
        assert_true(rig_until(r, OXL_LINK_READY, 40));
        assert_int_equal(oxl_poll_pair(r->poll).front_pid, 0x34);
        assert_int_equal(oxl_poll_pair(r->poll).rear_pid, 0x15);
        rig_free(r);
    }
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, rig_setup, rig_teardown)
    const struct CMUnitTest tests[] = {
        T(test_identity),
        T(test_kline_identity),
        T(test_two_units),
        T(test_count_refused),
        T(test_count_ignored),
        T(test_count_with_a_late_prompt),
        T(test_count_cuts),
        T(test_first_pid_only),
        T(test_small_buffer),
        T(test_survey_survives_mishaps),
        T(test_a_withheld_mask_is_asked_again),
        cmocka_unit_test(test_an_adapter_a_prompt_behind_loses_no_mask),
        T(test_bank_2_wide_front),
        T(test_reads_only),
        T(test_inspection_reads_only),
        T(test_monitors_of_two_ecus),
        T(test_all_masks_of_monitors),
        T(test_a_monitor_of_many_tests),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
