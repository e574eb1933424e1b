/* Every number of the plant that a scenario may set; docs/scenarios.md explains the keys. */
#ifndef OXL_SIM_PLANT_SETTINGS_H
#define OXL_SIM_PLANT_SETTINGS_H

#include <stdbool.h>

#include "sim/parts.h"

struct oxl_plant_settings {
    /* engine */
    unsigned banks;
    double idle_rpm, idle_air_g_s, air_ripple_pct, air_noise_pct;
    double displacement_l, volumetric_efficiency, intake_c, humidity_ratio;
    double spread_pct; /* how much one seed's vehicle differs from another's */
    bool governor;
    double misfire_pct;
    /* state at the start */
    double coolant_c, warm_coolant_c, coolant_tau_s, run_time_s;
    /* metering, fuel and trims */
    char metering[16], trim_rule[16];
    double air_meter_error_pct, fuel_error_pct, fuel_error_bank2_pct;
    double fuel_noise_pct, fuel_noise_tau_s;
    bool closed_loop, trim_frozen;
    double closed_loop_coolant_c, closed_loop_run_s;
    double trim_kp, trim_ki_per_s, relay_jump_pct, relay_ramp_pct_s;
    double stft_limit_pct, ltft_limit_pct, total_limit_pct, ltft_tau_s;
    bool rear_trim;
    double rear_trim_v;
    /* what the controller does by itself (habits.h) */
    double target_lambda, cut_lambda, modulation_pct, modulation_hz;
    double rear_trim_pull, ltft_back_tau_s;
    double purge_pct, purge_every_s;
    char at_limit[8]; /* none, freeze, open */
    double rich_dtc_s;
    double monitor_pct, monitor_half_s, monitor_for_s, monitor_every_s;
    double stops_after_s, stops_for_s;
    double load_pct, load_every_s, load_v;
    /* propane and the port it goes in at */
    double gas_full_g_s, gas_dead_s, gas_mix_s, gas_residue_pct, gas_residue_tau_s;
    double gas_bank1_share_pct;
    double port_open_s, port_air_pct, smaller_port_air_pct;
    /* exhaust */
    double front_delay_s, exhaust_mix_s, inlet_volume_l, outlet_volume_l, exhaust_k;
    double leak_front_pct, leak_mid_pct, leak_rear_pct;
    /* sensors */
    double front_lag_s, front_noise, front_k;
    double rear_lag_s, rear_noise_v, rear_k, rear_stuck_v;
    double rear_gain, rear_offset_v;               /* rear_fault = biased */
    double rear_bottom_v, rear_top_v, rear_rich_v; /* a sound sensor is no ideal one */
    char rear_fault[12];
    bool crossed_fronts, shared_rear;
    double secondary_air_pct, secondary_air_until_s;
    /* converter */
    char catalyst_model[12];
    unsigned cells;
    double capacity_mg, capacity_bank2_mg;
    double fill_k_per_g, release_k_per_g, reoxidation_pct_s, slip_pct;
    double k_flow_power, shell;
    double bulk_share_pct, bulk_tau_s, start_fill_pct;
    double cat_start_c, cat_idle_c, cat_tau_s, light_off_c, light_off_width_c;
};

void oxl_plant_defaults(struct oxl_plant_settings *s);
extern const struct oxl_setting oxl_plant_setting_table[];
extern const size_t oxl_plant_setting_count;

#endif
