/* Precheck: is this vehicle, as it stands, fit for the test? Each line: pass, caution or stop,
 * with what to do. Conditions that come with time (warmth, closed loop) are gates that open by
 * themselves; the technician may pass them on purpose, and that is recorded. */
#include "proc.h"

#include <stdio.h>

/* All gates must have stood open this long. */
#define GATES_STEADY_US OXL_S_US(1.0)
/* A supported PID that has not been heard of for this long does not hold the test up. */
#define PID_PATIENCE_US OXL_S_US(15.0)

static const struct gate_row {
    const char *id;
    enum oxl_quantity quantity;
    uint8_t pid; /* service 01 PID; 0 = by bank */
    enum oxl_advice wait;
    bool holds; /* a stop grade holds the test up */
} gates[OXL_GATE_COUNT] = {
    [OXL_GATE_COOLANT] = {"coolant", OXL_Q_COOLANT_C, 0x05, OXL_ADV_WAIT_WARM, true},
    [OXL_GATE_RUN_TIME] = {"run-time", OXL_Q_RUN_TIME_S, 0x1F, OXL_ADV_WAIT_WARM, true},
    [OXL_GATE_CAT_TEMP] = {"catalyst-temperature", OXL_Q_CAT_TEMP_C, 0, OXL_ADV_WAIT_WARM, true},
    [OXL_GATE_CLOSED_LOOP] = {"closed-loop", OXL_Q_FUEL_SYSTEM, 0x03, OXL_ADV_WAIT_CLOSED_LOOP,
                              true},
    [OXL_GATE_STILL] = {"standing-still", OXL_Q_SPEED_KMH, 0x0D, OXL_ADV_STAND_STILL, true},
    [OXL_GATE_ENGINE] = {"engine-runs", OXL_Q_RPM, 0x0C, OXL_ADV_START_ENGINE, true},
    [OXL_GATE_SECONDARY_AIR] = {"secondary-air", OXL_Q_SECONDARY_AIR, 0x12, OXL_ADV_SECONDARY_AIR,
                                true},
    [OXL_GATE_TRIMS] = {"trims", OXL_Q_STFT_PCT, 0, OXL_ADV_STEADY, false},
};

/* Time to read a line that says stop and to pass it by hand. */
static const double stop_patience_s = 120.0;

static uint8_t gate_item(const struct oxl_proc *p, enum oxl_gate g)
{
    if (g == OXL_GATE_TRIMS)
        return p->bank == 1 ? 0x06 : 0x08;
    if (g == OXL_GATE_CAT_TEMP) /* 3C B1S1, 3D B2S1 */
        return p->bank == 1 ? 0x3C : 0x3D;
    return gates[g].pid;
}

struct gate_view {
    enum oxl_grade grade;
    char found[96];
    const char *advice;
};

static struct gate_view grade_minimum(double v, double min, const char *what, const char *unit,
                                      const char *advice)
{
    struct gate_view g = {v >= min ? OXL_GRADE_PASS : OXL_GRADE_STOP, "", v >= min ? "" : advice};
    snprintf(g.found, sizeof g.found, "%s %.0f %s, at least %.0f", what, v, unit, min);
    return g;
}

static struct gate_view grade_closed_loop(double code)
{
    struct gate_view g = {OXL_GRADE_STOP, "",
                          "Wait for closed loop; if it never comes, see the codes."};
    if (oxl_loop_closed(code)) {
        g.grade = OXL_GRADE_PASS;
        g.advice = "";
        snprintf(g.found, sizeof g.found, "closed loop");
    } else if (oxl_loop_closed_with_fault(code)) {
        g.grade = OXL_GRADE_CAUTION;
        g.advice = "A sensor has a fault: see the codes.";
        snprintf(g.found, sizeof g.found, "closed loop with a fault");
    } else {
        snprintf(g.found, sizeof g.found, "open loop (status %.0f)", code);
    }
    return g;
}

static struct gate_view grade_trims(const struct oxl_proc *p, double stft)
{
    double ltft = p->has_ltft ? oxl_proc_latest(p, OXL_Q_LTFT_PCT, OXL_S_US(10)) : 0;
    double total = stft + ltft;
    bool ok = fabs(total) <= p->profile.trim_abs_max_pct;
    struct gate_view g = {ok ? OXL_GRADE_PASS : OXL_GRADE_CAUTION, "",
                          ok ? ""
                             : "A fuelling fault or a leak may be there: less room for the test."};
    snprintf(g.found, sizeof g.found, "total trim %+.1f %%, usual within %.0f", total,
             p->profile.trim_abs_max_pct);
    return g;
}

static struct gate_view grade_secondary_air(double code)
{
    bool on = oxl_secondary_air_on(code);
    struct gate_view g = {on ? OXL_GRADE_STOP : OXL_GRADE_PASS, "",
                          on ? "Wait until the pump is off; if it never stops, see its codes."
                             : ""};
    snprintf(g.found, sizeof g.found, on ? "on (status %.0f)" : "off (status %.0f)", code);
    return g;
}

static struct gate_view view_gate(const struct oxl_proc *p, enum oxl_gate gate, double v)
{
    const struct oxl_profile *f = &p->profile;
    switch (gate) {
    case OXL_GATE_COOLANT:
        return grade_minimum(v, f->coolant_min_c, "coolant", "C", "Warm the engine.");
    case OXL_GATE_RUN_TIME:
        return grade_minimum(v, f->run_time_min_s, "running for", "s", "Let the engine run.");
    case OXL_GATE_CAT_TEMP:
        return grade_minimum(v, f->cat_temp_min_c, "catalyst", "C", "Hold 2000-2500 rpm.");
    case OXL_GATE_CLOSED_LOOP:
        return grade_closed_loop(v);
    case OXL_GATE_TRIMS:
        return grade_trims(p, v);
    case OXL_GATE_ENGINE:
        return grade_minimum(v, OXL_LEAST_RPM, "engine speed", "rpm", "Start the engine.");
    case OXL_GATE_SECONDARY_AIR:
        return grade_secondary_air(v);
    case OXL_GATE_STILL:
    case OXL_GATE_COUNT:
        break;
    }
    struct gate_view g = {v == 0 ? OXL_GRADE_PASS : OXL_GRADE_STOP, "",
                          v == 0 ? "" : "Stand still, brake on."};
    snprintf(g.found, sizeof g.found, "speed %.0f km/h", v);
    return g;
}

static bool gate_closed(const struct oxl_proc *p, enum oxl_gate g)
{
    if (!gates[g].holds || !oxl_supports(&p->vehicle->support, gate_item(p, g)))
        return false;
    if (!p->gate_known[g])
        return p->now_us < p->entered_us + PID_PATIENCE_US;
    return p->gate[g] == OXL_GRADE_STOP;
}

/* The engine has just stopped with gas on: that stands until it was read. */
static bool still_says_shut(const struct oxl_proc *p)
{
    const double read_s = 8.0;
    return p->advice == OXL_ADV_ENGINE_STOPPED && !oxl_proc_lasted(p, p->advice_us, read_s);
}

/* What holds the test up, in one line. Not yet heard of is no advice to give. */
static void say_what_holds(struct oxl_proc *p)
{
    if (still_says_shut(p))
        return;
    if (oxl_gas_may_flow(p) && p->gate[OXL_GATE_ENGINE] != OXL_GRADE_STOP) {
        oxl_gas_say_shut(p); /* it turns again, and gas may still be on */
        return;
    }
    if (p->stop_id) {
        oxl_proc_say(p, OXL_ADV_CHECK_STOPS, "%s", "");
        return;
    }
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++)
        if (p->gate_known[g] && gate_closed(p, (enum oxl_gate)g)) {
            oxl_proc_say(p, gates[g].wait, "%s", "");
            return;
        }
}

static void update_gates(struct oxl_proc *p)
{
    bool held = p->stop_id != NULL;
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++) {
        double v = oxl_proc_latest(p, gates[g].quantity, OXL_S_US(15));
        /* The sum of the trims is known when both are. */
        if (g == OXL_GATE_TRIMS && p->has_ltft &&
            !oxl_known(oxl_proc_latest(p, OXL_Q_LTFT_PCT, OXL_S_US(10))))
            v = NAN;
        if (oxl_known(v)) {
            struct gate_view view = view_gate(p, (enum oxl_gate)g, v);
            if (!p->gate_known[g] || view.grade != p->gate[g])
                oxl_proc_check(p, gates[g].id, view.grade, view.found, view.advice);
            p->gate_known[g] = true;
            p->gate[g] = view.grade;
        }
        held = held || gate_closed(p, (enum oxl_gate)g);
    }
    if (held) {
        p->gates_ok_since_us = INT64_MAX;
        say_what_holds(p);
    } else if (p->gates_ok_since_us == INT64_MAX) {
        p->gates_ok_since_us = p->now_us;
    }
}

void oxl_precheck_hold(struct oxl_proc *p, const char *id, const char *advice)
{
    p->stop_id = id;
    p->stop_advice = advice;
    p->stop_us = p->now_us;
}

void oxl_precheck_enter(struct oxl_proc *p)
{
    p->gates_ok_since_us = INT64_MAX;
    if (!p->surveyed)
        oxl_proc_say(p, OXL_ADV_CONNECTING, "%s", "");
}

static void start(struct oxl_proc *p)
{
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++)
        if (!p->gate_known[g])
            oxl_proc_check(p, gates[g].id, OXL_GRADE_UNKNOWN, "not reported by the vehicle", "");
    oxl_proc_enter(p, p->leak.wanted ? OXL_STATE_LEAK_CHECK : OXL_STATE_BASELINE);
}

void oxl_precheck_data(struct oxl_proc *p, const struct oxl_sample *s)
{
    (void)s;
    if (!p->surveyed)
        return;
    update_gates(p);
    if (p->gates_ok_since_us != INT64_MAX && p->now_us - p->gates_ok_since_us >= GATES_STEADY_US)
        start(p);
}

/* Alone: a gate that is shut as well is passed by a press of its own. */
static void pass_stop(struct oxl_proc *p)
{
    char text[96];
    snprintf(text, sizeof text, "overridden: %s", p->stop_id);
    oxl_proc_mark(p, text);
    p->stop_id = NULL;
    oxl_kept_reason(p, OXL_R_OVERRIDDEN);
    oxl_proc_say(p, OXL_ADV_OVERRIDE, "%s", "");
}

void oxl_precheck_pass(struct oxl_proc *p)
{
    unsigned closed = 0;
    if (!p->surveyed)
        return;
    if (p->stop_id) {
        pass_stop(p);
        return;
    }
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++)
        if (gate_closed(p, (enum oxl_gate)g)) {
            char text[96];
            snprintf(text, sizeof text, "overridden: %s", gates[g].id);
            oxl_proc_mark(p, text);
            closed++;
        }
    if (closed > 0) {
        oxl_kept_reason(p, OXL_R_OVERRIDDEN);
        oxl_proc_say(p, OXL_ADV_OVERRIDE, "%s", "");
    }
    start(p);
}

double oxl_precheck_loop_patience_s(const struct oxl_proc *p)
{
    /* 8: open loop because of a fault (SAE J1979, PID 03): waiting mends nothing. Else a warm
     * engine with heated sensors is there within a minute; common practice, no source. */
    const double fault = 8, fault_s = 10.0, warm_s = 60.0;
    return oxl_proc_latest(p, OXL_Q_FUEL_SYSTEM, INT64_MAX) == fault ? fault_s : warm_s;
}

/* The gates before this one are open when it is the one that is waited for. */
static int64_t loop_due(const struct oxl_proc *p)
{
    return p->advice == OXL_ADV_WAIT_CLOSED_LOOP
               ? p->advice_us + OXL_S_US(oxl_precheck_loop_patience_s(p))
               : INT64_MAX;
}

static int64_t stop_due(const struct oxl_proc *p)
{
    return p->stop_id ? p->stop_us + OXL_S_US(stop_patience_s) : INT64_MAX;
}

int64_t oxl_precheck_due(const struct oxl_proc *p)
{
    if (!p->surveyed || p->imported)
        return INT64_MAX;
    return oxl_earlier_us(p->entered_us + OXL_S_US(p->profile.baseline_limit_s),
                          oxl_earlier_us(loop_due(p), stop_due(p)));
}

void oxl_precheck_time(struct oxl_proc *p)
{
    if (p->now_us >= stop_due(p)) {
        oxl_proc_stop(p, OXL_ERR_UNSUITABLE, "\"%s\" says stop: %s", p->stop_id, p->stop_advice);
        return;
    }
    if (p->now_us >= loop_due(p)) {
        oxl_proc_stop(p, OXL_ERR_UNSUITABLE,
                      "No closed loop for %.0f s in a warm engine. See the "
                      "codes, then test again.",
                      oxl_precheck_loop_patience_s(p));
        return;
    }
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++)
        if (gate_closed(p, (enum oxl_gate)g)) {
            oxl_proc_stop(p, OXL_ERR_UNSUITABLE, "Waited %.0f s for \"%s\": %s",
                          p->profile.baseline_limit_s, gates[g].id,
                          g == OXL_GATE_CLOSED_LOOP
                              ? "no closed loop. See the codes, then test again."
                              : "the engine is not ready. Put that right, then test again.");
            return;
        }
    oxl_proc_stop(p, OXL_ERR_STOPPED, "No live data for %.0f s: check plug and ignition.",
                  p->profile.baseline_limit_s);
}
