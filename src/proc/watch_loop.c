/* The gas drives the trims far down, and an ECU may take that for a fault of its own: it holds the
 * trims, opens the loop, stores a rich code and lights the lamp. */
#include "proc.h"

#include <stdio.h>

static const char read_codes[] = "Shut the gas and read the trouble codes: P0172 or P0175 may come "
                                 "from it. Cut the next run earlier.";

static void say_fault(const struct oxl_proc *p, double code)
{
    char found[96];
    snprintf(found, sizeof found, "the ECU sees a fault since the gas: fuel system status %.0f",
             code);
    oxl_proc_check(p, "loop-fault", OXL_GRADE_CAUTION, found, read_codes);
}

void oxl_loop_sample(struct oxl_loop_watch *w, const struct oxl_proc *p, const struct oxl_sample *s)
{
    const double open_fault = 8; /* SAE J1979, PID 03 */
    if (!oxl_channel_same(s->channel, oxl_proc_bank_channel(p, OXL_Q_FUEL_SYSTEM)))
        return;
    w->was_closed = w->was_closed || oxl_loop_closed(s->value);
    if (!w->was_closed || w->fault || p->run.number == 0 ||
        !(s->value == open_fault || oxl_loop_closed_with_fault(s->value)))
        return;
    w->fault = true;
    say_fault(p, s->value);
}

void oxl_loop_say_limit(struct oxl_proc *p)
{
    if (p->loop.limit)
        return;
    p->loop.limit = true;
    oxl_proc_check(p, "trim-limit", OXL_GRADE_CAUTION,
                   "the trims met their limit: the ECU may store a rich code and light its lamp",
                   read_codes);
}

void oxl_loop_say_left(struct oxl_proc *p)
{
    if (p->loop.left)
        return;
    p->loop.left = true;
    oxl_proc_check(p, "loop-left", OXL_GRADE_CAUTION,
                   "the ECU left closed loop while gas flowed: its trims were at their limit",
                   read_codes);
}
