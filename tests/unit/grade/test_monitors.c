/* The results of the vehicle's own monitors, and its freeze frame: grades, words, advice. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "oxylag/grade.h"

static struct oxl_vehicle vehicle;
static const struct oxl_profile profile;
static const struct oxl_grade_facts facts = {.bank = 1, .vehicle = &vehicle, .profile = &profile};

/* Scale 20 of SAE J1979: 1/256 a step, no unit. */
static struct oxl_monitor_result result(uint8_t monitor, uint16_t value, uint16_t max)
{
    return (struct oxl_monitor_result){
        .ecu = 0x7E8, .monitor = monitor, .test = 0x80, .scale = 0x20, .value = value, .max = max};
}

static void is_graded(struct oxl_monitor_result r, enum oxl_grade grade, const char *found,
                      const char *advice)
{
    struct oxl_check c = oxl_grade_monitor(&facts, &r);
    if (c.grade != grade || !strstr(c.found, found) || !strstr(c.advice, advice))
        fail_msg("%s: %s, \"%s\", \"%s\"", c.id, oxl_grade_name(c.grade), c.found, c.advice);
    assert_int_equal(c.advice[0] == '\0', advice[0] == '\0');
}

static void what_passed_and_what_failed(void **state)
{
    (void)state;
    is_graded(result(0x21, 64, 256), OXL_GRADE_PASS, "0.25, at most 1, passed", "");
    is_graded(result(0x21, 250, 256), OXL_GRADE_PASS, "passed", "close to its limit");
    is_graded(result(0x21, 300, 256), OXL_GRADE_CAUTION, "failed", "Leak check first");
    /* Bank 2's is told, and is no matter of a test of bank 1. */
    is_graded(result(0x22, 300, 256), OXL_GRADE_PASS, "failed", "Leak check first");
    is_graded(result(0x01, 300, 256), OXL_GRADE_CAUTION, "failed", "fuel cut");
    is_graded(result(0xA2, 300, 256), OXL_GRADE_CAUTION, "failed", "misfire");
    /* One that does not bear on this test. */
    is_graded(result(0x31, 300, 256), OXL_GRADE_CAUTION, "failed", "service information");
}

/* All three 0: reset with the codes and not completed since (SAE J1979). */
static void what_did_not_run(void **state)
{
    (void)state;
    is_graded(result(0x21, 0, 0), OXL_GRADE_UNKNOWN, oxl_monitor_verdict_name(OXL_MONITOR_NOT_RUN),
              "Not completed");
}

/* Scale 00 is not defined: the raw numbers are shown, and nothing is made of them. */
static void what_has_no_known_scale(void **state)
{
    struct oxl_monitor_result r = result(0x21, 0x0102, 0x0304);
    (void)state;
    r.scale = 0x00;
    is_graded(r, OXL_GRADE_UNKNOWN, "raw 0102, limits 0000 to 0304, scale 00",
              "The scale is not known");
}

/* By component, as K-line and J1850 give them: 41 of 10 at most is beyond it, in counts. */
static void by_component(void **state)
{
    struct oxl_monitor_result r = {.ecu = 0x10,
                                   .form = OXL_LIMIT_MAX,
                                   .test = 0x03,
                                   .component = 0x01,
                                   .value = 41,
                                   .max = 10};
    (void)state;
    assert_true(oxl_monitor_bears(&r));
    struct oxl_check c = oxl_grade_monitor(&facts, &r);
    assert_string_equal(c.id, "monitor-test-03-01");
    assert_non_null(strstr(c.found, "41 counts, at most 10, "));
    assert_int_equal(c.grade, OXL_GRADE_CAUTION);
}

static void which_monitors_bear_on_the_test(void **state)
{
    (void)state;
    static const struct {
        uint8_t monitor;
        bool bears;
    } rows[] = {{0x01, true},  {0x10, true},  {0x11, false}, {0x20, false}, {0x21, true},
                {0x24, true},  {0x25, false}, {0x3C, false}, {0x3D, true},  {0x3E, false},
                {0x41, true},  {0x50, true},  {0x51, false}, {0x71, true},  {0x74, true},
                {0x75, false}, {0x81, true},  {0x84, true},  {0x85, false}, {0xA1, true},
                {0xAD, true},  {0xAE, false}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct oxl_monitor_result r = result(rows[i].monitor, 1, 2);
        assert_int_equal(oxl_monitor_bears(&r), rows[i].bears);
    }
}

/* One line for each part: its worst result. Front and rear of the bank under test, the catalyst. */
static void the_gravest_is_told(void **state)
{
    (void)state;
    assert_int_equal(oxl_grade_monitored(&facts, OXL_MONITORED_CATALYST).grade, OXL_GRADE_UNKNOWN);
    vehicle.results[0] = result(0x21, 64, 256);
    vehicle.results[1] = result(0x21, 384, 256);
    vehicle.results[2] = result(0x22, 600, 256); /* of bank 2 */
    vehicle.results[3] = result(0x01, 128, 256);
    vehicle.results[4] = result(0x02, 0, 0);
    vehicle.results_n = 5;
    struct oxl_check c = oxl_grade_monitored(&facts, OXL_MONITORED_CATALYST);
    assert_int_equal(c.grade, OXL_GRADE_CAUTION);
    assert_string_equal(c.found, "the vehicle's own test: 1.5, 50 % beyond its limit");
    c = oxl_grade_monitored(&facts, OXL_MONITORED_FRONT);
    assert_int_equal(c.grade, OXL_GRADE_PASS);
    assert_string_equal(c.found, "the vehicle's own test: 0.5, 50 % inside its limit");
    c = oxl_grade_monitored(&facts, OXL_MONITORED_REAR);
    assert_int_equal(c.grade, OXL_GRADE_UNKNOWN);
    assert_non_null(strstr(c.found, oxl_monitor_verdict_name(OXL_MONITOR_NOT_RUN)));
    vehicle.results_n = 0;
}

static void a_freeze_frame_is_told(void **state)
{
    static struct oxl_onboard o;
    (void)state;
    assert_int_equal(oxl_grade_freeze_frame(&o).grade, OXL_GRADE_UNKNOWN);
    o.frozen_known = true;
    assert_string_equal(oxl_grade_freeze_frame(&o).found, "none");
    o.freeze_frame_dtc = 0x0420;
    assert_string_equal(oxl_grade_freeze_frame(&o).found, "P0420 was stored");
    o.frozen[0] = (struct oxl_sample){.channel = {OXL_Q_RPM, 0, 0}, .value = 2104};
    o.frozen[1] = (struct oxl_sample){.channel = {OXL_Q_LOAD_PCT, 0, 0}, .value = 31};
    o.frozen_n = 2;
    assert_string_equal(oxl_grade_freeze_frame(&o).found,
                        "P0420 was stored at 2104 rpm, load 31 %");
}

static void what_is_missing_is_told(void **state)
{
    (void)state;
    assert_int_equal(oxl_grade_no_results().grade, OXL_GRADE_UNKNOWN);
    assert_int_equal(oxl_grade_results_cut().grade, OXL_GRADE_UNKNOWN);
    assert_non_null(strstr(oxl_grade_no_catalyst_result(2).found, "bank 2"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_passed_and_what_failed),
        cmocka_unit_test(what_did_not_run),
        cmocka_unit_test(what_has_no_known_scale),
        cmocka_unit_test(by_component),
        cmocka_unit_test(which_monitors_bear_on_the_test),
        cmocka_unit_test(the_gravest_is_told),
        cmocka_unit_test(a_freeze_frame_is_told),
        cmocka_unit_test(what_is_missing_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
