/* The person at the gas valve. Guided: hears the tool's advice and nothing else. Alone: watches
 * the total trim on a gauge of his own. Either way with a person's reaction time and hands.
 */
#ifndef OXL_SIM_TECHNICIAN_H
#define OXL_SIM_TECHNICIAN_H

#include "sim/plant.h"

struct oxl_tech_settings {
    double reaction_min_s, reaction_max_s;
    double usual_opening;  /* what experience says is about right */
    double opening_sd_pct; /* how well he hits it */
    double open_per_s, creep_per_s, shut_s;
    double brisk_per_s; /* told to open quickly */
    double depth_pct;   /* alone: the depth he works to */
    double settle_s, hold_s, max_hold_s, rest_s;
    double dribble_pct, dribble_tau_s; /* the valve shuts to this part at first, then drips dry */
    bool heeds_too_much;               /* no: will not close the valve a little when told to */
    bool forgets_valve;                /* leaves it a crack open between runs */
    double forgotten_opening;
    bool snap_throttle; /* proves the rear sensor when asked to */
    double snap_pct, snap_s, raised_pct;
    bool covers_leak; /* covers the right place in the leak check */
};
void oxl_tech_defaults(struct oxl_tech_settings *s);
extern const struct oxl_setting oxl_tech_setting_table[];
extern const size_t oxl_tech_setting_count;

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
