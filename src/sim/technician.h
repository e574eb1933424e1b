/* The person at the gas valve. Guided: hears the tool's advice and nothing else. Alone: watches
 * the total trim on a gauge of his own. Either way with a person's reaction time and hands.
 */
#ifndef OXL_SIM_TECHNICIAN_H
#define OXL_SIM_TECHNICIAN_H

#include "sim/plant.h"

#define OXL_TECH_SETTINGS(D, U, B, T)                                                              \
    D(reaction_min_s, 0, 5, 0.3)                                                                   \
    D(reaction_max_s, 0, 10, 0.8)                                                                  \
    D(usual_opening, 0.01, 1, 0.48) /* what experience says is about right */                      \
    D(opening_sd_pct, 0, 50, 6)     /* how well he hits it */                                      \
    D(open_per_s, 0.001, 10, 0.08)                                                                 \
    D(creep_per_s, 0, 1, 0.003)                                                                    \
    D(shut_s, 0, 20, 0.2)                                                                          \
    D(brisk_per_s, 0.01, 10, 0.25) /* told to open quickly */                                      \
    D(depth_pct, 2, 60, 20)        /* alone: the depth he works to */                              \
    D(settle_s, 0, 600, 25)                                                                        \
    D(hold_s, 0, 120, 4)                                                                           \
    D(max_hold_s, 1, 300, 55)                                                                      \
    D(rest_s, 0, 600, 15)                                                                          \
    /* the valve shuts to this part at first, then drips dry */                                    \
    D(dribble_pct, 0, 90, 0)                                                                       \
    D(dribble_tau_s, 0.1, 60, 4)                                                                   \
    B(heeds_too_much, true) /* no: will not close the valve a little when told to */               \
    B(forgets_valve, false) /* leaves it a crack open between runs */                              \
    D(forgotten_opening, 0, 1, 0.08)                                                               \
    B(snap_throttle, true) /* proves the rear sensor when asked to */                              \
    D(snap_pct, 1, 80, 25)                                                                         \
    D(snap_s, 0.1, 5, 0.6)                                                                         \
    D(raised_pct, 0, 20, 3.5)                                                                      \
    B(covers_leak, true) /* covers the right place in the leak check */

struct oxl_tech_settings {
    OXL_SETTING_MEMBERS(OXL_TECH_SETTINGS)
};
OXL_SETTING_TABLE(tech);

enum { OXL_TECH_PENDING = 16 };

enum oxl_tech_act {
    OXL_ACT_NONE,
    OXL_ACT_OPEN,
    OXL_ACT_SLOW,
    OXL_ACT_HOLD,
    OXL_ACT_MORE,
    OXL_ACT_OPEN_WIDE,
    OXL_ACT_MUCH_MORE,
    OXL_ACT_LESS,
    OXL_ACT_MUCH_LESS,
    OXL_ACT_SHUT,
    OXL_ACT_SHUT_WELL,
    OXL_ACT_SNAP,
    OXL_ACT_RAISE_SPEED,
    OXL_ACT_LET_IDLE,
    OXL_ACT_SMALLER_PORT,
    OXL_ACT_COVER,
    OXL_ACT_UNCOVER
};

enum oxl_tech_alone { OXL_ALONE_WAIT, OXL_ALONE_GAS, OXL_ALONE_RECOVER };

struct oxl_technician {
    struct oxl_tech_settings s;
    enum oxl_tech_mode mode;
    struct oxl_random random;
    struct {
        enum oxl_tech_act act;
        int64_t due_us;
    } pending[OXL_TECH_PENDING];
    size_t pendings;
    double opening;    /* of the valve now */
    double aim;        /* where his hand is going */
    double rate_per_s; /* how fast */
    double usual;      /* this run's idea of the right opening */
    bool opening_up, creeping;
    double dribble;
    double raised_pct;
    int64_t snap_until_us;
    /* alone */
    enum oxl_tech_alone phase;
    int64_t phase_us, first_asked_us, last_asked_us, calm_us;
    double trim_seen, trim_rest;
};

void oxl_technician_init(struct oxl_technician *t, const struct oxl_tech_settings *s,
                         enum oxl_tech_mode mode, uint64_t seed);
void oxl_technician_hear(struct oxl_technician *t, const struct oxl_event *ev, int64_t t_us);
/* Somebody has read the vehicle's data at t_us. */
void oxl_technician_asked(struct oxl_technician *t, int64_t t_us);
/* Every OXL_CONTROL_US: works valve and throttle. */
void oxl_technician_step(struct oxl_technician *t, struct oxl_plant *p, int64_t t_us);

#endif
