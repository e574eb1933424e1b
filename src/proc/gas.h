/* Gas watch: may gas still be flowing? From the moment when gas is asked for until trims and front
 * sensor have shown that none comes, no baseline is taken, and whatever leaves a run says first
 * that the valve is to be shut. Also the drip: trims that have fallen although no gas was asked
 * for. */
#ifndef OXL_PROC_GAS_H
#define OXL_PROC_GAS_H

#include <stdbool.h>
#include <stdint.h>

#include "oxylag/event.h"

struct oxl_proc;
struct oxl_sample;

struct oxl_gas {
    bool asked;           /* gas was asked for, and is not yet seen to be gone */
    bool cut_seen;        /* the front has gone lean since: the valve was shut */
    double rest_pct;      /* total trim before it */
    int64_t rich_us;      /* the front is rich since; 0: not */
    int64_t gone_us;      /* looks gone since; 0: not */
    int64_t hold_us;      /* a step waits for it since; 0: not */
    bool hinted;          /* ... and it was said that space goes on */
    enum oxl_advice then; /* ... what it says once no gas comes any more */
    /* drip */
    double highest_pct; /* of the total trims at idle, as long as no gas was asked for; NAN */
    bool sparse;        /* ... by few samples */
    double fallen_pct;  /* by how much they stood lower when the valve was asked about */
    int64_t drip_us;    /* asked about since; 0: not */
    bool cylinder;      /* the valve was looked at in vain: now the cylinder is to be shut */
    bool drip_done;     /* asked once; not again in this test, unless the fall is large */
};

void oxl_gas_start(struct oxl_proc *p);
void oxl_gas_called_for(struct oxl_proc *p); /* the enrichment begins */
void oxl_gas_cut_seen(struct oxl_proc *p);   /* front-lean */
void oxl_gas_data(struct oxl_proc *p, const struct oxl_sample *s);
bool oxl_gas_may_flow(const struct oxl_proc *p);
/* A step begins that has to wait until gas is gone: SHUT THE VALVE while it may flow, wait while
 * the trims come back, and then what the step has to say. */
void oxl_gas_wait(struct oxl_proc *p, enum oxl_advice then);
void oxl_gas_next_state(struct oxl_proc *p);
void oxl_gas_forget_rest(struct oxl_proc *p); /* where the trims rested says no more */
/* SHUT THE VALVE, where the valve may be open. */
void oxl_gas_say_shut(struct oxl_proc *p);
/* True while the next step has to wait; what to do has been said then. The test may have ended. */
bool oxl_gas_holds(struct oxl_proc *p);
/* The technician says that the valve is shut: recorded as an override. False when no gas is on. */
bool oxl_gas_pass(struct oxl_proc *p);
int64_t oxl_gas_hold_due(const struct oxl_proc *p); /* INT64_MAX: nothing waits */
/* In recovery: trims that stand under where they rested, long after the cut. */
void oxl_gas_watch_recovery(struct oxl_proc *p);
/* The patience for trims to come back is over. False: the front had gone lean, so the valve was
 * shut, and the trims rest elsewhere now. True: gas may still flow; the test has ended. */
bool oxl_gas_gave_up(struct oxl_proc *p);
/* A steady baseline at hand: true while the valve is asked about first. */
bool oxl_gas_drips(struct oxl_proc *p, double trim_pct);

#endif
