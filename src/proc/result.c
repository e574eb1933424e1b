/* How the test ends: with the result of the runs that count, or without one. */
#include "proc.h"

#include <stdarg.h>
#include <stdio.h>

static bool ended_early(const struct oxl_proc *p)
{
    return p->source.repeats && !oxl_kept_wanted(p);
}

/* Nothing counted is thrown away. */
static void end_with_result(struct oxl_proc *p)
{
    char found[96], why[128];
    if (ended_early(p)) {
        snprintf(found, sizeof found, "ended early, %zu of %u runs", p->kept.valid_n,
                 p->runs_wanted);
        snprintf(why, sizeof why, "%.127s", p->outcome_text);
        oxl_proc_check(p, "ended-early", OXL_GRADE_CAUTION, found, why);
    }
    oxl_proc_enter(p, OXL_STATE_DONE);
}

void oxl_proc_stop(struct oxl_proc *p, enum oxl_status why, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    vsnprintf(p->outcome_text, sizeof p->outcome_text, fmt, args);
    va_end(args);
    /* Of several runs a false baseline spoils one; a single run has to prove its own. */
    bool proven = p->kept.valid_n > 1 || (p->kept.valid_n == 1 && p->kept.proven);
    if (proven) {
        end_with_result(p);
        return;
    }
    p->outcome = why;
    oxl_gas_say_shut(p);
    oxl_proc_enter(p, OXL_STATE_STOPPED);
    oxl_proc_say(p, why == OXL_ERR_UNSUITABLE ? OXL_ADV_UNSUITABLE : OXL_ADV_ABORTED, "%s",
                 p->outcome_text);
}

void oxl_done_enter(struct oxl_proc *p)
{
    oxl_sensors_say_unseen(&p->sensors, p);
    struct oxl_event ev = {.kind = OXL_EV_RESULT, .t_us = p->now_us};
    oxl_kept_judge(p, &ev.u.result);
    ev.u.result.runs_wanted = p->source.repeats ? (int)p->runs_wanted : 0;
    ev.u.result.ended_early = ended_early(p);
    oxl_gas_say_shut(p);
    oxl_precheck_say_refresh(p); /* the pre-check had a few seconds to see it in */
    p->emit(p->ctx, &ev);
    p->outcome = OXL_OK;
    oxl_proc_tell(p, OXL_ADV_FINISHED);
}
