/* The simulated controller's services, one file each. Written from the standards' tables in the
 * direction value -> bytes; it shares nothing with src/vehicle, which goes the other way.
 */
#ifndef OXL_SIM_ECU_H
#define OXL_SIM_ECU_H

#include "sim/parts.h"

/* What a service needs to answer one request. */
struct oxl_ecu_case {
    const struct oxl_ecu_settings *u;
    const struct oxl_readout *r;
    bool can;
};

/* Appends to an answer; false when it has no room left. */
bool oxl_ecu_put(struct oxl_ecu_answer *a, const uint8_t *bytes, size_t n);
/* One of several records of an answer, behind the service's byte; n 0: there is none. */
void oxl_ecu_put_record(struct oxl_ecu_answer *a, uint8_t service, const uint8_t *record, size_t n);
/* High byte first. */
void oxl_ecu_word(uint8_t out[2], unsigned n);

/* Sets in mask[4] the bit for `number` when it lies in the 32 numbers after `base`:
 * bit 7 of the first byte is base + 1 (SAE J1979 support masks). */
void oxl_ecu_mask_bit(uint8_t mask[4], unsigned base, unsigned number);

/* ---- ecu_changes.c ---- */
/* Would an ECU that obeys change something: codes, settings, an actuator? */
bool oxl_ecu_would_change(const uint8_t *req, size_t len);

/* ---- ecu_live.c ---- */
/* Data bytes of a service 01 PID into out[4]; 0 when this vehicle does not support it. */
size_t oxl_ecu_pid(const struct oxl_ecu_case *c, uint8_t pid, uint8_t out[4]);
/* sensor 0 = front, 1 = rear; bank 0 or 1 */
bool oxl_ecu_has_sensor(const struct oxl_ecu_case *c, int bank, int sensor);
/* "switching", "wide-volts", "wide-current" or "none": the setting for front or rear. */
const char *oxl_ecu_sensor_kind(const struct oxl_ecu_settings *u, int sensor);
/* Appends `PID data` for each supported PID of the request, in the request's order. */
void oxl_ecu_service_01(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                        struct oxl_ecu_answer *a);

/* Which sensor a place (0..7) in 14-1B, 24-2B or 34-3B means; false: none is there. */
bool oxl_ecu_place(const struct oxl_ecu_case *c, unsigned slot, int *bank, int *sensor);

/* ---- ecu_masks.c ---- */
/* Does the mask name this PID; is it never answered, whatever the mask says? */
bool oxl_ecu_announces(const struct oxl_ecu_settings *u, uint8_t pid, bool is_there);
bool oxl_ecu_mutes(const struct oxl_ecu_settings *u, uint8_t pid);
/* 00, 20 and 40 always; further ones where something behind them is announced. */
bool oxl_ecu_has_mask(const struct oxl_ecu_settings *u, unsigned base);
/* PIDs 24-2B of a switching rear that is dressed up as a wide-range one; 0: it is not. */
size_t oxl_ecu_dummy_wide(const struct oxl_ecu_case *c, unsigned slot, uint8_t out[4]);

/* ---- ecu_dtcs.c ---- */
enum { OXL_ECU_DTCS = 12 };
/* "P0420 P0136" to two-byte codes; text that is not a code is skipped. */
size_t oxl_ecu_dtcs(const char *text, uint16_t out[OXL_ECU_DTCS]);
bool oxl_ecu_has_dtc(const struct oxl_ecu_settings *u, uint16_t first, uint16_t last);
/* Services 03, 07 and 0A; returns the number of messages. */
size_t oxl_ecu_put_dtcs(const struct oxl_ecu_case *c, uint8_t service, const uint16_t *codes,
                        size_t n, struct oxl_ecu_answer *out, size_t max);
size_t oxl_ecu_service_dtcs(const struct oxl_ecu_case *c, uint8_t service,
                            struct oxl_ecu_answer *out, size_t max);
void oxl_ecu_service_02(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                        struct oxl_ecu_answer *a);

/* ---- ecu_monitor.c ---- */
/* False when a rear sensor fault keeps the catalyst monitor from running. */
bool oxl_ecu_catalyst_monitor_ran(const struct oxl_ecu_settings *u);
/* Returns the number of messages: on K-line one for each component of a test. */
size_t oxl_ecu_service_06(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                          struct oxl_ecu_answer *out, size_t max);

/* ---- ecu_sensor_tests.c ---- */
size_t oxl_ecu_service_05(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                          struct oxl_ecu_answer *out);

/* ---- ecu_info.c ---- */
size_t oxl_ecu_service_09(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                          struct oxl_ecu_answer *out, size_t max);

#endif
