/* Recovery until the next run, and the end. */
#include "proc.h"

static const double settle_s = 3.0;
/* Runs that do not count are repeated, but not for ever. */
enum { SPARE_RUNS = 3 };

void oxl_recovery_enter(struct oxl_proc *p)
{
    p->settled_us = 0;
    bool enough = p->valid_n >= p->runs_wanted || p->runs_n >= p->runs_wanted + SPARE_RUNS ||
                  p->runs_n >= OXL_PROC_MAX_RUNS;
    if (enough) {
        oxl_proc_enter(p, OXL_STATE_DONE);
        return;
    }
    const struct oxl_run_result *last = p->runs_n ? &p->runs[p->runs_n - 1] : NULL;
    if (last && last->valid && !last->dropped && !p->facts.rear_seen_lean && !p->asked_rear_proof) {
        p->asked_rear_proof = true;
        oxl_proc_say(p, OXL_ADV_PROVE_REAR, "%s", "");
    } else {
        oxl_proc_say(p, OXL_ADV_RECOVER, "%s", "");
    }
}

void oxl_recovery_data(struct oxl_proc *p, const struct oxl_sample *s)
{
    if (!oxl_channel_same(s->channel, oxl_proc_bank_channel(p, OXL_Q_STFT_PCT)))
        return;
    double shift = oxl_proc_shift_pct(p);
    bool back = !oxl_known(shift) || fabs(shift) <= 0.5 * p->profile.band_pct;
    if (!back)
        p->settled_us = 0;
    else if (!p->settled_us)
        p->settled_us = p->now_us;
    if (p->settled_us && p->now_us - p->settled_us >= OXL_S_US(settle_s) && !p->link_lost_us)
        oxl_proc_enter(p, OXL_STATE_BASELINE);
}

int64_t oxl_recovery_due(const struct oxl_proc *p)
{
    return p->link_lost_us ? INT64_MAX : p->entered_us + OXL_S_US(p->profile.recovery_limit_s);
}

void oxl_recovery_time(struct oxl_proc *p)
{
    p->facts.reasons = oxl_reasons_add(p->facts.reasons, OXL_R_BASELINE_DRIFT);
    oxl_proc_enter(p, OXL_STATE_BASELINE);
}

void oxl_done_enter(struct oxl_proc *p)
{
    struct oxl_event ev = {.kind = OXL_EV_RESULT, .t_us = p->now_us};
    oxl_judge(p->runs, p->runs_n, &p->profile, &p->facts, &ev.u.result);
    p->emit(p->ctx, &ev);
    p->outcome = OXL_OK;
    oxl_proc_say(p, OXL_ADV_FINISHED, "%s", "");
}
