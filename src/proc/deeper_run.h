/* The deeper run: what it counts, beside the run in progress. */
#ifndef OXL_PROC_DEEPER_RUN_H
#define OXL_PROC_DEEPER_RUN_H

#include "oxylag/event.h"

struct oxl_proc;

enum oxl_deeper_choice { OXL_DEEPER_AUTO, OXL_DEEPER_YES, OXL_DEEPER_NO };
struct oxl_deeper {
    enum oxl_deeper_choice choice;
    bool done;           /* one has counted */
    unsigned tries;      /* that ended */
    struct oxl_removal { /* in the run in progress */
        double removed_mg;
        int64_t front_us, trim_us; /* last counted; 0: none */
        int64_t over_us;           /* over target since; 0: it is not */
        int64_t idle_us;           /* nothing more to be had since; 0: there is */
    } now;
};

bool oxl_deeper_safe(const struct oxl_proc *p);  /* no heat, misfire or stumble is in its way */
bool oxl_deeper_worth(const struct oxl_proc *p); /* the runs do not decide, and it may */
void oxl_deeper_offer(struct oxl_proc *p);
void oxl_deeper_ran(struct oxl_proc *p, bool valid); /* a run is over; was it the deeper one? */
void oxl_deeper_forget(struct oxl_proc *p);
void oxl_deeper_key(struct oxl_proc *p);
/* On offer and not taken: the test ends with what it has. False when none is. */
bool oxl_deeper_give_up(struct oxl_proc *p);
double oxl_deeper_needed_now_mg(const struct oxl_proc *p);
void oxl_deeper_sample(struct oxl_proc *p, const struct oxl_sample *s);
void oxl_deeper_enrich(struct oxl_proc *p, double shift);
/* When the offer lapses for want of gas; INT64_MAX: it does not. */
int64_t oxl_deeper_offer_due(const struct oxl_proc *p);
int64_t oxl_deeper_due(const struct oxl_proc *p);      /* INT64_MAX in another run */
int64_t oxl_deeper_heat_due(const struct oxl_proc *p); /* INT64_MAX: not over target */
void oxl_deeper_time(struct oxl_proc *p);

#endif
