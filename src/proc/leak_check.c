/* Leak check: the technician covers the suspected place and uncovers it again; a leak shows as a
 * change of the rear sensor or the trims that comes and goes with the cover (measure/change.c).
 * Between runs only, never by itself, and nothing waits for a key. */
#include "proc.h"

#include <stdio.h>

/* Each phase leaves time for the hand and for the converter's store; the last ten seconds of each
 * are compared. A leak ahead of a full converter shows only as rich gas slips through. */
static const double phase_s[] = {14.0, 20.0, 20.0};
static const double compared_s = 10.0;
/* A converter that a run has filled lets the rear come back from lean by itself: it is waited for,
 * but not for ever. */
static const double settle_limit_s = 75.0, settled_v = 0.05, settled_lambda = 0.005;
/* Less says nothing: rear 0.08 V, wide-range rear 0.01, trims 2.5 %. */
static const double least_v = 0.08, least_lambda = 0.01, least_trim_pct = 2.5;

static void begin(struct oxl_proc *p, enum oxl_leak_phase ph)
{
    p->leak.phase = ph;
    p->leak.phase_us[ph] = p->now_us;
}

static void phase(struct oxl_proc *p, enum oxl_leak_phase ph, enum oxl_advice say)
{
    begin(p, ph);
    oxl_proc_tell(p, say);
}

void oxl_leak_enter(struct oxl_proc *p)
{
    p->leak.wanted = false;
    begin(p, OXL_LEAK_BEFORE);
    oxl_gas_wait(p, OXL_ADV_LEAK_STEADY);
}

int64_t oxl_leak_due(const struct oxl_proc *p)
{
    if (p->leak.phase == OXL_LEAK_BEFORE && p->gas.hold_us)
        return oxl_gas_hold_due(p);
    double s = p->leak.phase == OXL_LEAK_BEFORE ? settle_limit_s : phase_s[p->leak.phase];
    return p->leak.phase_us[p->leak.phase] + OXL_S_US(s);
}

double oxl_leak_left_s(const struct oxl_proc *p, int64_t now_us)
{
    enum oxl_leak_phase ph = p->leak.phase;
    if (ph == OXL_LEAK_BEFORE && p->gas.hold_us)
        return NAN;
    return fmax(0, phase_s[ph] - (double)(now_us - p->leak.phase_us[ph]) / 1e6);
}

static int64_t window_start(const struct oxl_proc *p, enum oxl_leak_phase ph)
{
    if (ph == OXL_LEAK_BEFORE) /* it ended when it was steady */
        return p->leak.phase_us[OXL_LEAK_COVERED] - OXL_S_US(compared_s);
    return p->leak.phase_us[ph] + OXL_S_US(phase_s[ph] - compared_s);
}

static struct oxl_change change_of(const struct oxl_proc *p, struct oxl_trace t, double least)
{
    return oxl_find_change(t, window_start(p, OXL_LEAK_BEFORE), window_start(p, OXL_LEAK_COVERED),
                           window_start(p, OXL_LEAK_AFTER), OXL_S_US(compared_s), least);
}

/* Idle speed that moved between the phases moves everything else. */
static bool engine_steady(const struct oxl_proc *p)
{
    struct oxl_window_stats rpm =
        oxl_trace_window(oxl_proc_trace(p, OXL_Q_RPM), window_start(p, OXL_LEAK_BEFORE), p->now_us);
    return rpm.count < 2 || rpm.max - rpm.min <= p->profile.rpm_band;
}

static void report(struct oxl_proc *p, const struct oxl_change *rear, const struct oxl_change *trim,
                   bool found, bool clear)
{
    char id[24], text[96], rear_text[40] = "rear not known";
    bool volts = p->pair.rear_kind == OXL_SENSOR_SWITCHING;
    if (rear->known)
        snprintf(rear_text, sizeof rear_text, volts ? "rear %+.2f V" : "rear %+.3f lambda",
                 rear->by);
    snprintf(id, sizeof id, "leak-check-%u", p->leak.done);
    if (trim->known)
        snprintf(text, sizeof text, "%s, trims %+.1f %% while covered; seen from %.2f and %.1f on",
                 rear_text, trim->by, rear->needs, trim->needs);
    else
        snprintf(text, sizeof text, "%s while covered", rear_text);
    oxl_proc_check(p, id,
                   found    ? OXL_GRADE_STOP
                   : !clear ? OXL_GRADE_UNKNOWN
                            : OXL_GRADE_PASS,
                   text,
                   found    ? "Repair the leak there, then test again."
                   : !clear ? "The signals moved by themselves: repeat the leak check."
                            : "");
}

/* A leak that is proven ends the test: until it is repaired no further run says anything. */
static void leave(struct oxl_proc *p)
{
    if (oxl_reasons_has(p->kept.reasons, OXL_R_LEAK_FOUND)) {
        oxl_proc_enter(p, OXL_STATE_DONE);
        return;
    }
    bool whole = oxl_kept_wanted(p) && !oxl_run_is_deeper(p);
    /* What else is to be asked before the end is recovery's. */
    oxl_proc_enter(p, p->leak.back_to_end || whole ? OXL_STATE_RECOVERY : OXL_STATE_BASELINE);
}

static void judge(struct oxl_proc *p)
{
    size_t n = oxl_proc_trim_window(p, window_start(p, OXL_LEAK_BEFORE), p->now_us);
    struct oxl_trace trims = {p->trim, n};
    double least = p->pair.rear_kind == OXL_SENSOR_SWITCHING ? least_v : least_lambda;
    struct oxl_change rear = change_of(p, oxl_proc_rear(p), least);
    struct oxl_change trim = change_of(p, trims, least_trim_pct);
    /* A leak moves the rear between lean and rich. A comparison too coarse for that has not looked.
     */
    bool clear = engine_steady(p) && rear.known && rear.needs <= 5 * least;
    bool found = engine_steady(p) && (rear.changed || trim.changed);
    p->leak.done++;
    p->leak.clear = p->leak.clear || found || clear;
    report(p, &rear, &trim, found, clear);
    if (found || (clear && !oxl_reasons_has(p->kept.reasons, OXL_R_LEAK_FOUND)))
        oxl_kept_reason(p, found ? OXL_R_LEAK_FOUND : OXL_R_LEAK_NOT_FOUND);
    if (found) /* one place found outweighs any number of tight ones */
        oxl_kept_reasons_are(p, OXL_REASON_BIT(OXL_R_LEAK_NOT_FOUND), false);
    oxl_proc_tell(p, found ? OXL_ADV_LEAK_YES : clear ? OXL_ADV_LEAK_NO : OXL_ADV_LEAK_UNCLEAR);
    leave(p);
}

/* Gas would move the rear by itself. */
static bool waits_for_gas(struct oxl_proc *p)
{
    if (p->leak.phase != OXL_LEAK_BEFORE || !oxl_gas_holds(p))
        return p->state != OXL_STATE_LEAK_CHECK;
    p->leak.phase_us[OXL_LEAK_BEFORE] = p->now_us;
    return true;
}

void oxl_leak_data(struct oxl_proc *p, const struct oxl_sample *s)
{
    if (waits_for_gas(p))
        return;
    if (p->leak.phase != OXL_LEAK_BEFORE || !oxl_channel_same(s->channel, p->pair.rear) ||
        p->now_us - p->leak.phase_us[OXL_LEAK_BEFORE] < OXL_S_US(phase_s[OXL_LEAK_BEFORE]))
        return;
    struct oxl_window_stats w = oxl_proc_last(p, oxl_proc_rear(p), compared_s);
    double settled = p->pair.rear_kind == OXL_SENSOR_SWITCHING ? settled_v : settled_lambda;
    /* Lean and still after a run is not where it rested before. */
    bool back = !p->base.known || fabs(w.mean - p->base.rear_level) < 4 * settled;
    if (back && w.count > 5 && w.sd < settled && fabs(w.slope_per_s) * compared_s < 2 * settled)
        phase(p, OXL_LEAK_COVERED, OXL_ADV_LEAK_COVER);
}

/* Gas that was to be gone by now: the end, or a cut that was seen. */
static void hold_over(struct oxl_proc *p)
{
    if (!oxl_gas_gave_up(p))
        p->leak.phase_us[OXL_LEAK_BEFORE] = p->now_us;
}

void oxl_leak_time(struct oxl_proc *p)
{
    if (p->leak.phase == OXL_LEAK_BEFORE && p->now_us >= oxl_gas_hold_due(p))
        hold_over(p);
    else if (p->leak.phase == OXL_LEAK_BEFORE)
        phase(p, OXL_LEAK_COVERED, OXL_ADV_LEAK_COVER);
    else if (p->leak.phase == OXL_LEAK_COVERED)
        phase(p, OXL_LEAK_AFTER, OXL_ADV_LEAK_UNCOVER);
    else
        judge(p);
}

void oxl_leak_give_up(struct oxl_proc *p)
{
    oxl_proc_tell(p, OXL_ADV_LEAK_UNCLEAR);
    leave(p);
}

void oxl_leak_cancel(struct oxl_proc *p)
{
    p->leak.wanted = false;
}

void oxl_leak_then_end(struct oxl_proc *p, bool end)
{
    p->leak.back_to_end = end;
}

bool oxl_leak_worth(const struct oxl_proc *p)
{
    const unsigned most_unclear = 2;
    return !p->leak.clear && p->leak.done < most_unclear;
}

void oxl_leak_ask(struct oxl_proc *p)
{
    bool calm = p->state == OXL_STATE_BASELINE || (p->state == OXL_STATE_ENRICHMENT &&
                                                   !p->run.shift_start_us && !p->run.front_rich_us);
    p->leak.wanted = true;
    if (p->state == OXL_STATE_LEAK_CHECK) { /* again from the start */
        oxl_proc_enter(p, OXL_STATE_LEAK_CHECK);
    } else if (calm && !p->link.lost_us) {
        p->leak.back_to_end = false;
        oxl_proc_enter(p, OXL_STATE_LEAK_CHECK);
    } else {
        oxl_proc_note(p, OXL_ADV_LEAK_LATER); /* what the hand has to do stands */
    }
}
