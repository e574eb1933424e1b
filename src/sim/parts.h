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

/* One setting of a scenario: where a key's value goes. kinds: d double, u unsigned, b bool
 * (yes/no), t text of size `size`. */
struct oxl_setting {
    const char *section, *key;
    char kind;
    size_t offset, size;
    double min, max;
    double number; /* its default; of a bool 1: yes */
    const char *text;
};
/* Gives each setting of a table its default. */
void oxl_settings_default(const struct oxl_setting *table, size_t n, void *settings);

/* ---- adapter and ECU settings (adapter.c, ECU.c) ---- */
struct oxl_ecu_settings {
    char vin[18];             /* invented, right check digit */
    char layout[4];           /* "13" or "1D" */
    char front[16], rear[16]; /* "switching", "wide-volts" (24..), "wide-current" (34..), "none";
                                 rear also "dummy-volts", "dummy-beside" (ecu_masks.c) */
    bool has_air, has_map, has_cat_temp, has_ltft, has_run_time;
    bool second_ecu; /* another ECU answers 0100 too */
    bool multi_pid;  /* answers several PIDs in a request (CAN) */
    unsigned answer_ms_min, answer_ms_max;
    char stored[64], pending[64], permanent[64]; /* "P0420 P0136", may be "" */
    char second_stored[64];                      /* likewise of the second ECU */
    bool answers;                                /* no: a vehicle that never answers */
    unsigned calc_ms;                            /* how often the controller refreshes its values */
    double refresh_ms[OXL_REFRESH_GROUPS];       /* likewise of a group; 0: calc_ms */
    double refresh_phase_ms[OXL_REFRESH_GROUPS]; /* of its first latch after the start */
    bool refresh_phase_random, refresh_snapshot; /* snapshot: all at the front's moments */
    double refresh_drift_ppm, refresh_jitter_ms, refresh_jump_s;
    double refresh_change_at_s, refresh_change_factor;
    bool twin_ecu;                  /* another ECU knows the same PIDs and says other values */
    double late_pct, late_ms;       /* of the answers come that much later, unannounced */
    double pending_pct, pending_ms; /* of the requests are met by 7F xx 78 first */
    char padding[8];                /* AA, 00, FF or random */
    bool short_frames;              /* CAN frames are no longer than they must be */
    /* What the masks say against what is answered (ecu_masks.c); PIDs as "25 34". */
    char announces[24], hides[24], mutes[24];
    unsigned mask_losses;                 /* so many answers to masks 20 and up are never sent */
    unsigned trim_bytes, rear_trim_bytes; /* 06-09; 55-58, 0: there are none */
    unsigned second_system;               /* PID 03's second byte where there is one bank */
    unsigned obd_standard;                /* PID 1C */
    double dummy_lambda;                  /* of a rear that is dummy-volts or dummy-beside */
    unsigned fuel_type;                   /* PID 51 */
};
struct oxl_adapter_settings {
    unsigned baud;     /* its speed; only matters to links that have one */
    unsigned protocol; /* enum oxl_protocol number, what the vehicle speaks */
    double latency_ms; /* its own processing and USB/wireless latency a request */
    double jitter_ms;
    double command_ms;      /* its own commands take that much longer, ... */
    char slow_commands[48]; /* ... these, by name without AT; "": all */
    bool reply_count;       /* honours the expected-reply-count digit */
    bool adaptive;          /* adaptive timing shortens the wait */
    bool stuck_echo, stuck_spaces, stuck_linefeeds; /* cannot be switched off though it says OK */
    bool no_echo;                                   /* never echoes, whatever it says */
    bool silent;                                    /* answers nothing at all */
    bool held;                                      /* flow control: no byte reaches it */
    bool search_silent;                             /* does not say that it is searching */
    bool garbage;                                   /* sends noise bytes now and then */
    double unplug_at_s;                             /* NAN; or... */
    bool unplug_in_timing;                          /* pulled 0.5 s after the first front-lean */
    double unplug_s;                                /* ... for that long */
    double search_ms;                               /* protocol search takes this long */
    /* Habits (adapter_quirk.c). Commands by their names without AT, "AT ST". */
    char refuses[48];     /* answered by ? */
    char hollow[48];      /* answered by OK, without effect */
    char count_fault[12]; /* of the expected-reply-count digit: none, refused, short, long */
    double prompt_lost_pct;
    double nul_pct, drop_pct, double_pct; /* of the characters, both ways (NULs only ours) */
    double flip_pct;                      /* likewise, of one wrong bit */
    double banner_every_s;                /* says its banner though nothing happened; 0 never */
    double reset_every_s;                 /* restarts by itself; 0 never */
    char reset_kind[12];                  /* banner, voltage (LV RESET first) or silent */
    unsigned buffer_frames;               /* more frames of a reply: BUFFER FULL; 0: no limit */
    char busy_chars[8]; /* what comes while it is busy: stop (that), lost, or kept for later */
    double wake_ms;     /* asleep until a character comes, which is lost; then it starts; 0 awake */
    double open_boot_ms; /* restarts when its port is opened, for that long; 0 does not */
    double resync_ms;    /* hears nothing for that long after characters at another speed */
    /* The bytes stop coming and then come all at once. */
    double stall_at_s, stall_s;
    bool stall_in_timing;
    /* The ignition: nobody on the bus, and the run time begins anew. */
    double ignition_off_at_s, ignition_off_s;
    bool ignition_off_in_timing;
};

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
/* Requests that ECUs heard so far, and those of them that would have changed something; service
 * 0: of all services. */
uint64_t oxl_adapter_heard(const struct oxl_adapter *a, uint8_t service);
uint64_t oxl_adapter_changing(const struct oxl_adapter *a, uint8_t service);
double oxl_adapter_limit_hz(const struct oxl_adapter *a, unsigned request_chars,
                            unsigned reply_chars);
extern const struct oxl_setting oxl_ecu_setting_table[], oxl_adapter_setting_table[];
extern const size_t oxl_ecu_setting_count, oxl_adapter_setting_count;
void oxl_ecu_defaults(struct oxl_ecu_settings *u);
void oxl_adapter_defaults(struct oxl_adapter_settings *a);

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
