/* What a trouble code says. Codes that follow a pattern are worked out, the others are looked up
 * (code_table.c). */
#include <stdio.h>

#include "dtc_table.h"

/* P0130-P0167: six codes a sensor, in the order of the sensors; the tens of the number are
 * decimal (P0139 is followed by P0140). SAE J2012, from memory. */
struct sensor_dtc {
    unsigned bank, sensor, fault;
};

static bool sensor_dtc(uint16_t code, struct sensor_dtc *out)
{
    static const uint8_t starts[] = {30, 36, 42, 50, 56, 62}; /* B1S1-B1S3, B2S1-B2S3 */
    if (code >> 8 != 0x01 || (code & 0xF) > 9 || (code >> 4 & 0xF) > 9)
        return false;
    unsigned number = (code >> 4 & 0xFU) * 10 + (code & 0xFU);
    for (unsigned i = 0; i < sizeof starts; i++)
        if (number >= starts[i] && number < starts[i] + 6U) {
            *out = (struct sensor_dtc){i / 3 + 1, i % 3 + 1, number - starts[i]};
            return true;
        }
    return false;
}

/* P0301-P0312. */
static unsigned misfire_cylinder(uint16_t code)
{
    if (code < 0x0301 || code > 0x0312 || (code & 0xF) > 9)
        return 0;
    return (code >> 4 & 0xFU) * 10 + (code & 0xFU);
}

static enum oxl_family family_of(uint16_t code)
{
    struct sensor_dtc s;
    const struct oxl_dtc_row *row = oxl_dtc_row(code);
    enum { HEATER = 5 };
    if (misfire_cylinder(code))
        return OXL_FAMILY_MISFIRE;
    if (sensor_dtc(code, &s))
        return s.fault == HEATER ? OXL_FAMILY_HEATER
               : s.sensor == 1   ? OXL_FAMILY_FRONT_SENSOR
                                 : OXL_FAMILY_REAR_SENSOR;
    return row ? (enum oxl_family)row->family : OXL_FAMILY_OTHER;
}

const struct oxl_dtc_family *oxl_dtc_family(uint16_t code)
{
    return oxl_family(family_of(code));
}

unsigned oxl_dtc_bank(uint16_t code)
{
    struct sensor_dtc s;
    const struct oxl_dtc_row *row = oxl_dtc_row(code);
    if (sensor_dtc(code, &s))
        return s.bank;
    return row ? row->bank : 0;
}

/* What the second digit of the number says of a code that is not in the table (SAE J2012). */
static const char *unlisted(uint16_t code)
{
    static const char *const systems[] = {"Powertrain", "Chassis", "Body", "Network"};
    return systems[code >> 14];
}

void oxl_dtc_words(uint16_t code, char *out, size_t n)
{
    static const char *const faults[] = {"Circuit",       "Voltage too low", "Voltage too high",
                                         "Slow response", "No activity",     "Heater circuit"};
    struct sensor_dtc s;
    const struct oxl_dtc_row *row = oxl_dtc_row(code);
    unsigned cylinder = misfire_cylinder(code);
    unsigned digit = code >> 12 & 3;
    if (cylinder)
        snprintf(out, n, "Misfire, cylinder %u", cylinder);
    else if (sensor_dtc(code, &s))
        snprintf(out, n, "%s, bank %u sensor %u", faults[s.fault], s.bank, s.sensor);
    else if (row)
        snprintf(out, n, "%s", row->words);
    else /* P1xxx and, mostly, P3xxx belong to the makers */
        snprintf(out, n, "%s code%s: see the maker's list", unlisted(code),
                 digit == 1 ? " of the maker" : "");
}
