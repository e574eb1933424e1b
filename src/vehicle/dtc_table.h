/* The table of trouble codes. */
#ifndef OXYLAG_VEHICLE_DTC_TABLE_H
#define OXYLAG_VEHICLE_DTC_TABLE_H

#include "oxylag/onboard.h"

enum oxl_family {
    OXL_FAMILY_OTHER = 0,
    OXL_FAMILY_CATALYST,
    OXL_FAMILY_MISFIRE,
    OXL_FAMILY_FUEL_TRIM,
    OXL_FAMILY_REAR_TRIM,
    OXL_FAMILY_FRONT_SENSOR,
    OXL_FAMILY_REAR_SENSOR,
    OXL_FAMILY_HEATER,
    OXL_FAMILY_SWAPPED,
    OXL_FAMILY_AIR,
    OXL_FAMILY_INTAKE_TEMP,
    OXL_FAMILY_COOLANT,
    OXL_FAMILY_THERMOSTAT,
    OXL_FAMILY_THROTTLE,
    OXL_FAMILY_FUEL_SUPPLY,
    OXL_FAMILY_SECONDARY_AIR,
    OXL_FAMILY_PURGE,
    OXL_FAMILY_EGR,
    OXL_FAMILY_IDLE,
    OXL_FAMILY_COUNT
};
const struct oxl_dtc_family *oxl_family(enum oxl_family f);

struct oxl_dtc_row {
    uint16_t first, last; /* last 0: one code */
    uint8_t family;       /* enum oxl_family */
    uint8_t bank;         /* 0: names none */
    const char *words;
};
/* NULL when the code is not in the table. */
const struct oxl_dtc_row *oxl_dtc_row(uint16_t code);

#endif
