/* Recovery: until the next run, or the end. */
#include "proc.h"

static const double settle_s = 3.0;
static const double offer_s = 20.0; /* then the test ends without the leak check */
/* Runs that do not count are repeated, but not for ever. */
enum { SPARE_RUNS = 3 };

/* Runs that the technician began anew by key use up no spare one. */
static size_t meant(const struct oxl_proc *p)
{
    size_t n = 0;
    for (size_t i = 0; i < p->runs_n; i++)
        n += !oxl_reasons_has(p->runs[i].reasons, OXL_R_RESTARTED);
    return n;
}

static bool enough_runs(const struct oxl_proc *p)
{
    return oxl_proc_failed_alike(p) || p->valid_n >= p->runs_wanted ||
           meant(p) >= p->runs_wanted + SPARE_RUNS + p->deeper.tries ||
           p->runs_n >= OXL_PROC_MAX_RUNS;
}

/* Would the verdict be "bad"? Then the leak check is worth its minute. */
static bool looks_bad(const struct oxl_proc *p)
{
    struct oxl_result r;
    oxl_judge(p->runs, p->runs_n, &p->profile, &p->facts, &r);
    return r.verdict == OXL_VERDICT_BAD;
}

/* What the last run leads to. */
static void conclude(struct oxl_proc *p)
{
    if (p->leak.wanted) {
        oxl_proc_note(p, OXL_ADV_LEAK_LATER);
    } else if (oxl_proc_failed_alike(p)) {
        oxl_proc_say_failed_alike(p);
        oxl_proc_enter(p, OXL_STATE_DONE);
    } else if (oxl_deeper_worth(p)) {
        oxl_deeper_offer(p);
    } else if (looks_bad(p) && p->leak.done == 0) {
        p->offer_us = p->now_us + OXL_S_US(offer_s);
        oxl_proc_say(p, OXL_ADV_LEAK_OFFER, "%s", "");
    } else {
        oxl_proc_enter(p, OXL_STATE_DONE);
    }
}

/* The run just over, if it counts; a deeper one goes by its mass, not by its depth. */
static struct oxl_run_result *counted(struct oxl_proc *p)
{
    struct oxl_run_result *r = p->runs_n ? &p->runs[p->runs_n - 1] : NULL;
    return r && r->run == p->run && r->valid && !r->deeper ? r : NULL;
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
    p->settled_us = 0;
    p->offer_us = 0;
    /* Of several runs a false baseline spoils one; a single run has to prove its own. */
    bool proves = p->valid_n == 1 && counted(p) && !p->imported && !heads_back(p);
    bool gas = oxl_gas_may_flow(p) && !oxl_proc_failed_alike(p);
    if (!enough_runs(p) || proves || gas) /* nothing is offered while gas may flow */
        oxl_proc_say(p, oxl_gas_may_flow(p) ? OXL_ADV_SHUT_VALVE : OXL_ADV_RECOVER, "%s", "");
    else
        conclude(p);
}

/* The shift was not counted from the engine at rest (a port that was open at the baseline and shut
 * when the hose went in, gas that flows on), so its depth is unknown. */
static void take_back_run(struct oxl_proc *p)
{
    struct oxl_run_result *r = counted(p);
    if (!r)
        return;
    r->valid = false;
    r->reasons = oxl_reasons_add(r->reasons, OXL_R_BASELINE_DRIFT);
    p->valid_n--;
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = p->now_us, .u.run = *r};
    p->emit(p->ctx, &ev);
    oxl_proc_say(p, OXL_ADV_RUN_INVALID, "%s", "");
}

/* The snap is asked for once the last run's own fall has told what it could. */
static void ask_for_proof(struct oxl_proc *p)
{
    const char *why = "";
    if (enough_runs(p) || !oxl_proof_wanted(p, &why) || p->proof_asked_in == p->run)
        return;
    p->asked_proof++;
    p->proof_asked_in = p->run;
    oxl_proc_say(p, OXL_ADV_PROVE_REAR, "%s", why);
}

static void next_state(struct oxl_proc *p)
{
    p->leak.back_to_end = enough_runs(p) && !p->deeper.on;
    if (p->leak.wanted)
        oxl_proc_enter(p, OXL_STATE_LEAK_CHECK);
    else if (!enough_runs(p) || p->deeper.on)
        oxl_proc_enter(p, OXL_STATE_BASELINE);
    else if (!p->offer_us)
        conclude(p);
}

void oxl_recovery_data(struct oxl_proc *p, const struct oxl_sample *s)
{
    if (!oxl_channel_same(s->channel, oxl_proc_bank_channel(p, OXL_Q_STFT_PCT)))
        return;
    bool proving = enough_runs(p) && !p->leak.wanted && !p->deeper.on && !p->offer_us;
    double shift = oxl_proc_shift_pct(p);
    bool back =
        !oxl_gas_may_flow(p) && (!oxl_known(shift) || fabs(shift) <= 0.5 * p->profile.band_pct);
    oxl_proc_since(&p->settled_us, back || (proving && heads_back(p)), p->now_us);
    oxl_gas_watch_recovery(p);
    oxl_gas_say_shut(p);
    if (!oxl_gas_may_flow(p))
        ask_for_proof(p);
    if (oxl_proc_lasted(p, p->settled_us, settle_s) && !p->link_lost_us) {
        p->proven = true;
        next_state(p);
    }
}

int64_t oxl_recovery_due(const struct oxl_proc *p)
{
    if (p->offer_us && !p->leak.wanted)
        return p->offer_us;
    return p->link_lost_us ? INT64_MAX : p->entered_us + OXL_S_US(p->profile.recovery_limit_s);
}

void oxl_recovery_time(struct oxl_proc *p)
{
    if (p->offer_us && !p->leak.wanted) {
        oxl_proc_enter(p, OXL_STATE_DONE);
        return;
    }
    if (oxl_gas_gave_up(p))
        return;
    take_back_run(p);
    next_state(p);
}
