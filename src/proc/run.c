/* The run in progress: what is known of it, and its end without a measurement. */
#include "proc.h"

void oxl_proc_void_run(struct oxl_proc *p, enum oxl_reason why)
{
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = p->now_us};
    struct oxl_run_input in = {.profile = &p->profile, .pair = p->pair};
    in.baseline_trim_pct = p->base.trim_pct;
    in.baseline_rpm = p->base.rpm;
    oxl_measure_run(&in, &ev.u.run);
    oxl_patterns_apply(p, OXL_AT_RUN);
    /* Nothing was measured: what the empty measurement missed is beside the point. */
    ev.u.run.reasons = oxl_reasons_add(p->run_flaws, why);
    ev.u.run.run = p->run;
    p->run_used = true;
    ev.u.run.valid = false;
    ev.u.run.deeper = p->deeper.on;
    oxl_deeper_ran(p, false);
    ev.u.run.shift_pct = p->shift_start_us ? p->deepest_pct : NAN;
    oxl_proc_keep_run(p, &ev.u.run);
    p->emit(p->ctx, &ev);
    oxl_proc_say(p, OXL_ADV_RUN_INVALID, "%s", oxl_reason_sentence(why));
}
