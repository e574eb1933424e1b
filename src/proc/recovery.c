/* Recovery: until the next run, or the end. */
#include "proc.h"

enum { MOST_ASKED = 2 }; /* for a snap */
static const double settle_s = 3.0;
static const double snap_s = 20.0; /* to put the foot on the pedal; common practice, no source */

/* Would the verdict be "bad"? Then the leak check is worth its minute, and whether the converter is
 * new has to be asked. */
static bool looks_bad(const struct oxl_proc *p)
{
    struct oxl_result r;
    oxl_kept_judge(p, &r);
    return r.verdict == OXL_VERDICT_BAD;
}

/* A leak check that was offered, made and unclear is offered once more. */
static bool is_unasked(const struct oxl_proc *p)
{
    unsigned asked = p->recovery.asked_new;
    return !asked || (p->leak.done >= asked && oxl_leak_worth(p));
}

/* Would a fuel cut that shows the rear lean, or slow, change the answer? */
static bool turns_on_the_rear(const struct oxl_proc *p)
{
    struct oxl_result now, other;
    oxl_kept_judge(p, &now);
    oxl_kept_judge_proven(p, &other);
    if (other.conclusion != now.conclusion || !oxl_sensors_rear_may_be_slow(&p->sensors))
        return other.conclusion != now.conclusion;
    oxl_kept_judge_slow(p, &other);
    return other.conclusion != now.conclusion;
}

/* A snap of the throttle shows the rear lean, and how fast it falls. Its cut also fills the store,
 * which spoils a run behind it: so it is asked for once none is due, and only where the verdict
 * turns on it. */
static bool ask_for_proof(struct oxl_proc *p)
{
    struct oxl_recovery *v = &p->recovery;
    if (!p->source.cues || !p->rules->proves_rear || v->asked >= MOST_ASKED ||
        !turns_on_the_rear(p) || oxl_deeper_worth(p))
        return false;
    v->asked++;
    v->cuts = p->sensors.cut.seen;
    v->snap_us = p->now_us + OXL_S_US(snap_s);
    oxl_proc_unsay(p);
    oxl_proc_tell(p, OXL_ADV_PROVE_REAR);
    return true;
}

static bool proof_is_over(const struct oxl_proc *p)
{
    return p->sensors.cut.seen > p->recovery.cuts && !p->sensors.cut.start_us;
}

/* What the last run leads to. */
static void conclude(struct oxl_proc *p)
{
    if (p->leak.wanted) {
        oxl_proc_note(p, OXL_ADV_LEAK_LATER);
    } else if (oxl_kept_failed_alike(p)) {
        oxl_kept_say_failed_alike(p);
        oxl_proc_enter(p, OXL_STATE_DONE);
    } else if (ask_for_proof(p)) {
        return;
    } else if (oxl_deeper_worth(p)) {
        oxl_deeper_offer(p);
    } else if (is_unasked(p) && looks_bad(p)) {
        p->recovery.asked_new = p->leak.done + 1;
        p->recovery.offer_us = p->now_us + OXL_S_US(p->rules->leak_offer_s);
        oxl_proc_tell(p, oxl_leak_worth(p) ? OXL_ADV_LEAK_OFFER : OXL_ADV_ASK_NEW);
    } else {
        oxl_proc_enter(p, OXL_STATE_DONE);
    }
}

/* The trims are on their way to the baseline, as far as a wide-range front shows what they have yet
 * to take up. */
static bool heads_back(const struct oxl_proc *p)
{
    double shift = oxl_proc_shift_pct(p);
    return !oxl_known(shift) ||
           (p->pair.front_kind == OXL_SENSOR_WIDE &&
            fabs(oxl_enrich_heading_pct(p, shift)) <= 0.5 * p->profile.band_pct);
}

void oxl_recovery_enter(struct oxl_proc *p)
{
    p->recovery.settled_us = p->recovery.offer_us = p->recovery.snap_us = 0;
    /* Of several runs a false baseline spoils one; a single run has to prove its own. */
    bool proves = p->kept.valid_n == 1 && oxl_kept_last(p) && p->source.waits && !heads_back(p);
    bool gas = oxl_gas_may_flow(p) && !oxl_kept_failed_alike(p);
    if (!oxl_kept_enough(p) || proves || gas) /* nothing is offered while gas may flow */
        oxl_gas_wait(p, OXL_ADV_RECOVER);
    else
        conclude(p);
}

/* The shift was not counted from the engine at idle (a port that was open at the baseline and shut
 * when the hose went in, gas that flows on), so its depth is unknown. */
static void take_back_run(struct oxl_proc *p)
{
    const struct oxl_run_result *r = oxl_kept_last(p);
    if (!r)
        return;
    oxl_kept_take_back(p, OXL_R_BASELINE_DRIFT);
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = p->now_us, .u.run = *r};
    p->emit(p->ctx, &ev);
    oxl_proc_tell(p, OXL_ADV_RUN_INVALID);
}

static void next_state(struct oxl_proc *p)
{
    bool due = oxl_kept_run_due(p);
    oxl_leak_then_end(p, !due);
    if (p->leak.wanted)
        oxl_proc_enter(p, OXL_STATE_LEAK_CHECK);
    else if (due)
        oxl_proc_enter(p, OXL_STATE_BASELINE);
    else if (!p->recovery.offer_us && !p->recovery.snap_us)
        conclude(p);
}

void oxl_recovery_data(struct oxl_proc *p, const struct oxl_sample *s)
{
    if (!oxl_proc_is_trim(p, s))
        return;
    if (p->recovery.snap_us && proof_is_over(p)) {
        p->recovery.snap_us = 0;
        conclude(p);
        return;
    }
    bool proving = !oxl_kept_run_due(p) && !p->leak.wanted && !p->recovery.offer_us;
    double shift = oxl_proc_shift_pct(p);
    bool back =
        !oxl_gas_may_flow(p) && (!oxl_known(shift) || fabs(shift) <= 0.5 * p->profile.band_pct);
    oxl_proc_since(&p->recovery.settled_us, back || (proving && heads_back(p)), p->now_us);
    oxl_gas_watch_recovery(p);
    oxl_gas_say_shut(p);
    if (oxl_proc_lasted(p, p->recovery.settled_us, settle_s) && !p->link.lost_us) {
        oxl_kept_prove(p);
        next_state(p);
    }
}

int64_t oxl_recovery_offer_due(const struct oxl_proc *p)
{
    const struct oxl_recovery *v = &p->recovery;
    int64_t due_us = v->snap_us ? v->snap_us : v->offer_us;
    return due_us && !p->leak.wanted ? due_us : INT64_MAX;
}

int64_t oxl_recovery_due(const struct oxl_proc *p)
{
    if (oxl_recovery_offer_due(p) < INT64_MAX)
        return oxl_recovery_offer_due(p);
    /* Crossed fronts never bring the trims back: what that means is the baseline's to say. */
    double s =
        oxl_baseline_crossed(p) && !oxl_gas_may_flow(p) ? settle_s : p->profile.recovery_limit_s;
    return p->link.lost_us ? INT64_MAX : p->entered_us + OXL_S_US(s);
}

void oxl_recovery_time(struct oxl_proc *p)
{
    if (oxl_recovery_offer_due(p) < INT64_MAX) {
        bool snap = p->recovery.snap_us != 0;
        p->recovery.snap_us = 0;
        p->recovery.asked = MOST_ASKED; /* nobody snaps it */
        if (snap)
            conclude(p);
        else
            oxl_proc_enter(p, OXL_STATE_DONE);
        return;
    }
    if (oxl_gas_gave_up(p))
        return;
    take_back_run(p);
    next_state(p);
}
