/* Sim: a vehicle that does not exist, its adapter, and a technician to work the gas valve. A
 * plant with its own physics, not a script: it shares no formula with src/measure. Seeded and
 * deterministic in virtual time. Pure: time comes in as microseconds since its start.
 */
#ifndef OXYLAG_SIM_H
#define OXYLAG_SIM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/event.h"
#include "oxylag/status.h"
#include "oxylag/wire.h"

/* A scenario: every setting of plant, ECU, adapter and technician. Read from INI text
 * (src/sim/scenarios/?.ini are built in; docs/scenarios.md). */
struct oxl_scenario; /* opaque */
size_t oxl_scenario_builtin_count(void);
const char *oxl_scenario_builtin_name(size_t i);
const char *oxl_scenario_builtin_title(size_t i); /* one line: what it teaches */
enum oxl_status oxl_scenario_load(const char *name, struct oxl_scenario **out,
                                  struct oxl_error *err) OXL_MUST_CHECK;
enum oxl_status oxl_scenario_parse(const char *text, const char *file, struct oxl_scenario **out,
                                   struct oxl_error *err) OXL_MUST_CHECK;
void oxl_scenario_free(struct oxl_scenario *s); /* NULL is accepted */

/* How the technician works. */
enum oxl_tech_mode {
    OXL_TECH_GUIDED, /* does what the tool says, with a person's reaction time */
    OXL_TECH_ALONE,  /* does not see the tool: baseline wait, gas, hold, cut, again and again */
    OXL_TECH_BY_HAND /* the user works the valve with oxl_sim_valve */
};

struct oxl_sim; /* plant + ECU + adapter + technician */
struct oxl_sim *oxl_sim_new(const struct oxl_scenario *scenario, uint64_t seed,
                            enum oxl_tech_mode mode);
void oxl_sim_free(struct oxl_sim *s); /* NULL is accepted */

/* Bytes from the tester to the adapter, arriving at t_us. baud is the line speed the tester
 * uses; 0 when the link has none: a wrong speed garbles both ways. */
void oxl_sim_write(struct oxl_sim *s, const void *bytes, size_t n, unsigned baud, int64_t t_us);
/* Bytes from the adapter that have left it by t_us; returns how many were stored (at most n). */
size_t oxl_sim_read(struct oxl_sim *s, void *bytes, size_t n, int64_t t_us);
/* When the next byte leaves the adapter, or the link changes; INT64_MAX when nothing is coming
 * without being asked. */
int64_t oxl_sim_due_us(const struct oxl_sim *s);
/* Is the adapter plugged in at t_us? (scenario "unplugged" pulls it during timing) */
bool oxl_sim_plugged(struct oxl_sim *s, int64_t t_us);
/* The adapter's port has been opened: some start anew. */
void oxl_sim_opened(struct oxl_sim *s, int64_t t_us);
/* Does flow control keep every byte from it? */
bool oxl_sim_held(const struct oxl_sim *s);
/* Runs the plant up to t_us even when nobody asks. */
void oxl_sim_run(struct oxl_sim *s, int64_t t_us);
/* The guided technician hears what the tool says. */
void oxl_sim_hear(struct oxl_sim *s, const struct oxl_event *ev);
/* By hand: valve opening 0..1. */
void oxl_sim_valve(struct oxl_sim *s, double opening, int64_t t_us);

/* What really happened, one entry a gas pulse. Times are of the noise-free continuous sensor
 * signals; NAN where it did not happen. */
struct oxl_truth {
    int pulse;             /* 1.. */
    double cut_t_s;        /* the valve began to shut */
    double front_lean_t_s; /* front sensor's own signal passes its lean level for good */
    double rear_lean_t_s;  /* likewise the rear's; NAN: held */
    double delay_s;        /* difference of the two */
    double shift_pct;      /* total trim at the cut against that before the gas */
    double stored_mg;      /* oxygen the converter held more at rear breakthrough (gas lean at
                              its outlet) than when lean gas first reached it; when held: until
                              the end of the lean excess */
    double taken_mg;       /* the most that it took up from then on, whatever the rear said */
    double empty_mg;       /* room left in it when lean gas first reached it */
    double removed_mg;     /* oxygen taken out of it by this pulse */
    double capacity_mg;
    double air_g_s, rpm;
    double front_true_lambda_min; /* deepest rich at the front */
};
size_t oxl_sim_truth_count(struct oxl_sim *s);
bool oxl_sim_truth(struct oxl_sim *s, size_t i, struct oxl_truth *out); /* false: there is none */
/* The truth as one JSON line with newline; scenario and seed are said on the first line by
 * oxl_sim_truth_header. Return the length, 0 when it does not fit. */
size_t oxl_sim_truth_header(const struct oxl_sim *s, char *out, size_t n);
size_t oxl_sim_truth_json(const struct oxl_truth *t, char *out, size_t n);

#endif
