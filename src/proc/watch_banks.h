/* Watch: the other bank, and whether the front sensors are crossed between the banks. */
#ifndef OXL_PROC_WATCH_BANKS_H
#define OXL_PROC_WATCH_BANKS_H

#include "oxylag/measure.h"
#include "oxylag/vehicle.h"

struct oxl_proc;

struct oxl_banks_watch {
    struct oxl_pair other;
    bool shared_rear; /* one rear sensor behind both */
    int64_t
        apart_us; /* since when both fronts stand on opposite sides of balance; 0: they do not */
    double apart_pct; /* difference of the trims then */
    bool crossed;
    int64_t balance_us; /* crossed, and since when both stand at balance all the same; 0 */
};

void oxl_banks_survey(struct oxl_banks_watch *w, const struct oxl_proc *p);
/* This bank's share of the engine's air: two banks with a rear sensor each have a converter each; a
 * shared rear means one. */
double oxl_banks_air_share(const struct oxl_banks_watch *w, const struct oxl_proc *p);
/* True: this sample shows that the fronts are crossed. */
bool oxl_banks_sample(struct oxl_banks_watch *w, const struct oxl_proc *p,
                      const struct oxl_sample *s);
oxl_reasons oxl_banks_reasons(const struct oxl_banks_watch *w);
void oxl_banks_show(const struct oxl_banks_watch *w, const struct oxl_proc *p);

#endif
