/* What is known of how often the ECU refreshes the pair's values and the short-term trim. */
#ifndef OXL_PROC_REFRESHES_H
#define OXL_PROC_REFRESHES_H

#include "oxylag/measure.h"

struct oxl_proc;

enum oxl_taken { OXL_TAKEN_FRONT, OXL_TAKEN_REAR, OXL_TAKEN_SENSORS };
struct oxl_refreshes {
    struct oxl_refresh front, rear, trim;
    struct oxl_point *taken[OXL_TAKEN_SENSORS]; /* room for a run's samples */
};

/* False: no memory. */
bool oxl_refreshes_start(struct oxl_refreshes *r);
void oxl_refreshes_end(struct oxl_refreshes *r);
/* Of what was sampled so far: before the gas, and when a run is measured. */
void oxl_refreshes_find(struct oxl_refreshes *r, const struct oxl_proc *p);
/* These samples with the moments at which they were taken. */
struct oxl_trace oxl_refreshes_taken(const struct oxl_refreshes *r, struct oxl_trace t,
                                     enum oxl_taken which);

#endif
