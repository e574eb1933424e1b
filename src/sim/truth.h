/* Watches the plant and writes down what really happened in each gas pulse. */
#ifndef OXL_SIM_TRUTH_H
#define OXL_SIM_TRUTH_H

#include "sim/parts.h"

enum { OXL_TRUTHS = 256 };

/* A signal that passes a level for good: the last crossing that is followed by a long enough
 * stay on the lean side. */
struct oxl_lean_watch {
    bool lean, passed;
    double since_s;
    double longest_spell_s; /* lean spells of the dither before the gas was cut */
    double stored_g;        /* what the converter held at the crossing */
};

/* One look at the plant, all without noise. */
struct oxl_truth_look {
    double t_s, opening, gas_g_s, trim, ramp_trim;
    double front_x, front_v, rear_x, rear_v;
    double target_x; /* of the mixture that is asked for */
    double inlet_x, outlet_x;
    double outlet_v; /* of a sensor without lag in the gas behind the converter */
    double stored_g, capacity_g, air_g_s, rpm;
    bool front_wide, rear_wide, rear_works;
};

enum oxl_truth_phase { OXL_TRUTH_REST, OXL_TRUTH_GAS, OXL_TRUTH_CUT };

struct oxl_truth_watch {
    enum oxl_truth_phase phase;
    struct oxl_truth list[OXL_TRUTHS], now;
    size_t count;
    int pulses;
    double opening, trim_rest, trim_slow, front_level, inlet_level, inlet_slow; /* running means */
    double shut_s, shut_trim, shut_inlet_level;
    bool shutting;
    double fall, fall_s, shut_opening, least_opening, rest_opening;
    struct oxl_lean_watch front, rear, inlet, outlet;
    double stored_start_g, stored_least_g, stored_most_g; /* at gas on; least; most after that */
    double air_sum, rpm_sum, mean_s, calm_s;
};

void oxl_truth_init(struct oxl_truth_watch *w, double trim);
void oxl_truth_step(struct oxl_truth_watch *w, const struct oxl_truth_look *k, double dt_s);
bool oxl_truth_front_lean(const struct oxl_truth_watch *w, double *since_s);

#endif
