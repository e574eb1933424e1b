/* The whole inspection against the simulated vehicle. */
#include "help_inspect.h"
#include "sim/parts.h"

#include <string.h>

/* ---- CAN ---- */

static void sound_vehicle(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[unit]\nfront = wide-current\n");
    assert_int_equal(outcome(&b), OXL_OK);
    assert_int_equal(v->worst, OXL_GRADE_PASS);
    assert_int_equal(b.checks, v->checks_n);
    graded(v, "sensors-bank-1", OXL_GRADE_PASS);
    graded(v, "codes-stored", OXL_GRADE_PASS);
    graded(v, "codes-permanent", OXL_GRADE_PASS);
    graded(v, "monitor-21-80", OXL_GRADE_PASS);
    graded(v, "freeze-frame", OXL_GRADE_PASS);
    graded(v, "closed-loop", OXL_GRADE_PASS);
    graded(v, "identity", OXL_GRADE_PASS);
    graded(v, "sample-rate", OXL_GRADE_PASS);
    assert_true(v->onboard.done && v->onboard.frozen_known && v->onboard.freeze_frame_dtc == 0);
    assert_string_equal(v->onboard.ecus[0].name, "ECM-SimulatedUnit");
    assert_string_equal(v->onboard.ecus[0].calibration[0], "OXYLAG SIM CAL1");
    assert_int_equal(v->onboard.ecus[0].verification[0], 0x0A513D01);
    /* 33h of 256ths, at most C0h. */
    const struct oxl_monitor_result *r = result_of(v, 0x21, 0x80, 0);
    assert_non_null(r);
    assert_true(fabs(oxl_monitor_figures(r).value - 51.0 / 256) < 1e-9);
    assert_true(fabs(oxl_monitor_figures(r).max - 0.75) < 1e-9);
    done(&b);
}

/* Two units, answers put off, a code that forbids, one that is why one tests, one elsewhere. */
static void codes_of_two_units(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(
        &b, "[unit]\nstored = P0420 P0301\npending = P0171 P0174\npermanent = P0420\n"
            "second_unit = yes\nsecond_stored = P0700\npending_pct = 30\npending_ms = 60\n");
    assert_int_equal(outcome(&b), OXL_OK);
    assert_int_equal(v->worst, OXL_GRADE_STOP);
    graded(v, "stored-P0420", OXL_GRADE_PASS);
    graded(v, "stored-P0301", OXL_GRADE_STOP);
    graded(v, "stored-P0700", OXL_GRADE_PASS);
    graded(v, "pending-P0171", OXL_GRADE_CAUTION);
    graded(v, "pending-P0174", OXL_GRADE_PASS); /* of the bank that is not tested */
    graded(v, "permanent-P0420", OXL_GRADE_PASS);
    graded(v, "lamp", OXL_GRADE_CAUTION);
    graded(v, "monitor-21-80", OXL_GRADE_CAUTION);
    assert_int_equal(v->onboard.ecus_n, 2);
    assert_int_equal(v->onboard.ecus[0].ecu, 0x7E8);
    assert_int_equal(v->onboard.ecus[0].dtcs[OXL_DTC_STORED].n, 2);
    assert_int_equal(v->onboard.ecus[1].dtcs[OXL_DTC_STORED].n, 1);
    assert_int_equal(v->vehicle.dtcs[OXL_DTC_STORED].n, 3); /* of both */
    assert_string_equal(v->onboard.ecus[1].name, "TCM-SimulatedGear");
    assert_int_equal(v->onboard.freeze_frame_dtc, 0x0420);
    assert_int_equal(v->onboard.frozen_n, 9); /* as many as the unit froze */
    done(&b);
}

/* What a code does that the program does not know is not known to be harmless. */
static void an_unknown_code_is_no_pass(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[unit]\nfront = wide-current\npending = P1234\n");
    assert_int_equal(outcome(&b), OXL_OK);
    graded(v, "pending-P1234", OXL_GRADE_UNKNOWN);
    assert_int_equal(v->worst, OXL_GRADE_UNKNOWN);
    done(&b);
}

/* Whichever unit puts its answer off: it is waited for, and what comes twice is kept once. */
static void no_answer_is_lost_when_put_off(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        struct bench b;
        const struct oxl_inspection *v =
            inspect_seed(&b,
                         "[unit]\nstored = P0420 P0141\nsecond_unit = yes\nsecond_stored = P0700\n"
                         "pending_pct = 30\npending_ms = 60\n",
                         1, seed);
        const struct oxl_ecu_info *u = v->onboard.ecus;
        assert_int_equal(v->onboard.ecus_n, 2);
        assert_int_equal(u[0].dtcs[OXL_DTC_STORED].n, 2);
        assert_int_equal(u[1].dtcs[OXL_DTC_STORED].n, 1);
        assert_string_equal(u[0].name, "ECM-SimulatedUnit");
        assert_string_equal(u[1].name, "TCM-SimulatedGear");
        assert_int_equal(u[0].calibration_n, 1);
        assert_int_equal(v->onboard.frozen_n, 9);
        done(&b);
    }
}

/* Calibrations (09 04) and the frozen load (02 04), of which a line that loses characters could
 * leave the request to clear the codes: the echo proves them, and nothing changed. */
static void bad_line_is_trusted_with_04_behind_its_echo(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v =
        inspect(&b, "[unit]\nstored = P0420\n[adapter]\ndrop_pct = 0.3\ndouble_pct = 0.3\n");
    assert_non_null(strstr(b.sent, "\n0902"));
    assert_non_null(strstr(b.sent, "\n0904~\n"));
    assert_non_null(strstr(b.sent, "\n020400~\n"));
    assert_int_equal(v->onboard.ecus[0].calibration_n, 1);
    assert_int_equal(v->onboard.frozen_n, 9);
    assert_int_equal(oxl_adapter_changing(oxl_sim_adapter(b.sim), 0), 0);
    done(&b);
}

static void other_bank(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v =
        inspect_bank(&b, "[unit]\nstored = P0171 P0430\n[plant]\nbanks = 2\n", 2);
    assert_int_equal(outcome(&b), OXL_OK);
    graded(v, "stored-P0171", OXL_GRADE_PASS);
    graded(v, "monitor-22-80", OXL_GRADE_CAUTION);
    graded(v, "monitor-21-80", OXL_GRADE_PASS);
    graded(v, "sensors-bank-2", OXL_GRADE_PASS);
    graded(v, "closed-loop-2", OXL_GRADE_PASS);
    assert_true(result_of(v, 0x05, 0x05, 0) != NULL); /* B2S1 */
    done(&b);
}

static void no_rear(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[unit]\nrear = none\n");
    assert_int_equal(outcome(&b), OXL_ERR_UNSUITABLE);
    graded(v, "sensors-bank-1", OXL_GRADE_STOP);
    graded(v, "monitor-catalyst", OXL_GRADE_UNKNOWN);
    done(&b);
}

static void rear_fault_keeps_the_catalyst_waiting(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[unit]\nstored = P0137\n");
    graded(v, "stored-P0137", OXL_GRADE_CAUTION);
    graded(v, "monitor-21-80", OXL_GRADE_UNKNOWN); /* not run is no pass */
    graded(v, "monitor-02-07", OXL_GRADE_CAUTION);
    graded(v, "ready-catalyst", OXL_GRADE_CAUTION);
    assert_string_equal(oxl_monitor_verdict_name(oxl_monitor_verdict(result_of(v, 0x21, 0x80, 0))),
                        "not run");
    done(&b);
}

static void layout_of_four_banks(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[unit]\nlayout = 1D\n[plant]\nbanks = 2\n");
    assert_int_equal(outcome(&b), OXL_OK);
    assert_string_equal(check_of(v, "layout")->found, "PID 1D: B1S1 B1S2 B2S1 B2S2");
    graded(v, "sensors-bank-2", OXL_GRADE_PASS);
    done(&b);
}

static void cold_engine(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[plant]\ncoolant_c = 20\nrun_time_s = 10\n");
    assert_int_equal(outcome(&b), OXL_OK);
    graded(v, "coolant", OXL_GRADE_STOP);
    graded(v, "run-time", OXL_GRADE_STOP);
    assert_int_equal(v->worst, OXL_GRADE_STOP);
    done(&b);
}

/* The target is the profile's. */
static void room_for_the_target(void **state)
{
    (void)state;
    struct bench b;
    struct oxl_session_config config = {.bank = 1};
    oxl_profile_defaults(&config.profile);
    config.profile.target_pct = -30;
    graded(inspect_with(&b, "", &config, 1), "trim-room", OXL_GRADE_CAUTION);
    done(&b);
    config.profile.target_pct = -15;
    graded(inspect_with(&b, "", &config, 1), "trim-room", OXL_GRADE_PASS);
    done(&b);
}

/* ---- nobody there ---- */

static void nobody(void **state)
{
    (void)state;
    struct bench b;
    inspect(&b, "[unit]\nanswers = no\n");
    assert_int_equal(outcome(&b), OXL_ERR_NO_VEHICLE);
    assert_int_equal(b.checks, 0);
    done(&b);
    inspect(&b, "[adapter]\nsilent = yes\n");
    assert_int_equal(outcome(&b), OXL_ERR_NO_ADAPTER);
    assert_int_equal(b.checks, 0);
    done(&b);
}

/* ---- pulled out while the engine is looked at ---- */

static void pulled_out(void **state)
{
    (void)state;
    struct bench b;
    inspect(&b, "[adapter]\nunplug_at_s = 3\nunplug_s = 1000\n");
    assert_int_equal(outcome(&b), OXL_ERR_LINK_LOST);
    assert_int_equal(b.checks, 0);
    done(&b);
}

static void pulled_out_for_a_while(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[adapter]\nunplug_at_s = 3\nunplug_s = 6\n");
    assert_int_equal(outcome(&b), OXL_OK);
    graded(v, "sample-rate", OXL_GRADE_PASS);
    /* What is shown as read just now is of the engine after that. */
    size_t sensors = 0;
    for (size_t i = 0; i < v->readings_n; i++)
        if (oxl_channel_same(v->reading[i].channel, v->pair[0].front) ||
            oxl_channel_same(v->reading[i].channel, v->pair[0].rear)) {
            sensors++;
            assert_true(b.now_us - v->reading[i].recv_us < 2000000);
        }
    assert_int_equal(sensors, 2);
    done(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sound_vehicle),
        cmocka_unit_test(codes_of_two_units),
        cmocka_unit_test(an_unknown_code_is_no_pass),
        cmocka_unit_test(no_answer_is_lost_when_put_off),
        cmocka_unit_test(bad_line_is_trusted_with_04_behind_its_echo),
        cmocka_unit_test(other_bank),
        cmocka_unit_test(no_rear),
        cmocka_unit_test(rear_fault_keeps_the_catalyst_waiting),
        cmocka_unit_test(layout_of_four_banks),
        cmocka_unit_test(cold_engine),
        cmocka_unit_test(room_for_the_target),
        cmocka_unit_test(nobody),
        cmocka_unit_test(pulled_out),
        cmocka_unit_test(pulled_out_for_a_while),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
