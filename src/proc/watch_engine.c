/* The engine between the gates: how long it has idled, and whether its short-term trim lives. */
#include "proc.h"

#include <stdio.h>

static const double raised_rpm = 1500.0;
static const double raised_for_s = 120.0;   /* common practice: two minutes at 2000 to 2500 */
static const double rewarm_patience_s = 30; /* nobody raises the speed: go on, and say so */
static const double frozen_s = 10.0;
/* The lowest total trim that some ECUs allow (makers' fault limits lie between -25 and -45 %). */
static const double nearest_limit_pct = -25.0;

static void note_idle(struct oxl_proc *p, double rpm)
{
    if (!p->idle_us)
        p->idle_us = p->now_us;
    oxl_proc_since(&p->raised_us, rpm >= raised_rpm, p->now_us);
    if (oxl_proc_lasted(p, p->raised_us, raised_for_s))
        p->idle_us = p->now_us;
}

/* A line on CAN carries no checksum, so one reading alone may be damaged there. */
static unsigned readings_needed(const struct oxl_proc *p)
{
    return oxl_protocol_is_can(p->vehicle->protocol) ? 2 : 1;
}

/* Told at once, whatever was going on: gas goes on flowing into an engine that stands. */
static void watch_turning(struct oxl_proc *p, double rpm)
{
    p->still_seen = rpm < OXL_LEAST_RPM ? p->still_seen + 1 : 0;
    if (p->still_seen != readings_needed(p) || p->imported || p->state == OXL_STATE_PRECHECK)
        return;
    bool gas = oxl_gas_may_flow(p) || p->state == OXL_STATE_TIMING;
    if (p->state != OXL_STATE_BASELINE && p->state != OXL_STATE_LEAK_CHECK && !p->run_used)
        oxl_proc_void_run(p, OXL_R_RPM_DROP);
    p->leak.wanted = false;
    if (p->valid_n >= p->runs_wanted) { /* nothing is left that needs the engine */
        oxl_proc_enter(p, OXL_STATE_DONE);
        return;
    }
    oxl_proc_enter(p, OXL_STATE_PRECHECK);
    oxl_proc_say(p, gas ? OXL_ADV_ENGINE_STOPPED : OXL_ADV_START_ENGINE, "%s", "");
}

void oxl_engine_data(struct oxl_proc *p, const struct oxl_sample *s)
{
    if (s->channel.quantity == OXL_Q_RPM) {
        note_idle(p, s->value);
        watch_turning(p, s->value);
    } else if (oxl_channel_same(s->channel, oxl_proc_bank_channel(p, OXL_Q_STFT_PCT))) {
        oxl_proc_since(&p->stft_zero_us, s->value == 0, p->now_us);
    }
}

/* A reported catalyst temperature knows better than any clock. */
bool oxl_engine_idled_long(const struct oxl_proc *p)
{
    return p->idle_us && p->now_us - p->idle_us > OXL_S_US(p->profile.idle_restart_s) &&
           !oxl_known(oxl_proc_latest(p, OXL_Q_CAT_TEMP_C, OXL_S_US(30)));
}

bool oxl_engine_rewarming(struct oxl_proc *p)
{
    if (p->rewarm_us && !oxl_engine_idled_long(p)) {
        p->rewarm_us = 0;
        p->rewarm_done = true;
        p->entered_us = p->now_us; /* the baseline begins now */
        oxl_proc_say(p, OXL_ADV_STEADY, "%s", "");
        return true;
    }
    if (!oxl_engine_idled_long(p))
        return false;
    if (!p->rewarm_us) {
        p->rewarm_us = p->now_us;
        oxl_proc_say(p, OXL_ADV_REWARM, "%s", "");
    }
    return p->raised_us || p->now_us - p->rewarm_us < OXL_S_US(rewarm_patience_s);
}

static bool front_at_balance(const struct oxl_proc *p)
{
    struct oxl_window_stats w =
        oxl_trace_window(oxl_proc_front(p), p->now_us - OXL_S_US(5.0), p->now_us);
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
    if (!oxl_proc_lasted(p, p->stft_zero_us, frozen_s))
        return false;
    double code = oxl_proc_latest(p, OXL_Q_FUEL_SYSTEM, OXL_S_US(15));
    bool wide = p->pair.front_kind == OXL_SENSOR_WIDE;
    return !oxl_known(code) || !wide || oxl_patterns_shown_frozen(p) || !front_at_balance(p);
}

void oxl_engine_trim_room(struct oxl_proc *p)
{
    char found[96];
    double at = p->base.trim_pct + p->profile.target_pct;
    bool room = at >= nearest_limit_pct;
    snprintf(found, sizeof found,
             "baseline %+.1f %%: the target lies at %+.1f %%, some stop at %.0f", p->base.trim_pct,
             at, nearest_limit_pct);
    oxl_proc_check(p, "trim-room", room ? OXL_GRADE_PASS : OXL_GRADE_CAUTION, found,
                   room ? ""
                        : "The trim may reach its limit before the target: find why fuel is taken "
                          "away at rest.");
}
