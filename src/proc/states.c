/* The states as a table, and the only function that changes the state. */
#include "proc.h"

#include <assert.h>

#define P    OXL_TO(OXL_STATE_PRECHECK) /* an engine that stopped */
#define B    OXL_TO(OXL_STATE_BASELINE)
#define E    OXL_TO(OXL_STATE_ENRICHMENT)
#define R    OXL_TO(OXL_STATE_RELEASE)
#define T    OXL_TO(OXL_STATE_TIMING)
#define V    OXL_TO(OXL_STATE_RECOVERY)
#define L    OXL_TO(OXL_STATE_LEAK_CHECK)
#define ENDS (OXL_TO(OXL_STATE_DONE) | OXL_TO(OXL_STATE_STOPPED))
#define SHUT OXL_HAND_STAY_SHUT

/* hooks, space bar, next, hand, focus */
static const struct oxl_state_row rows[OXL_STATE_COUNT] = {
    [OXL_STATE_PRECHECK] = {OXL_HOOKS(precheck), oxl_precheck_pass, B | L | ENDS, SHUT,
                            OXL_FOCUS_ALL, .hand_late = true},
    [OXL_STATE_BASELINE] = {OXL_HOOKS(baseline), oxl_baseline_pass, B | E | L | P | ENDS, SHUT,
                            OXL_FOCUS_ALL, .restarts = true, .hand_late = true},
    [OXL_STATE_ENRICHMENT] = {OXL_HOOKS(enrich), oxl_enrich_cut, R | B | V | L | P | ENDS,
                              OXL_HAND_OPEN, OXL_FOCUS_TRIMS, .in_run = true, .restarts = true,
                              .hand_late = true, .say = oxl_enrich_say_open},
    [OXL_STATE_RELEASE] = {OXL_HOOKS(release), NULL, T | B | V | P | ENDS, OXL_HAND_SHUT,
                           OXL_FOCUS_TIMING, .in_run = true, .restarts = true,
                           .say = oxl_release_enter},
    [OXL_STATE_TIMING] = {OXL_HOOKS(timing), NULL, V | B | P | ENDS, SHUT, OXL_FOCUS_TIMING,
                          .in_run = true, .restarts = true},
    [OXL_STATE_RECOVERY] = {OXL_HOOKS(recovery), NULL, B | L | P | ENDS, SHUT, OXL_FOCUS_ALL,
                            .restarts = true},
    [OXL_STATE_LEAK_CHECK] = {OXL_HOOKS(leak), NULL, B | V | L | P | ENDS, SHUT, OXL_FOCUS_ALL,
                              .restarts = true, .lost = oxl_leak_give_up},
    [OXL_STATE_DONE] = {.enter = oxl_done_enter, .hand = SHUT},
    [OXL_STATE_STOPPED] = {.hand = SHUT},
};

const struct oxl_state_row *oxl_state_row(enum oxl_state state)
{
    return &rows[state];
}

bool oxl_state_may_follow(enum oxl_state from, enum oxl_state to)
{
    return (rows[from].next & OXL_TO(to)) != 0;
}

bool oxl_proc_over(const struct oxl_proc *p)
{
    return p->state == OXL_STATE_DONE || p->state == OXL_STATE_STOPPED;
}

enum oxl_focus oxl_proc_focus(const struct oxl_proc *p)
{
    return rows[p->state].focus;
}

static void change(struct oxl_proc *p, enum oxl_state state)
{
    p->state = state;
    p->entered_us = p->now_us;
    oxl_proc_unsay(p);
    oxl_gas_next_state(p);
    if (state == OXL_STATE_BASELINE)
        oxl_run_number(p);
    struct oxl_event ev = {.kind = OXL_EV_STATE, .t_us = p->now_us};
    ev.u.state.state = state;
    ev.u.state.run = p->run.number;
    p->emit(p->ctx, &ev);
    if (rows[state].enter)
        rows[state].enter(p);
}

void oxl_proc_start(struct oxl_proc *p, int64_t t_us)
{
    oxl_proc_set_now(p, t_us);
    change(p, OXL_STATE_PRECHECK);
}

void oxl_proc_count_from(struct oxl_proc *p, int64_t t_us)
{
    p->entered_us = t_us;
}

void oxl_proc_enter(struct oxl_proc *p, enum oxl_state state)
{
    bool may = oxl_state_may_follow(p->state, state);
    assert(may);
    if (may)
        change(p, state);
    else if (!oxl_proc_over(p))
        oxl_proc_stop(p, OXL_ERR_INTERNAL, "Internal error: no way from %s to %s. Test again.",
                      oxl_state_name(p->state), oxl_state_name(state));
}
