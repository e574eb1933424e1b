/* The graph of the procedure: each state's hooks, what the hand at the valve does in it, and the
 * states that may follow. docs/procedure.md holds it as printed by
 * tests/scenario/proc/test_graph.c. */
#ifndef OXL_PROC_STATES_H
#define OXL_PROC_STATES_H

#include <stdbool.h>
#include <stdint.h>

#include "oxylag/event.h"
#include "oxylag/poll.h"

struct oxl_proc;
struct oxl_sample;

struct oxl_state_row {
    void (*enter)(struct oxl_proc *p);
    void (*data)(struct oxl_proc *p, const struct oxl_sample *s);
    void (*time)(struct oxl_proc *p);
    int64_t (*due)(const struct oxl_proc *p);
    void (*now_key)(struct oxl_proc *p); /* the space bar; NULL: a mark */
    unsigned next;                       /* OXL_TO(state) of each that may follow */
    enum oxl_hand hand;                  /* the valve, as long as nothing else is said */
    enum oxl_focus focus;
    void (*say)(struct oxl_proc *p);  /* what the hand has to do, again; NULL: shut the valve */
    void (*lost)(struct oxl_proc *p); /* the link, outside a run; NULL: nothing is lost */
    bool in_run;                      /* gas is expected; a lost link voids the run */
    bool restarts;                    /* the key r leads back to the baseline */
    bool hand_late;                   /* its deadline is for the hand: none where a table is read */
};
#define OXL_TO(state) (1u << (unsigned)(state))

/* A state's four hooks: declared here, put into its row by OXL_HOOKS, defined in its own file. */
#define OXL_STATE_HOOKS(name)                                                                      \
    void oxl_##name##_enter(struct oxl_proc *p);                                                   \
    void oxl_##name##_data(struct oxl_proc *p, const struct oxl_sample *s);                        \
    void oxl_##name##_time(struct oxl_proc *p);                                                    \
    int64_t oxl_##name##_due(const struct oxl_proc *p)
#define OXL_HOOKS(name) oxl_##name##_enter, oxl_##name##_data, oxl_##name##_time, oxl_##name##_due

OXL_STATE_HOOKS(precheck);
OXL_STATE_HOOKS(baseline);
OXL_STATE_HOOKS(enrich);
OXL_STATE_HOOKS(release);
OXL_STATE_HOOKS(timing);
/* Front-lean to rear-lean, or to now; NAN where the rear fell before the front. */
double oxl_timing_so_far_s(const struct oxl_proc *p, int64_t now_us);
OXL_STATE_HOOKS(recovery);
OXL_STATE_HOOKS(leak);

const struct oxl_state_row *oxl_state_row(enum oxl_state state);
bool oxl_state_may_follow(enum oxl_state from, enum oxl_state to);

/* The first state, and from then on the only function that changes it. A state that may not follow
 * is a bug of ours: an assertion in a debug build, else the test ends as an internal error, with
 * the result of the runs that count. */
void oxl_proc_start(struct oxl_proc *p, int64_t t_us);
void oxl_proc_enter(struct oxl_proc *p, enum oxl_state state);
/* The state begins again, as it were, at t_us: entered_us. */
void oxl_proc_count_from(struct oxl_proc *p, int64_t t_us);

#endif
