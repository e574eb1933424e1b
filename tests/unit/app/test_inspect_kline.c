/* The inspection over a K-line: no counts, padding, several messages to an answer. */
#include "help_inspect.h"

#include <string.h>

static void kline_vehicle(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v =
        inspect(&b, "[unit]\nstored = P0420 P0133 P0171 P0102\nmulti_item = no\n"
                    "[adapter]\nprotocol = 3\n");
    assert_int_equal(outcome(&b), OXL_OK);
    assert_int_equal(v->vehicle.protocol, OXL_PROTO_ISO9141);
    assert_int_equal(v->onboard.ecus[0].dtcs[OXL_DTC_STORED].n,
                     4); /* three in a message, then one */
    graded(v, "stored-P0133", OXL_GRADE_CAUTION);
    graded(v, "stored-P0102", OXL_GRADE_CAUTION);
    graded(v, "codes-pending", OXL_GRADE_PASS);
    graded(v, "codes-permanent", OXL_GRADE_UNKNOWN);
    assert_string_equal(v->vehicle.vin, "0XYLAGSM4R0000003");
    assert_string_equal(v->onboard.ecus[0].calibration[0], "OXYLAG SIM CAL1");
    assert_int_equal(v->onboard.ecus[0].verification_n, 1);
    assert_int_equal(v->onboard.freeze_frame_dtc, 0x0420);
    assert_int_equal(v->onboard.frozen_n, 9);
    /* Two messages of one test: a maximum and a minimum. Service 05: two tests of each sensor. */
    assert_int_equal(v->onboard.results_n, 3 + 4);
    const struct oxl_monitor_result *r = result_of(v, 0, 0x01, 0x11);
    assert_non_null(r);
    assert_int_equal(r->value, 235);
    assert_int_equal(oxl_monitor_verdict(r), OXL_MONITOR_FAILED);
    graded(v, "monitor-test-01-11", OXL_GRADE_CAUTION);
    graded(v, "monitor-test-02-21", OXL_GRADE_PASS);
    graded(v, "monitor-02-08", OXL_GRADE_PASS);
    graded(v, "monitor-01-05", OXL_GRADE_CAUTION); /* as P0133 says */
    assert_non_null(strstr(check_of(v, "monitor-01-05")->found, "0.18 s, at most 0.12"));
    done(&b);
}

/* Item 1D: the front of bank 2 is sensor 04, whose request ends in 04. */
static void kline_sensors_of_two_banks(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v =
        inspect_bank(&b,
                     "[unit]\nstored = P0153\nlayout = 1D\nmulti_item = no\n[plant]\nbanks = 2\n"
                     "[adapter]\nprotocol = 4\n",
                     2);
    assert_int_equal(outcome(&b), OXL_OK);
    graded(v, "monitor-05-05", OXL_GRADE_CAUTION);
    graded(v, "monitor-06-07", OXL_GRADE_PASS);
    graded(v, "monitor-01-05", OXL_GRADE_PASS);
    assert_non_null(strstr(b.sent, "\n050504"));
    done(&b);
}

static void kline_two_units(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v =
        inspect(&b, "[unit]\nstored = P0300\nsecond_unit = yes\nsecond_stored = P0700\n"
                    "multi_item = no\n[adapter]\nprotocol = 5\n");
    assert_int_equal(outcome(&b), OXL_OK);
    assert_int_equal(v->onboard.ecus_n, 2);
    assert_int_equal(v->onboard.ecus[0].dtcs[OXL_DTC_STORED].codes[0], 0x0300);
    assert_int_equal(v->onboard.ecus[1].dtcs[OXL_DTC_STORED].codes[0], 0x0700);
    graded(v, "stored-P0300", OXL_GRADE_STOP);
    done(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kline_vehicle),
        cmocka_unit_test(kline_two_units),
        cmocka_unit_test(kline_sensors_of_two_banks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
