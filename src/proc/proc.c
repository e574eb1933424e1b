#include "proc.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* How long a lost link may stay lost before the test is given up. */
#define LINK_PATIENCE_US OXL_S_US(60.0)

struct state_row {
    void (*enter)(struct oxl_proc *p);
    void (*data)(struct oxl_proc *p, const struct oxl_sample *s);
    void (*time)(struct oxl_proc *p);
    int64_t (*due)(const struct oxl_proc *p);
    void (*now_key)(struct oxl_proc *p);
    enum oxl_focus focus;
    bool in_run;  /* a lost link voids the run */
    bool guarded; /* a restart goes back to the baseline */
};

static const struct state_row table[OXL_STATE_COUNT] = {
    [OXL_STATE_PRECHECK] = {oxl_precheck_enter, oxl_precheck_data, oxl_precheck_time,
                            oxl_precheck_due, oxl_precheck_pass, OXL_FOCUS_ALL, false, false},
    [OXL_STATE_BASELINE] = {oxl_baseline_enter, oxl_baseline_data, oxl_baseline_time,
                            oxl_baseline_due, oxl_baseline_pass, OXL_FOCUS_ALL, false, true},
    [OXL_STATE_ENRICHMENT] = {oxl_enrich_enter, oxl_enrich_data, oxl_enrich_time, oxl_enrich_due,
                              oxl_enrich_cut, OXL_FOCUS_TRIMS, true, true},
    [OXL_STATE_RELEASE] = {oxl_release_enter, oxl_release_data, oxl_release_time, oxl_release_due,
                           NULL, OXL_FOCUS_TIMING, true, true},
    [OXL_STATE_TIMING] = {oxl_timing_enter, oxl_timing_data, oxl_timing_time, oxl_timing_due, NULL,
                          OXL_FOCUS_TIMING, true, true},
    [OXL_STATE_RECOVERY] = {oxl_recovery_enter, oxl_recovery_data, oxl_recovery_time,
                            oxl_recovery_due, NULL, OXL_FOCUS_ALL, false, true},
    [OXL_STATE_DONE] = {oxl_done_enter, NULL, NULL, NULL, NULL, OXL_FOCUS_ALL, false, false},
    [OXL_STATE_STOPPED] = {NULL, NULL, NULL, NULL, NULL, OXL_FOCUS_ALL, false, false},
    [OXL_STATE_LEAK_CHECK] = {oxl_leak_enter, oxl_leak_data, oxl_leak_time, oxl_leak_due, NULL,
                              OXL_FOCUS_ALL, false, true},
};

bool oxl_proc_init(struct oxl_proc *p, const struct oxl_session_config *config, void *ctx,
                   void (*emit)(void *ctx, const struct oxl_event *ev))
{
    memset(p, 0, sizeof *p);
    p->profile = config->profile;
    p->profile_given = config->profile_given;
    p->profile_fixed = config->profile_fixed;
    p->no_identity = config->no_identity;
    p->bank = config->bank ? config->bank : 1;
    p->runs_wanted = config->runs;
    p->imported = config->imported.on;
    p->resampled = config->imported.resampled;
    p->row_us = config->imported.row_us;
    if (p->imported) {
        p->runs_wanted = config->runs ? config->runs : OXL_PROC_MAX_RUNS;
        p->facts.reasons = OXL_REASON_BIT(OXL_R_IMPORTED);
    }
    p->ctx = ctx;
    p->emit = emit;
    p->advice = OXL_ADV_COUNT;
    p->gates_ok_since_us = INT64_MAX;
    p->run_used = true;
    p->front_ramp_s = p->rest_lambda = NAN;
    p->front_proof.lowest = p->front_proof.highest = p->front_proof.fall_s = NAN;
    p->rear_proof = p->front_proof;
    oxl_gas_start(p);
    p->series = oxl_series_new(OXL_SERIES_KEEP);
    p->trim = calloc(OXL_PROC_TRIM_POINTS, sizeof *p->trim);
    return p->series && p->trim;
}

void oxl_proc_close(struct oxl_proc *p)
{
    oxl_series_free(p->series);
    free(p->trim);
    p->series = NULL;
    p->trim = NULL;
}

bool oxl_proc_over(const struct oxl_proc *p)
{
    return p->state == OXL_STATE_DONE || p->state == OXL_STATE_STOPPED;
}

enum oxl_focus oxl_proc_focus(const struct oxl_proc *p)
{
    return table[p->state].focus;
}

void oxl_proc_enter(struct oxl_proc *p, enum oxl_state state)
{
    p->state = state;
    p->entered_us = p->now_us;
    p->advice = OXL_ADV_COUNT;
    p->gas.hold_us = p->gas.drip_us = 0;
    if (state == OXL_STATE_BASELINE && p->run_used) {
        p->run++;
        p->run_used = false;
    }
    struct oxl_event ev = {.kind = OXL_EV_STATE, .t_us = p->now_us};
    ev.u.state.state = state;
    ev.u.state.run = p->run;
    p->emit(p->ctx, &ev);
    if (table[state].enter)
        table[state].enter(p);
}

/* What asks somebody to do something; a table cannot. */
static bool is_cue(enum oxl_advice a)
{
    switch (a) {
    case OXL_ADV_FRONT_LEAN:
    case OXL_ADV_REAR_LEAN:
    case OXL_ADV_REAR_HELD:
    case OXL_ADV_RUN_INVALID:
    case OXL_ADV_DEPTH_UNKNOWN:
    case OXL_ADV_UNSUITABLE:
    case OXL_ADV_FINISHED:
    case OXL_ADV_ABORTED:
        return false;
    default:
        return true;
    }
}

void oxl_proc_say(struct oxl_proc *p, enum oxl_advice advice, const char *fmt, ...)
{
    if (p->advice == advice || (p->imported && is_cue(advice)))
        return;
    p->advice = advice;
    p->advice_us = p->now_us;
    struct oxl_event ev = {.kind = OXL_EV_ADVICE, .t_us = p->now_us};
    ev.u.advice.advice = advice;
    va_list args;
    va_start(args, fmt);
    vsnprintf(ev.u.advice.detail, sizeof ev.u.advice.detail, fmt, args);
    va_end(args);
    p->emit(p->ctx, &ev);
}

void oxl_proc_note(struct oxl_proc *p, enum oxl_advice advice)
{
    struct oxl_event ev = {.kind = OXL_EV_ADVICE, .t_us = p->now_us};
    ev.u.advice.advice = advice;
    p->emit(p->ctx, &ev);
}

void oxl_proc_check(struct oxl_proc *p, const char *id, enum oxl_grade grade, const char *found,
                    const char *advice)
{
    struct oxl_event ev = {.kind = OXL_EV_CHECK, .t_us = p->now_us};
    snprintf(ev.u.check.id, sizeof ev.u.check.id, "%s", id);
    snprintf(ev.u.check.found, sizeof ev.u.check.found, "%s", found);
    snprintf(ev.u.check.advice, sizeof ev.u.check.advice, "%s", advice);
    ev.u.check.grade = grade;
    p->emit(p->ctx, &ev);
}

void oxl_proc_mark(struct oxl_proc *p, const char *text)
{
    struct oxl_event ev = {.kind = OXL_EV_MARK, .t_us = p->now_us};
    snprintf(ev.u.mark.text, sizeof ev.u.mark.text, "%s", text);
    p->emit(p->ctx, &ev);
}

void oxl_proc_sample(struct oxl_proc *p, const struct oxl_sample *s, int64_t t_us)
{
    p->now_us = t_us;
    if (oxl_proc_over(p) || !oxl_series_push(p->series, s))
        return;
    if (p->surveyed) {
        oxl_gas_data(p, s);
        oxl_engine_data(p, s);
        oxl_proof_data(p, s);
        oxl_banks_data(p, s);
    }
    if (oxl_proc_over(p))
        return;
    if (table[p->state].data)
        table[p->state].data(p, s);
}

int64_t oxl_proc_due_us(const struct oxl_proc *p)
{
    if (oxl_proc_over(p))
        return INT64_MAX;
    int64_t due = table[p->state].due ? table[p->state].due(p) : INT64_MAX;
    if (p->link_lost_us && p->link_lost_us + LINK_PATIENCE_US < due)
        due = p->link_lost_us + LINK_PATIENCE_US;
    return due;
}

void oxl_proc_tick(struct oxl_proc *p, int64_t t_us)
{
    if (oxl_proc_over(p) || t_us < oxl_proc_due_us(p))
        return;
    p->now_us = t_us;
    if (p->link_lost_us && t_us >= p->link_lost_us + LINK_PATIENCE_US) {
        if (oxl_deeper_give_up(p))
            return;
        oxl_proc_stop(p, OXL_ERR_LINK_LOST,
                      "The link was lost and did not come back: check plug, adapter and ignition.");
        return;
    }
    table[p->state].time(p);
}

/* A new converter is not seen in the data: the technician says it, or takes it back. */
static void said_new(struct oxl_proc *p)
{
    p->facts.reasons ^= OXL_REASON_BIT(OXL_R_NEW_CONVERTER);
    bool is = oxl_reasons_has(p->facts.reasons, OXL_R_NEW_CONVERTER);
    oxl_proc_check(p, "converter", is ? OXL_GRADE_CAUTION : OXL_GRADE_PASS,
                   is ? "new, as the technician says" : "not new, as the technician says",
                   is ? oxl_reason_next(OXL_R_NEW_CONVERTER) : "");
}

/* Before that nothing is lost: the run begins anew under its own number. */
static bool gas_was_seen(const struct oxl_proc *p)
{
    bool waits = p->state == OXL_STATE_ENRICHMENT && !p->shift_start_us &&
                 !oxl_proc_lasted(p, p->front_rich_us, 1.0);
    return table[p->state].in_run && !waits;
}

/* One key must not end a test by accident while gas flows: it is asked for once more. The run goes
 * on meanwhile. */
static void abort_key(struct oxl_proc *p)
{
    const double again_s = 5.0;
    bool again = p->abort_us && p->now_us - p->abort_us <= OXL_S_US(again_s);
    if (table[p->state].in_run && !again) {
        p->abort_us = p->now_us;
        oxl_proc_note(p, OXL_ADV_ABORT_AGAIN);
        return;
    }
    oxl_proc_stop(p, OXL_ERR_STOPPED, "Stopped by the technician.");
}

static void restart_key(struct oxl_proc *p)
{
    if (!table[p->state].guarded)
        return;
    if (gas_was_seen(p)) {
        bool deeper = p->deeper.on;
        oxl_proc_void_run(p, OXL_R_RESTARTED);
        p->deeper.on = deeper;
    }
    oxl_proc_note(p, OXL_ADV_RESTARTED); /* before what the hand has to do now */
    oxl_proc_enter(p, OXL_STATE_BASELINE);
}

void oxl_proc_key(struct oxl_proc *p, enum oxl_key key, int64_t t_us)
{
    p->now_us = t_us;
    if (oxl_proc_over(p))
        return;
    switch (key) {
    case OXL_KEY_NOW:
        if (table[p->state].now_key)
            table[p->state].now_key(p);
        else
            oxl_proc_mark(p, "now");
        break;
    case OXL_KEY_MARK:
        oxl_proc_mark(p, "mark");
        break;
    case OXL_KEY_ABORT:
        abort_key(p);
        break;
    case OXL_KEY_END:
        oxl_proc_stop(p, OXL_ERR_STOPPED, "%s", p->outside[0] ? p->outside : "Ended from outside.");
        break;
    case OXL_KEY_RESTART:
        restart_key(p);
        break;
    case OXL_KEY_LEAK:
        oxl_leak_ask(p);
        break;
    case OXL_KEY_DEEPER:
        oxl_deeper_key(p);
        break;
    case OXL_KEY_NEW:
        said_new(p);
        break;
    case OXL_KEY_NONE:
        break;
    }
}

void oxl_proc_table_end(struct oxl_proc *p, int64_t t_us)
{
    p->now_us = t_us;
    if (oxl_proc_over(p))
        return;
    if (table[p->state].in_run && (p->shift_start_us || p->cut_us))
        oxl_proc_void_run(p, OXL_R_TABLE_ENDS);
    if (p->runs_n > 0)
        oxl_proc_enter(p, OXL_STATE_DONE);
    else
        oxl_proc_stop(p, OXL_ERR_STOPPED,
                      "No test was found in the table: it needs a steady baseline, gas until the "
                      "trims have moved, and a release.");
}

/* A stall is only said; a lost link voids the run in progress, since what happened in the gap
 * cannot be known. */
static void link_lost(struct oxl_proc *p)
{
    p->link_lost_us = p->now_us;
    if (table[p->state].in_run) {
        oxl_proc_void_run(p, OXL_R_LINK_LOST);
        oxl_proc_enter(p, OXL_STATE_RECOVERY); /* says what the valve is to do */
    } else if (p->state == OXL_STATE_LEAK_CHECK) {
        oxl_leak_give_up(p);
    }
    if (!oxl_proc_over(p)) /* it was the last thing that was wanted */
        oxl_proc_say(p, OXL_ADV_LINK_TROUBLE, "%s", "shut the gas until data come back");
}

/* What the hand has to do is said again. */
static void link_back(struct oxl_proc *p)
{
    p->link_lost_us = 0;
    oxl_proc_note(p, OXL_ADV_LINK_BACK);
    p->advice = OXL_ADV_COUNT;
    if (p->state == OXL_STATE_ENRICHMENT)
        oxl_enrich_say_open(p);
    else if (p->state == OXL_STATE_RELEASE)
        oxl_proc_say(p, OXL_ADV_CUT, "%s", "");
    else
        oxl_gas_say_shut(p);
}

void oxl_proc_link(struct oxl_proc *p, enum oxl_link_state link, const char *text, int64_t t_us)
{
    p->now_us = t_us;
    enum oxl_link_state before = p->link;
    p->link = link;
    if (oxl_proc_over(p))
        return;
    if (link == OXL_LINK_NO_ADAPTER || link == OXL_LINK_NO_VEHICLE) {
        oxl_proc_stop(p, link == OXL_LINK_NO_ADAPTER ? OXL_ERR_NO_ADAPTER : OXL_ERR_NO_VEHICLE,
                      "%s", text);
        return;
    }
    if (!p->surveyed)
        return;
    if (link == OXL_LINK_LOST || link == OXL_LINK_CLOSED) {
        if (!p->link_lost_us)
            link_lost(p);
    } else if (link == OXL_LINK_STALLED) {
        oxl_proc_say(p, OXL_ADV_LINK_TROUBLE, "%s", "");
    } else if (link == OXL_LINK_READY && (p->link_lost_us || before == OXL_LINK_STALLED)) {
        link_back(p);
    }
}

void oxl_proc_vehicle(struct oxl_proc *p, const struct oxl_vehicle *v, int64_t t_us)
{
    p->now_us = t_us;
    p->vehicle = v;
    if (p->surveyed || !v->survey_done || oxl_proc_over(p))
        return;
    p->surveyed = true;
    p->pair = oxl_vehicle_pair(v, p->bank);
    /* Two banks with a rear sensor each have a converter each; a shared rear means one. */
    struct oxl_pair other = oxl_vehicle_pair(v, p->bank == 1 ? 2 : 1);
    p->air_share = other.front_kind != OXL_SENSOR_NONE && other.rear_kind != OXL_SENSOR_NONE &&
                           !oxl_channel_same(other.rear, p->pair.rear)
                       ? 0.5
                       : 1.0;
    p->has_ltft = oxl_supports(&v->support, p->bank == 1 ? 0x07 : 0x09);
    oxl_banks_survey(p);
    oxl_precheck_survey(p);
}
