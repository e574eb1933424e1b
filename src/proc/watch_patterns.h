/* Watch: the table of failure patterns. */
#ifndef OXL_PROC_WATCH_PATTERNS_H
#define OXL_PROC_WATCH_PATTERNS_H

#include "oxylag/measure.h"

struct oxl_proc;

struct oxl_patterns_watch {
    oxl_reasons of_session, of_run;
    oxl_reasons said; /* those that have had their line */
};

enum oxl_pattern_when { OXL_AT_BASELINE, OXL_AT_RUN, OXL_AT_ANY_TIME };
void oxl_patterns_apply(struct oxl_patterns_watch *w, const struct oxl_proc *p,
                        enum oxl_pattern_when when);
oxl_reasons oxl_patterns_reasons(const struct oxl_patterns_watch *w); /* of the session */
void oxl_patterns_forget_run(struct oxl_patterns_watch *w);
/* The rear has just gone lean: some seconds more show whether it rests there. */
bool oxl_patterns_undecided(const struct oxl_proc *p);
/* The short-term trim stands at exactly 0, as it did under a rich front: now, in this run; shown:
 * in a run before, too. */
bool oxl_patterns_frozen_now(const struct oxl_proc *p);
bool oxl_patterns_shown_frozen(const struct oxl_proc *p);

#endif
