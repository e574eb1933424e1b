/* What of a vehicle is shown the same way by the event stream and by the report. */
#ifndef OXYLAG_RECORD_VEHICLE_TEXT_H
#define OXYLAG_RECORD_VEHICLE_TEXT_H

#include <stdbool.h>

#include "oxylag/vehicle.h"

/* The VIN as it may be shown: whole, or with all but its first 8 characters (manufacturer
 * and model, ISO 3779 WMI and the start of the VDS) starred, so that no vehicle can be told. */
void oxl_vin_shown(const char vin[18], bool mask, char out[18]);

/* A plate or a customer's vehicle as it may be shown: whole, or not at all. "" stays. */
const char *oxl_owner_shown(const char *text, bool mask);

#endif
