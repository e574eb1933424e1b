/* What the procedure says: advice that stands, notes beside it, graded lines, marks. */
#include "proc.h"

#include <stdarg.h>
#include <stdio.h>

/* What asks somebody to do something; a table cannot. */
static bool is_cue(enum oxl_advice a)
{
    switch (a) {
    case OXL_ADV_FRONT_LEAN:
    case OXL_ADV_REAR_LEAN:
    case OXL_ADV_REAR_HELD:
    case OXL_ADV_RUN_INVALID:
    case OXL_ADV_DEPTH_UNKNOWN:
    case OXL_ADV_UNSUITABLE:
    case OXL_ADV_FINISHED:
    case OXL_ADV_ABORTED:
        return false;
    default:
        return true;
    }
}

void oxl_proc_say(struct oxl_proc *p, enum oxl_advice advice, const char *fmt, ...)
{
    if (p->advice == advice || (!p->source.cues && is_cue(advice)))
        return;
    p->advice = advice;
    p->advice_us = p->now_us;
    struct oxl_event ev = {.kind = OXL_EV_ADVICE, .t_us = p->now_us};
    ev.u.advice.advice = advice;
    va_list args;
    va_start(args, fmt);
    vsnprintf(ev.u.advice.detail, sizeof ev.u.advice.detail, fmt, args);
    va_end(args);
    p->emit(p->ctx, &ev);
}

void oxl_proc_unsay(struct oxl_proc *p)
{
    p->advice = OXL_ADV_COUNT;
}

void oxl_proc_note(const struct oxl_proc *p, enum oxl_advice advice)
{
    struct oxl_event ev = {.kind = OXL_EV_ADVICE, .t_us = p->now_us};
    ev.u.advice.advice = advice;
    p->emit(p->ctx, &ev);
}

void oxl_proc_check(const struct oxl_proc *p, const char *id, enum oxl_grade grade,
                    const char *found, const char *advice)
{
    struct oxl_event ev = {.kind = OXL_EV_CHECK, .t_us = p->now_us};
    snprintf(ev.u.check.id, sizeof ev.u.check.id, "%s", id);
    snprintf(ev.u.check.found, sizeof ev.u.check.found, "%s", found);
    snprintf(ev.u.check.advice, sizeof ev.u.check.advice, "%s", advice);
    ev.u.check.grade = grade;
    p->emit(p->ctx, &ev);
}

void oxl_proc_mark(const struct oxl_proc *p, const char *text)
{
    struct oxl_event ev = {.kind = OXL_EV_MARK, .t_us = p->now_us};
    snprintf(ev.u.mark.text, sizeof ev.u.mark.text, "%s", text);
    p->emit(p->ctx, &ev);
}
