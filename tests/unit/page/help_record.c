#include "help_record.h"

#include <string.h>

static struct oxl_test_record record;

static void feed(struct oxl_event ev)
{
    oxl_test_record_event(&record, &ev);
}

static void state(int64_t t_us, enum oxl_state s, int run)
{
    struct oxl_event ev = {.kind = OXL_EV_STATE, .t_us = t_us};
    ev.u.state.state = s;
    ev.u.state.run = run;
    feed(ev);
}

static void check(const char *id, enum oxl_grade grade, const char *found, const char *advice)
{
    struct oxl_event ev = {.kind = OXL_EV_CHECK, .t_us = 4000000};
    strcpy(ev.u.check.id, id);
    strcpy(ev.u.check.found, found);
    strcpy(ev.u.check.advice, advice);
    ev.u.check.grade = grade;
    feed(ev);
}

static void mark(int64_t t_us, const char *text)
{
    struct oxl_event ev = {.kind = OXL_EV_MARK, .t_us = t_us};
    strcpy(ev.u.mark.text, text);
    feed(ev);
}

static struct oxl_span span(double low, double v, double high)
{
    return (struct oxl_span){v, low, high};
}

static void run(int n, double delay, bool valid, oxl_reasons reasons)
{
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = n * 60000000};
    ev.u.run = (struct oxl_run_result){
        .run = n,
        .dropped = true,
        .valid = valid,
        .reasons = reasons,
        .front_lean = {true, n * 50000000, n * 50000000 - 40000, n * 50000000 + 30000},
        .delay_s = span(delay - 0.1, delay, delay + 0.12),
        .delay_at_target_s = span(delay - 0.15, delay + 0.05, delay + 0.2),
        .o2_mg = span(70, 80 + n, 95),
        .o2_from_lambda_mg = 80 + n,
        .o2_from_trim_mg = 84,
        .o2_removed_mg = 300,
        .o2_supply_mg = 500,
        .shift_pct = -20.25 - n,
        .air_g_s = 3.125,
        .rpm = 704.25,
        .air_source = OXL_AIRSRC_SPEED_DENSITY,
        .x_source = OXL_XSRC_LAMBDA,
        .path_s = 0.5,
        .trim_recovery_pct_s = 2.5,
        .trim_recovery_tau_s = NAN,
        .front_ramp_s = 0.2,
        .sample_round_ms = 96,
    };
    feed(ev);
}

static void start(const struct oxl_record_header *h)
{
    oxl_test_record_init(&record, h);
}

static void set_profile(struct oxl_record_header *h)
{
    oxl_profile_defaults(&h->profile);
    strcpy(h->profile.name, "made-up");
    h->profile.displacement_l = 1.8;
    strcpy(h->profile.limits_origin, "common practice, no published source");
    h->profile_given = true;
}

static void known_vehicle(void)
{
    struct oxl_vehicle v = {
        .protocol = OXL_PROTO_CAN11_500,
        .adapter = "serial adapter 1.4",
        .ecu = 0x7e8,
        .ecus_seen = 2,
        .readiness = {.known = true,
                      .mil_on = true,
                      .stored_dtcs = 1,
                      .supported = {[OXL_MON_CATALYST] = true, [OXL_MON_O2_SENSOR] = true},
                      .complete = {[OXL_MON_O2_SENSOR] = true}},
        .vin = "ZZZTEST0X00000042",
        .dtcs = {[OXL_DTC_STORED] = {{0x0420}, 1, true}, [OXL_DTC_PENDING] = {.known = true}},
        .survey_done = true,
    };
    struct oxl_event ev = {.kind = OXL_EV_VEHICLE, .t_us = 3000000};
    ev.u.vehicle = &v;
    feed(ev);
}

static void low_result(void)
{
    struct oxl_event ev = {.kind = OXL_EV_RESULT, .t_us = 185000000};
    ev.u.result = (struct oxl_result){
        .verdict = OXL_VERDICT_BAD,
        .conclusion = OXL_CONCLUSION_BAD,
        .lead = {OXL_LEAD_DELAY_AT_TARGET, span(1.1, 1.31, 1.46), 2, 7, 0},
        .runs = 3,
        .valid_runs = 2,
        .delay_s = span(1.15, 1.26, 1.38),
        .delay_at_target_s = span(1.1, 1.31, 1.46),
        .o2_mg = span(70, 82, 95),
        .air_g_s = 3.125,
        .rpm = 704.25,
        .spread_s = 0.02,
        .spread_runs = 2,
        .bad_limit_mg = 137.5,
        .good_limit_mg = 428.125,
        .reasons = OXL_REASON_BIT(OXL_R_LOW_STORAGE) | OXL_REASON_BIT(OXL_R_LEAK_CHECK_FIRST) |
                   OXL_REASON_BIT(OXL_R_AIR_ESTIMATED),
        .next = OXL_REASON_BIT(OXL_R_LEAK_CHECK_FIRST),
    };
    feed(ev);
}

struct oxl_test_record *story_low(void)
{
    struct oxl_record_header h = {
        .version = OXL_RECORD_VERSION,
        .program = "0.1.0",
        .started = "2024-06-11T14:03:27+02:00",
        .port = "/dev/ttyUSB0",
        .order = "R.O. 4711",
        .inlet = "after the air meter",
        .note = "customer complains of a lamp; a note that is long enough to need a second line "
                "on the page",
        .technician = "bay 3",
        .bank = 1,
        .runs = 3,
    };
    struct oxl_event ev = {.kind = OXL_EV_PROFILE, .t_us = 3500000};
    set_profile(&h);
    start(&h);
    known_vehicle();
    strcpy(ev.u.profile.name, "made-up");
    strcpy(ev.u.profile.why, "given by the user");
    feed(ev);
    check("closed-loop", OXL_GRADE_CAUTION, "open loop", "wait");
    check("coolant", OXL_GRADE_PASS, "coolant 88 C", "");
    check("closed-loop", OXL_GRADE_PASS, "closed loop", "");
    check("refresh", OXL_GRADE_PASS, "the ECU refreshes front, rear and trims every 0.1 s", "");
    check("codes-stored", OXL_GRADE_CAUTION, "codes stored: P0420",
          "no other code that disturbs the test");
    check("catalyst-temperature", OXL_GRADE_UNKNOWN, "catalyst temperature not known",
          "warm up by time");
    ev = (struct oxl_event){.kind = OXL_EV_BASELINE, .t_us = 20000000};
    ev.u.baseline.trim_pct = 2.34375;
    feed(ev);
    ev = (struct oxl_event){.kind = OXL_EV_ADVICE, .t_us = 21000000};
    ev.u.advice.advice = OXL_ADV_OVERRIDE;
    feed(ev);
    mark(31234567, "wet cloth on the flange");
    run(1, 1.26, true, OXL_REASON_BIT(OXL_R_AIR_ESTIMATED));
    run(2, 1.24, true, OXL_REASON_BIT(OXL_R_AIR_ESTIMATED));
    run(3, 9.95, false, OXL_REASON_BIT(OXL_R_AIR_ESTIMATED) | OXL_REASON_BIT(OXL_R_RPM_UNSTEADY));
    low_result();
    state(185000000, OXL_STATE_DONE, 3);
    strcpy(record.recording_name, "4711.jsonl");
    strcpy(record.sha256, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    return &record;
}

struct oxl_test_record *story_held(void)
{
    struct oxl_record_header h = {
        .version = OXL_RECORD_VERSION,
        .program = "0.1.0",
        .started = "2024-06-11T14:03:27+02:00",
        .port = "sim:dead-rear",
        .simulated = true,
        .scenario = "dead-rear",
        .seed = 7,
        .mask_vin = true,
        .bank = 2,
    };
    const struct oxl_span none = {NAN, NAN, NAN};
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = 60000000};
    set_profile(&h);
    start(&h);
    known_vehicle();
    ev.u.run = (struct oxl_run_result){
        .run = 1,
        .valid = true,
        .reasons = OXL_REASON_BIT(OXL_R_REAR_HELD),
        .delay_s = span(12.34, NAN, INFINITY),
        .delay_at_target_s = span(8.5, NAN, INFINITY),
        .o2_mg = span(181.4, NAN, INFINITY),
        .o2_is_lower_bound = true,
        .shift_pct = NAN,
        .air_g_s = NAN,
        .rpm = NAN,
    };
    feed(ev);
    ev = (struct oxl_event){.kind = OXL_EV_RESULT, .t_us = 100000000};
    ev.u.result = (struct oxl_result){
        .verdict = OXL_VERDICT_INCONCLUSIVE,
        .lead = {OXL_LEAD_DELAY_AT_TARGET, span(8.5, NAN, INFINITY), 2, 7, 1},
        .runs = 1,
        .valid_runs = 1,
        .delay_s = span(12.34, NAN, INFINITY),
        .delay_at_target_s = span(8.5, NAN, INFINITY),
        .o2_mg = none,
        .held = true,
        .air_g_s = NAN,
        .rpm = NAN,
        .spread_s = NAN,
        .bad_limit_mg = NAN,
        .good_limit_mg = NAN,
        .reasons = OXL_REASON_BIT(OXL_R_REAR_NOT_SEEN_LEAN),
        .next = OXL_REASON_BIT(OXL_R_REAR_NOT_SEEN_LEAN),
    };
    feed(ev);
    state(100000000, OXL_STATE_DONE, 1);
    record.torn = true;
    strcpy(record.recording_name, "demo.jsonl");
    return &record;
}

struct oxl_test_record *story_stopped(void)
{
    struct oxl_record_header h = {.version = OXL_RECORD_VERSION, .bank = 1};
    struct oxl_event ev = {.kind = OXL_EV_LINK, .t_us = 9000000};
    set_profile(&h);
    start(&h);
    state(0, OXL_STATE_PRECHECK, 0);
    ev.u.link.state = OXL_LINK_NO_VEHICLE;
    strcpy(ev.u.link.text, "The adapter answers, no vehicle does: switch the ignition on.");
    feed(ev);
    state(9000000, OXL_STATE_STOPPED, 0);
    return &record;
}
