/* The run in progress: what is known of it, and its end without a measurement. */
#include "proc.h"

/* A live trim does not stay at exactly 0 under a front that is rich for so long. */
static const double stuck_s = 3.0;

static struct oxl_depth_plan plan_of(const struct oxl_profile *f, enum oxl_run_mode mode)
{
    struct oxl_depth_plan plan = {
        mode,        f->target_pct, f->accept_low_pct, f->accept_high_pct, f->back_off_pct,
        f->slow_pct, f->hold_s,     OXL_ADV_ADD_GAS};
    if (mode == OXL_RUN_NORMAL)
        return plan;
    plan.target_pct = f->deeper_target_pct;
    plan.accept_high_pct = plan.slow_pct =
        fmin(0.5 * (f->target_pct + f->deeper_target_pct), f->accept_high_pct);
    plan.accept_low_pct = plan.back_off_pct = f->deeper_deepest_pct;
    plan.hold_s = NAN;
    plan.add = OXL_ADV_DEEPER_ADD;
    return plan;
}

void oxl_run_set_mode(struct oxl_proc *p, enum oxl_run_mode mode)
{
    p->run.plan = plan_of(&p->profile, mode);
}

bool oxl_run_is_deeper(const struct oxl_proc *p)
{
    return p->run.plan.mode == OXL_RUN_DEEPER;
}

void oxl_run_number(struct oxl_proc *p)
{
    p->run.number += p->run.used || p->run.number == 0;
    p->run.used = false;
}

void oxl_run_forget(struct oxl_proc *p)
{
    p->run = (struct oxl_run){.number = p->run.number, .used = p->run.used, .plan = p->run.plan};
}

void oxl_run_note_rear(struct oxl_proc *p)
{
    p->run.rear_was_rich = p->run.rear_was_rich || oxl_proc_rear_is_rich(p);
}

void oxl_run_note_rich(struct oxl_proc *p)
{
    bool front = oxl_proc_front_is_rich(p);
    p->run.front_was_rich = p->run.front_was_rich || front;
    oxl_run_note_rear(p);
    oxl_proc_since(&p->run.front_rich_us, front, p->now_us);
    if (oxl_proc_lasted(p, p->run.front_rich_us, stuck_s) &&
        oxl_proc_lasted(p, p->engine.stft_zero_us, stuck_s))
        p->run.trim_stuck = true;
}

bool oxl_run_look_again(struct oxl_proc *p, double every_s)
{
    if (p->run.looked_us && !oxl_proc_lasted(p, p->run.looked_us, every_s))
        return false;
    p->run.looked_us = p->now_us;
    return true;
}

void oxl_run_note_shift(struct oxl_proc *p, double shift_pct, int64_t since_us)
{
    if (!p->run.shift_start_us)
        p->run.shift_start_us = since_us;
    p->run.deepest_pct = fmin(p->run.deepest_pct, shift_pct);
}

void oxl_run_cut(struct oxl_proc *p, int64_t cut_us)
{
    p->run.cut_us = cut_us;
    oxl_proc_enter(p, OXL_STATE_RELEASE);
}

void oxl_run_front_lean(struct oxl_proc *p, const struct oxl_moment *m)
{
    p->run.front_lean = *m;
    oxl_gas_cut_seen(p);
    oxl_proc_enter(p, OXL_STATE_TIMING);
}

void oxl_run_flaw(struct oxl_proc *p, enum oxl_reason r, bool so)
{
    p->run.flaws = so ? oxl_reasons_add(p->run.flaws, r) : p->run.flaws & ~OXL_REASON_BIT(r);
}

oxl_reasons oxl_run_reasons(const struct oxl_proc *p)
{
    return p->run.flaws | p->patterns.of_run;
}

void oxl_run_over(struct oxl_proc *p, struct oxl_event *ev)
{
    p->run.used = true;
    ev->u.run.run = p->run.number;
    oxl_kept_add(p, &ev->u.run);
    oxl_deeper_ran(p, ev->u.run.valid);
    p->emit(p->ctx, ev);
}

void oxl_run_void(struct oxl_proc *p, enum oxl_reason why)
{
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = p->now_us};
    struct oxl_run_input in = {.profile = &p->profile, .pair = p->pair};
    in.baseline_trim_pct = p->base.trim_pct;
    in.baseline_rpm = p->base.rpm;
    oxl_measure_run(&in, &ev.u.run);
    oxl_patterns_apply(&p->patterns, p, OXL_AT_RUN);
    /* Nothing was measured: what the empty measurement missed is beside the point. */
    ev.u.run.reasons = oxl_reasons_add(oxl_run_reasons(p), why);
    ev.u.run.valid = false;
    ev.u.run.deeper = oxl_run_is_deeper(p);
    ev.u.run.shift_pct = p->run.shift_start_us ? p->run.deepest_pct : NAN;
    oxl_run_over(p, &ev);
    oxl_proc_say(p, OXL_ADV_RUN_INVALID, "%s", oxl_reason_sentence(why));
}
