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

/* More than noise and the wander of a plain loop (0.006 in simulated cars without the habit), and
 * to and fro at least four times in the window. */
double oxl_loop_swing_s(const struct oxl_proc *p, const struct oxl_window_stats *front)
{
    const double least_sd = 0.009, beyond = 0.5;
    enum { LEAST_SWINGS = 4 };
    if (p->pair.front_kind != OXL_SENSOR_WIDE || !(front->sd > least_sd))
        return 0;
    struct oxl_trace t =
        oxl_trace_slice(oxl_proc_front(p), p->now_us - OXL_S_US(p->profile.window_s), p->now_us);
    unsigned swings = 0;
    bool lean = false;
    for (size_t i = 0; i < t.count; i++) {
        double off = t.points[i].value - front->mean;
        swings += !lean && off > beyond * front->sd;
        lean = off > beyond * front->sd || (lean && off > -beyond * front->sd);
    }
    return swings >= LEAST_SWINGS ? 1e-6 * (double)front->span_us / swings : 0;
}

static void say_target(const struct oxl_proc *p, double lambda)
{
    char found[96];
    snprintf(found, sizeof found, "the ECU asks for lambda %.3f (PID 44)", lambda);
    oxl_proc_check(p, "target-lambda", OXL_GRADE_PASS, found, "");
}

static void say_swing(const struct oxl_proc *p)
{
    char found[96];
    snprintf(found, sizeof found, "the mixture swings at idle by %.1f %%, about every %.1f s",
             100 * p->base.front_noise, p->base.swing_s);
    oxl_proc_check(p, "mixture-swings", OXL_GRADE_CAUTION, found,
                   "Forced modulation or the ECU's own test: each time may be off by one swing.");
}

void oxl_loop_say_mixture(struct oxl_proc *p)
{
    const double off = 0.005, old_s = 30;
    double lambda = oxl_proc_latest(p, OXL_Q_COMMANDED_LAMBDA, OXL_S_US(old_s));
    if (fabs(lambda - 1) > off && !p->loop.target) {
        p->loop.target = true;
        say_target(p, lambda);
    }
    if (p->base.swing_s > 0 && !p->loop.swing) {
        p->loop.swing = true;
        say_swing(p);
    }
}

void oxl_loop_widen(const struct oxl_proc *p, struct oxl_span *delay_s)
{
    delay_s->low -= p->base.swing_s;
    delay_s->high += p->base.swing_s;
}
