/* What a trouble code says, and of which sensor. Codes that follow a pattern are worked out, the
 * others are looked up (dtc_table.c). */
#include <stdio.h>

#include "dtc_table.h"

struct place {
    unsigned bank, sensor; /* 0: not named */
};

enum { CIRCUIT, LOW, HIGH, SLOW, NO_ACTIVITY, HEATER, FAULTS };

/* P0130-P0167: six codes a sensor, in the order of the sensors; the tens of the number are
 * decimal (P0139 is followed by P0140). SAE J2012, from memory. Returns the fault, FAULTS: none. */
static unsigned sensor_fault(uint16_t code, struct place *out)
{
    static const uint8_t starts[] = {30, 36, 42, 50, 56, 62}; /* B1S1-B1S3, B2S1-B2S3 */
    if (code >> 8 != 0x01 || (code & 0xF) > 9 || (code >> 4 & 0xF) > 9)
        return FAULTS;
    unsigned number = (code >> 4 & 0xFU) * 10 + (code & 0xFU);
    for (unsigned i = 0; i < sizeof starts; i++)
        if (number >= starts[i] && number < starts[i] + (unsigned)FAULTS) {
            *out = (struct place){i / 3 + 1, i % 3 + 1};
            return number - starts[i];
        }
    return FAULTS;
}

/* P0301-P0312. */
static unsigned misfire_cylinder(uint16_t code)
{
    if (code < 0x0301 || code > 0x0312 || (code & 0xF) > 9)
        return 0;
    return (code >> 4 & 0xFU) * 10 + (code & 0xFU);
}

static struct place place_of(uint16_t code)
{
    struct place p = {0, 0};
    const struct oxl_dtc_row *row = oxl_dtc_row(code);
    if (sensor_fault(code, &p) != FAULTS || !row)
        return p;
    unsigned nth = code - (unsigned)row->first;
    if (row->place == OXL_DTC_EACH)
        return (struct place){nth / 3 + 1, nth % 3 + 1};
    return (struct place){row->place / 10U, row->place % 10U};
}

static bool of_sensor(enum oxl_family f)
{
    return f == OXL_FAMILY_FRONT_SENSOR || f == OXL_FAMILY_FRONT_SLOW ||
           f == OXL_FAMILY_FRONT_HEATER;
}

enum oxl_family oxl_dtc_listed(uint16_t code)
{
    struct place p;
    const struct oxl_dtc_row *row = oxl_dtc_row(code);
    unsigned fault = sensor_fault(code, &p);
    if (misfire_cylinder(code))
        return OXL_FAMILY_MISFIRE;
    enum oxl_family f = fault == HEATER   ? OXL_FAMILY_FRONT_HEATER
                        : fault == SLOW   ? OXL_FAMILY_FRONT_SLOW
                        : fault != FAULTS ? OXL_FAMILY_FRONT_SENSOR
                        : row             ? (enum oxl_family)row->family
                                          : OXL_FAMILY_COUNT;
    return of_sensor(f) && place_of(code).sensor > 1 ? (enum oxl_family)(f + 1) : f;
}

unsigned oxl_dtc_bank(uint16_t code)
{
    return place_of(code).bank;
}

unsigned oxl_dtc_sensor(uint16_t code)
{
    return place_of(code).sensor;
}

/* A code that is not in the table: whose it is. */
static void say_unlisted(uint16_t code, char *out, size_t n)
{
    static const char *const systems[] = {"Powertrain", "Chassis", "Body", "Network"};
    snprintf(out, n, "%s trouble code%s: look it up", systems[code >> 14],
             oxl_dtc_is_manufacturers(code) ? " of the manufacturer" : "");
}

void oxl_dtc_words(uint16_t code, char *out, size_t n)
{
    static const char *const faults[] = {"Circuit",       "Voltage too low", "Voltage too high",
                                         "Slow response", "No activity",     "Heater circuit"};
    struct place p;
    unsigned fault = sensor_fault(code, &p), cylinder = misfire_cylinder(code);
    const struct oxl_dtc_row *row = oxl_dtc_row(code);
    if (cylinder) {
        snprintf(out, n, "Misfire, cylinder %u", cylinder);
        return;
    }
    if (fault == FAULTS && !row) {
        say_unlisted(code, out, n);
        return;
    }
    const char *words = fault != FAULTS ? faults[fault] : row->words;
    p = place_of(code);
    if (p.sensor)
        snprintf(out, n, "%s, bank %u sensor %u", words, p.bank, p.sensor);
    else if (p.bank)
        snprintf(out, n, "%s, bank %u", words, p.bank);
    else
        snprintf(out, n, "%s", words);
}
