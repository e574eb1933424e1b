/* Inside the judge: what its files share. */
#ifndef OXL_MEASURE_JUDGE_H
#define OXL_MEASURE_JUDGE_H

#include "parts.h"

enum { MAX_RUNS = 64 };

/* One run's claim: the truth lies in [low, high]; an end is infinite where a bound or a flaw
 * leaves it open. */
struct claim {
    double low, high;
};

/* What all runs claim of one figure. */
struct figure {
    size_t n; /* runs that say something of it; 0: it is not known */
    struct claim all;
    double value; /* the middle of the runs whose claims have two ends */
    int run;      /* the run that it comes from; 0: several */
    bool scatter; /* claims exclude each other */
    bool above;   /* a lower bound lies above the values: those are of a part-emptied store */
};

/* The figures that are judged are the figures that are shown. */
struct claims {
    struct figure delay;    /* at the target where that is known, else as timed */
    struct figure oxygen;   /* mg */
    struct figure as_timed; /* not judged where the delay at the target is known */
    bool at_target;
    double timed_s;  /* median of the delays as timed, whatever flaws say of them; NAN: none */
    double spread_s; /* between the runs whose delay as timed is a value, no bound; NAN */
    int spread_runs; /* of how many; 0 */
};

struct panel {
    const struct oxl_run_result *runs[MAX_RUNS]; /* valid, alike, not set aside */
    size_t n;
    const struct oxl_run_result *aside; /* far from the others; NULL when none */
    oxl_reasons common;                 /* of the session; they bear on every run */
    oxl_reasons refuted;                /* of no run any more */
    const struct oxl_profile *profile;
    double rear_lag_s;    /* by so much it may be late */
    double too_little_mg; /* the most that was taken out and may not have emptied the store; 0 */
    bool deeper;          /* one is among them */
    oxl_reasons found;    /* about the set of runs */
};

double oxl_judge_median(double *v, size_t n);
/* At the target where that is known, else as timed. */
struct oxl_span oxl_judge_delay_of(const struct oxl_run_result *r);
struct claims oxl_judge_collect(struct panel *p, const struct oxl_profile *profile);
/* A figure as every output shows it: a value within its two ends, or a bound without one. */
struct oxl_span oxl_judge_span_of(const struct figure *f);
/* What bears on a run: its own flaws, less what was refuted, and the session's. */
oxl_reasons oxl_judge_flaws(const struct panel *p, const struct oxl_run_result *r);
/* A deeper run that dropped and took out what it was to: its mass is that of the store. */
bool oxl_judge_measures_all(const struct oxl_run_result *r, oxl_reasons flaws);

/* judge_conflict.c: where runs speak against each other. */
/* The most that a run took out which may not have emptied the store, deeper ones aside; 0: none. */
double oxl_judge_too_little_mg(const struct panel *p);
/* Lower ends that a later run has refuted. */
void oxl_judge_take_back(struct panel *p, struct claims *c);

/* oxl_judge_lead.c: the figure that carried the verdict, or came nearest to one. */
struct oxl_lead oxl_judge_lead(const struct claims *c, const struct oxl_profile *profile,
                               const struct oxl_result *result);

/* oxl_judge_next.c: what is to be done next, of what is known of the test and its result. */
oxl_reasons oxl_judge_next(const struct oxl_result *result, const struct oxl_run_result *runs,
                           size_t n, const struct oxl_session_facts *facts);

#endif
