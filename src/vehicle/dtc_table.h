/* The table of trouble codes. */
#ifndef OXYLAG_VEHICLE_DTC_TABLE_H
#define OXYLAG_VEHICLE_DTC_TABLE_H

#include "oxylag/onboard.h"

/* Where a rear follows a front, the rear is the next one: sensor 1 is the front. */
enum oxl_family {
    OXL_FAMILY_OTHER = 0,
    OXL_FAMILY_UNKNOWN,
    OXL_FAMILY_CATALYST,
    OXL_FAMILY_CATALYST_TEMP,
    OXL_FAMILY_MISFIRE,
    OXL_FAMILY_FUEL_TRIM,
    OXL_FAMILY_REAR_TRIM,
    OXL_FAMILY_FRONT_SENSOR,
    OXL_FAMILY_REAR_SENSOR,
    OXL_FAMILY_FRONT_SLOW,
    OXL_FAMILY_REAR_SLOW,
    OXL_FAMILY_FRONT_HEATER,
    OXL_FAMILY_REAR_HEATER,
    OXL_FAMILY_SWAPPED,
    OXL_FAMILY_AIR,
    OXL_FAMILY_INTAKE_TEMP,
    OXL_FAMILY_COOLANT,
    OXL_FAMILY_THERMOSTAT,
    OXL_FAMILY_THROTTLE,
    OXL_FAMILY_FUEL_SUPPLY,
    OXL_FAMILY_ENGINE_TIMING,
    OXL_FAMILY_SECONDARY_AIR,
    OXL_FAMILY_PURGE,
    OXL_FAMILY_EVAP,
    OXL_FAMILY_EGR,
    OXL_FAMILY_IDLE,
    OXL_FAMILY_ECU,
    OXL_FAMILY_COUNT
};

/* COUNT when the code is not in the table. */
enum oxl_family oxl_dtc_listed(uint16_t code);

#endif
