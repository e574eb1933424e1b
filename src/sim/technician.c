#include "sim/technician.h"

#include <math.h>

#define D(name, lo, hi)                                                                            \
    {                                                                                              \
        "technician", #name, 'd', offsetof(struct oxl_tech_settings, name), sizeof(double), lo, hi \
    }
#define B(name)                                                                                    \
    {                                                                                              \
        "technician", #name, 'b', offsetof(struct oxl_tech_settings, name), sizeof(bool), 0, 1     \
    }

const struct oxl_setting oxl_tech_setting_table[] = {
    D(reaction_min_s, 0, 5),  D(reaction_max_s, 0, 10), D(usual_opening, 0.01, 1),
    D(opening_sd_pct, 0, 50), D(open_per_s, 0.001, 10), D(creep_per_s, 0, 1),
    D(shut_s, 0, 20),         D(brisk_per_s, 0.01, 10), D(depth_pct, 2, 60),
    D(settle_s, 0, 600),      D(hold_s, 0, 120),        D(max_hold_s, 1, 300),
    D(rest_s, 0, 600),        D(dribble_pct, 0, 90),    D(dribble_tau_s, 0.1, 60),
    B(heeds_too_much),        B(forgets_valve),         D(forgotten_opening, 0, 1),
    B(snap_throttle),         D(snap_pct, 1, 80),       D(snap_s, 0.1, 5),
    D(raised_pct, 0, 20),     B(covers_leak),
};
const size_t oxl_tech_setting_count =
    sizeof oxl_tech_setting_table / sizeof oxl_tech_setting_table[0];

void oxl_tech_defaults(struct oxl_tech_settings *s)
{
    static const struct oxl_tech_settings defaults = {
        .reaction_min_s = 0.3,
        .reaction_max_s = 0.8,
        .usual_opening = 0.48,
        .opening_sd_pct = 6,
        .open_per_s = 0.08,
        .creep_per_s = 0.003,
        .brisk_per_s = 0.25,
        .shut_s = 0.2,
        .depth_pct = 20,
        .settle_s = 25,
        .hold_s = 4,
        .max_hold_s = 55,
        .rest_s = 15,
        .dribble_tau_s = 4,
        .heeds_too_much = true,
        .forgotten_opening = 0.08,
        .snap_throttle = true,
        .snap_pct = 25,
        .snap_s = 0.6,
        .raised_pct = 3.5,
        .covers_leak = true,
    };
    *s = defaults;
}

static double usual_of_this_run(struct oxl_technician *t)
{
    double n = oxl_random_normal(&t->random);
    n = fmax(-2, fmin(2, n));
    return t->s.usual_opening * (1 + t->s.opening_sd_pct / 100 * n);
}

void oxl_technician_init(struct oxl_technician *t, const struct oxl_tech_settings *s,
                         enum oxl_tech_mode mode, uint64_t seed)
{
    static const struct oxl_technician none;
    *t = none;
    t->s = *s;
    t->mode = mode;
    oxl_random_seed(&t->random, seed ^ 0x7ec4a11cu);
    t->usual = usual_of_this_run(t);
    t->first_asked_us = t->last_asked_us = -1;
}

static enum oxl_tech_act act_for_advice(enum oxl_advice a)
{
    switch (a) {
    case OXL_ADV_ADD_GAS:
        return OXL_ACT_OPEN;
    case OXL_ADV_SLOW:
        return OXL_ACT_SLOW;
    case OXL_ADV_DEEPER_ADD:
        return OXL_ACT_OPEN_WIDE;
    case OXL_ADV_DEEPER_MORE:
        return OXL_ACT_MUCH_MORE;
    case OXL_ADV_DEEPER_HOLD:
    case OXL_ADV_HOLD:
    case OXL_ADV_WAIT_RICH:
    case OXL_ADV_DEPTH_UNKNOWN:
        return OXL_ACT_HOLD;
    case OXL_ADV_MORE:
        return OXL_ACT_MORE;
    case OXL_ADV_TOO_MUCH:
    case OXL_ADV_TRIM_LIMIT:
        return OXL_ACT_LESS;
    case OXL_ADV_BACK_OFF:
        return OXL_ACT_MUCH_LESS;
    case OXL_ADV_CUT:
    case OXL_ADV_CUT_HEAT:
    case OXL_ADV_STUMBLE:
    case OXL_ADV_RECOVER:
    case OXL_ADV_RUN_INVALID:
    case OXL_ADV_LINK_TROUBLE:
    case OXL_ADV_UNSUITABLE:
    case OXL_ADV_FINISHED:
    case OXL_ADV_ABORTED:
    case OXL_ADV_SHUT_VALVE:
    case OXL_ADV_ENGINE_STOPPED:
        return OXL_ACT_SHUT;
    case OXL_ADV_VALVE_DRIPS:
    case OXL_ADV_STILL_RICH:
    case OXL_ADV_RESIDUAL_GAS:
        return OXL_ACT_SHUT_WELL;
    case OXL_ADV_PROVE_REAR:
        return OXL_ACT_SNAP;
    case OXL_ADV_WAIT_WARM:
    case OXL_ADV_REWARM:
        return OXL_ACT_RAISE_SPEED;
    case OXL_ADV_LET_IDLE:
    case OXL_ADV_STEADY:
    case OXL_ADV_LEAK_STEADY:
        return OXL_ACT_LET_IDLE;
    case OXL_ADV_LEAK_COVER:
        return OXL_ACT_COVER;
    case OXL_ADV_LEAK_UNCOVER:
    case OXL_ADV_LEAK_UNCLEAR:
        return OXL_ACT_UNCOVER;
    case OXL_ADV_OPENING_TOO_LARGE:
        return OXL_ACT_SMALLER_PORT;
    default:
        return OXL_ACT_NONE;
    }
}

static enum oxl_tech_act act_for_state(enum oxl_state s)
{
    switch (s) {
    case OXL_STATE_BASELINE:
        return OXL_ACT_LET_IDLE;
    case OXL_STATE_RELEASE:
    case OXL_STATE_RECOVERY:
    case OXL_STATE_DONE:
    case OXL_STATE_STOPPED:
        return OXL_ACT_SHUT;
    default:
        return OXL_ACT_NONE;
    }
}

void oxl_technician_hear(struct oxl_technician *t, const struct oxl_event *ev, int64_t t_us)
{
    if (t->mode != OXL_TECH_GUIDED)
        return;
    enum oxl_tech_act act = OXL_ACT_NONE;
    if (ev->kind == OXL_EV_ADVICE)
        act = act_for_advice(ev->u.advice.advice);
    else if (ev->kind == OXL_EV_STATE)
        act = act_for_state(ev->u.state.state);
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
