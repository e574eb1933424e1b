/* Precheck: is this vehicle, as it stands, fit for the test? Conditions that come with time
 * (warmth, closed loop) are gates that open by themselves; the technician may pass them on purpose,
 * and that is recorded. What each line says, and how grave it is, is the grade room's
 * (oxylag/grade.h). */
#include "proc.h"

#include <stdio.h>

/* All gates must have stood open this long. */
#define GATES_STEADY_US OXL_S_US(1.0)
/* A supported PID without an answer for this long does not hold the test up. */
#define PID_PATIENCE_US OXL_S_US(15.0)

static const struct gate_row {
    enum oxl_advice wait;
    bool holds; /* a stop grade holds the test up */
} gates[OXL_GATE_COUNT] = {
    [OXL_GATE_COOLANT] = {OXL_ADV_WAIT_WARM, true},
    [OXL_GATE_RUN_TIME] = {OXL_ADV_WAIT_WARM, true},
    [OXL_GATE_CAT_TEMP] = {OXL_ADV_WAIT_WARM, true},
    [OXL_GATE_CLOSED_LOOP] = {OXL_ADV_WAIT_CLOSED_LOOP, true},
    [OXL_GATE_STILL] = {OXL_ADV_STAND_STILL, true},
    [OXL_GATE_ENGINE] = {OXL_ADV_START_ENGINE, true},
    [OXL_GATE_SECONDARY_AIR] = {OXL_ADV_SECONDARY_AIR, true},
    [OXL_GATE_TRIMS] = {OXL_ADV_STEADY, false},
};

/* Time to read a line that says stop and to pass it by hand. */
static const double stop_patience_s = 120.0;

struct oxl_grade_facts oxl_precheck_facts(const struct oxl_proc *p)
{
    return (struct oxl_grade_facts){.bank = p->bank,
                                    .vehicle = p->vehicle,
                                    .profile = &p->profile,
                                    .pair = p->pair,
                                    .no_identity = p->no_identity,
                                    .imported = p->imported};
}

void oxl_precheck_say(const struct oxl_proc *p, const struct oxl_check *c)
{
    oxl_proc_check(p, c->id, c->grade, c->found, c->advice);
}

/* NAN until it was answered. The sum of the trims is known when both are. */
static double gate_value(const struct oxl_proc *p, enum oxl_gate g, double *ltft)
{
    *ltft = NAN;
    if (g == OXL_GATE_TRIMS && p->has_ltft) {
        *ltft = oxl_proc_latest(p, OXL_Q_LTFT_PCT, OXL_S_US(10));
        if (!oxl_known(*ltft))
            return NAN;
    }
    return oxl_proc_latest(p, oxl_gate_quantity(g), OXL_S_US(15));
}

static void look_at_gate(struct oxl_proc *p, enum oxl_gate g)
{
    double ltft, value = gate_value(p, g, &ltft);
    if (!oxl_known(value))
        return;
    const struct oxl_grade_facts f = oxl_precheck_facts(p);
    struct oxl_check c =
        g == OXL_GATE_TRIMS ? oxl_grade_trims(&f, value, ltft) : oxl_grade_gate(&f, g, value);
    if (!p->gates.known[g] || c.grade != p->gates.grade[g])
        oxl_precheck_say(p, &c);
    p->gates.known[g] = true;
    p->gates.grade[g] = c.grade;
}

static bool gate_closed(const struct oxl_proc *p, enum oxl_gate g)
{
    if (!gates[g].holds || !oxl_supports(&p->vehicle->support, oxl_gate_pid(g, p->bank)))
        return false;
    if (!p->gates.known[g])
        return p->now_us < p->entered_us + PID_PATIENCE_US;
    return p->gates.grade[g] == OXL_GRADE_STOP;
}

/* The engine has just stopped with gas on: that stands until it was read. */
static bool still_says_shut(const struct oxl_proc *p)
{
    const double read_s = 8.0;
    return p->advice == OXL_ADV_ENGINE_STOPPED && !oxl_proc_lasted(p, p->advice_us, read_s);
}

/* What holds the test up, in one line. What is not yet known gives no advice. */
static void say_what_holds(struct oxl_proc *p)
{
    if (still_says_shut(p))
        return;
    if (oxl_gas_may_flow(p) && p->gates.grade[OXL_GATE_ENGINE] != OXL_GRADE_STOP) {
        oxl_gas_say_shut(p); /* it turns again, and gas may still be on */
        return;
    }
    if (p->gates.stop.id[0]) {
        oxl_proc_say(p, OXL_ADV_CHECK_STOPS, "%s", "");
        return;
    }
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++)
        if (p->gates.known[g] && gate_closed(p, (enum oxl_gate)g)) {
            oxl_proc_say(p, gates[g].wait, "%s", "");
            return;
        }
}

/* No gate, and never passed: without both there is nothing to see. */
static bool sensors_live(const struct oxl_proc *p)
{
    return oxl_proc_sensors_live(p, PID_PATIENCE_US);
}

static void update_gates(struct oxl_proc *p)
{
    bool held = p->gates.stop.id[0] != '\0' || !sensors_live(p);
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++) {
        look_at_gate(p, (enum oxl_gate)g);
        held = held || gate_closed(p, (enum oxl_gate)g);
    }
    if (held) {
        p->gates.open_us = INT64_MAX;
        say_what_holds(p);
    } else if (p->gates.open_us == INT64_MAX) {
        p->gates.open_us = p->now_us;
    }
}

void oxl_precheck_hold(struct oxl_proc *p, const struct oxl_check *c)
{
    p->gates.stop = *c;
    p->gates.stop_us = p->now_us;
}

void oxl_precheck_enter(struct oxl_proc *p)
{
    p->gates.open_us = INT64_MAX;
    if (!p->surveyed)
        oxl_proc_say(p, OXL_ADV_CONNECTING, "%s", "");
}

static void start(struct oxl_proc *p)
{
    const struct oxl_grade_facts f = oxl_precheck_facts(p);
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++)
        if (!p->gates.known[g]) {
            struct oxl_check c = oxl_grade_gate(&f, (enum oxl_gate)g, NAN);
            oxl_precheck_say(p, &c);
        }
    oxl_precheck_say_refresh(p);
    oxl_proc_enter(p, p->leak.wanted ? OXL_STATE_LEAK_CHECK : OXL_STATE_BASELINE);
}

void oxl_precheck_data(struct oxl_proc *p, const struct oxl_sample *s)
{
    (void)s;
    if (!p->surveyed)
        return;
    update_gates(p);
    if (p->gates.open_us != INT64_MAX && p->now_us - p->gates.open_us >= GATES_STEADY_US)
        start(p);
}

/* Alone: a gate that is shut as well is passed by a press of its own. */
static void pass_stop(struct oxl_proc *p)
{
    char text[96];
    snprintf(text, sizeof text, "overridden: %.80s", p->gates.stop.found);
    oxl_proc_mark(p, text);
    p->gates.stop.id[0] = '\0';
    oxl_kept_reason(p, OXL_R_OVERRIDDEN);
    oxl_proc_say(p, OXL_ADV_OVERRIDE, "%s", "");
}

void oxl_precheck_pass(struct oxl_proc *p)
{
    unsigned closed = 0;
    if (!p->surveyed)
        return;
    if (!sensors_live(p)) {
        oxl_proc_mark(p, "now (front or rear sensor has given no value yet)");
        return;
    }
    if (p->gates.stop.id[0]) {
        pass_stop(p);
        return;
    }
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++)
        if (gate_closed(p, (enum oxl_gate)g)) {
            char text[96];
            snprintf(text, sizeof text, "overridden: %s", oxl_gate_name((enum oxl_gate)g));
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

int64_t oxl_precheck_stop_due(const struct oxl_proc *p)
{
    return p->gates.stop.id[0] ? p->gates.stop_us + OXL_S_US(stop_patience_s) : INT64_MAX;
}

int64_t oxl_precheck_due(const struct oxl_proc *p)
{
    if (!p->surveyed || p->imported)
        return INT64_MAX;
    return oxl_earlier_us(p->entered_us + OXL_S_US(p->profile.baseline_limit_s),
                          oxl_earlier_us(loop_due(p), oxl_precheck_stop_due(p)));
}

void oxl_precheck_time(struct oxl_proc *p)
{
    if (p->now_us >= oxl_precheck_stop_due(p)) {
        oxl_proc_stop(p, OXL_ERR_UNSUITABLE, "\"%s\" says stop: %s", p->gates.stop.found,
                      p->gates.stop.advice);
        return;
    }
    if (p->now_us >= loop_due(p)) {
        oxl_proc_stop(p, OXL_ERR_UNSUITABLE,
                      "No closed loop for %.0f s in a warm engine. See the trouble codes, then "
                      "test again.",
                      oxl_precheck_loop_patience_s(p));
        return;
    }
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++)
        if (gate_closed(p, (enum oxl_gate)g)) {
            oxl_proc_stop(p, OXL_ERR_UNSUITABLE, "Waited %.0f s for \"%s\": %s",
                          p->profile.baseline_limit_s, oxl_gate_name((enum oxl_gate)g),
                          g == OXL_GATE_CLOSED_LOOP
                              ? "no closed loop. See the trouble codes, then test again."
                              : "the engine is not ready. Fix that, then test again.");
            return;
        }
    if (!sensors_live(p)) {
        oxl_proc_stop(
            p, OXL_ERR_UNSUITABLE,
            "No value of the front or rear sensor for %.0f s. See their wiring and trouble "
            "codes.",
            p->profile.baseline_limit_s);
        return;
    }
    oxl_proc_stop(p, OXL_ERR_STOPPED, "No live data for %.0f s: check connector and ignition.",
                  p->profile.baseline_limit_s);
}
