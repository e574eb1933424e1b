/* Grade: facts to graded lines. What was asked of the vehicle and what is seen of it now go in; a
 * line comes out: pass, caution, stop or unknown, what was found, what to do. The pre-check of a
 * test and the inspection both ask here, so a fact has one grade and the same words in both. Which
 * lines are shown, and when, is theirs.
 *
 * Pure functions: no state, no clock. An unknown number is NAN, and its line's grade is unknown.
 */
#ifndef OXYLAG_GRADE_H
#define OXYLAG_GRADE_H

#include "oxylag/event.h"
#include "oxylag/onboard.h"
#include "oxylag/profile.h"
#include "oxylag/reason.h"

/* What was asked once, and of which bank. */
struct oxl_grade_facts {
    unsigned bank; /* under test: 1 or 2 */
    const struct oxl_vehicle *vehicle;
    const struct oxl_profile *profile;
    struct oxl_pair pair; /* of the bank under test */
    bool no_identity;     /* the VIN was not asked for */
    bool imported;        /* from a table, which holds samples and no answers */
};

/* ---- the vehicle and the link to it ---- */
struct oxl_check oxl_grade_link(const struct oxl_grade_facts *f);
struct oxl_check oxl_grade_rate(double front_hz, double rear_hz);
/* How often the ECU refreshes the three values that the test goes by, as far as it has shown. */
struct oxl_check oxl_grade_refresh(const struct oxl_refresh *front, const struct oxl_refresh *rear,
                                   const struct oxl_refresh *trim);
struct oxl_check oxl_grade_identity(const struct oxl_grade_facts *f);
struct oxl_check oxl_grade_ecu(const struct oxl_grade_facts *f, const struct oxl_ecu_info *ecu);
struct oxl_check oxl_grade_layout(const struct oxl_grade_facts *f);
/* The test calls its pair "sensors"; an inspection, which shows both, "sensors-bank-1" and
 * "sensors-bank-2". Of another bank than that under test nothing stops the test. */
struct oxl_check oxl_grade_sensors(const char *id, const struct oxl_grade_facts *f, unsigned bank,
                                   const struct oxl_pair *pair);
/* PIDs whose announcement proved wrong, in one line; id "": there are none. */
struct oxl_check oxl_grade_pids(const struct oxl_vehicle *v);
struct oxl_check oxl_grade_air(const struct oxl_grade_facts *f);
enum oxl_air_want oxl_grade_air_kind(const struct oxl_vehicle *v);
/* Samples from a table: its rows are row_us apart. */
struct oxl_check oxl_grade_table(int64_t row_us, bool resampled);

/* ---- trouble codes ---- */
/* Does it speak of this test: of its front or rear sensor, its bank, or the whole engine? */
bool oxl_dtc_concerns(const struct oxl_grade_facts *f, uint16_t code);
enum oxl_grade oxl_grade_of_dtc(const struct oxl_grade_facts *f, uint16_t code,
                                enum oxl_dtc_kind kind);
/* What the codes say of every run. Permanent ones speak of the past: they stay until the ECU has
 * proved the repair. */
oxl_reasons oxl_dtc_reasons(const struct oxl_grade_facts *f, const uint16_t *codes, size_t n,
                            enum oxl_dtc_kind kind);
/* One code, "stored-P0420". */
struct oxl_check oxl_grade_dtc(const struct oxl_grade_facts *f, uint32_t ecu, uint16_t code,
                               enum oxl_dtc_kind kind);
/* A list in one line, "codes-stored": as grave as the gravest of its codes. */
struct oxl_check oxl_grade_dtcs(const struct oxl_grade_facts *f, const uint16_t *codes, size_t n,
                                bool known, enum oxl_dtc_kind kind);
/* The count beside the lamp must be that of the list; true: it is, or nothing is known. */
bool oxl_dtc_count_agrees(const struct oxl_ecu_info *ecu);
struct oxl_check oxl_grade_dtc_count(const struct oxl_ecu_info *ecu);

/* ---- readiness ---- */
struct oxl_check oxl_grade_lamp(const struct oxl_readiness *r);
/* Stop: propane in the intake of a compression-ignition engine burns by itself. */
struct oxl_check oxl_grade_ignition(const struct oxl_readiness *r);
enum { OXL_GRADED_MONITORS = 5 };
struct oxl_check oxl_grade_ready(const struct oxl_readiness *r, unsigned i); /* "ready-catalyst" */
struct oxl_check oxl_grade_readiness(const struct oxl_readiness *r); /* all of them in one line */
struct oxl_check oxl_grade_this_cycle(const struct oxl_readiness *cycle);

/* ---- results of the vehicle's own monitors ---- */
/* One result, "monitor-21-80". */
struct oxl_check oxl_grade_monitor(const struct oxl_grade_facts *f,
                                   const struct oxl_monitor_result *r);
struct oxl_check oxl_grade_no_results(void);
struct oxl_check oxl_grade_no_catalyst_result(unsigned bank);
struct oxl_check oxl_grade_results_cut(void);
/* Its value and limits; "" when it has not run. */
void oxl_monitor_text(const struct oxl_monitor_result *r, char *out, size_t n);
/* Does it bear on this test? Of the others only a failed one is worth a line. */
bool oxl_monitor_bears(const struct oxl_monitor_result *r);
/* The gravest result of the bank's catalyst, of its front or rear sensor, in one line in the words
 * of a page that a customer reads. */
enum oxl_monitored { OXL_MONITORED_CATALYST, OXL_MONITORED_FRONT, OXL_MONITORED_REAR };
struct oxl_check oxl_grade_monitored(const struct oxl_grade_facts *f, enum oxl_monitored what);
struct oxl_check oxl_grade_freeze_frame(const struct oxl_onboard *o);

/* ---- the engine as it runs now ---- */
/* In the order in which the pre-check waits for them. */
enum oxl_gate {
    OXL_GATE_COOLANT,
    OXL_GATE_RUN_TIME,
    OXL_GATE_CAT_TEMP,
    OXL_GATE_CLOSED_LOOP,
    OXL_GATE_STILL,
    OXL_GATE_ENGINE,
    OXL_GATE_SECONDARY_AIR,
    OXL_GATE_TRIMS,
    OXL_GATE_COUNT
};
const char *oxl_gate_name(enum oxl_gate g); /* "coolant temperature": for people */
enum oxl_quantity oxl_gate_quantity(enum oxl_gate g);
uint8_t oxl_gate_pid(enum oxl_gate g, unsigned bank); /* service 01 */
/* value: of the gate's quantity. Trims are graded below: they are two values. */
struct oxl_check oxl_grade_gate(const struct oxl_grade_facts *f, enum oxl_gate g, double value);
/* ltft_pct NAN: there is no long-term trim. */
double oxl_total_trim_of(double stft_pct, double ltft_pct);
struct oxl_check oxl_grade_trims(const struct oxl_grade_facts *f, double stft_pct, double ltft_pct);
/* Room for the shift to the target before the trims' limit. total_pct is the one parameter: the
 * test asks of its baseline, the mean of some seconds; an inspection of the latest reading. */
struct oxl_check oxl_grade_trim_room(double total_pct, const struct oxl_profile *profile);
/* The fuel system that is not the one of the bank under test: open, it is no reason to stop. */
struct oxl_check oxl_grade_second_loop(double code, bool under_test);
/* The short-term trim never moved from exactly 0 while an inspection watched. The procedure's own
 * question (proc/engine.c) is another one: for ten seconds, and with the front off balance. */
struct oxl_check oxl_grade_frozen_trim(bool closed_loop, enum oxl_sensor_kind front);

/* PID 03: closed loop on the sensors (2), or closed loop with a fault of one of them (16). The
 * upper bits of the byte speak of bank 2 in later editions of the standard and are left out. */
bool oxl_loop_closed(double code);
bool oxl_loop_closed_with_fault(double code);
bool oxl_secondary_air_on(double code); /* PID 12: into the exhaust */
bool oxl_fuel_is_hybrid(double code);   /* PID 51 */
/* The channel that speaks of a bank. `second`: the second fuel system's code; NAN or 0: there is
 * none, and the first rules both banks. */
struct oxl_channel oxl_bank_channel(enum oxl_quantity q, unsigned bank, double second);
/* The code of the second fuel system where it controls something; else NAN. */
double oxl_second_system(double first, double second);

/* An engine that turns by itself; a starter gives about 200. From memory. */
#define OXL_LEAST_RPM 400.0

#endif
