/* The engine as it runs now: is it fit for the test? */
#include <math.h>
#include <stdio.h>

#include "inspect.h"

/* PID 03's states, SAE J1979; PID 12's "outside or off". */
enum { OPEN_COLD = 1, CLOSED = 2, OPEN_DRIVE = 4, OPEN_FAULT = 8, CLOSED_FAULT = 16 };
enum { STATES = 0x1F, AIR_OFF = 4, AIR_NOT_TOLD = 0 };

/* Makers' short-term limits lie between -25 and -35 %; common practice, no source. */
#define TRIM_LIMIT_PCT 25.0
enum { FEW_TRIMS = 4 };

static double engine(const struct oxl_inspection *v, enum oxl_quantity q)
{
    return oxl_inspection_reading(v, oxl_channel(q, 0, 0));
}

static void unknown(struct oxl_inspection *v, const char *id)
{
    oxl_inspect_line(v, id, OXL_GRADE_UNKNOWN, "", "not reported by the vehicle");
}

static void minimum(struct oxl_inspection *v, const char *id, double value, double min,
                    const char *unit, const char *advice)
{
    if (!isfinite(value)) {
        unknown(v, id);
        return;
    }
    bool ok = value >= min;
    oxl_inspect_line(v, id, ok ? OXL_GRADE_PASS : OXL_GRADE_STOP, ok ? "" : advice,
                     "%.0f %s, at least %.0f", value, unit, min);
}

static void closed_loop(struct oxl_inspection *v, unsigned system)
{
    static const char id[2][16] = {"closed-loop", "closed-loop-2"};
    double code = oxl_inspection_reading(v, oxl_channel(OXL_Q_FUEL_SYSTEM, system, 0));
    unsigned state = isfinite(code) && code >= 0 && code < 256 ? (unsigned)code & STATES : 0;
    const char *name = id[system - 1];
    if (!isfinite(code)) {
        if (system == 1)
            unknown(v, name);
        return; /* most engines have no second system */
    }
    switch (state) {
    case CLOSED:
        oxl_inspect_line(v, name, OXL_GRADE_PASS, "", "fuel system %u in closed loop", system);
        break;
    case CLOSED_FAULT:
        oxl_inspect_line(v, name, OXL_GRADE_CAUTION, "A sensor has a fault: see the codes.",
                         "fuel system %u in closed loop with a fault", system);
        break;
    case OPEN_COLD:
        oxl_inspect_line(v, name, OXL_GRADE_STOP, "Warm the engine up and look again.",
                         "fuel system %u in open loop: not warm enough", system);
        break;
    case OPEN_DRIVE:
        oxl_inspect_line(v, name, OXL_GRADE_STOP, "Let it idle; hold the throttle still.",
                         "fuel system %u in open loop: load or fuel cut", system);
        break;
    case OPEN_FAULT:
        oxl_inspect_line(v, name, OXL_GRADE_STOP, "Repair by the codes first.",
                         "fuel system %u in open loop: system fault", system);
        break;
    default:
        oxl_inspect_line(v, name, OXL_GRADE_STOP, "Start the engine.",
                         "fuel system %u not running (state %.0f)", system, code);
    }
}

static void running(struct oxl_inspection *v)
{
    double rpm = engine(v, OXL_Q_RPM), speed = engine(v, OXL_Q_SPEED_KMH);
    if (!isfinite(rpm))
        unknown(v, "engine");
    else
        oxl_inspect_line(v, "engine", rpm > 0 ? OXL_GRADE_PASS : OXL_GRADE_STOP,
                         rpm > 0 ? "" : "Start the engine.", "%.0f rpm", rpm);
    if (!isfinite(speed))
        unknown(v, "standing-still");
    else
        oxl_inspect_line(v, "standing-still", speed == 0 ? OXL_GRADE_PASS : OXL_GRADE_STOP,
                         speed == 0 ? "" : "Stand still, brake on.", "speed %.0f km/h", speed);
}

/* A switching front makes the trim dither; a wide-range one may hold it at 0 in a steady idle. */
static void frozen_trim(struct oxl_inspection *v)
{
    double code = oxl_inspection_reading(v, oxl_channel(OXL_Q_FUEL_SYSTEM, 1, 0));
    bool closed = isfinite(code) && ((unsigned)code & STATES) == CLOSED;
    bool steady = closed && v->pair[v->bank - 1].front_kind == OXL_SENSOR_WIDE;
    if (v->trim_moved || v->trims_seen < FEW_TRIMS)
        return;
    oxl_inspect_line(v, "trim-frozen", steady ? OXL_GRADE_UNKNOWN : OXL_GRADE_CAUTION,
                     steady ? "Steady, or frozen at idle: rev once; it must move."
                            : "Not in closed loop, or frozen at idle: warm up, try 2000-2500 rpm.",
                     "the short-term trim is exactly 0 and did not move");
}

static void trims(struct oxl_inspection *v, const struct oxl_profile *f)
{
    double stft = oxl_inspection_reading(v, oxl_channel(OXL_Q_STFT_PCT, v->bank, 0));
    double ltft = oxl_inspection_reading(v, oxl_channel(OXL_Q_LTFT_PCT, v->bank, 0));
    if (!isfinite(stft)) {
        unknown(v, "trims");
        return;
    }
    double total = stft + (isfinite(ltft) ? ltft : 0);
    bool usual = fabs(total) <= f->trim_abs_max_pct;
    oxl_inspect_line(v, "trims", usual ? OXL_GRADE_PASS : OXL_GRADE_CAUTION,
                     usual ? "" : "A fuelling fault or a leak may be there: find it first.",
                     "total trim %+.1f %% (short %+.1f%s), usual within %.0f", total, stft,
                     isfinite(ltft) ? "" : ", no long-term trim", f->trim_abs_max_pct);
    frozen_trim(v);
    double room = TRIM_LIMIT_PCT + stft;
    bool enough = room >= -f->target_pct;
    oxl_inspect_line(v, "trim-room", enough ? OXL_GRADE_PASS : OXL_GRADE_CAUTION,
                     enough ? "" : "The trim may reach its limit before the target: find out why.",
                     "%.0f %% before an assumed limit of -%.0f, %.0f wanted", room, TRIM_LIMIT_PCT,
                     -f->target_pct);
}

static void secondary_air(struct oxl_inspection *v)
{
    double code = engine(v, OXL_Q_SECONDARY_AIR);
    if (!isfinite(code))
        return;
    bool off = code == AIR_OFF || code == AIR_NOT_TOLD;
    oxl_inspect_line(v, "secondary-air", off ? OXL_GRADE_PASS : OXL_GRADE_STOP,
                     off ? "" : "Wait until the pump is off: its air makes the rear lean.",
                     off ? "secondary air off" : "secondary air on (status %.0f)", code);
}

void oxl_inspect_conditions(struct oxl_inspection *v, const struct oxl_profile *f)
{
    oxl_inspect_section(v, "Engine now");
    running(v);
    minimum(v, "coolant", engine(v, OXL_Q_COOLANT_C), f->coolant_min_c, "C", "Warm the engine.");
    minimum(v, "run-time", engine(v, OXL_Q_RUN_TIME_S), f->run_time_min_s, "s",
            "Let the engine run.");
    minimum(v, "catalyst-temperature",
            oxl_inspection_reading(v, oxl_channel(OXL_Q_CAT_TEMP_C, v->bank, 1)), f->cat_temp_min_c,
            "C", "Hold 2000-2500 rpm.");
    closed_loop(v, 1);
    closed_loop(v, 2);
    trims(v, f);
    secondary_air(v);
}
