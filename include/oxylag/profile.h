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

/* Every key behind [match]: section, key and member of struct oxl_profile, least, most, default; N
 * a number, U one that may be unknown (NAN) and is by default, C a whole one, T a text and its
 * room. Meaning and origin: docs/profiles.md. The limits keep nonsense out; they are no advice. */
#define OXL_PROFILE_KEYS(N, U, C, T)                                                               \
    /* [conditions] */                                                                             \
    N("conditions", coolant_min_c, 0, 120, 70)                                                     \
    N("conditions", run_time_min_s, 0, 3600, 120)                                                  \
    N("conditions", cat_temp_min_c, 0, 800, 350) /* only where the PID is supported */             \
    N("conditions", rpm_max, 500, 6000, 3200)                                                      \
    N("conditions", rpm_band, 10, 1000, 150)     /* peak to peak in a steady baseline */           \
    N("conditions", trim_abs_max_pct, 1, 50, 10) /* caution outside it */                          \
    /* idling longer restarts the warm-up advice */                                                \
    N("conditions", idle_restart_s, 30, 7200, 480)                                                 \
    /* [baseline] */                                                                               \
    N("baseline", band_pct, 0.5, 40, 8) /* peak to peak of the total trim */                       \
    N("baseline", window_s, 2, 60, 10)                                                             \
    /* total trim above this: the opened port is too large */                                      \
    N("baseline", opening_max_pct, 2, 50, 20)                                                      \
    N("baseline", baseline_limit_s, 10, 3600, 600) /* give up waiting for a steady baseline */     \
    /* [enrichment] shifts are negative per cent of fuel, from the baseline */                     \
    N("enrichment", target_pct, -40, -5, -20)                                                      \
    N("enrichment", accept_low_pct, -45, -5, -25)  /* deepest accepted */                          \
    N("enrichment", accept_high_pct, -40, -2, -15) /* shallowest accepted */                       \
    N("enrichment", slow_pct, -40, -2, -17)        /* "slow, hold" */                              \
    N("enrichment", back_off_pct, -50, -5, -30)                                                    \
    N("enrichment", rpm_drop_pct, 2, 50, 15)                                                       \
    N("enrichment", hold_s, 0, 30, 2)                                                              \
    N("enrichment", enrich_limit_s, 5, 300, 60) /* from the start of the shift, for heat */        \
    /* [deeper] the run over target that is offered when those at the right depth do not decide */ \
    N("deeper", deeper_target_pct, -45, -5, -28)                                                   \
    /* no more gas than the trims could take away up to here */                                    \
    N("deeper", deeper_deepest_pct, -50, -5, -32)                                                  \
    N("deeper", deeper_lambda_min, 0.75, 0.99, 0.87) /* nor richer than this */                    \
    N("deeper", deeper_dose, 1, 10, 2.0)   /* times the good limit in grams is to be removed */    \
    N("deeper", deeper_limit_s, 1, 20, 15) /* longest time over target, for heat */                \
    /* where no catalyst temperature is reported */                                                \
    N("deeper", deeper_blind_limit_s, 1, 20, 10)                                                   \
    N("deeper", deeper_cat_max_c, 400, 950, 750) /* hotter: no deeper run */                       \
    N("deeper", deeper_offer_s, 5, 600, 60)      /* without gas the offer is not taken */          \
    /* [sensors] */                                                                                \
    N("sensors", switch_v, 0.1, 1, 0.450)                                                          \
    N("sensors", rich_v, 0.1, 1.2, 0.500)       /* hysteresis, upper */                            \
    N("sensors", lean_v, 0.05, 1, 0.400)        /* hysteresis, lower */                            \
    N("sensors", lambda_step, 0.001, 0.2, 0.01) /* above the level before release */               \
    N("sensors", lambda_balance, 0.9, 1.1, 1.0)                                                    \
    /* volts or mA that technicians know as balance, shown only */                                 \
    U("sensors", balance_v, 0, 8)                                                                  \
    N("sensors", balance_ma, -10, 10, 0)                                                           \
    N("sensors", front_tau_s, 0, 2, 0.10) /* assumed time constant, front */                       \
    N("sensors", rear_tau_s, 0, 2, 0.15)                                                           \
    /* [timing] */                                                                                 \
    N("timing", release_limit_s, 2, 120, 15) /* waiting for front-lean */                          \
    N("timing", timing_limit_s, 5, 300, 30)                                                        \
    N("timing", recovery_limit_s, 5, 900, 120)                                                     \
    C("timing", runs, 1, 9, 3)                                                                     \
    N("timing", run_rpm_band, 5, 500, 50) /* runs compare only within this */                      \
    /* [air] */                                                                                    \
    U("air", displacement_l, 0.1, 20) /* unknown */                                                \
    N("air", volumetric_eff, 0.2, 1.5, 0.75)                                                       \
    N("air", volumetric_eff_err, 0, 0.5, 0.15) /* relative */                                      \
    N("air", air_err, 0, 0.5, 0.05)            /* relative, of a meter */                          \
    N("air", humidity_ratio, 0, 0.05, 0.008)   /* kg/kg assumed */                                 \
    N("air", path_volume_l, 0, 20, 1.2)        /* gas volume from front to rear sensor */          \
    N("air", path_volume_err, 0, 1, 0.5)       /* relative */                                      \
    N("air", exhaust_c, 50, 1000, 430)         /* assumed gas temperature */                       \
    N("air", engine_delay_s, 0, 3, 0.40)       /* from injection to the front sensor at idle */    \
    /* mixing time of the fed gas, when x is taken from trims */                                   \
    N("air", gas_tail_s, 0, 5, 0.40)                                                               \
    N("air", lambda_err, 0, 0.1, 0.01) /* absolute, of the sensor */                               \
    /* [limits] */                                                                                 \
    N("limits", bad_s, 0.1, 100, 2)                                                                \
    N("limits", good_s, 0.1, 100, 7)                                                               \
    /* grams for each g/s of air, the same limit in grams */                                       \
    N("limits", bad_g_per_g_s, 0.001, 5, 0.044)                                                    \
    N("limits", good_g_per_g_s, 0.001, 5, 0.137)                                                   \
    T("limits", limits_origin, 128, "common practice, no published source")

struct oxl_profile {
    /* [profile] */
    char name[32];  /* short name, as on the command line */
    char title[96]; /* one line for a person */
    /* [match] what the vehicle must have for the profile to be chosen by itself */
    enum oxl_front_want front;
    enum oxl_air_want air;
    enum oxl_link_want link;
    /* the other sections */
#define NUMBER(section, member, min, max, number) double member;
#define UNKNOWN(section, member, min, max)        double member;
#define COUNT(section, member, min, max, number)  unsigned member;
#define TEXT(section, member, size, text)         char member[size];
    OXL_PROFILE_KEYS(NUMBER, UNKNOWN, COUNT, TEXT)
#undef NUMBER
#undef UNKNOWN
#undef COUNT
#undef TEXT
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
