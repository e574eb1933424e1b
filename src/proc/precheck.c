/* Precheck: is this vehicle, as it stands, fit for the test? Each line: pass, caution or stop,
 * with what to do. Conditions that come with time (warmth, closed loop) are gates that open by
 * themselves; the technician may pass them on purpose, and that is recorded. */
#include "proc.h"

#include <stdio.h>

/* All gates must have stood open this long. */
#define GATES_STEADY_US OXL_S_US(1.0)
/* A supported item that has not been heard of for this long does not hold the test up. */
#define ITEM_PATIENCE_US OXL_S_US(15.0)

static const struct gate_row {
    const char *id;
    enum oxl_quantity quantity;
    uint8_t item; /* service 01 item; 0 = by bank */
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

static const double least_rpm = 400; /* turning by itself; a starter gives about 200 */

static uint8_t gate_item(const struct oxl_proc *p, enum oxl_gate g)
{
    if (g == OXL_GATE_TRIMS)
        return p->bank == 1 ? 0x06 : 0x08;
    if (g == OXL_GATE_CAT_TEMP) /* 3C B1S1, 3D B2S1 */
        return p->bank == 1 ? 0x3C : 0x3D;
    return gates[g].item;
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
        return grade_minimum(v, least_rpm, "engine speed", "rpm", "Start the engine.");
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
        return p->now_us < p->entered_us + ITEM_PATIENCE_US;
    return p->gate[g] == OXL_GRADE_STOP;
}

static void update_gates(struct oxl_proc *p)
{
    enum oxl_advice wait = OXL_ADV_COUNT;
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
        if (wait == OXL_ADV_COUNT && gate_closed(p, (enum oxl_gate)g))
            wait = gates[g].wait;
    }
    if (wait == OXL_ADV_COUNT) {
        if (p->gates_ok_since_us == INT64_MAX)
            p->gates_ok_since_us = p->now_us;
        return;
    }
    p->gates_ok_since_us = INT64_MAX;
    /* Not yet heard of is no advice to give. */
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++)
        if (p->gate_known[g] && gate_closed(p, (enum oxl_gate)g)) {
            oxl_proc_say(p, gates[g].wait, "%s", "");
            break;
        }
}

void oxl_precheck_enter(struct oxl_proc *p)
{
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

void oxl_precheck_pass(struct oxl_proc *p)
{
    unsigned closed = 0;
    if (!p->surveyed)
        return;
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++)
        if (gate_closed(p, (enum oxl_gate)g)) {
            char text[96];
            snprintf(text, sizeof text, "overridden: %s", gates[g].id);
            oxl_proc_mark(p, text);
            closed++;
        }
    if (closed > 0) {
        p->facts.reasons = oxl_reasons_add(p->facts.reasons, OXL_R_OVERRIDDEN);
        oxl_proc_say(p, OXL_ADV_OVERRIDE, "%s", "");
    }
    start(p);
}

int64_t oxl_precheck_due(const struct oxl_proc *p)
{
    return p->surveyed && !p->imported ? p->entered_us + OXL_S_US(p->profile.baseline_limit_s)
                                       : INT64_MAX;
}

void oxl_precheck_time(struct oxl_proc *p)
{
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
