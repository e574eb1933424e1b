/* Inside the judge: what its two files share. */
#ifndef OXL_MEASURE_JUDGE_H
#define OXL_MEASURE_JUDGE_H

#include "parts.h"

enum { MAX_RUNS = 64 };

/* One run's claim: the truth lies in [low, high]; an end is infinite where a bound or a flaw
 * leaves it open. */
struct claim {
    double low, high;
};

struct combined {
    struct claim all;
    bool scatter; /* claims exclude each other */
    bool above;   /* a lower bound lies above the values: those are of a part-emptied store */
};

struct claims {
    struct claim delay, oxygen;
    bool delay_known, oxygen_known;
};

struct panel {
    const struct oxl_run_result *runs[MAX_RUNS]; /* valid, alike, not set aside */
    size_t n;
    const struct oxl_run_result *aside; /* far from the others; NULL when none */
    oxl_reasons common;                 /* of the session; they bear on every run */
    oxl_reasons found;                  /* about the set of runs */
};

double judge_median(double *v, size_t n);
/* At the target where that is known, else as timed. */
struct oxl_span judge_delay_of(const struct oxl_run_result *r);
struct claim judge_claim_of(struct oxl_span s);
struct combined judge_combine(const struct claim *c, size_t n);
struct claims judge_collect(struct panel *p, const struct oxl_profile *profile);
/* A deeper run that dropped and took out what it was to: its mass is that of the store. */
bool judge_measures_all(const struct oxl_run_result *r, oxl_reasons common);

#endif
