/* How the parts of the simulator meet: technician -> plant -> ECU -> adapter. Times are
 * microseconds since the simulator's start.
 */
#ifndef OXL_SIM_PARTS_H
#define OXL_SIM_PARTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/event.h"
#include "oxylag/sim.h"
#include "oxylag/status.h"
#include "sim/settings.h"

enum { OXL_SIM_BANKS = 2 };

/* Channels that the controller takes at the same moment. */
enum {
    OXL_REFRESH_FRONT,
    OXL_REFRESH_REAR,
    OXL_REFRESH_TRIMS,
    OXL_REFRESH_REST,
    OXL_REFRESH_GROUPS
};

/* What the engine controller knows at a moment: electrical and computed values before they are
 * coded into bytes. NAN where the vehicle has no such thing. */
struct oxl_readout {
    double stft_pct[OXL_SIM_BANKS], ltft_pct[OXL_SIM_BANKS];
    double front_v[OXL_SIM_BANKS];      /* switching front, volts as the controller sees them */
    double front_lambda[OXL_SIM_BANKS]; /* wide-range front */
    double front_ma[OXL_SIM_BANKS], front_wide_v[OXL_SIM_BANKS];
    double rear_v[OXL_SIM_BANKS];
    double rear_lambda[OXL_SIM_BANKS]; /* wide-range rear */
    double cat_temp_c[OXL_SIM_BANKS];
    uint8_t fuel_system[OXL_SIM_BANKS]; /* PID 03 codes, 0 = no such system */
    uint8_t secondary_air;              /* PID 12 code, 0 = no such system */
    double air_g_s, map_kpa, rpm, speed_kmh, intake_c, coolant_c, throttle_pct, load_pct;
    double run_time_s;
    double target_lambda; /* commanded; 0 counts as 1 */
    double module_v;
    uint16_t rich_dtc; /* stored in the middle of a test; 0: none */
};

/* ---- adapter and ECU settings (adapter.c, ECU.c) ---- */
#define OXL_ECU_SETTINGS(D, U, B, T)                                                               \
    /* A VIN that no vehicle has: ISO 3780 gives no world region the first character 0. Its */     \
    /* ninth character is the check digit of 49 CFR 565.15. */                                     \
    T(vin, 18, "0XYLAGSM4R0000003")                                                                \
    T(layout, 4, "13") /* "13" or "1D" */                                                          \
    /* "switching", "wide-volts" (24..), "wide-current" (34..), "none"; */                         \
    /* rear also "dummy-volts", "dummy-beside" (ecu_masks.c) */                                    \
    T(front, 16, "switching")                                                                      \
    T(rear, 16, "switching")                                                                       \
    B(has_air, true)                                                                               \
    B(has_map, true)                                                                               \
    B(has_cat_temp, false)                                                                         \
    B(has_ltft, true)                                                                              \
    B(has_run_time, true)                                                                          \
    B(second_ecu, false) /* another ECU answers 0100 too */                                        \
    B(multi_pid, true)   /* answers several PIDs in a request (CAN) */                             \
    U(answer_ms_min, 0, 5000, 5)                                                                   \
    U(answer_ms_max, 0, 5000, 15)                                                                  \
    /* "P0420 P0136", may be "" */                                                                 \
    T(stored, 64, "")                                                                              \
    T(pending, 64, "")                                                                             \
    T(permanent, 64, "")                                                                           \
    T(second_stored, 64, "") /* likewise of the second ECU */                                      \
    B(answers, true)         /* no: a vehicle that never answers */                                \
    U(calc_ms, 0, 1000, 10)  /* how often the controller refreshes its values */                   \
    B(refresh_phase_random, false)                                                                 \
    B(refresh_snapshot, false) /* all at the front's moments */                                    \
    D(refresh_drift_ppm, -100000, 100000, 0)                                                       \
    D(refresh_jitter_ms, 0, 1000, 0)                                                               \
    D(refresh_jump_s, 0, 10000, 0)                                                                 \
    D(refresh_change_at_s, 0, 100000, 0)                                                           \
    D(refresh_change_factor, 0.01, 100, 1)                                                         \
    B(twin_ecu, false) /* another ECU knows the same PIDs and says other values */                 \
    /* of the answers come that much later, unannounced */                                         \
    D(late_pct, 0, 100, 0)                                                                         \
    D(late_ms, 0, 10000, 250)                                                                      \
    /* of the requests are met by 7F xx 78 first */                                                \
    D(pending_pct, 0, 100, 0)                                                                      \
    D(pending_ms, 0, 10000, 300)                                                                   \
    T(padding, 8, "AA")    /* AA, 00, FF or random */                                              \
    B(short_frames, false) /* CAN frames are no longer than they must be */                        \
    /* What the masks say against what is answered (ecu_masks.c); PIDs as "25 34". */              \
    T(announces, 24, "")                                                                           \
    T(hides, 24, "")                                                                               \
    T(mutes, 24, "")                                                                               \
    U(mask_losses, 0, 100, 0)    /* so many answers to masks 20 and up are never sent */           \
    U(trim_bytes, 1, 2, 1)       /* of 06-09 */                                                    \
    U(rear_trim_bytes, 0, 2, 0)  /* of 55-58; 0: there are none */                                 \
    U(second_system, 0, 255, 0)  /* PID 03's second byte where there is one bank */                \
    U(obd_standard, 1, 255, 1)   /* PID 1C */                                                      \
    D(dummy_lambda, 0, 1.999, 1) /* of a rear that is dummy-volts or dummy-beside */               \
    U(fuel_type, 0, 255, 1)      /* PID 51 */

struct oxl_ecu_settings {
    OXL_SETTING_MEMBERS(OXL_ECU_SETTINGS)
    double refresh_ms[OXL_REFRESH_GROUPS];       /* how often it refreshes a group; 0: calc_ms */
    double refresh_phase_ms[OXL_REFRESH_GROUPS]; /* of its first latch after the start */
};
OXL_SETTING_TABLE(ecu);

#define OXL_ADAPTER_SETTINGS(D, U, B, T)                                                           \
    U(baud, 1200, 2000000, 115200) /* its speed; only matters to links that have one */            \
    U(protocol, 1, 9, 6)           /* enum oxl_protocol number, what the vehicle speaks */         \
    D(latency_ms, 0, 5000, 4)      /* its own processing and USB/wireless latency a request */     \
    D(jitter_ms, 0, 5000, 1)                                                                       \
    D(command_ms, 0, 5000, 0) /* its own commands take that much longer, ... */                    \
    T(slow_commands, 48, "")  /* ... these, by name without AT; "": all */                         \
    B(reply_count, true)      /* honours the expected-reply-count digit */                         \
    B(adaptive, true)         /* adaptive timing shortens the wait */                              \
    /* cannot be switched off though it says OK */                                                 \
    B(stuck_echo, false)                                                                           \
    B(stuck_spaces, false)                                                                         \
    B(stuck_linefeeds, false)                                                                      \
    B(silent, false)             /* answers nothing at all */                                      \
    B(garbage, false)            /* sends noise bytes now and then */                              \
    D(unplug_at_s, 0, 1e6, NAN)  /* NAN; or... */                                                  \
    B(unplug_in_timing, false)   /* pulled 0.5 s after the first front-lean */                     \
    D(unplug_s, 0.1, 1e6, 3)     /* ... for that long */                                           \
    D(search_ms, 0, 120000, 900) /* protocol search takes this long */                             \
    B(search_silent, false)      /* does not say that it is searching */                           \
    /* Habits (adapter_quirk.c). Commands by their names without AT, "AT ST". */                   \
    T(refuses, 48, "") /* answered by ? */                                                         \
    T(hollow, 48, "")  /* answered by OK, without effect */                                        \
    /* of the expected-reply-count digit: none, refused, short, long */                            \
    T(count_fault, 12, "none")                                                                     \
    D(prompt_lost_pct, 0, 100, 0)                                                                  \
    /* of the characters, both ways (NULs only ours) */                                            \
    D(nul_pct, 0, 100, 0)                                                                          \
    D(drop_pct, 0, 100, 0)                                                                         \
    D(double_pct, 0, 100, 0)                                                                       \
    D(flip_pct, 0, 100, 0)       /* likewise, of one wrong bit */                                  \
    B(no_echo, false)            /* never echoes, whatever it says */                              \
    D(banner_every_s, 0, 1e6, 0) /* says its banner though nothing happened; 0 never */            \
    D(reset_every_s, 0, 1e6, 0)  /* restarts by itself; 0 never */                                 \
    T(reset_kind, 12, "banner")  /* banner, voltage (LV RESET first) or silent */                  \
    U(buffer_frames, 0, 64, 0)   /* more frames of a reply: BUFFER FULL; 0: no limit */            \
    /* what comes while it is busy: stop (that), lost, or kept for later */                        \
    T(busy_chars, 8, "stop")                                                                       \
    /* asleep until a character comes, which is lost; then it starts; 0 awake */                   \
    D(wake_ms, 0, 60000, 0)                                                                        \
    /* restarts when its port is opened, for that long; 0 does not */                              \
    D(open_boot_ms, 0, 60000, 0)                                                                   \
    /* hears nothing for that long after characters at another speed */                            \
    D(resync_ms, 0, 60000, 0)                                                                      \
    B(held, false) /* flow control: no byte reaches it */                                          \
    /* The bytes stop coming and then come all at once. */                                         \
    D(stall_at_s, 0, 1e6, NAN)                                                                     \
    D(stall_s, 0, 1e6, 1)                                                                          \
    B(stall_in_timing, false)                                                                      \
    /* The ignition: nobody on the bus, and the run time begins anew. */                           \
    D(ignition_off_at_s, 0, 1e6, NAN)                                                              \
    D(ignition_off_s, 0, 1e6, 5)                                                                   \
    B(ignition_off_in_timing, false)

struct oxl_adapter_settings {
    OXL_SETTING_MEMBERS(OXL_ADAPTER_SETTINGS)
};
OXL_SETTING_TABLE(adapter);

/* ---- plant (plant.c) ---- */
struct oxl_plant; /* opaque */
void oxl_plant_run(struct oxl_plant *p, int64_t t_us);
void oxl_plant_valve(struct oxl_plant *p, double opening); /* 0..1, from its present time on */
void oxl_plant_throttle(struct oxl_plant *p, double pct);  /* 0 = closed (idle governor) */
void oxl_plant_readout(const struct oxl_plant *p, struct oxl_readout *out);
/* True when the noise-free front signal has passed its lean level in the current pulse, and
 * since when (us); false otherwise. */
bool oxl_plant_front_lean(const struct oxl_plant *p, int64_t *since_us);

/* ---- ECU (ECU.c): a request's payload in, each answering ECU's payload out ---- */
struct oxl_ecu_answer {
    uint32_t ecu;     /* CAN id or K-line source address, as the protocol has it */
    uint8_t data[64]; /* 41 .. / 7F .. */
    size_t len;
};
/* req: service byte and what follows. Returns the number of answers (0 = silence). `can` says
 * which form service 03 and 09 answers take; K-line services with several messages give several
 * answers from the same ECU. */
size_t oxl_ecu_answers(const struct oxl_ecu_settings *u, const struct oxl_readout *r, bool can,
                       const uint8_t *req, size_t len, struct oxl_ecu_answer *out, size_t max);

/* ---- adapter (adapter.c): text in, text out with times. Asks `fresh` for the readout at the
 * moment when the vehicle samples. ---- */
struct oxl_adapter;
struct oxl_adapter_hooks {
    void *ctx;
    void (*readout)(void *ctx, int64_t t_us, struct oxl_readout *out); /* runs the plant to t_us */
};
struct oxl_adapter *oxl_adapter_new(const struct oxl_adapter_settings *a,
                                    const struct oxl_ecu_settings *u, uint64_t seed,
                                    const struct oxl_adapter_hooks *hooks);
void oxl_adapter_free(struct oxl_adapter *a);
void oxl_adapter_write(struct oxl_adapter *a, const void *bytes, size_t n, unsigned baud,
                       int64_t t_us);
size_t oxl_adapter_read(struct oxl_adapter *a, void *bytes, size_t n, int64_t t_us);
int64_t oxl_adapter_due_us(const struct oxl_adapter *a);
void oxl_adapter_power_cycle(struct oxl_adapter *a, int64_t t_us); /* after being unplugged */
void oxl_adapter_opened(struct oxl_adapter *a, int64_t t_us);      /* its port, by the tester */
void oxl_adapter_ignition(struct oxl_adapter *a, bool on);         /* nobody on the bus while off */
/* Requests that ECUs heard so far, and those of them that would have changed something (codes
 * cleared, a reset, a write, an actuator, a routine), which are refused; service 0: of all
 * services. */
uint64_t oxl_adapter_heard(const struct oxl_adapter *a, uint8_t service);
uint64_t oxl_adapter_changing(const struct oxl_adapter *a, uint8_t service);
struct oxl_sim;
const struct oxl_adapter *
oxl_sim_adapter(const struct oxl_sim *s); /* the one of a whole simulator */

static inline double oxl_clamp(double v, double low, double high)
{
    return v < low ? low : v > high ? high : v;
}

/* ---- random numbers (random.c): seeded, the same on every machine ---- */
struct oxl_random {
    uint64_t s[4];
};
void oxl_random_seed(struct oxl_random *r, uint64_t seed);
double oxl_random_unit(struct oxl_random *r);   /* [0, 1) */
double oxl_random_normal(struct oxl_random *r); /* mean 0, sd 1 */

#endif
