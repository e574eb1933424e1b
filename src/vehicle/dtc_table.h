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

/* Which bank or sensor a code names: bank * 10 + sensor, sensor 0: the bank alone. */
enum oxl_dtc_place {
    OXL_DTC_NOWHERE = 0,
    OXL_DTC_BANK_1 = 10,
    OXL_DTC_B1S1,
    OXL_DTC_B1S2,
    OXL_DTC_B1S3,
    OXL_DTC_BANK_2 = 20,
    OXL_DTC_B2S1,
    OXL_DTC_B2S2,
    OXL_DTC_B2S3,
    OXL_DTC_EACH = 255 /* six codes in a row: B1S1 to B1S3, then B2S1 to B2S3 */
};

/* `last` 0: one code. Digits are decimal in a range, unless its first code has a letter. */
struct oxl_dtc_row {
    uint16_t first, last;
    uint8_t family; /* enum oxl_family; of a sensor the front's, which sensors behind turn into
                       the rear's */
    uint8_t place;  /* enum oxl_dtc_place */
    const char *words;
};
/* NULL when the code is not in the table. */
const struct oxl_dtc_row *oxl_dtc_row(uint16_t code);
/* Also of those that follow a pattern; COUNT when oxylag does not know the code. */
enum oxl_family oxl_dtc_listed(uint16_t code);

#endif
