/* What was asked once: codes, readiness, monitors, sensors, air. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "oxylag/grade.h"

struct survey {
    struct oxl_vehicle vehicle;
    struct oxl_profile profile;
    struct oxl_grade_facts facts;
};

static struct survey *survey(unsigned bank, struct oxl_channel rear)
{
    static struct survey s;
    memset(&s, 0, sizeof s);
    s.profile.displacement_l = NAN;
    s.facts = (struct oxl_grade_facts){.bank = bank, .vehicle = &s.vehicle, .profile = &s.profile};
    s.facts.pair.front_kind = OXL_SENSOR_WIDE;
    s.facts.pair.rear_kind = OXL_SENSOR_SWITCHING;
    s.facts.pair.rear = rear;
    return &s;
}

static void concerns(unsigned bank, struct oxl_channel rear, uint16_t code, bool want)
{
    struct survey *s = survey(bank, rear);
    if (oxl_dtc_concerns(&s->facts, code) != want)
        fail_msg("bank %u, rear B%uS%u, code %04X", bank, rear.bank, rear.sensor, code);
}

/* A code speaks of this test when its sensor is the test's front or rear, else by its bank. */
static void whose_code_it_is(void **state)
{
    (void)state;
    const struct oxl_channel own = oxl_channel(OXL_Q_O2_V, 1, 2);
    const struct oxl_channel third = oxl_channel(OXL_Q_O2_V, 1, 3);
    concerns(1, own, 0x0133, true);
    concerns(1, own, 0x0153, false);
    concerns(1, own, 0x0139, true);
    concerns(1, own, 0x0145, false); /* slow, but sensor 3, and the rear is sensor 2 */
    concerns(1, third, 0x0145, true);
    concerns(1, third, 0x0139, false);
    concerns(2, own, 0x0139, true); /* bank 2 shares bank 1's rear */
    concerns(2, own, 0x0133, false);
    concerns(2, own, 0x0171, false);
    concerns(1, own, 0x0174, false);
    concerns(1, own, 0x0101, true);
    concerns(1, own, 0x0345, true); /* bank 2's camshaft: the whole engine idles roughly */
    concerns(1, own, 0x0492, false);
}

static void a_list_is_as_grave_as_its_gravest(void **state)
{
    (void)state;
    struct survey *s = survey(1, oxl_channel(OXL_Q_O2_V, 1, 2));
    const uint16_t codes[] = {0x0420, 0x1234, 0x0171, 0x0133, 0x0301};
    static const enum oxl_grade want[] = {OXL_GRADE_PASS, OXL_GRADE_UNKNOWN, OXL_GRADE_CAUTION,
                                          OXL_GRADE_CAUTION, OXL_GRADE_STOP};
    static const char *const named[] = {"", "P1234: ", "P0171: ", "P0133: ", "P0301: "};
    for (size_t n = 1; n <= 5; n++) {
        struct oxl_check c = oxl_grade_dtcs(&s->facts, codes, n, true, OXL_DTC_STORED);
        assert_int_equal(c.grade, want[n - 1]);
        assert_int_equal(strncmp(c.advice, named[n - 1], strlen(named[n - 1])), 0);
    }
    assert_int_equal(oxl_grade_dtcs(&s->facts, codes, 5, true, OXL_DTC_PENDING).grade,
                     OXL_GRADE_CAUTION);
    assert_int_equal(oxl_grade_dtcs(&s->facts, NULL, 0, true, OXL_DTC_STORED).grade,
                     OXL_GRADE_PASS);
    assert_int_equal(oxl_grade_dtcs(&s->facts, NULL, 0, false, OXL_DTC_STORED).grade,
                     OXL_GRADE_UNKNOWN);
}

/* More codes than a line holds: it says that there are more. */
static void a_long_list_is_not_cut_in_silence(void **state)
{
    (void)state;
    struct survey *s = survey(1, oxl_channel(OXL_Q_O2_V, 1, 2));
    uint16_t codes[OXL_MAX_DTCS];
    for (size_t i = 0; i < OXL_MAX_DTCS; i++)
        codes[i] = (uint16_t)(0x0300 + i);
    struct oxl_check c = oxl_grade_dtcs(&s->facts, codes, OXL_MAX_DTCS, true, OXL_DTC_PERMANENT);
    assert_string_equal(c.found + strlen(c.found) - 4, " ...");
    assert_null(strstr(oxl_grade_dtcs(&s->facts, codes, 6, true, OXL_DTC_STORED).found, "..."));
}

static void readiness_in_one_line(void **state)
{
    (void)state;
    struct oxl_readiness r = {.known = true};
    assert_int_equal(oxl_grade_readiness(&r).grade, OXL_GRADE_UNKNOWN); /* none supported */
    for (unsigned m = 0; m < OXL_MON_COUNT; m++)
        r.supported[m] = r.complete[m] = true;
    assert_int_equal(oxl_grade_readiness(&r).grade, OXL_GRADE_PASS);
    r.supported[OXL_MON_O2_HEATER] = false;
    assert_int_equal(oxl_grade_readiness(&r).grade, OXL_GRADE_PASS);
    for (unsigned i = 0; i < OXL_GRADED_MONITORS; i++)
        assert_true(oxl_grade_ready(&r, i).grade != OXL_GRADE_CAUTION);
    r.complete[OXL_MON_CATALYST] = r.complete[OXL_MON_O2_SENSOR] = false;
    struct oxl_check c = oxl_grade_readiness(&r);
    assert_int_equal(c.grade, OXL_GRADE_CAUTION);
    assert_string_equal(c.found, "monitors not complete: oxygen sensor, catalyst");
    assert_true(c.advice[0]);
    r.known = false;
    assert_int_equal(oxl_grade_readiness(&r).grade, OXL_GRADE_UNKNOWN);
}

static struct oxl_monitor_result result(uint8_t monitor, uint16_t value)
{
    /* Scale 0A: 0.122 mV; at most 1000 counts. */
    return (struct oxl_monitor_result){
        .monitor = monitor, .test = 0x80, .scale = 0x0A, .value = value, .min = 0, .max = 1000};
}

/* The same results, one by one and in one line: of the bank under test, and the gravest. */
static void results_of_monitors(void **state)
{
    (void)state;
    struct survey *s = survey(1, oxl_channel(OXL_Q_O2_V, 1, 2));
    assert_int_equal(oxl_grade_monitored(&s->facts, OXL_MONITORED_CATALYST).grade,
                     OXL_GRADE_UNKNOWN);
    const struct oxl_monitor_result r[] = {result(0x21, 300), result(0x22, 1200),
                                           result(0x01, 1200), result(0x02, 500)};
    memcpy(s->vehicle.results, r, sizeof r);
    s->vehicle.results_n = 4;
    assert_int_equal(oxl_grade_monitored(&s->facts, OXL_MONITORED_CATALYST).grade, OXL_GRADE_PASS);
    assert_int_equal(oxl_grade_monitored(&s->facts, OXL_MONITORED_FRONT).grade, OXL_GRADE_CAUTION);
    assert_int_equal(oxl_grade_monitored(&s->facts, OXL_MONITORED_REAR).grade, OXL_GRADE_PASS);
    for (unsigned i = 0; i < 4; i++)
        assert_int_equal(oxl_grade_monitor(&s->facts, &r[i]).grade,
                         i == 2 ? OXL_GRADE_CAUTION : OXL_GRADE_PASS);
    s->facts.bank = 2;
    struct oxl_check one = oxl_grade_monitor(&s->facts, &r[1]);
    struct oxl_check all = oxl_grade_monitored(&s->facts, OXL_MONITORED_CATALYST);
    assert_int_equal(one.grade, OXL_GRADE_CAUTION);
    assert_int_equal(all.grade, OXL_GRADE_CAUTION);
    assert_string_equal(one.advice, all.advice);
}

static void sensors_and_air(void **state)
{
    (void)state;
    struct survey *s = survey(1, oxl_channel(OXL_Q_O2_V, 1, 2));
    struct oxl_pair half = {.front_kind = OXL_SENSOR_WIDE};
    assert_int_equal(oxl_grade_sensors("sensors", &s->facts, 1, &s->facts.pair).grade,
                     OXL_GRADE_PASS);
    assert_int_equal(oxl_grade_sensors("sensors", &s->facts, 1, &half).grade, OXL_GRADE_STOP);
    assert_int_equal(oxl_grade_sensors("x", &s->facts, 2, &half).grade, OXL_GRADE_UNKNOWN);
    assert_int_equal(oxl_grade_air(&s->facts).grade, OXL_GRADE_CAUTION);
    static const uint8_t map[4] = {0, 0x20, 0, 0}, meter[4] = {0, 1, 0, 0}; /* 0B; 10 */
    oxl_support_add(&s->vehicle.support, 0x00, map);
    assert_int_equal(oxl_grade_air(&s->facts).grade, OXL_GRADE_CAUTION);
    s->profile.displacement_l = 2.0; /* with it the grams are known */
    assert_int_equal(oxl_grade_air(&s->facts).grade, OXL_GRADE_PASS);
    s->profile.displacement_l = NAN;
    oxl_support_add(&s->vehicle.support, 0x00, meter);
    assert_int_equal(oxl_grade_air(&s->facts).grade, OXL_GRADE_PASS);
    assert_int_equal(oxl_grade_rate(5, 6).grade, OXL_GRADE_PASS);
    assert_int_equal(oxl_grade_rate(4.9, 6).grade, OXL_GRADE_CAUTION);
    assert_int_equal(oxl_grade_rate(6, 0.9).grade, OXL_GRADE_STOP);
    assert_int_equal(oxl_grade_rate(6, NAN).grade, OXL_GRADE_UNKNOWN);
}

static struct oxl_refresh every(double s)
{
    return (struct oxl_refresh){true, s, s, 20, NAN};
}

static struct oxl_refresh at_most(double s)
{
    return (struct oxl_refresh){false, NAN, s, 20, NAN};
}

static void refresh_is(struct oxl_refresh front, struct oxl_refresh rear, struct oxl_refresh trim,
                       enum oxl_grade grade, const char *found)
{
    struct oxl_check c = oxl_grade_refresh(&front, &rear, &trim);
    assert_string_equal(c.id, "refresh");
    assert_string_equal(c.found, found);
    assert_int_equal(c.grade, grade);
    assert_int_equal(c.advice[0] != 0, grade == OXL_GRADE_CAUTION);
}

/* As often as the readings have to come, five times a second. */
static void how_often_the_ecu_refreshes(void **state)
{
    (void)state;
    refresh_is(every(0.1), every(0.1), every(0.1), OXL_GRADE_PASS,
               "the ECU refreshes front, rear and trims every 0.1 s");
    refresh_is(
        every(0.1), every(0.25), at_most(0.06), OXL_GRADE_CAUTION,
        "the ECU refreshes front every 0.1 s, rear every 0.25 s, trims every 0.06 s or less");
    refresh_is(at_most(0.06), at_most(0.05), at_most(0.05), OXL_GRADE_PASS,
               "the ECU refreshes front, rear and trims every 0.06 s or less");
    refresh_is(at_most(0.6), at_most(0.05), at_most(0.05), OXL_GRADE_UNKNOWN,
               "the ECU refreshes front, rear and trims every 0.6 s or less");
    refresh_is(at_most(0.062), at_most(0.062), at_most(INFINITY), OXL_GRADE_UNKNOWN,
               "the ECU refreshes front every 0.062 s or less, rear every 0.062 s or less, trims: "
               "not known");
    refresh_is(
        every(0.11), at_most(0.062), at_most(0.064), OXL_GRADE_PASS,
        "the ECU refreshes front every 0.11 s, rear every 0.062 s or less, trims every 0.064 "
        "s or less");
    refresh_is(at_most(INFINITY), at_most(INFINITY), at_most(INFINITY), OXL_GRADE_UNKNOWN,
               "the ECU refreshes front, rear and trims: not known");
}

/* What the masks said wrongly, in one line; and which form of the rear is used for it. */
static void what_the_masks_said_wrongly(void **state)
{
    (void)state;
    struct survey *s = survey(1, oxl_channel(OXL_Q_WIDE_V, 1, 2));
    assert_string_equal(oxl_grade_pids(&s->vehicle).id, "");
    oxl_support_put(&s->vehicle.silent, 0x25, true);
    oxl_support_put(&s->vehicle.silent, 0x07, true);
    struct oxl_check c = oxl_grade_pids(&s->vehicle);
    assert_int_equal(c.grade, OXL_GRADE_UNKNOWN);
    assert_string_equal(c.found, "announced, never answered: 07 25");
    oxl_support_put(&s->vehicle.unannounced, 0x15, true);
    assert_string_equal(oxl_grade_pids(&s->vehicle).found,
                        "announced, never answered: 07 25; not announced, answered: 15");
    for (unsigned pid = 1; pid <= 0xFF; pid++) { /* as many as there is room for */
        oxl_support_put(&s->vehicle.silent, (uint8_t)pid, true);
        oxl_support_put(&s->vehicle.unannounced, (uint8_t)pid, true);
    }
    c = oxl_grade_pids(&s->vehicle);
    assert_true(strlen(c.found) < sizeof c.found - 1);
    struct oxl_pair *pair = &s->facts.pair;
    oxl_support_put(&s->vehicle.still, 0x25, true);
    pair->rear_pid = 0x15;
    assert_string_equal(oxl_grade_sensors("sensors", &s->facts, 1, pair).found,
                        "bank 1: front wide-range, rear switching (PID 15, the lambda of 25 stands "
                        "still)");
    pair->rear_pid = s->vehicle.volts_pid = 0x25;
    assert_string_equal(oxl_grade_sensors("sensors", &s->facts, 1, pair).found,
                        "bank 1: front wide-range, rear switching (volts of PID 25, its lambda "
                        "stands still)");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(how_often_the_ecu_refreshes),
        cmocka_unit_test(what_the_masks_said_wrongly),
        cmocka_unit_test(whose_code_it_is),
        cmocka_unit_test(a_list_is_as_grave_as_its_gravest),
        cmocka_unit_test(a_long_list_is_not_cut_in_silence),
        cmocka_unit_test(readiness_in_one_line),
        cmocka_unit_test(results_of_monitors),
        cmocka_unit_test(sensors_and_air),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
