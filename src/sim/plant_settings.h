/* Every number of the plant that a scenario may set; docs/scenarios.md explains the keys. */
#ifndef OXL_SIM_PLANT_SETTINGS_H
#define OXL_SIM_PLANT_SETTINGS_H

#include "sim/settings.h"

/* By default a warm 2.0-litre engine with a sound converter. Where no source is named in
 * docs/scenarios.md the number is an assumption of this plant. */
#define OXL_PLANT_SETTINGS(D, U, B, T)                                                             \
    /* engine */                                                                                   \
    U(banks, 1, 2, 1)                                                                              \
    D(idle_rpm, 400, 3000, 750)                                                                    \
    D(idle_air_g_s, 0.5, 30, 3.0)                                                                  \
    D(air_ripple_pct, 0, 20, 0.8)                                                                  \
    D(air_noise_pct, 0, 10, 0.8)                                                                   \
    D(displacement_l, 0.5, 10, 2.0)                                                                \
    D(volumetric_efficiency, 0.3, 1.2, 0.80)                                                       \
    D(intake_c, -40, 90, 40)                                                                       \
    D(humidity_ratio, 0, 0.05, 0.008)                                                              \
    D(spread_pct, 0, 20, 3) /* how much one seed's vehicle differs from another's */               \
    B(governor, true)                                                                              \
    D(misfire_pct, 0, 50, 0)                                                                       \
    /* state at the start */                                                                       \
    D(coolant_c, -40, 120, 88)                                                                     \
    D(warm_coolant_c, 20, 120, 91)                                                                 \
    D(coolant_tau_s, 1, 5000, 300)                                                                 \
    D(run_time_s, 0, 60000, 1200)                                                                  \
    /* metering, fuel and trims */                                                                 \
    T(metering, 16, "air-meter")                                                                   \
    T(trim_rule, 16, "additive")                                                                   \
    D(air_meter_error_pct, -40, 40, 0)                                                             \
    D(fuel_error_pct, -30, 30, -2)                                                                 \
    D(fuel_error_bank2_pct, -30, 30, 1)                                                            \
    D(fuel_noise_pct, 0, 10, 0.3)                                                                  \
    D(fuel_noise_tau_s, 0.1, 60, 4)                                                                \
    B(closed_loop, true)                                                                           \
    B(trim_frozen, false)                                                                          \
    D(closed_loop_coolant_c, -40, 120, 55)                                                         \
    D(closed_loop_run_s, 0, 600, 20)                                                               \
    D(trim_kp, 0, 1, 0.25)                                                                         \
    D(trim_ki_per_s, 0.01, 2, 0.12)                                                                \
    D(relay_jump_pct, 0, 10, 1.5)                                                                  \
    D(relay_ramp_pct_s, 0.1, 20, 1.5)                                                              \
    D(stft_limit_pct, 1, 60, 35)                                                                   \
    D(ltft_limit_pct, 0, 60, 25)                                                                   \
    D(total_limit_pct, 1, 90, 40)                                                                  \
    D(ltft_tau_s, 5, 1e6, 120)                                                                     \
    B(rear_trim, true)                                                                             \
    D(rear_trim_v, 0.3, 0.85, 0.68)                                                                \
    /* what the controller does by itself (habits.h) */                                            \
    D(target_lambda, 0.9, 1.1, 1)                                                                  \
    D(cut_lambda, 0.7, 1, 1)                                                                       \
    D(modulation_pct, 0, 10, 0)                                                                    \
    D(modulation_hz, 0.1, 5, 1)                                                                    \
    D(rear_trim_pull, 1, 10, 1)                                                                    \
    D(ltft_back_tau_s, 0, 1e6, 0)                                                                  \
    D(purge_pct, 0, 40, 0)                                                                         \
    D(purge_every_s, 1, 10000, 30)                                                                 \
    T(at_limit, 8, "none") /* none, freeze, open */                                                \
    D(rich_dtc_s, 0, 1000, 0)                                                                      \
    D(monitor_pct, 0, 10, 0)                                                                       \
    D(monitor_half_s, 0.2, 20, 1.5)                                                                \
    D(monitor_for_s, 1, 10000, 25)                                                                 \
    D(monitor_every_s, 1, 10000, 60)                                                               \
    D(stops_after_s, 0, 10000, 0)                                                                  \
    D(stops_for_s, 0.5, 10000, 20)                                                                 \
    D(load_pct, 0, 60, 0)                                                                          \
    D(load_every_s, 1, 10000, 8)                                                                   \
    D(load_v, 0, 4, 0)                                                                             \
    /* propane and the port it goes in at */                                                       \
    D(gas_full_g_s, 0.001, 2, 0.0765)                                                              \
    D(gas_dead_s, 0, 3, 0.25)                                                                      \
    D(gas_mix_s, 0.02, 10, 0.4)                                                                    \
    D(gas_residue_pct, 0, 90, 0)                                                                   \
    D(gas_residue_tau_s, 0.1, 60, 5)                                                               \
    D(gas_bank1_share_pct, 0, 100, 50)                                                             \
    D(port_open_s, 0, 10000, 0)                                                                    \
    D(port_air_pct, 0, 60, 0)                                                                      \
    D(smaller_port_air_pct, 0, 60, 0)                                                              \
    /* exhaust */                                                                                  \
    D(front_delay_s, 0.02, 3, 0.32)                                                                \
    D(exhaust_mix_s, 0.005, 2, 0.06)                                                               \
    D(inlet_volume_l, 0.01, 10, 0.4)                                                               \
    D(outlet_volume_l, 0.01, 10, 0.8)                                                              \
    D(exhaust_k, 300, 1300, 700)                                                                   \
    D(leak_front_pct, 0, 50, 0)                                                                    \
    D(leak_mid_pct, 0, 50, 0)                                                                      \
    D(leak_rear_pct, 0, 50, 0)                                                                     \
    /* sensors */                                                                                  \
    D(front_lag_s, 0.005, 10, 0.08)                                                                \
    D(front_noise, 0, 0.1, 0.002)                                                                  \
    D(front_k, 600, 1300, 900)                                                                     \
    D(rear_lag_s, 0.005, 10, 0.15)                                                                 \
    D(rear_noise_v, 0, 0.1, 0.006)                                                                 \
    D(rear_k, 600, 1300, 900)                                                                      \
    D(rear_stuck_v, 0, 1.275, 0.72)                                                                \
    /* rear_fault = biased */                                                                      \
    D(rear_gain, 0.1, 2, 1)                                                                        \
    D(rear_offset_v, -0.5, 0.9, 0)                                                                 \
    /* a sound sensor is no ideal one */                                                           \
    D(rear_bottom_v, 0, 0.3, 0)                                                                    \
    D(rear_top_v, 0.6, 1.5, 1.5)                                                                   \
    D(rear_rich_v, 0, 0.2, 0)                                                                      \
    T(rear_fault, 12, "none")                                                                      \
    B(crossed_fronts, false)                                                                       \
    B(shared_rear, false)                                                                          \
    D(secondary_air_pct, 0, 60, 0)                                                                 \
    D(secondary_air_until_s, 0, 100000, 60)                                                        \
    /* converter */                                                                                \
    T(catalyst_model, 12, "plug")                                                                  \
    U(cells, 1, 256, 20)                                                                           \
    D(capacity_mg, 0, 5000, 780)                                                                   \
    D(capacity_bank2_mg, 0, 5000, 780)                                                             \
    D(fill_k_per_g, 0, 500, 40)                                                                    \
    D(release_k_per_g, 0, 500, 25)                                                                 \
    D(reoxidation_pct_s, 0, 10, 0.2)                                                               \
    D(slip_pct, 0, 50, 4)                                                                          \
    D(k_flow_power, 0, 1, 0)                                                                       \
    D(shell, 0, 20, 1)                                                                             \
    D(bulk_share_pct, 0, 90, 25)                                                                   \
    D(bulk_tau_s, 0.5, 1000, 6)                                                                    \
    D(start_fill_pct, 0, 100, 50)                                                                  \
    D(cat_start_c, -40, 1000, 460)                                                                 \
    D(cat_idle_c, -40, 1000, 450)                                                                  \
    D(cat_tau_s, 1, 5000, 80)                                                                      \
    D(light_off_c, 0, 600, 320)                                                                    \
    D(light_off_width_c, 1, 200, 30)

struct oxl_plant_settings {
    OXL_SETTING_MEMBERS(OXL_PLANT_SETTINGS)
};
OXL_SETTING_TABLE(plant);

#endif
