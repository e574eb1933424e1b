/* The campaign: thousands of seeded whole tests against simulated vehicles, with every figure held
 * against the plant's own truth. docs/validation.md says what it prints.
 */
#ifndef OXL_CAMPAIGN_H
#define OXL_CAMPAIGN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "oxylag/event.h"
#include "oxylag/measure.h"
#include "oxylag/sim.h"
#include "oxylag/status.h"
#include "sim/scenario.h"

/* What is special about a car or its technician. X(id, name, share of the campaign in per mille) */
#define CAMPAIGN_FAMILIES(X)                                                                       \
    X(PLAIN, "plain", 300)                                                                         \
    X(CLUMSY, "clumsy", 180)                                                                       \
    X(BUILTIN, "built-in", 150)                                                                    \
    X(LEAK_MID, "leak-mid", 40)                                                                    \
    X(LEAK_REAR, "leak-rear", 25)                                                                  \
    X(LEAK_FRONT, "leak-front", 15)                                                                \
    X(SLOW_REAR, "slow-rear", 35)                                                                  \
    X(DEAD_REAR, "dead-rear", 35)                                                                  \
    X(LAZY_FRONT, "lazy-front", 35)                                                                \
    X(COLD, "cold", 20)                                                                            \
    X(COOL, "cool-converter", 30)                                                                  \
    X(MISFIRE, "misfire", 20)                                                                      \
    X(OPENED_PORT, "opened-port", 20)                                                              \
    X(RESIDUAL, "residual-gas", 30)                                                                \
    X(AIR_BOX, "air-box-gas", 15)                                                                  \
    X(TWO_BANKS, "two-banks", 15)                                                                  \
    X(SPEED_DENSITY, "speed-density", 15)                                                          \
    X(WRONG_METER, "wrong-meter", 10)                                                              \
    X(BAD_LINK, "bad-link", 10)

enum family {
#define X(id, name, share) FAMILY_##id,
    CAMPAIGN_FAMILIES(X)
#undef X
        FAMILY_COUNT
};
const char *family_name(enum family f);

enum link_kind { LINK_CAN_MULTI, LINK_CAN_SINGLE, LINK_KLINE, LINK_J1850 };
const char *link_name(enum link_kind k);

/* One vehicle with its technician, made from a seed. */
struct car {
    uint64_t seed;
    enum family family;
    enum link_kind link;
    char name[40];
    struct oxl_scenario scenario;
    double displacement_l; /* what the technician types into the profile; NAN */
    double early_pct;      /* a hand that cuts by itself at this shift; NAN */
};
void car_make(struct car *c, uint64_t seed);
double between(struct oxl_random *r, double low, double high);
/* Uniform in the logarithm: as many between 0.02 and 0.2 as between 0.2 and 2. */
double log_between(struct oxl_random *r, double low, double high);
/* The converter's kinetics and the rear's curve drawn from the wide ranges, not for a built-in. */
void kinetics_draw(struct car *c);

/* What the converter of that car can do, told by the plant: everything sound but the converter,
 * hot, a perfect pulse of -20 %. */
struct ideal {
    bool known, held;
    double delay_s, stored_mg; /* of that pulse; held: until the end of the lean gas */
    double constant_mg;        /* filled from empty by a constant excess of 0.20 */
    double air_g_s;
};
/* Seen by a switching rear, for which the limits are meant, and by the kind that the car has. A
 * wide-range one does not see the few parts in a thousand that a weak bed lets through at once. */
void ideal_find(const struct car *c, struct ideal *out, struct ideal *own);

/* How well the delay of a run can be known at all (docs/validation.md, "What physics demands");
 * NAN where the run has no such events, or nobody asked. */
struct physics {
    double shape_s; /* 95 of 100 for who knows the latches, the shape of both signals, the noise */
    bool shape_holds; /* the truth lies in that interval */
    double
        bracket_s;  /* likewise for who knows the latches, and of the signals that they fall once */
    double asked_s; /* likewise for who sees no latch that is quicker than its own requests */
};

enum kinetics_model { KINETICS_PLUG, KINETICS_TWO_SITE, KINETICS_TANKS };
struct kinetics {
    enum kinetics_model model;
    double k, slip_pct, slow_pct, start_pct; /* k: e-folds of lean gas across all of it */
};

/* Where the seconds of a test go, its gas, and its heat (minutes.c). */
enum part {
    PART_SURVEY,
    PART_PRECHECK,
    PART_BASELINE,
    PART_GAS,
    PART_TIMING, /* with the release */
    PART_RECOVERY,
    PART_OFFER, /* of what the technician may do before the end */
    PART_LEAK,
    PART_DEEPER, /* from its offer to its run */
    SPENT_PARTS
};
struct spent {
    enum oxl_state state;
    bool surveyed, offered, deeper;
    double seen_s, s[SPENT_PARTS], gas_mg;
    double deep_s, deeper_deep_s; /* deeper than -25 %; of it in a deeper run */
};
struct oxl_plant;
void spent_event(struct spent *s, const struct oxl_event *ev);
void spent_step(struct spent *s, const struct oxl_plant *p, double t_s);

enum { TRIAL_RUNS = 12 };
struct trial_run {
    struct oxl_run_result got;
    bool has_truth;
    struct oxl_truth truth;
    struct physics physics;
};
struct trial {
    uint64_t seed;
    enum family family;
    enum link_kind link;
    char name[40];
    struct oxl_scenario car;
    bool wide, two_site;
    bool rear_dead, rear_slow, rear_biased; /* what the car has */
    struct kinetics kinetics;
    double air_g_s, capacity_mg, recovery_s;
    struct ideal ideal, ideal_own;
    enum oxl_status outcome;
    bool has_result;
    struct oxl_result result;
    double refresh_ms[OXL_REFRESH_GROUPS];
    bool snapshot;
    struct spent spent;
    int runs;
    struct trial_run run[TRIAL_RUNS];
};
struct watch;
/* One whole test in virtual time; watched (NULL: not), for what physics demands of its runs. */
bool trial_go(const struct car *c, struct watch *watch, struct trial *out);

/* ---- the table of refreshes: each row so many tests, test i of row i % REFRESH_ROWS ---- */
enum { REFRESH_ROWS = 48 };
void refresh_car(struct car *c, uint64_t seed, size_t i);
double refresh_period_ms(size_t i);
/* Tests that were left out have no seed. */
void refresh_print(FILE *out, const struct trial *t, size_t n);
/* Any period and phase, one snapshot in half of the cars. */
void refresh_draw(struct car *c);
double refresh_of_sensors_ms(const struct trial *t);

/* Against the limits in seconds and in grams. */
enum truth_class { TRUTH_DEAD, TRUTH_MIDDLE, TRUTH_SOUND, TRUTH_UNKNOWN };
/* Dead, or sound, by both kinds of rear; else between. And by a switching one alone. */
enum truth_class trial_class(const struct trial *t);
enum truth_class trial_class_switching(const struct trial *t);
/* An answer that excludes what the converter is. */
bool trial_is_wrong(const struct trial *t);
/* A car that is what it seems. */
bool is_fair(const struct trial *t);
/* An end that is not known excludes nothing. */
bool span_covers(const struct oxl_span *s, double truth);

/* ---- statistics ---- */
struct sampling {
    double *v;
    size_t n, room;
};
void sampling_add(struct sampling *s, double v); /* NAN is left out */
double sampling_quantile(struct sampling *s, double share);
double sampling_share_within(const struct sampling *s, double low, double high);
void sampling_free(struct sampling *s);

/* ---- tables ---- */
/* The figures that specification and docs/validation.md promise. */
struct figures {
    size_t tests, runs;
    double delay_median_s, delay_p95_s;
    double coverage_least; /* the least of any row with 100 runs at least */
    double o2_within[2];   /* share within 10 % + 20 mg wide, 20 % + 30 mg switching */
    double o2_covered[2];  /* share inside the interval */
    /* share of lower bounds not above the truth: of all, and [0] rear held, [1] part emptied */
    double bound_o2_held, bound_o2[2];
    double bound_target_held, bound_target[2]; /* likewise of delay at target */
    double bound_target_own;                   /* of held runs, by the rear that the car has */
    double target_within;                      /* share of delays at target within 20 % */
    double target_covered;
    size_t sound_called_bad, sound_called_not_good, dead_called_good, dead_called_not_bad;
    size_t sound_decided, sound_spared, sound, dead_decided, dead; /* spared: good or not bad */
};
void refresh_bands_print(FILE *out, const struct trial *t, size_t n, struct figures *f);
void kinetics_print(FILE *out, const struct trial *t, size_t n);
void rear_words_print(FILE *out, const struct trial *t, size_t n);
void tables_print(FILE *out, const struct trial *t, size_t n, struct figures *f);
void verdicts_print(FILE *out, const struct trial *t, size_t n, struct figures *f);
void sentences_print(FILE *out, const struct trial *t, size_t n);
void minutes_print(FILE *out, const struct trial *t, size_t n);
void rows_print(FILE *out, const struct trial *t, size_t n);
/* Prints each figure beside its goal; true when none is below its floor. */
bool figures_reached(FILE *out, const struct figures *f);

#endif
