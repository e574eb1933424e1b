/* Failure patterns: what the data can show, in one table. docs/patterns.md explains each row and
 * lists those that other rooms recognise (measure/run_flags.c) and those that no data show.
 *
 * A row is looked at when it can be seen: with a baseline at hand, when a run has ended, or at any
 * time. What belongs to the vehicle is kept for the session, what belongs to the moment for the
 * run. */
#include "proc.h"

#include <stdio.h>

static const double window_s = 10.0;
static const double rest_s = 6.0; /* a rear that is lean for so long rests there */
static const double stuck_v = 0.04, stuck_lambda = 0.004; /* a live sensor moves more */
static const double full_rich_v = 0.6, full_lean_v = 0.25, moved_v = 0.15;
enum { BUSY = 5, SPIKES = 3 }; /* in ten seconds */

static struct oxl_trace recent(const struct oxl_proc *p, struct oxl_trace t)
{
    return oxl_trace_slice(t, p->now_us - OXL_S_US(window_s), p->now_us);
}

/* Crossings between the two levels of the hysteresis. */
static unsigned crossings(const struct oxl_proc *p, struct oxl_trace t)
{
    unsigned n = 0;
    int side = 0;
    for (size_t i = 0; i < t.count; i++) {
        double v = t.points[i].value;
        int now = v > p->profile.rich_v ? 1 : v < p->profile.lean_v ? -1 : side;
        n += side != 0 && now != side;
        side = now;
    }
    return n;
}

static bool switching(enum oxl_sensor_kind kind)
{
    return kind == OXL_SENSOR_SWITCHING;
}

static bool trims_high(const struct oxl_proc *p)
{
    return p->base.trim_pct > p->profile.trim_abs_max_pct;
}

/* After a run the converter is full and the rear may rest lean for a while: only the first
 * baseline counts. Behind an empty converter the rear follows every breath of the engine, so lean
 * for a moment is not at rest. */
static bool rear_lean_for(const struct oxl_proc *p, double s)
{
    struct oxl_window_stats w = oxl_proc_last(p, oxl_proc_rear(p), s);
    return w.count && w.max < p->profile.lean_v;
}

static bool rear_rests_lean(const struct oxl_proc *p)
{
    return p->kept.runs_n == 0 && switching(p->pair.rear_kind) && rear_lean_for(p, rest_s);
}

bool oxl_patterns_undecided(const struct oxl_proc *p)
{
    return p->kept.runs_n == 0 && switching(p->pair.rear_kind) && rear_lean_for(p, 1.0) &&
           !rear_lean_for(p, rest_s);
}

/* Only at the first baseline: behind a converter that a run has filled the rear may wander. */
static bool rear_busy(const struct oxl_proc *p)
{
    unsigned rear = crossings(p, recent(p, oxl_proc_rear(p)));
    return p->kept.runs_n == 0 && switching(p->pair.rear_kind) && rear >= BUSY;
}

/* A front that the ECU refreshes seldom may dither and look calm. */
static bool front_is_followed(const struct oxl_proc *p)
{
    const double seldom_s = 0.3;
    return !(oxl_refresh_age_s(&p->refreshes.front) > seldom_s);
}

static bool swapped(const struct oxl_proc *p)
{
    return rear_busy(p) && switching(p->pair.front_kind) && front_is_followed(p) &&
           crossings(p, recent(p, oxl_proc_front(p))) == 0;
}

/* Unburned oxygen passes a wide-range front as short lean spikes that end by themselves, and to
 * that side only: a leak's ripple goes both ways. */
static bool misfires(const struct oxl_proc *p)
{
    const double spike = 0.03, longest_s = 0.6;
    if (p->pair.front_kind != OXL_SENSOR_WIDE)
        return false;
    struct oxl_trace t = recent(p, oxl_proc_front(p));
    unsigned n = 0;
    int64_t began_us = 0;
    for (size_t i = 0; i < t.count; i++) {
        if (t.points[i].value < p->base.front_level - spike)
            return false;
        bool out = t.points[i].value > p->base.front_level + spike;
        if (out && !began_us)
            began_us = t.points[i].recv_us;
        if (!out && began_us) {
            n += t.points[i].recv_us - began_us < OXL_S_US(longest_s);
            began_us = 0;
        }
    }
    return n >= SPIKES;
}

/* PID 12: 1 ahead of and 2 behind the first converter, 4 to the open air or off, 8 pump on for
 * diagnosis (SAE J1979). */
static bool secondary_air(const struct oxl_proc *p)
{
    double code = oxl_proc_latest(p, OXL_Q_SECONDARY_AIR, OXL_S_US(60));
    return oxl_secondary_air_on(code);
}

static bool loop_open(const struct oxl_proc *p)
{
    return oxl_proc_loop_open(p, 4);
}

/* Trims that the ECU holds since a fault it saw in the gas make a mixture that no gas has made. */
static bool loop_fault(const struct oxl_proc *p)
{
    return p->loop.fault;
}

bool oxl_patterns_frozen_now(const struct oxl_proc *p)
{
    const double still_s = 8.0;
    return p->run.trim_stuck && oxl_proc_lasted(p, p->engine.stft_zero_us, still_s);
}

bool oxl_patterns_shown_frozen(const struct oxl_proc *p)
{
    return oxl_reasons_has(p->patterns.said, OXL_R_TRIM_FROZEN);
}

static bool front_was_both(const struct oxl_proc *p)
{
    return p->sensors.front.rich_us && p->sensors.front.lean_us && p->run.front_was_rich;
}

static double rear_moved(const struct oxl_proc *p)
{
    return p->sensors.rear.highest - p->sensors.rear.lowest;
}

static bool rear_lives(const struct oxl_proc *p)
{
    return oxl_proof_whole(&p->sensors.rear) ||
           rear_moved(p) >= (switching(p->pair.rear_kind) ? stuck_v : stuck_lambda);
}

/* A sound rear may stand at 0.8 V at rest, in rich gas, and behind a store that takes the lean gas
 * up. It is dead only when it did not move in gas that must move it: a long fuel cut; or rich and
 * lean gas while it stands in the middle of its step, where a breath is a tenth of a volt. */
static bool rear_stuck_in_cut(const struct oxl_proc *p)
{
    return oxl_sensors_cut_moves_rear(&p->sensors) && !rear_lives(p);
}

static bool rear_stuck(const struct oxl_proc *p)
{
    const struct oxl_proof *r = &p->sensors.rear;
    bool middle =
        !switching(p->pair.rear_kind) || (r->highest < full_rich_v && r->lowest > full_lean_v);
    return front_was_both(p) && middle && !rear_lives(p);
}

static bool rear_biased_lean(const struct oxl_proc *p)
{
    return front_was_both(p) && switching(p->pair.rear_kind) && rear_lives(p) &&
           p->sensors.rear.highest < full_rich_v;
}

static bool rear_biased_rich(const struct oxl_proc *p)
{
    return oxl_sensors_cut_passes_store(&p->sensors) && switching(p->pair.rear_kind) &&
           p->sensors.rear.tempo != OXL_TEMPO_SLOW && rear_moved(p) > moved_v &&
           p->sensors.rear.least > full_lean_v;
}

/* ---- what takes them back -------------------------------------------------------------------- */
static bool trims_not_high(const struct oxl_proc *p)
{
    return p->kept.valid_n == 0 &&
           p->base.trim_pct < p->profile.trim_abs_max_pct - 0.25 * p->profile.band_pct;
}

static bool rear_rests_rich(const struct oxl_proc *p)
{
    struct oxl_window_stats w = oxl_proc_last(p, oxl_proc_rear(p), rest_s);
    return p->kept.runs_n == 0 && w.count && w.min > p->profile.rich_v;
}

static bool front_switches(const struct oxl_proc *p)
{
    return crossings(p, recent(p, oxl_proc_front(p))) >= BUSY &&
           crossings(p, recent(p, oxl_proc_rear(p))) == 0;
}

static bool trim_moves(const struct oxl_proc *p)
{
    return !p->engine.stft_zero_us;
}

static bool rear_went_rich(const struct oxl_proc *p)
{
    return p->sensors.rear.highest >= full_rich_v;
}

static bool rear_went_lean(const struct oxl_proc *p)
{
    return p->sensors.rear.least <= full_lean_v;
}

static bool not_crossed(const struct oxl_proc *p)
{
    return !p->banks.crossed;
}

static bool crossed(const struct oxl_proc *p)
{
    return p->banks.crossed;
}

enum scope { OF_RUN, OF_SESSION };

static const struct pattern {
    enum oxl_pattern_when when;
    bool (*shows)(const struct oxl_proc *p);
    enum oxl_reason reason;
    enum scope scope;
    const char *found; /* one line for a person */
} patterns[] = {
    {OXL_AT_BASELINE, trims_high, OXL_R_TRIMS_HIGH, OF_SESSION,
     "much fuel is added at idle: false lean at the front, or unmetered air"},
    {OXL_AT_BASELINE, rear_rests_lean, OXL_R_REAR_RESTS_LEAN, OF_SESSION,
     "the rear is lean at a warm idle"},
    {OXL_AT_BASELINE, swapped, OXL_R_SENSORS_SWAPPED, OF_SESSION,
     "the rear switches, the front is calm"},
    {OXL_AT_BASELINE, misfires, OXL_R_MISFIRE, OF_SESSION, "short lean spikes at the front"},
    {OXL_AT_BASELINE, oxl_engine_idled_long, OXL_R_IDLED_LONG, OF_RUN,
     "the engine has idled for long"},
    {OXL_AT_BASELINE, secondary_air, OXL_R_SECONDARY_AIR, OF_RUN, "secondary air is on"},
    {OXL_AT_RUN, secondary_air, OXL_R_SECONDARY_AIR, OF_RUN, "secondary air is on"},
    {OXL_AT_RUN, loop_open, OXL_R_NOT_CLOSED_LOOP, OF_RUN, "closed loop was left during the run"},
    {OXL_AT_RUN, loop_fault, OXL_R_NOT_CLOSED_LOOP, OF_RUN, "the ECU sees a fault since the gas"},
    {OXL_AT_RUN, oxl_patterns_frozen_now, OXL_R_TRIM_FROZEN, OF_RUN,
     "the short-term trim stood at exactly 0 under a rich front"},
    {OXL_AT_RUN, rear_stuck, OXL_R_REAR_STUCK, OF_SESSION,
     "the rear stood in the middle of its step while the front went rich and lean"},
    {OXL_AT_ANY_TIME, rear_stuck_in_cut, OXL_R_REAR_STUCK, OF_SESSION,
     "the rear stood still in a fuel cut"},
    {OXL_AT_RUN, rear_biased_lean, OXL_R_REAR_BIASED_LEAN, OF_SESSION,
     "the rear never passed 0.6 V while the mixture was rich"},
    {OXL_AT_ANY_TIME, rear_biased_rich, OXL_R_REAR_BIASED_RICH, OF_SESSION,
     "the rear stayed above 0.25 V in a long fuel cut"},
    {OXL_AT_ANY_TIME, crossed, OXL_R_CROSSED_FRONTS, OF_SESSION,
     "both banks' trims run apart: fronts on opposite sides of balance"},
};

/* What a later moment refutes. A misfire, a leak and purge come and go: that they are not there now
 * refutes nothing. */
static const struct refutation {
    enum oxl_pattern_when when;
    enum oxl_reason reason;
    bool (*refuted)(const struct oxl_proc *p);
    const char *found;
} refutations[] = {
    {OXL_AT_BASELINE, OXL_R_TRIMS_HIGH, trims_not_high, "taken back: the trims have come down"},
    {OXL_AT_BASELINE, OXL_R_REAR_RESTS_LEAN, rear_rests_rich, "taken back: the rear rests rich"},
    {OXL_AT_BASELINE, OXL_R_SENSORS_SWAPPED, front_switches,
     "taken back: the front switches, the rear is calm"},
    {OXL_AT_ANY_TIME, OXL_R_TRIM_FROZEN, trim_moves, "taken back: the short-term trim moves"},
    {OXL_AT_ANY_TIME, OXL_R_REAR_STUCK, rear_lives, "taken back: the rear has moved"},
    {OXL_AT_ANY_TIME, OXL_R_REAR_BIASED_LEAN, rear_went_rich,
     "taken back: the rear has passed 0.6 V"},
    {OXL_AT_ANY_TIME, OXL_R_REAR_BIASED_RICH, rear_went_lean,
     "taken back: the rear has gone below 0.25 V"},
    {OXL_AT_ANY_TIME, OXL_R_CROSSED_FRONTS, not_crossed,
     "taken back: both fronts have come to balance"},
};

static void recognise(struct oxl_patterns_watch *w, const struct oxl_proc *p,
                      const struct pattern *row)
{
    bool known = oxl_reasons_has(oxl_kept_reasons(p) | w->said, row->reason);
    oxl_reasons *of = row->scope == OF_SESSION ? &w->of_session : &w->of_run;
    *of = oxl_reasons_add(*of, row->reason);
    w->said = oxl_reasons_add(w->said, row->reason);
    if (known)
        return;
    char advice[128];
    snprintf(advice, sizeof advice, "%.127s", oxl_reason_next(row->reason));
    oxl_proc_check(p, oxl_reason_code(row->reason), OXL_GRADE_CAUTION, row->found, advice);
}

static void take_back(struct oxl_patterns_watch *w, const struct oxl_proc *p,
                      const struct refutation *row)
{
    w->of_session &= ~OXL_REASON_BIT(row->reason);
    w->said &= ~OXL_REASON_BIT(row->reason); /* found again, it is said again */
    oxl_proc_check(p, oxl_reason_code(row->reason), OXL_GRADE_PASS, row->found, "");
}

void oxl_patterns_apply(struct oxl_patterns_watch *w, const struct oxl_proc *p,
                        enum oxl_pattern_when when)
{
    for (size_t i = 0; i < sizeof refutations / sizeof refutations[0]; i++)
        if (refutations[i].when == when && oxl_reasons_has(w->said, refutations[i].reason) &&
            refutations[i].refuted(p))
            take_back(w, p, &refutations[i]);
    for (size_t i = 0; i < sizeof patterns / sizeof patterns[0]; i++)
        if (patterns[i].when == when && patterns[i].shows(p))
            recognise(w, p, &patterns[i]);
}

oxl_reasons oxl_patterns_reasons(const struct oxl_patterns_watch *w)
{
    return w->of_session;
}

void oxl_patterns_forget_run(struct oxl_patterns_watch *w)
{
    w->of_run = 0;
}
