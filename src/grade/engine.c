/* The engine as it runs now: is it fit for the test? */
#include "line.h"

/* PID 03's states and PID 12's bits, SAE J1979. PID 12: 1 ahead of the converter, 2 behind it,
 * 4 to the open air or off, 8 on for diagnosis. */
enum { OPEN_COLD = 1, CLOSED = 2, OPEN_DRIVE = 4, OPEN_FAULT = 8, CLOSED_FAULT = 16 };
enum { LOOP_STATES = 0x1F, AIR_ON = 0x0B };

/* The nearest limit that a trim may meet: manufacturers' lie from here to -45 %; common practice,
 * no source. */
static const double nearest_limit_pct = -25.0;

static unsigned bits(double code, unsigned mask)
{
    return oxl_known(code) && code >= 0 && code < 256 ? (unsigned)code & mask : 0;
}

bool oxl_loop_closed(double code)
{
    return bits(code, LOOP_STATES) == CLOSED;
}

bool oxl_loop_closed_with_fault(double code)
{
    return bits(code, LOOP_STATES) == CLOSED_FAULT;
}

bool oxl_fuel_is_hybrid(double code)
{
    return code >= 17 && code <= 22; /* SAE J1979 */
}

bool oxl_secondary_air_on(double code)
{
    return bits(code, AIR_ON) != 0;
}

/* The bytes of PID 03 are fuel systems, not banks. One that is "not warm enough" beside one that is
 * closed, in the same engine, controls nothing here. */
double oxl_second_system(double first, double second)
{
    bool idle = bits(second, LOOP_STATES) == OPEN_COLD &&
                (oxl_loop_closed(first) || oxl_loop_closed_with_fault(first));
    return idle ? NAN : second;
}

struct oxl_channel oxl_bank_channel(enum oxl_quantity q, unsigned bank, double second)
{
    switch (q) {
    case OXL_Q_STFT_PCT:
    case OXL_Q_LTFT_PCT:
        return oxl_channel(q, bank, 0);
    case OXL_Q_FUEL_SYSTEM: /* PID 03 is about fuel systems, not banks */
        return oxl_channel(q, bank == 2 && oxl_known(second) && second > 0 ? 2 : 1, 0);
    case OXL_Q_CAT_TEMP_C:
        return oxl_channel(q, bank, 1);
    default:
        return oxl_channel(q, 0, 0);
    }
}

static const struct {
    const char *id, *what;
    enum oxl_quantity quantity;
    uint8_t pid[2]; /* of banks 1 and 2 */
} gates[OXL_GATE_COUNT] = {
    [OXL_GATE_COOLANT] = {"coolant", "coolant temperature", OXL_Q_COOLANT_C, {0x05, 0x05}},
    [OXL_GATE_RUN_TIME] = {"run-time", "run time", OXL_Q_RUN_TIME_S, {0x1F, 0x1F}},
    [OXL_GATE_CAT_TEMP] = {"catalyst-temperature",
                           "catalyst temperature",
                           OXL_Q_CAT_TEMP_C,
                           {0x3C, 0x3D}},
    [OXL_GATE_CLOSED_LOOP] = {"closed-loop", "fuel system status", OXL_Q_FUEL_SYSTEM, {0x03, 0x03}},
    [OXL_GATE_STILL] = {"standing-still", "vehicle speed", OXL_Q_SPEED_KMH, {0x0D, 0x0D}},
    [OXL_GATE_ENGINE] = {"engine-runs", "engine speed", OXL_Q_RPM, {0x0C, 0x0C}},
    [OXL_GATE_SECONDARY_AIR] = {"secondary-air",
                                "secondary air status",
                                OXL_Q_SECONDARY_AIR,
                                {0x12, 0x12}},
    [OXL_GATE_TRIMS] = {"trims", "fuel trims", OXL_Q_STFT_PCT, {0x06, 0x08}},
};

const char *oxl_gate_name(enum oxl_gate g)
{
    return gates[g].what;
}

enum oxl_quantity oxl_gate_quantity(enum oxl_gate g)
{
    return gates[g].quantity;
}

uint8_t oxl_gate_pid(enum oxl_gate g, unsigned bank)
{
    return gates[g].pid[bank == 2];
}

/* There is no reading of it, and why. */
static struct oxl_check no_reading(const struct oxl_grade_facts *f, enum oxl_gate g)
{
    const char *why = f->imported ? "not in the table"
                      : oxl_supports(&f->vehicle->support, oxl_gate_pid(g, f->bank))
                          ? "no reading came yet"
                          : "not reported by the vehicle";
    return oxl_grade_line(gates[g].id, OXL_GRADE_UNKNOWN, "", "%s: %s", gates[g].what, why);
}

static struct oxl_check minimum(const char *id, const char *what, double value, double least,
                                const char *unit, const char *advice)
{
    bool ok = value >= least;
    return oxl_grade_line(id, ok ? OXL_GRADE_PASS : OXL_GRADE_STOP, ok ? "" : advice,
                          "%s %.0f %s, at least %.0f", what, value, unit, least);
}

static struct oxl_check loop(const char *id, double code)
{
    switch (bits(code, LOOP_STATES)) {
    case CLOSED:
        return oxl_grade_line(id, OXL_GRADE_PASS, "", "closed loop");
    case CLOSED_FAULT:
        return oxl_grade_line(id, OXL_GRADE_CAUTION, "A sensor has a fault: see the trouble codes.",
                              "closed loop with a fault");
    case OPEN_COLD:
        return oxl_grade_line(id, OXL_GRADE_STOP,
                              "Warm the engine; if it never closes, see the trouble codes.",
                              "open loop: not warm enough");
    case OPEN_DRIVE:
        return oxl_grade_line(id, OXL_GRADE_STOP, "Let it idle; hold the throttle still.",
                              "open loop: load or fuel cut");
    case OPEN_FAULT:
        return oxl_grade_line(id, OXL_GRADE_STOP, "Repair by the trouble codes first.",
                              "open loop: system fault");
    default:
        return oxl_grade_line(id, OXL_GRADE_STOP, "Start the engine.",
                              "fuel system not running (status %.0f)", code);
    }
}

static struct oxl_check still(const char *id, double speed_kmh)
{
    bool ok = speed_kmh == 0;
    return oxl_grade_line(id, ok ? OXL_GRADE_PASS : OXL_GRADE_STOP,
                          ok ? "" : "Stand still, brake on.", "speed %.0f km/h", speed_kmh);
}

static struct oxl_check secondary_air(const char *id, double code)
{
    bool on = oxl_secondary_air_on(code);
    return oxl_grade_line(
        id, on ? OXL_GRADE_STOP : OXL_GRADE_PASS,
        on ? "Wait until the pump is off; if it never stops, see the trouble codes." : "",
        "secondary air %s (status %.0f)", on ? "on" : "off", code);
}

struct oxl_check oxl_grade_gate(const struct oxl_grade_facts *f, enum oxl_gate g, double value)
{
    const char *id = gates[g].id;
    const struct oxl_profile *p = f->profile;
    if (!oxl_known(value))
        return no_reading(f, g);
    switch (g) {
    case OXL_GATE_COOLANT:
        return minimum(id, "coolant", value, p->coolant_min_c, "C", "Warm the engine.");
    case OXL_GATE_RUN_TIME:
        return minimum(id, "running for", value, p->run_time_min_s, "s", "Let the engine run.");
    case OXL_GATE_CAT_TEMP:
        return minimum(id, "catalyst", value, p->cat_temp_min_c, "C", "Hold 2000-2500 rpm.");
    case OXL_GATE_CLOSED_LOOP:
        return loop(id, value);
    case OXL_GATE_STILL:
        return still(id, value);
    case OXL_GATE_ENGINE:
        return minimum(id, "engine speed", value, OXL_LEAST_RPM, "rpm", "Start the engine.");
    case OXL_GATE_SECONDARY_AIR:
        return secondary_air(id, value);
    case OXL_GATE_TRIMS:
    case OXL_GATE_COUNT: /* no gate: named for the compiler */
        break;
    }
    return oxl_grade_trims(f, value, NAN);
}

struct oxl_check oxl_grade_second_loop(double code, bool under_test)
{
    struct oxl_check c = loop("closed-loop-2", code);
    if (!under_test && c.grade == OXL_GRADE_STOP)
        c.grade = OXL_GRADE_CAUTION;
    return c;
}

double oxl_total_trim_of(double stft_pct, double ltft_pct)
{
    return stft_pct + (oxl_known(ltft_pct) ? ltft_pct : 0);
}

struct oxl_check oxl_grade_trims(const struct oxl_grade_facts *f, double stft_pct, double ltft_pct)
{
    const char *id = gates[OXL_GATE_TRIMS].id;
    if (!oxl_known(stft_pct))
        return no_reading(f, OXL_GATE_TRIMS);
    double total = oxl_total_trim_of(stft_pct, ltft_pct);
    bool usual = fabs(total) <= f->profile->trim_abs_max_pct;
    return oxl_grade_line(id, usual ? OXL_GRADE_PASS : OXL_GRADE_CAUTION,
                          usual ? "" : "A fuelling fault or a leak may be there: find it first.",
                          "total trim %+.1f %% (short %+.1f%s), usual within %.0f", total, stft_pct,
                          oxl_known(ltft_pct) ? "" : ", no long-term trim",
                          f->profile->trim_abs_max_pct);
}

struct oxl_check oxl_grade_trim_room(double total_pct, const struct oxl_profile *f)
{
    double at = total_pct + f->target_pct;
    bool room = at >= nearest_limit_pct;
    if (!oxl_known(total_pct))
        return oxl_grade_line("trim-room", OXL_GRADE_UNKNOWN, "", "the trims are not known");
    return oxl_grade_line(
        "trim-room", room ? OXL_GRADE_PASS : OXL_GRADE_CAUTION,
        room ? ""
             : "The trim may reach its limit before the target: find why fuel is "
               "taken away at idle.",
        "total trim %+.1f %%: the target lies at %+.1f %%, some ECUs stop at %.0f", total_pct, at,
        nearest_limit_pct);
}

struct oxl_check oxl_grade_frozen_trim(bool closed_loop, enum oxl_sensor_kind front)
{
    /* A switching front makes the trim dither; a wide-range one may hold it in a steady idle. */
    bool steady = closed_loop && front == OXL_SENSOR_WIDE;
    return oxl_grade_line("trim-frozen", steady ? OXL_GRADE_UNKNOWN : OXL_GRADE_CAUTION,
                          steady ? "Steady, or frozen at idle: rev once; it must move."
                                 : "Not in closed loop, or frozen: warm up, try 2000-2500 rpm.",
                          "the short-term trim is exactly 0 and did not move");
}
