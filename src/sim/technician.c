#include "sim/technician.h"

#include <math.h>
#include <string.h>

static double usual_of_this_run(struct oxl_technician *t)
{
    double n = oxl_random_normal(&t->random);
    n = fmax(-2, fmin(2, n));
    return t->s.usual_opening * (1 + t->s.opening_sd_pct / 100 * n);
}

void oxl_technician_init(struct oxl_technician *t, const struct oxl_tech_settings *s,
                         enum oxl_tech_mode mode, uint64_t seed)
{
    *t = (struct oxl_technician){.s = *s, .mode = mode};
    oxl_random_seed(&t->random, seed ^ 0x7ec4a11cu);
    t->usual = usual_of_this_run(t);
    t->first_asked_us = t->last_asked_us = -1;
}

/* What each advice makes the hand do; nothing where it is not named. */
static const enum oxl_tech_act of_advice[OXL_ADV_COUNT] = {
    [OXL_ADV_ADD_GAS] = OXL_ACT_OPEN,
    [OXL_ADV_SLOW] = OXL_ACT_SLOW,
    [OXL_ADV_DEEPER_ADD] = OXL_ACT_OPEN_WIDE,
    [OXL_ADV_DEEPER_MORE] = OXL_ACT_MUCH_MORE,
    [OXL_ADV_DEEPER_HOLD] = OXL_ACT_HOLD,
    [OXL_ADV_HOLD] = OXL_ACT_HOLD,
    [OXL_ADV_WAIT_RICH] = OXL_ACT_HOLD,
    [OXL_ADV_DEPTH_UNKNOWN] = OXL_ACT_HOLD,
    [OXL_ADV_MORE] = OXL_ACT_MORE,
    [OXL_ADV_TOO_MUCH] = OXL_ACT_LESS,
    [OXL_ADV_TRIM_LIMIT] = OXL_ACT_LESS,
    [OXL_ADV_BACK_OFF] = OXL_ACT_MUCH_LESS,
    [OXL_ADV_CUT] = OXL_ACT_SHUT,
    [OXL_ADV_CUT_HEAT] = OXL_ACT_SHUT,
    [OXL_ADV_STUMBLE] = OXL_ACT_SHUT,
    [OXL_ADV_RECOVER] = OXL_ACT_SHUT,
    [OXL_ADV_RUN_INVALID] = OXL_ACT_SHUT,
    [OXL_ADV_LINK_TROUBLE] = OXL_ACT_SHUT,
    [OXL_ADV_UNSUITABLE] = OXL_ACT_SHUT,
    [OXL_ADV_FINISHED] = OXL_ACT_SHUT,
    [OXL_ADV_ABORTED] = OXL_ACT_SHUT,
    [OXL_ADV_SHUT_VALVE] = OXL_ACT_SHUT,
    [OXL_ADV_ENGINE_STOPPED] = OXL_ACT_SHUT,
    [OXL_ADV_VALVE_DRIPS] = OXL_ACT_SHUT_WELL,
    [OXL_ADV_STILL_RICH] = OXL_ACT_SHUT_WELL,
    [OXL_ADV_RESIDUAL_GAS] = OXL_ACT_SHUT_WELL,
    [OXL_ADV_PROVE_REAR] = OXL_ACT_SNAP,
    [OXL_ADV_WAIT_WARM] = OXL_ACT_RAISE_SPEED,
    [OXL_ADV_REWARM] = OXL_ACT_RAISE_SPEED,
    [OXL_ADV_LET_IDLE] = OXL_ACT_LET_IDLE,
    [OXL_ADV_STEADY] = OXL_ACT_LET_IDLE,
    [OXL_ADV_LEAK_STEADY] = OXL_ACT_LET_IDLE,
    [OXL_ADV_LEAK_COVER] = OXL_ACT_COVER,
    [OXL_ADV_LEAK_UNCOVER] = OXL_ACT_UNCOVER,
    [OXL_ADV_LEAK_UNCLEAR] = OXL_ACT_UNCOVER,
    [OXL_ADV_OPENING_TOO_LARGE] = OXL_ACT_SMALLER_PORT,
};
static const enum oxl_tech_act of_state[OXL_STATE_COUNT] = {
    [OXL_STATE_BASELINE] = OXL_ACT_LET_IDLE, [OXL_STATE_RELEASE] = OXL_ACT_SHUT,
    [OXL_STATE_RECOVERY] = OXL_ACT_SHUT,     [OXL_STATE_DONE] = OXL_ACT_SHUT,
    [OXL_STATE_STOPPED] = OXL_ACT_SHUT,
};

void oxl_technician_hear(struct oxl_technician *t, const struct oxl_event *ev, int64_t t_us)
{
    if (t->mode != OXL_TECH_GUIDED)
        return;
    enum oxl_tech_act act = OXL_ACT_NONE;
    if (ev->kind == OXL_EV_ADVICE)
        act = of_advice[ev->u.advice.advice];
    else if (ev->kind == OXL_EV_STATE)
        act = of_state[ev->u.state.state];
    if (act == OXL_ACT_NONE || t->pendings == OXL_TECH_PENDING)
        return;
    double span = fmax(0, t->s.reaction_max_s - t->s.reaction_min_s);
    double wait_s = t->s.reaction_min_s + span * oxl_random_unit(&t->random);
    int64_t due_us = t_us + (int64_t)(wait_s * 1e6);
    if (t->pendings && due_us < t->pending[t->pendings - 1].due_us)
        due_us = t->pending[t->pendings - 1].due_us; /* one thing after the other */
    t->pending[t->pendings].act = act;
    t->pending[t->pendings++].due_us = due_us;
}

void oxl_technician_asked(struct oxl_technician *t, int64_t t_us)
{
    const int64_t new_tester_us = 20000000;
    if (t->first_asked_us < 0 || t_us - t->last_asked_us > new_tester_us)
        t->first_asked_us = t_us;
    t->last_asked_us = t_us;
}

static void aim_at(struct oxl_technician *t, double aim, double per_s)
{
    t->aim = fmax(0, fmin(1, aim));
    t->rate_per_s = per_s;
    t->opening_up = t->creeping = false;
}

/* Quick enough that the release is a step; never all at once. */
static void shut(struct oxl_technician *t)
{
    if (t->aim <= 0)
        return;
    t->dribble = t->opening * t->s.dribble_pct / 100;
    aim_at(t, 0, t->s.shut_s > 0 ? fmax(t->opening, 0.01) / t->s.shut_s : 1e6);
    t->usual = usual_of_this_run(t);
}

static void open_up(struct oxl_technician *t)
{
    if (t->opening_up || t->creeping)
        return;
    aim_at(t, fmax(t->opening, t->usual), t->s.open_per_s);
    t->opening_up = true;
}

/* To about one and a half times what is usual, and no further than is sensible. */
static void open_wide(struct oxl_technician *t)
{
    const double most = 0.7;
    aim_at(t, fmax(t->opening, fmax(t->usual, fmin(1.4 * t->usual, most))),
           fmax(t->s.open_per_s, t->s.brisk_per_s));
}

static void less(struct oxl_technician *t, double by)
{
    if (t->s.heeds_too_much)
        aim_at(t, t->opening - by, 2 * t->s.open_per_s);
}

static void act(struct oxl_technician *t, enum oxl_tech_act what, struct oxl_plant *p, int64_t t_us)
{
    switch (what) {
    case OXL_ACT_OPEN:
        open_up(t);
        break;
    case OXL_ACT_SLOW:
        t->rate_per_s = fmin(t->rate_per_s, t->s.creep_per_s);
        break;
    case OXL_ACT_HOLD:
        aim_at(t, t->opening, t->rate_per_s);
        break;
    case OXL_ACT_OPEN_WIDE:
        open_wide(t);
        break;
    case OXL_ACT_MUCH_MORE:
        aim_at(t, t->opening + 0.07, fmax(t->s.open_per_s, t->s.brisk_per_s));
        break;
    case OXL_ACT_MORE:
        aim_at(t, t->opening + 0.03, t->s.open_per_s);
        break;
    case OXL_ACT_LESS:
        less(t, 0.04);
        break;
    case OXL_ACT_MUCH_LESS:
        less(t, 0.10);
        break;
    case OXL_ACT_SHUT:
        shut(t);
        t->raised_pct = 0;
        break;
    case OXL_ACT_SHUT_WELL:
        shut(t);
        t->s.forgets_valve = false;
        break;
    case OXL_ACT_SNAP:
        if (t->s.snap_throttle && t->opening <= 0 && t->aim <= 0)
            t->snap_until_us = t_us + (int64_t)(t->s.snap_s * 1e6);
        break;
    case OXL_ACT_RAISE_SPEED:
        t->raised_pct = t->s.raised_pct;
        break;
    case OXL_ACT_LET_IDLE:
        t->raised_pct = 0;
        break;
    case OXL_ACT_SMALLER_PORT:
        oxl_plant_smaller_port(p);
        break;
    case OXL_ACT_COVER:
        oxl_plant_cover_leak(p, t->s.covers_leak);
        break;
    case OXL_ACT_UNCOVER:
        oxl_plant_cover_leak(p, false);
        break;
    case OXL_ACT_NONE:
        break;
    }
}

static void do_what_is_due(struct oxl_technician *t, struct oxl_plant *p, int64_t t_us)
{
    size_t kept = 0, n = t->pendings;
    for (size_t i = 0; i < n; i++) {
        if (t->pending[i].due_us <= t_us)
            act(t, t->pending[i].act, p, t_us);
        else
            t->pending[kept++] = t->pending[i];
    }
    t->pendings = kept;
}

static void enter(struct oxl_technician *t, enum oxl_tech_alone phase, int64_t t_us)
{
    t->phase = phase;
    t->phase_us = t_us;
    t->calm_us = t_us;
}

/* Begins some time after a tester has asked for the first time; without one, after 30 s. */
static void alone_wait(struct oxl_technician *t, const struct oxl_plant *p, int64_t t_us)
{
    const double unasked_s = 30;
    double since_s = 1e-6 * (double)(t_us - (t->first_asked_us >= 0 ? t->first_asked_us : 0));
    double wait_s = t->first_asked_us >= 0 ? t->s.settle_s : fmax(unasked_s, t->s.settle_s);
    t->trim_rest += (t->trim_seen - t->trim_rest) * OXL_CONTROL_S / 4.0;
    bool loop = p->bank[0].trims.closed || !p->s.closed_loop;
    if (!loop || fabs(t->trim_rest - t->trim_seen) > 0.015)
        t->calm_us = t_us;
    if (since_s < wait_s || t_us - t->calm_us < 10000000)
        return;
    open_up(t);
    enter(t, OXL_ALONE_GAS, t_us);
}

static void alone_gas(struct oxl_technician *t, int64_t t_us)
{
    double depth = 100 * (t->trim_rest - t->trim_seen), band = 2;
    double in_phase_s = 1e-6 * (double)(t_us - t->phase_us);
    bool inside = fabs(depth - t->s.depth_pct) <= band;
    if (!inside)
        t->calm_us = t_us;
    if (depth > t->s.depth_pct + band)
        aim_at(t, t->opening - 0.01, 0.02);
    else if (inside)
        aim_at(t, t->opening, t->s.creep_per_s);
    bool held = inside && 1e-6 * (double)(t_us - t->calm_us) >= t->s.hold_s;
    if (held || in_phase_s > t->s.max_hold_s) {
        shut(t);
        enter(t, OXL_ALONE_RECOVER, t_us);
    }
}

static void alone_recover(struct oxl_technician *t, int64_t t_us)
{
    if (fabs(t->trim_seen - t->trim_rest) > 0.02)
        t->calm_us = t_us;
    const double patience_s = 90;
    double waited_s = 1e-6 * (double)(t_us - t->phase_us);
    bool back = 1e-6 * (double)(t_us - t->calm_us) > t->s.rest_s;
    if ((waited_s > 5 && back) || waited_s > patience_s)
        enter(t, OXL_ALONE_WAIT, t_us);
}

static void work_alone(struct oxl_technician *t, const struct oxl_plant *p, int64_t t_us)
{
    t->trim_seen += (oxl_plant_trim(p, 0) - t->trim_seen) * OXL_CONTROL_S / 1.0;
    if (t->phase == OXL_ALONE_WAIT)
        alone_wait(t, p, t_us);
    else if (t->phase == OXL_ALONE_GAS)
        alone_gas(t, t_us);
    else
        alone_recover(t, t_us);
}

/* The hand goes to its aim; once at the usual opening it creeps on until told to stop. */
static void move_hand(struct oxl_technician *t)
{
    double most = t->rate_per_s * OXL_CONTROL_S;
    double left = t->aim - t->opening;
    t->opening += fmax(-most, fmin(most, left));
    if (t->opening_up && fabs(t->aim - t->opening) < 1e-9) {
        t->opening_up = false;
        t->creeping = true;
        t->aim = 1;
        t->rate_per_s = t->s.creep_per_s;
    }
    t->dribble -= t->dribble * OXL_CONTROL_S / t->s.dribble_tau_s;
    if (t->dribble < 0.002)
        t->dribble = 0;
}

void oxl_technician_step(struct oxl_technician *t, struct oxl_plant *p, int64_t t_us)
{
    if (t->mode == OXL_TECH_BY_HAND)
        return;
    do_what_is_due(t, p, t_us);
    if (t->mode == OXL_TECH_ALONE)
        work_alone(t, p, t_us);
    move_hand(t);
    double least = t->s.forgets_valve ? t->s.forgotten_opening : 0;
    oxl_plant_valve(p, fmax(t->opening, fmax(least, t->dribble)));
    oxl_plant_throttle(p, t_us < t->snap_until_us ? t->s.snap_pct : t->raised_pct);
}
