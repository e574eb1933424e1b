/* What a controller, and what hangs on the engine, does by itself: each a switch of the scenario,
 * all off by default. Its random numbers are its own, so that a car without habits stays the same.
 */
#ifndef OXL_SIM_HABITS_H
#define OXL_SIM_HABITS_H

#include "sim/parts.h"

enum { OXL_HABIT_SLOTS = 320 }; /* dead time to the front sensor, in control steps */

struct oxl_habits {
    struct oxl_random random;
    /* the mixture that is asked for */
    double target;  /* lambda, as PID 44 has it */
    double command; /* with the forced modulation on top */
    double seen;    /* what the front sensor should read of it by now */
    float line[OXL_HABIT_SLOTS];
    unsigned at;
    double phase;            /* of the modulation, in turns */
    bool was_cut, enriching; /* after a fuel cut */
    double enriching_s, rear_rich_s, monitor_s;
    bool monitoring;
    /* fuel vapour from the canister; a load on the engine */
    double purge, purge_left_s, load, load_left_s;
    bool purge_on, load_on;
    /* trims at their limit */
    double at_limit_s, held_s, limit_total_s;
    bool held;
    uint16_t rich_dtc; /* 0: none */
    /* the engine stops by itself */
    double idle_s, stopped_s;
    bool stopped;
};

struct oxl_plant;
void oxl_habits_init(struct oxl_plant *p, uint64_t seed);
void oxl_habits_tick(struct oxl_plant *p);             /* every OXL_CONTROL_US, before the trims */
double oxl_habits_module_v(const struct oxl_plant *p); /* NAN: not reported */

#endif
