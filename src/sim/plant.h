/* The plant's own inside: engine, gas, controller, exhaust, converter, sensors. Only files of
 * src/sim and their tests look in here.
 */
#ifndef OXL_SIM_PLANT_H
#define OXL_SIM_PLANT_H

#include "sim/catalyst.h"
#include "sim/habits.h"
#include "sim/latch.h"
#include "sim/nernst.h"
#include "sim/parts.h"
#include "sim/pipe.h"
#include "sim/plant_settings.h"
#include "sim/truth.h"

enum {
    OXL_STEP_US = 2000,     /* physics */
    OXL_CONTROL_US = 10000, /* controller, governor, noise */
    OXL_GAS_SLOTS = 1600    /* dead time of the hose, in steps */
};
#define OXL_STEP_S    (OXL_STEP_US * 1e-6)
#define OXL_CONTROL_S (OXL_CONTROL_US * 1e-6)

/* Air needed by a gram of fuel: 15.68 propane from C3H8 + 5 O2, 14.60 petrol as CH1.87
 * (tests/unit/sim/test_plant_parts.c works them out from atomic weights). */
static const double oxl_afr_petrol = 14.60, oxl_afr_propane = 15.68;
static const double oxl_air_o2 = 0.2314; /* oxygen mass fraction of dry air */

struct oxl_engine {
    double rpm, air_g_s, throttle_pct, governor, cut_over_s;
    bool fuel_cut;
    double ripple_phase, air_noise;
    double coolant_c, run_time_s;
    double torque_phi; /* mean of the banks' last mixture */
};

struct oxl_gas {
    double opening;
    float line[OXL_GAS_SLOTS]; /* openings on their way through the hose */
    unsigned at;
    double quick_g_s, slow_g_s;
};

struct oxl_trims {
    double integral, stft, ltft; /* fractions */
    bool closed, acts_rich, senses_rich;
    double switch_age_s;
    double rear_offset; /* lambda target from the rear trim, as x */
    double rear_integral;
};

struct oxl_bank {
    double fuel_error, fuel_noise;
    double phi_cylinder, phi_front, phi_inlet, phi_outlet, phi_rear; /* fuel over air's need */
    double leak_ripple;
    struct oxl_pipe to_front, to_inlet, to_rear;
    struct oxl_catalyst cat;
    double misfire_x; /* extra oxygen that the front sensor sees after a misfire */
    /* sensors, without noise */
    double front_x, front_v, rear_x, rear_v;
    double front_noise, front_v_noise, rear_v_noise, rear_noise; /* until the next tick */
    struct oxl_trims trims;
};

struct oxl_plant {
    struct oxl_plant_settings s;
    bool front_wide, front_switching, rear_wide, rear_present, has_ltft;
    bool smaller_port, leak_covered;
    int64_t t_us;
    struct oxl_random noise, sense;
    struct oxl_nernst front_curve, rear_curve;
    struct oxl_engine engine;
    struct oxl_gas gas;
    struct oxl_habits habits;
    struct oxl_bank bank[OXL_SIM_BANKS];
    struct oxl_ecu_settings ecu;
    struct oxl_latch latch;
    struct oxl_readout latched; /* each channel as last taken */
    double air_read_error;
    struct oxl_truth_watch truth;
};

struct oxl_plant *oxl_plant_new(const struct oxl_plant_settings *s,
                                const struct oxl_ecu_settings *u, uint64_t seed);
void oxl_plant_free(struct oxl_plant *p);
/* The plant of a whole simulator, to look at (sim.c). */
const struct oxl_plant *oxl_sim_plant(const struct oxl_sim *s);
/* The technician puts a smaller hose on the opened port. */
void oxl_plant_smaller_port(struct oxl_plant *p);
/* The technician covers the exhaust leak, or uncovers it. */
void oxl_plant_cover_leak(struct oxl_plant *p, bool covered);
/* Total trim of a bank as a fraction, as the engine gets it. */
double oxl_plant_trim(const struct oxl_plant *p, unsigned bank);
/* Share of the bank's air that the pump blows into its exhaust ports now. */
double oxl_plant_secondary_air(const struct oxl_plant *p);
double oxl_plant_oxygen_share(const struct oxl_plant *p); /* of the moist air, by mass */

/* plant_engine.c */
void oxl_engine_init(struct oxl_plant *p);
void oxl_engine_step(struct oxl_plant *p);
void oxl_engine_tick(struct oxl_plant *p); /* every OXL_CONTROL_US */
double oxl_engine_port_g_s(const struct oxl_plant *p);
double
oxl_engine_metered_g_s(const struct oxl_plant *p); /* what the controller takes the air for */
double oxl_engine_map_kpa(const struct oxl_plant *p);
void oxl_gas_step(struct oxl_plant *p);
double oxl_gas_flow_g_s(const struct oxl_plant *p);

/* plant_trims.c */
void oxl_trims_init(struct oxl_plant *p, struct oxl_bank *b);
void oxl_trims_tick(struct oxl_plant *p, unsigned bank);
double oxl_trims_factor(const struct oxl_plant *p, const struct oxl_bank *b);
uint8_t oxl_trims_status(const struct oxl_plant *p, const struct oxl_bank *b);

/* sensors.c */
void oxl_sensors_init(struct oxl_plant *p, struct oxl_bank *b);
void oxl_sensors_step(struct oxl_plant *p, struct oxl_bank *b);
void oxl_sensors_tick(struct oxl_plant *p, struct oxl_bank *b);
/* As the controller reads them now. */
double oxl_front_lambda_read(const struct oxl_bank *b);
double oxl_front_v_read(const struct oxl_bank *b);
double oxl_rear_lambda_read(const struct oxl_bank *b);
double oxl_plant_flow_share(const struct oxl_plant *p, double air_g_s);
/* What the sensor makes of gas with that excess of oxygen, in the end. */
double oxl_rear_curve_v(const struct oxl_plant *p, double x);
double oxl_rear_v_read(const struct oxl_plant *p, const struct oxl_bank *b);
void oxl_sensors_readout(const struct oxl_plant *p, struct oxl_readout *out);

#endif
