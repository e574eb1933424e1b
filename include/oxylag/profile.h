/* Profile: every number of the test, with its origin. Read from an INI text (docs/profiles.md).
 *
 * A profile file names only what differs from the defaults. Sections and keys are the struct's
 * parts and members, for instance [baseline] band_pct = 8.
 */
#ifndef OXYLAG_PROFILE_H
#define OXYLAG_PROFILE_H

#include <stdbool.h>
#include <stddef.h>

#include "oxylag/status.h"

enum oxl_front_want { OXL_WANT_ANY = 0, OXL_WANT_WIDE, OXL_WANT_SWITCHING };
enum oxl_air_want { OXL_AIR_ANY = 0, OXL_AIR_METER, OXL_AIR_SPEED_DENSITY, OXL_AIR_NONE };
enum oxl_link_want { OXL_LINK_ANY = 0, OXL_LINK_CAN, OXL_LINK_KLINE };

struct oxl_profile {
    /* [profile] */
    char name[32];  /* short name, as on the command line */
    char title[96]; /* one line for a person */
    /* [match] what the vehicle must have for the profile to be chosen by itself */
    enum oxl_front_want front;
    enum oxl_air_want air;
    enum oxl_link_want link;
    /* [conditions] */
    double coolant_min_c;    /* 70    */
    double run_time_min_s;   /* 120   */
    double cat_temp_min_c;   /* 350   only where the item is supported */
    double rpm_max;          /* 3200  */
    double rpm_band;         /* 150   peak to peak in a steady baseline */
    double trim_abs_max_pct; /* 10    caution outside it */
    double idle_restart_s;   /* 480   idling longer restarts the warm-up advice */
    /* [baseline] */
    double band_pct;         /* 8     peak to peak of the total trim */
    double window_s;         /* 10    */
    double opening_max_pct;  /* 20    total trim above this: the opened port is too large */
    double baseline_limit_s; /* 600   give up waiting for a steady baseline */
    /* [enrichment] shifts are negative per cent of fuel, from the baseline */
    double target_pct;      /* -20 */
    double accept_low_pct;  /* -25 deepest accepted */
    double accept_high_pct; /* -15 shallowest accepted */
    double slow_pct;        /* -17 "slow, hold" */
    double back_off_pct;    /* -30 */
    double rpm_drop_pct;    /* 15  */
    double hold_s;          /* 2   */
    double enrich_limit_s;  /* 60  from the start of the shift, for heat */
    /* [deeper] the run over target that is offered when those at the right depth do not decide */
    double deeper_target_pct;    /* -28 */
    double deeper_deepest_pct;   /* -32 no more gas than the trims could take away up to here */
    double deeper_lambda_min;    /* 0.87 nor richer than this */
    double deeper_dose;          /* 2.0  times the good limit in grams is to be removed */
    double deeper_limit_s;       /* 15  longest time over target, for heat */
    double deeper_blind_limit_s; /* 10  where no catalyst temperature is reported */
    double deeper_cat_max_c;     /* 750 hotter: no deeper run */
    double deeper_offer_s;       /* 60  without gas the offer is not taken */
    /* [sensors] */
    double switch_v;       /* 0.450 */
    double rich_v;         /* 0.500 hysteresis, upper */
    double lean_v;         /* 0.400 hysteresis, lower */
    double lambda_step;    /* 0.01  above the level before release */
    double lambda_balance; /* 1.0   */
    double balance_v;      /* NAN   volts or mA that technicians know as balance, shown only */
    double balance_ma;     /* 0     */
    double front_tau_s;    /* 0.10  assumed time constant, front */
    double rear_tau_s;     /* 0.15  */
    /* [timing] */
    double release_limit_s;  /* 15  waiting for front-lean */
    double timing_limit_s;   /* 30  */
    double recovery_limit_s; /* 120 */
    unsigned runs;           /* 3   */
    double run_rpm_band;     /* 50  runs compare only within this */
    /* [air] */
    double displacement_l;     /* NAN unknown */
    double volumetric_eff;     /* 0.75 */
    double volumetric_eff_err; /* 0.15 relative */
    double air_err;            /* 0.05 relative, of a meter */
    double humidity_ratio;     /* 0.008 kg/kg assumed */
    double path_volume_l;      /* 1.2 gas volume from front to rear sensor */
    double path_volume_err;    /* 0.5 relative */
    double exhaust_c;          /* 430 assumed gas temperature */
    double engine_delay_s;     /* 0.40 from injection to the front sensor at idle */
    double gas_tail_s;         /* 0.40 mixing time of the fed gas, when x is taken from trims */
    double lambda_err;         /* 0.01 absolute, of the sensor */
    /* [limits] */
    double bad_s;            /* 2  */
    double good_s;           /* 7  */
    double bad_g_per_g_s;    /* 0.044 grams for each g/s of air, the same limit in grams */
    double good_g_per_g_s;   /* 0.137 */
    char limits_origin[128]; /* "common practice, no published source" */
};

/* The defaults above. */
void oxl_profile_defaults(struct oxl_profile *p);

/* Reads INI text over the defaults. `file` is only for messages. On error *err names file, line,
 * section and key, what was found and what is accepted, and *p is unchanged. */
enum oxl_status oxl_profile_parse(const char *text, const char *file, struct oxl_profile *p,
                                  struct oxl_error *err) OXL_MUST_CHECK;

/* Writes the whole profile as INI text, parseable again with identical values. Returns the
 * length that is needed (as snprintf). */
size_t oxl_profile_format(const struct oxl_profile *p, char *out, size_t n);

/* The profiles built into the program (the same text as profiles/?.ini), so that it runs from
 * anywhere. */
size_t oxl_profile_builtin_count(void);
const char *oxl_profile_builtin_name(size_t i);
const char *oxl_profile_builtin_text(size_t i);

/* The built-in profile that fits best; "wide-maf" and so on. Static string. */
const char *oxl_profile_choose(enum oxl_front_want front, enum oxl_air_want air,
                               enum oxl_link_want link);

#endif
