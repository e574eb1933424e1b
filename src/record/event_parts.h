/* The parts of oxl_event_json; the report in JSON is made of the same parts. */
#ifndef OXYLAG_RECORD_EVENT_PARTS_H
#define OXYLAG_RECORD_EVENT_PARTS_H

#include <stdbool.h>

#include "json_out.h"
#include "oxylag/event.h"
#include "oxylag/onboard.h"
#include "oxylag/vehicle.h"

/* Members, written after "event" and "t_s". */
void oxl_json_check(struct oxl_json *j, const struct oxl_check *c);
void oxl_json_run(struct oxl_json *j, const struct oxl_run_result *run);
void oxl_json_result(struct oxl_json *j, const struct oxl_result *result);
void oxl_json_vehicle(struct oxl_json *j, const struct oxl_vehicle *v, bool mask_vin);
void oxl_json_result_members(struct oxl_json *j, const struct oxl_monitor_result *r);
/* A member that holds the readiness, null when it is not known. */
void oxl_json_readiness(struct oxl_json *j, const char *name, const struct oxl_readiness *r);

/* Member helpers that the groups share. */
void oxl_json_member_text(struct oxl_json *j, const char *name, const char *text);
void oxl_json_member_number(struct oxl_json *j, const char *name, double v);
void oxl_json_member_integer(struct oxl_json *j, const char *name, int64_t v);
void oxl_json_member_seconds(struct oxl_json *j, const char *name, int64_t us);
/* A text, null where it is NULL or empty. */
void oxl_json_member_word(struct oxl_json *j, const char *name, const char *text);
/* A list '[' or an object '{', to be closed with oxl_json_close. */
void oxl_json_member_open(struct oxl_json *j, const char *name, char bracket);
void oxl_json_member_bool(struct oxl_json *j, const char *name, bool v);
/* An ECU's address in hex, null when 0. */
void oxl_json_member_ecu(struct oxl_json *j, const char *name, uint32_t ecu);

/* The keys that a recording may hold, in encode and decode alike. */
extern const char oxl_recorded_keys[];

/* ---- event_vehicle.c: what of a vehicle is shown the same way by the event stream and by the
 * report. */
/* The VIN as it may be shown: whole, or with all but its first 8 characters (manufacturer
 * and model, ISO 3779 WMI and the start of the VDS) starred, so that no vehicle can be told. */
void oxl_vin_shown(const char vin[18], bool mask, char out[18]);

/* A plate or a customer's vehicle as it may be shown: whole, or not at all. "" stays. */
const char *oxl_owner_shown(const char *text, bool mask);

#endif
