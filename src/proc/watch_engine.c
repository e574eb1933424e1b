/* The engine between the gates: how long it has idled, and whether its short-term trim lives. */
#include "proc.h"

#include <stdio.h>

static const double raised_rpm = 1500.0;
static const double raised_for_s = 120.0; /* common practice: two minutes at 2000 to 2500 */
static const double frozen_s = 10.0;

static void note_idle(struct oxl_engine_watch *w, const struct oxl_proc *p, double rpm)
{
    if (!w->idle_us)
        w->idle_us = p->now_us;
    oxl_proc_since(&w->raised_us, rpm >= raised_rpm, p->now_us);
    if (oxl_proc_lasted(p, w->raised_us, raised_for_s))
        w->idle_us = p->now_us;
}

/* A line on CAN carries no checksum, so one reading alone may be damaged there. */
static unsigned readings_needed(const struct oxl_proc *p)
{
    return oxl_protocol_is_can(p->vehicle->protocol) ? 2 : 1;
}

/* An engine that stands draws no air, and on a slow link the meter may say so a second sooner. One
 * that never read more is no witness. */
static bool draws_nothing(const struct oxl_proc *p, double air_g_s)
{
    const double share = 0.1, before_s = 20, lag_s = 1.5;
    struct oxl_trace t = oxl_proc_trace(p, OXL_Q_AIR_G_S);
    struct oxl_window_stats w =
        oxl_trace_window(t, p->now_us - OXL_S_US(before_s), p->now_us - OXL_S_US(lag_s));
    return w.count > 0 && w.min > 0 && air_g_s < share * w.min;
}

/* Two readings in a row, or one that a checksum guards. */
static bool stops(struct oxl_engine_watch *w, const struct oxl_proc *p, bool still)
{
    w->still_seen = still ? w->still_seen + 1 : 0;
    bool now = w->still_seen == readings_needed(p);
    w->stops += now && w->turned;
    w->turned = w->still_seen < readings_needed(p) && (w->turned || !still);
    return now;
}

bool oxl_engine_sample(struct oxl_engine_watch *w, const struct oxl_proc *p,
                       const struct oxl_sample *s)
{
    if (s->channel.quantity == OXL_Q_RPM) {
        note_idle(w, p, s->value);
        return stops(w, p, s->value < OXL_LEAST_RPM);
    }
    if (s->channel.quantity == OXL_Q_FUEL_TYPE && !w->type_known) {
        w->type_known = true;
        oxl_engine_say_hybrid(p, s->value);
    }
    if (s->channel.quantity == OXL_Q_AIR_G_S && draws_nothing(p, s->value))
        return stops(w, p, true);
    if (oxl_proc_is_trim(p, s))
        oxl_proc_since(&w->stft_zero_us, s->value == 0, p->now_us);
    return false;
}

static const char switch_off[] =
    "Start-stop: switch it off. Hybrid: use the manufacturer's service "
    "mode. Else this car cannot be tested so.";

void oxl_engine_say_hybrid(const struct oxl_proc *p, double fuel_type)
{
    /* These tell of a hybrid's battery (SAE J1979). */
    enum { BATTERY_LIFE = 0x5B, BATTERY = 0x9A };
    const struct oxl_support *has = &p->vehicle->support;
    bool battery = oxl_supports(has, BATTERY_LIFE) || oxl_supports(has, BATTERY);
    if (oxl_known(fuel_type) ? oxl_fuel_is_hybrid(fuel_type) && !battery : battery)
        oxl_proc_check(p, "hybrid", OXL_GRADE_CAUTION,
                       "a hybrid, as it says: its engine may stop at idle", switch_off);
}

void oxl_engine_say_stop(const struct oxl_proc *p)
{
    char found[96];
    snprintf(found, sizeof found, "the engine stopped while the ECU went on answering%s",
             p->engine.stops > 1 ? ", not for the first time" : "");
    oxl_proc_check(p, "engine-stop", OXL_GRADE_CAUTION, found, switch_off);
}

bool oxl_engine_keeps_stopping(const struct oxl_proc *p)
{
    enum { TOO_OFTEN = 3 };
    return p->engine.stops >= TOO_OFTEN;
}

/* A reported catalyst temperature knows better than any clock. */
bool oxl_engine_idled_long(const struct oxl_proc *p)
{
    return p->engine.idle_us &&
           p->now_us - p->engine.idle_us > OXL_S_US(p->profile.idle_restart_s) &&
           !oxl_known(oxl_proc_latest(p, OXL_Q_CAT_TEMP_C, OXL_S_US(30)));
}

static bool front_at_balance(const struct oxl_proc *p)
{
    struct oxl_window_stats w = oxl_proc_last(p, oxl_proc_front(p), 5.0);
    if (p->pair.front_kind == OXL_SENSOR_WIDE)
        return w.count && fabs(w.mean - p->profile.lambda_balance) < 0.02;
    /* A switching front in closed loop crosses; one that stands is not controlled by. */
    return w.count && w.min < p->profile.switch_v && w.max > p->profile.switch_v;
}

/* At exactly 0 for ten seconds. A calm engine with a wide-range front may rest there too, so that
 * counts only when the loop is not known to be closed, the front is off balance, or gas has shown
 * that the trim does not answer. */
bool oxl_engine_trim_frozen(const struct oxl_proc *p)
{
    if (!oxl_proc_lasted(p, p->engine.stft_zero_us, frozen_s))
        return false;
    double code = oxl_proc_latest(p, OXL_Q_FUEL_SYSTEM, OXL_S_US(15));
    bool wide = p->pair.front_kind == OXL_SENSOR_WIDE;
    return !oxl_known(code) || !wide || oxl_patterns_shown_frozen(p) || !front_at_balance(p);
}

bool oxl_engine_front_far_lean(const struct oxl_proc *p)
{
    const double for_s = 5.0, far_lambda = 0.08;
    struct oxl_window_stats w = oxl_proc_last(p, oxl_proc_front(p), for_s);
    bool wide = p->pair.front_kind == OXL_SENSOR_WIDE;
    /* A switching one that is read once a second can show the lean half of its dither each time. */
    if (w.count < (wide ? 4 : 15) || w.span_us < OXL_S_US(0.7 * for_s))
        return false;
    return wide ? w.min > p->profile.lambda_balance + far_lambda : w.max < p->profile.lean_v;
}

void oxl_engine_say_trim_room(const struct oxl_proc *p)
{
    struct oxl_check c = oxl_grade_trim_room(p->base.trim_pct, &p->profile);
    oxl_precheck_say(p, &c);
}
