/* What an inspection found, as JSON: each line is what was read once (tests/data/inspection.jsonl).
 * That these are the keys of docs/events.md is checked end to end (tests/e2e/test_inspect.sh). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "accepted.h"
#include "oxylag/record.h"

static char text[1 << 15];

static void keep(void *ctx, const char *line, size_t n)
{
    size_t *at = ctx;
    assert_in_range(n, 2, sizeof text - *at - 2);
    assert_int_equal(strlen(line), n);
    memcpy(text + *at, line, n);
    text[*at + n] = '\n';
    *at += n + 1;
}

static void every_line_is_as_it_was_read(void **state)
{
    (void)state;
    static struct oxl_inspection v = {
        .bank = 1, .front_hz = 12.5, .rear_hz = 12.5, .round_ms = NAN, .worst = OXL_GRADE_CAUTION};
    struct oxl_onboard *o = &v.onboard;
    size_t at = 0;
    o->ecus[0] = (struct oxl_ecu_info){.ecu = 0x7E8,
                                       .name = "Engine",
                                       .calibration = {"CAL-1"},
                                       .calibration_n = 1,
                                       .verification = {0x1234ABCD},
                                       .verification_n = 1,
                                       .dtcs = {[OXL_DTC_STORED] = {{0x0420, 0x0304}, 2, true},
                                                [OXL_DTC_PENDING] = {{0x0171}, 1, true}}};
    o->ecus[1] =
        (struct oxl_ecu_info){.ecu = 0x7EA, .dtcs = {[OXL_DTC_PERMANENT] = {{0xC158}, 1, true}}};
    o->ecus_n = 2;
    /* Behind the last one, and so nobody's. */
    o->ecus[2] =
        (struct oxl_ecu_info){.ecu = 0x7EB, .dtcs = {[OXL_DTC_STORED] = {{0x0100}, 1, true}}};
    o->results[0] = (struct oxl_monitor_result){.ecu = 0x7E8,
                                                .monitor = 0x21,
                                                .test = 0x80,
                                                .scale = 0x20,
                                                .value = 100,
                                                .min = 0,
                                                .max = 120};
    o->results_n = 1;
    o->frozen_known = true;
    o->freeze_frame_dtc = 0x0420;
    o->frozen[0] = (struct oxl_sample){.channel = {OXL_Q_RPM, 0, 0}, .value = 702};
    o->frozen_n = 1;
    v.reading[0] = (struct oxl_sample){.channel = {OXL_Q_O2_V, 1, 2}, .value = 0.715};
    v.readings_n = 1;
    v.checks[0].grade = OXL_GRADE_PASS;
    v.checks[1].grade = v.checks[2].grade = OXL_GRADE_CAUTION;
    v.checks_n = 3;
    oxl_inspection_json(&v, 1500000, keep, &at);
    text[at] = '\0';
    accepted_compare(OXL_TEST_DATA "/inspection.jsonl", text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_line_is_as_it_was_read)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
