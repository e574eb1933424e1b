/* When the controller takes the values that it answers with: each group of channels by a clock of
 * its own, which may run off, stumble, jump or change its period.
 */
#ifndef OXL_SIM_LATCH_H
#define OXL_SIM_LATCH_H

#include "sim/parts.h"

struct oxl_latch {
    const struct oxl_ecu_settings *u;
    struct oxl_random random;
    struct {
        double period_us, nominal_us, due_us; /* of the next latch: by the clock; as it comes */
        double jump_us;                       /* when the clock jumps next */
        bool changed;
    } group[OXL_REFRESH_GROUPS];
};

/* u outlives it. */
void oxl_latch_init(struct oxl_latch *x, const struct oxl_ecu_settings *u, uint64_t seed);
/* Bit 1 << group for each group that is taken at t_us, which never goes back. */
unsigned oxl_latch_due(struct oxl_latch *x, int64_t t_us);
/* Takes the channels of those groups over. */
void oxl_latch_take(struct oxl_readout *latched, const struct oxl_readout *now, unsigned groups);

#endif
