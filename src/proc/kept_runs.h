/* What the session keeps: its runs, and the reasons that were found once. */
#ifndef OXL_PROC_KEPT_RUNS_H
#define OXL_PROC_KEPT_RUNS_H

#include "oxylag/measure.h"

struct oxl_proc;

enum { OXL_PROC_MAX_RUNS = 32 };

struct oxl_kept {
    struct oxl_run_result runs[OXL_PROC_MAX_RUNS];
    size_t runs_n, valid_n;
    bool proven;         /* trims came back to a baseline, so it was one */
    bool rear_fell;      /* behind a release */
    oxl_reasons reasons; /* of the survey, the technician, gas watch, leak check */
};

void oxl_kept_add(struct oxl_proc *p, const struct oxl_run_result *r);
/* The run just over, if it counts; a deeper one goes by its mass, not by its depth. NULL: none. */
const struct oxl_run_result *oxl_kept_last(const struct oxl_proc *p);
void oxl_kept_take_back(struct oxl_proc *p, enum oxl_reason why); /* oxl_kept_last() */
void oxl_kept_prove(struct oxl_proc *p);
void oxl_kept_rear_fell(struct oxl_proc *p);
void oxl_kept_reasons_are(struct oxl_proc *p, oxl_reasons set, bool so);
static inline void oxl_kept_reason(struct oxl_proc *p, enum oxl_reason r)
{
    oxl_kept_reasons_are(p, OXL_REASON_BIT(r), true);
}

/* As many runs count as were wanted; where two that agree are enough, these two. */
bool oxl_kept_wanted(const struct oxl_proc *p);
/* How many at least are to count, as things stand. */
size_t oxl_kept_least(const struct oxl_proc *p);
/* No further run is needed, or would help. */
bool oxl_kept_enough(const struct oxl_proc *p);
/* Another run is to be taken: too few yet, or the deeper one. */
bool oxl_kept_run_due(const struct oxl_proc *p);
/* All reasons of the session: kept, and what the watches show or refute. */
oxl_reasons oxl_kept_reasons(const struct oxl_proc *p);
/* The verdict as things stand. */
void oxl_kept_judge(const struct oxl_proc *p, struct oxl_result *out);
/* As it would be once a fuel cut had shown the rear lean, and quick. */
void oxl_kept_judge_proven(const struct oxl_proc *p, struct oxl_result *out);
/* ... and had it shown slow. */
void oxl_kept_judge_slow(const struct oxl_proc *p, struct oxl_result *out);
/* Two runs in a row failed for the same reason, which a third would meet as well. */
bool oxl_kept_failed_alike(const struct oxl_proc *p);
void oxl_kept_say_failed_alike(const struct oxl_proc *p);

#endif
