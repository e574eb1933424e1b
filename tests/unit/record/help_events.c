#include "help_events.h"

#include <string.h>

static struct oxl_moment moment(bool full, int64_t us)
{
    return full ? (struct oxl_moment){true, us, us - 40000, us + 30000}
                : (struct oxl_moment){false, 0, 0, 0};
}

static struct oxl_span span(bool full, double v)
{
    return full ? (struct oxl_span){v, v * 0.9, v * 1.1} : (struct oxl_span){NAN, NAN, NAN};
}

static struct oxl_refresh refresh(bool full, double s)
{
    return full ? (struct oxl_refresh){true, s, s, 40, NAN}
                : (struct oxl_refresh){false, NAN, INFINITY, 0, NAN};
}

static struct oxl_event run_event(bool full)
{
    double n = full ? 1.0 : NAN;
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = 61000001};
    ev.u.run = (struct oxl_run_result){
        .run = 2,
        .dropped = full,
        .valid = full,
        .reasons =
            full ? OXL_REASON_BIT(OXL_R_OVER_ENRICHED) | OXL_REASON_BIT(OXL_R_AIR_ESTIMATED) : 0,
        .front_lean = moment(full, 50000000),
        .rear_lean = moment(full, 53250001),
        .rear_fall = moment(full, 53000000),
        .delay_s = span(full, 3.25),
        .delay_at_target_s = span(full, 3.5),
        .o2_mg = span(full, 412.5),
        .o2_is_lower_bound = !full,
        .o2_from_lambda_mg = 410 * n,
        .o2_from_trim_mg = 420 * n,
        .o2_removed_mg = 900 * n,
        .o2_needed_mg = 820 * n,
        .o2_supply_mg = 880 * n,
        .shift_pct = -20.3 * n,
        .air_g_s = 3.1 * n,
        .rpm = 702 * n,
        .air_source = full ? OXL_AIRSRC_SPEED_DENSITY : OXL_AIRSRC_NONE,
        .x_source = full ? OXL_XSRC_LAMBDA : OXL_XSRC_NONE,
        .path_s = 0.51 * n,
        .trim_recovery_pct_s = 2.5 * n,
        .trim_recovery_tau_s = 4 * n,
        .front_ramp_s = 0.2 * n,
        .sample_round_ms = 96 * n,
        .front_refresh = refresh(full, 0.01),
        .rear_refresh = refresh(full, 0.25),
        .trim_refresh = refresh(full, 0.1),
    };
    if (!full)
        ev.u.run.o2_mg = (struct oxl_span){NAN, 180.25, INFINITY};
    return ev;
}

static struct oxl_event result_event(bool full)
{
    double n = full ? 1.0 : NAN;
    struct oxl_event ev = {.kind = OXL_EV_RESULT, .t_us = 200000000};
    ev.u.result = (struct oxl_result){
        .verdict = full ? OXL_VERDICT_BAD : OXL_VERDICT_INCONCLUSIVE,
        .conclusion = full ? OXL_CONCLUSION_BAD : OXL_CONCLUSION_NONE,
        .runs = 3,
        .valid_runs = full ? 3 : 0,
        .delay_s = span(full, 1.25),
        .delay_at_target_s = span(full, 1.3),
        .o2_mg = span(full, 80),
        .lead = {.figure = full ? OXL_LEAD_OXYGEN : OXL_LEAD_NONE,
                 .span = {NAN, full ? 541.5 : NAN, full ? INFINITY : NAN},
                 .bad_limit = 132 * n,
                 .good_limit = 411 * n,
                 .run = full ? 4 : 0},
        .held = !full,
        .air_g_s = 3 * n,
        .rpm = 700 * n,
        .spread_s = 0.1 * n,
        .bad_limit_mg = 132 * n,
        .good_limit_mg = 411 * n,
    };
    if (full) {
        ev.u.result.reasons =
            OXL_REASON_BIT(OXL_R_LOW_STORAGE) | OXL_REASON_BIT(OXL_R_LEAK_CHECK_FIRST);
        ev.u.result.next = ev.u.result.reasons;
    }
    return ev;
}

static const struct oxl_vehicle *vehicle(bool full)
{
    static const struct oxl_vehicle unknown;
    static const struct oxl_vehicle known = {
        .protocol = OXL_PROTO_CAN11_500,
        .adapter = "serial adapter 1.4",
        .ecu = 0x7e8,
        .ecus_seen = 2,
        .decoding = {.layout = OXL_LAYOUT_13, .sensors = 0x33},
        .readiness = {.known = true,
                      .mil_on = true,
                      .stored_dtcs = 1,
                      .supported = {[OXL_MON_CATALYST] = true, [OXL_MON_O2_SENSOR] = true},
                      .complete = {[OXL_MON_O2_SENSOR] = true}},
        .vin = "ZZZTEST0X00000042",
        .dtcs =
            {[OXL_DTC_STORED] = {{0x0420, 0xc123}, 2, true}, [OXL_DTC_PENDING] = {.known = true}},
        .results = {{.ecu = 0x7e8,
                     .monitor = 0x21,
                     .test = 0x80,
                     .scale = 0x20,
                     .value = 0x33,
                     .max = 0xc0}},
        .results_n = 1,
        .results_known = true,
        .multi_pid = true,
        .survey_done = true,
    };
    return full ? &known : &unknown;
}

static struct oxl_event baseline_event(bool full)
{
    double n = full ? 1.0 : NAN;
    struct oxl_event ev = {.kind = OXL_EV_BASELINE, .t_us = 30000000};
    ev.u.baseline.trim_pct = 2.34375 * n;
    ev.u.baseline.trim_sd_pct = 1.1 * n;
    ev.u.baseline.rpm = 698.25 * n;
    ev.u.baseline.front_level = 1.001 * n;
    ev.u.baseline.rear_level = 0.68 * n;
    return ev;
}

static struct oxl_event sample_event(bool full)
{
    struct oxl_event ev = {.kind = OXL_EV_SAMPLE, .t_us = 1234567};
    ev.u.sample = (struct oxl_sample){.channel = oxl_channel(OXL_Q_LAMBDA, 1, 1),
                                      .value = full ? 0.9973 : NAN,
                                      .sent_us = 1200000,
                                      .recv_us = 1234567,
                                      .ecu = full ? 0x7e8 : 0};
    return ev;
}

static struct oxl_event advice_event(enum oxl_advice advice, bool full)
{
    struct oxl_event ev = {.kind = OXL_EV_ADVICE, .t_us = 5};
    ev.u.advice.advice = advice;
    if (full)
        strcpy(ev.u.advice.detail, "-26 %");
    return ev;
}

static struct oxl_event check_event(bool full)
{
    struct oxl_event ev = {.kind = OXL_EV_CHECK, .t_us = 6};
    strcpy(ev.u.check.id, "coolant");
    ev.u.check.grade = full ? OXL_GRADE_CAUTION : OXL_GRADE_UNKNOWN;
    if (full) {
        strcpy(ev.u.check.found, "coolant 52 C");
        strcpy(ev.u.check.advice, "warm the engine");
    }
    return ev;
}

struct oxl_event example_event(unsigned i, bool full)
{
    struct oxl_event ev = {.t_us = 1000000};
    switch (i) {
    case 0:
        ev.u.state.state = full ? OXL_STATE_RELEASE : OXL_STATE_PRECHECK;
        ev.u.state.run = full ? 1 : 0;
        return ev; /* OXL_EV_STATE */
    case 1:
        return sample_event(full);
    case 2:
        return advice_event(OXL_ADV_CUT, full);
    case 3:
        return advice_event(OXL_ADV_TOO_MUCH, full);
    case 4:
        return check_event(full);
    case 5:
        return run_event(full);
    case 6:
        return result_event(full);
    case 7:
        ev.kind = OXL_EV_LINK;
        ev.u.link.state = OXL_LINK_READY;
        strcpy(ev.u.link.text, full ? "12 samples a second" : "");
        return ev;
    case 8:
        ev.kind = OXL_EV_VEHICLE;
        ev.u.vehicle = vehicle(full);
        return ev;
    case 9:
        ev.kind = OXL_EV_PROFILE;
        strcpy(ev.u.profile.name, "wide-maf");
        strcpy(ev.u.profile.why, full ? "wide-range front, air meter" : "");
        if (full) {
            static struct oxl_profile in_full;
            oxl_profile_defaults(&in_full);
            ev.u.profile.profile = &in_full;
        }
        return ev;
    case 10:
        return baseline_event(full);
    default:
        ev.kind = OXL_EV_MARK;
        strcpy(ev.u.mark.text, full ? "wet cloth on the flange" : "");
        return ev;
    }
}
