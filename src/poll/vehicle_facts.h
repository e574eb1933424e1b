/* What answers at the other end: the ECUs, and what the vehicle said of itself. */
#ifndef OXYLAG_POLL_VEHICLE_FACTS_H
#define OXYLAG_POLL_VEHICLE_FACTS_H

#include "oxylag/poll.h"
#include "survey.h"

/* ---- ecus.c: the ECUs that answer, and the PIDs that each supports. */
enum { OXL_POLL_ECUS = 8 }; /* most ECUs that answer a functional request, ISO 15765-4 */

struct oxl_poll_ecu {
    uint32_t id;
    struct oxl_support support;
};

struct oxl_poll_ecus {
    struct oxl_poll_ecu list[OXL_POLL_ECUS];
    unsigned n;
    uint8_t mask_pid; /* the one that is being asked for */
    unsigned mask_tries;
};

void oxl_poll_ecus_forget(struct oxl_poll *p);
void oxl_poll_ecu_mask(struct oxl_poll *p, const struct oxl_message *m, uint8_t mask_pid);
bool oxl_poll_any_ecu_supports(const struct oxl_poll *p, uint8_t pid);
/* By the masks of the ECU used for the test. */
bool oxl_poll_announced(const struct oxl_poll *p, uint8_t pid);
/* 0 for an ECU that was not there when PID 00 was asked. */
unsigned oxl_poll_ecu_bit(const struct oxl_poll *p, uint32_t ecu);
/* How many frames all ECUs together send to a service 01 request; 0 when it is not known. */
unsigned oxl_poll_expected_frames(const struct oxl_poll *p, const uint8_t *pids, unsigned n);
/* How many the ECU used for the test sends; 0 when it is not known. */
unsigned oxl_poll_own_frames(const struct oxl_poll *p, const uint8_t *pids, unsigned n);
unsigned oxl_poll_digit(const struct oxl_poll *p, unsigned frames);
extern const struct oxl_poll_step oxl_poll_masks_step; /* masks 20, 40, .. */

/* ---- vehicle_facts.c: what the vehicle is, as it said itself: p->vehicle, p->pair, and these.
 * */
struct oxl_poll_facts {
    unsigned vin_parts;
    char vin[18];       /* as it comes in */
    bool exact;         /* the vehicle's answers hold the asked PIDs and nothing else */
    unsigned inexact;   /* in a row that did not */
    unsigned odd_trims; /* in a row that did not and asked for trims */
};

void oxl_poll_vehicle_forget(struct oxl_poll *p); /* all but the adapter's name */
void oxl_poll_vehicle_adapter(struct oxl_poll *p, const char *name);
void oxl_poll_vehicle_protocol(struct oxl_poll *p, enum oxl_protocol protocol);
void oxl_poll_vehicle_ecu(struct oxl_poll *p, const struct oxl_poll_ecu *ecu);
void oxl_poll_vehicle_pair(struct oxl_poll *p);
void oxl_poll_vehicle_can(struct oxl_poll *p, bool reply_count, bool multi_pid);
bool oxl_poll_is_can(const struct oxl_poll *p);
void oxl_poll_vehicle_results_forget(struct oxl_poll *p);
void oxl_poll_vehicle_surveyed(struct oxl_poll *p);
/* Holds an answer the asked PIDs and nothing else? True: it may be believed. */
bool oxl_poll_vehicle_is_sound(struct oxl_poll *p, const struct oxl_message *m, bool exact);
/* What an ECU that is not used answers to the present request. */
void oxl_poll_vehicle_other(struct oxl_poll *p, const struct oxl_message *m);
/* What asking has shown of a PID: it answers; it never does although it was announced; its lambda
 * stands still, and so its voltage is the sensor's (volts), or it is none. */
void oxl_poll_vehicle_answers(struct oxl_poll *p, uint8_t pid);
void oxl_poll_vehicle_silent(struct oxl_poll *p, uint8_t pid);
void oxl_poll_vehicle_still(struct oxl_poll *p, uint8_t pid, bool volts);
void oxl_poll_vehicle_moves(struct oxl_poll *p); /* nothing moves: as it was */
void oxl_poll_vehicle_result(struct oxl_poll *p, const struct oxl_monitor_result *r);
extern const struct oxl_poll_step oxl_poll_layout_step, oxl_poll_scale_step,
    oxl_poll_air_scale_step, oxl_poll_readiness_step, oxl_poll_stored_step, oxl_poll_pending_step,
    oxl_poll_permanent_step, oxl_poll_vin_step;

#endif
