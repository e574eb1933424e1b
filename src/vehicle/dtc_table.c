/* Trouble codes: number, subject, place.
 *
 * All from SAE J2012 / ISO 15031-6, from memory, group by group; the words are ours. Numbers that
 * were checked against something else are named in tests/unit/vehicle/test_dtc.c. What a family
 * does to the test stands in dtc_family.c. */
#include "dtc_table.h"

#include <stdio.h>
#include <string.h>

#define IN(family) OXL_FAMILY_##family
/* Of a sensor: oxl_dtc_listed() picks the rear's where the sensor is behind the front. */
#define SENSOR OXL_FAMILY_FRONT_SENSOR
#define SLOW   OXL_FAMILY_FRONT_SLOW
#define HEATER OXL_FAMILY_FRONT_HEATER

enum { EACH = 4 }; /* the codes of a row are those of sensors 1, 2, 3 */

/* Digits are as they are read: 0x0420 is P0420. They are decimal in a row, unless its first code
 * has a letter. */
static const struct row {
    uint16_t first, last; /* last 0: one code */
    uint16_t bank_2;      /* the first of the same of bank 2: the row names banks; 0: it does not */
    uint8_t family;       /* enum oxl_family */
    uint8_t sensor;       /* 0: names none */
    const char *words;    /* of its codes in turn; the last words are those of all the others */
} rows[] = {
    /* -- valve timing, crankshaft, camshaft: SAE J2012, from memory */
    {0x0010, 0x0015, 0x0020, IN(ENGINE_TIMING), 0, "Camshaft position actuator"},
    {0x0016, 0x0017, 0x0018, IN(ENGINE_TIMING), 0, "Crankshaft and camshaft do not agree"},
    {0x0026, 0x0027, 0x0028, IN(ENGINE_TIMING), 0, "Valve control solenoid"},
    {0x0075, 0x0080, 0x0081, IN(ENGINE_TIMING), 0, "Valve control solenoid circuit"},
    {0x0315, 0, 0, IN(ENGINE_TIMING), 0, "Crankshaft variation not learned"},
    {0x0320, 0x0323, 0, IN(ENGINE_TIMING), 0, "Engine speed signal"},
    {0x0335, 0x0339, 0, IN(ENGINE_TIMING), 0, "Crankshaft position sensor A"},
    {0x0340, 0x0344, 0x0345, IN(ENGINE_TIMING), 0, "Camshaft position sensor A"},
    {0x0365, 0x0369, 0x0390, IN(ENGINE_TIMING), 0, "Camshaft position sensor B"},
    {0x0370, 0x0379, 0, IN(ENGINE_TIMING), 0, "Timing reference signal"},
    {0x0385, 0x0389, 0, IN(ENGINE_TIMING), 0, "Crankshaft position sensor B"},
    {0x2088, 0x2091, 0x2092, IN(ENGINE_TIMING), 0, "Camshaft position actuator circuit"},
    /* -- oxygen sensors, circuits: SAE J2012, from memory */
    {0x0130, 0x0132, 0x0150, SENSOR, 1, "Circuit|Voltage too low|Voltage too high"},
    {0x0133, 0, 0x0153, SLOW, 1, "Slow response"},
    {0x0134, 0, 0x0154, SENSOR, 1, "No activity"},
    {0x0135, 0, 0x0155, HEATER, 1, "Heater circuit"},
    {0x0136, 0x0138, 0x0156, SENSOR, 2, "Circuit|Voltage too low|Voltage too high"},
    {0x0139, 0, 0x0159, SLOW, 2, "Slow response"},
    {0x0140, 0, 0x0160, SENSOR, 2, "No activity"},
    {0x0141, 0, 0x0161, HEATER, 2, "Heater circuit"},
    {0x0142, 0x0144, 0x0162, SENSOR, 3, "Circuit|Voltage too low|Voltage too high"},
    {0x0145, 0, 0x0165, SLOW, 3, "Slow response"},
    {0x0146, 0, 0x0166, SENSOR, 3, "No activity"},
    {0x0147, 0, 0x0167, HEATER, 3, "Heater circuit"},
    /* -- oxygen sensors, heaters: SAE J2012, from memory */
    {0x0030, 0x0032, 0x0050, HEATER, 1, "Heater control circuit"},
    {0x0036, 0x0038, 0x0056, HEATER, 2, "Heater control circuit"},
    {0x0042, 0x0044, 0x0062, HEATER, 3, "Heater control circuit"},
    {0x0053, 0x0055, 0x0059, HEATER, EACH, "Heater resistance"},
    /* -- oxygen sensors, response: SAE J2012, from memory */
    {0x013A, 0x013B, 0x013C, SLOW, 2, "Slow response rich to lean|Slow response lean to rich"},
    {0x013E, 0x013F, 0x014A, SLOW, 2,
     "Delayed response rich to lean|Delayed response lean to rich"},
    {0x014C, 0x014D, 0x014E, SLOW, 1, "Slow response rich to lean|Slow response lean to rich"},
    {0x015A, 0x015B, 0x015C, SLOW, 1,
     "Delayed response rich to lean|Delayed response lean to rich"},
    /* -- oxygen sensors, connectors: SAE J2012, from memory */
    {0x0040, 0x0041, 0, IN(SWAPPED), 0,
     "Front sensors swapped between the banks|Rear sensors swapped between the banks"},
    {0x2278, 0, 0, IN(REAR_SENSOR), 0, "Third sensors swapped between the banks"},
    {0x2416, 0, 0x2417, SENSOR, 2, "Swapped with sensor 3"},
    /* -- oxygen sensors, signal: SAE J2012, from memory */
    {0x2195, 0x2196, 0x2197, SENSOR, 1, "Signal biased or stuck lean|Signal biased or stuck rich"},
    {0x2270, 0x2271, 0x2272, SENSOR, 2, "Signal stuck lean|Signal stuck rich"},
    {0x2274, 0x2275, 0x2276, SENSOR, 3, "Signal stuck lean|Signal stuck rich"},
    {0x2297, 0, 0x2298, SENSOR, 1, "Signal out of range in a fuel cut"},
    {0x2A00, 0x2A02, 0x2A03, SENSOR, EACH, "Circuit range or performance"},
    /* -- wide-range sensors: SAE J2012, from memory */
    {0x064D, 0, 0x064E, SENSOR, 0, "The ECU's sensor processor"},
    {0x2231, 0x2233, 0x2234, SENSOR, EACH, "Signal shorted to the heater"},
    {0x2237, 0x2239, 0x2240, SENSOR, 1, "Positive current control circuit"},
    {0x2243, 0x2246, 0x2247, SENSOR, 1, "Reference voltage circuit"},
    {0x2251, 0x2253, 0x2254, SENSOR, 1, "Negative current control circuit"},
    {0x2414, 0, 0x2415, SENSOR, 1, "Exhaust sample error"},
    {0x2626, 0x2628, 0x2629, SENSOR, 1, "Pumping current trim circuit"},
    /* -- fuel trim, mixture: SAE J2012, from memory */
    {0x016A, 0, 0, IN(FUEL_TRIM), 0, "Closed loop takes too long to come"},
    {0x0170, 0x0172, 0x0173, IN(FUEL_TRIM), 0, "Fuel trim|System too lean|System too rich"},
    {0x2096, 0x2097, 0x2098, IN(REAR_TRIM), 0,
     "Too lean behind the catalyst|Too rich behind the catalyst"},
    {0x2177, 0x2178, 0x2179, IN(FUEL_TRIM), 0, "System too lean off idle|System too rich off idle"},
    {0x2187, 0x2188, 0x2189, IN(FUEL_TRIM), 0, "System too lean at idle|System too rich at idle"},
    {0x2191, 0x2192, 0x2193, IN(FUEL_TRIM), 0,
     "System too lean at higher load|System too rich at higher load"},
    {0x219A, 0, 0x219B, IN(FUEL_TRIM), 0, "Cylinders differ in mixture"},
    {0x219C, 0x21A7, 0, IN(FUEL_TRIM), 0, "One cylinder differs in mixture"},
    /* -- air: SAE J2012, from memory */
    {0x0068, 0x0069, 0, IN(AIR), 0, "Air measurements and throttle contradict each other"},
    {0x0070, 0x0074, 0, IN(OTHER), 0, "Ambient air temperature"},
    {0x0095, 0x0099, 0, IN(INTAKE_TEMP), 0, "Intake air temperature 2"},
    {0x0100, 0x0104, 0, IN(AIR), 0, "Mass or volume air flow, circuit or range"},
    {0x0105, 0x0109, 0, IN(AIR), 0, "Manifold or barometric pressure, circuit or range"},
    {0x010A, 0x010F, 0, IN(AIR), 0, "Mass or volume air flow B, circuit or range"},
    {0x0110, 0x0114, 0, IN(INTAKE_TEMP), 0, "Intake air temperature, circuit or range"},
    {0x0127, 0, 0, IN(INTAKE_TEMP), 0, "Intake air too hot"},
    {0x0129, 0, 0, IN(AIR), 0, "Barometric pressure too low"},
    {0x2074, 0, 0, IN(AIR), 0, "Manifold pressure and throttle contradict each other"},
    {0x2199, 0, 0, IN(INTAKE_TEMP), 0, "Intake air temperatures contradict each other"},
    {0x2226, 0x2230, 0, IN(AIR), 0, "Barometric pressure, circuit or range"},
    {0x2279, 0, 0, IN(AIR), 0, "Intake leak"},
    /* Boost, which an idling engine has none of. */
    {0x0033, 0x0035, 0, IN(OTHER), 0, "Boost control"},
    {0x0039, 0, 0, IN(OTHER), 0, "Boost control"},
    {0x0045, 0x0049, 0, IN(OTHER), 0, "Boost control"},
    {0x0234, 0x0250, 0, IN(OTHER), 0, "Boost control"},
    {0x0299, 0, 0, IN(OTHER), 0, "Boost too low"},
    /* -- coolant: SAE J2012, from memory */
    {0x0115, 0x0119, 0, IN(COOLANT), 0, "Coolant temperature, circuit or range"},
    {0x011A, 0x011F, 0, IN(COOLANT), 0, "Temperatures contradict each other"},
    {0x0125, 0, 0, IN(COOLANT), 0, "Coolant too cold for closed loop"},
    {0x0126, 0, 0, IN(THERMOSTAT), 0, "Coolant too cold for stable operation"},
    {0x0128, 0, 0, IN(THERMOSTAT), 0, "Coolant stays below the thermostat's temperature"},
    {0x0217, 0, 0, IN(COOLANT), 0, "Engine too hot"},
    {0x2181, 0x2186, 0, IN(COOLANT), 0, "Cooling system or second coolant temperature"},
    /* -- throttle and idle: SAE J2012, from memory */
    {0x0120, 0x0124, 0, IN(THROTTLE), 0, "Throttle or pedal position A, circuit or range"},
    {0x0220, 0x0229, 0, IN(THROTTLE), 0, "Throttle or pedal position B or C"},
    {0x0505, 0x0509, 0, IN(IDLE), 0, "Idle speed control"},
    {0x0510, 0, 0, IN(THROTTLE), 0, "Closed throttle switch"},
    {0x0511, 0, 0, IN(IDLE), 0, "Idle speed control circuit"},
    {0x0519, 0, 0, IN(IDLE), 0, "Idle speed control"},
    {0x0638, 0x0639, 0, IN(THROTTLE), 0, "Throttle actuator, range"},
    {0x2100, 0x2119, 0, IN(THROTTLE), 0, "Throttle actuator"},
    {0x2120, 0x2140, 0, IN(THROTTLE), 0, "Throttle or pedal position"},
    {0x2172, 0x2175, 0, IN(THROTTLE), 0, "Air flow does not follow the throttle"},
    /* -- fuel pressure, injectors, fuel: SAE J2012, from memory */
    {0x0087, 0x0088, 0, IN(FUEL_SUPPLY), 0, "Fuel pressure too low|Fuel pressure too high"},
    {0x0089, 0x0092, 0, IN(FUEL_SUPPLY), 0, "Fuel pressure regulator"},
    {0x0093, 0x0094, 0, IN(FUEL_SUPPLY), 0, "Fuel system leak"},
    {0x0148, 0x0149, 0, IN(FUEL_SUPPLY), 0, "Fuel delivery or its timing"},
    {0x0169, 0, 0, IN(FUEL_SUPPLY), 0, "Wrong fuel composition"},
    {0x0176, 0x0179, 0, IN(FUEL_SUPPLY), 0, "Fuel composition sensor"},
    {0x0190, 0x0194, 0, IN(FUEL_SUPPLY), 0, "Fuel rail pressure, circuit or range"},
    {0x0200, 0x0214, 0, IN(FUEL_SUPPLY), 0, "Injector circuit"},
    {0x020A, 0x020F, 0, IN(FUEL_SUPPLY), 0, "Injection timing"},
    {0x0230, 0x0233, 0, IN(FUEL_SUPPLY), 0, "Fuel pump circuit"},
    {0x0261, 0x0296, 0, IN(FUEL_SUPPLY), 0, "Injector or cylinder balance"},
    {0x0627, 0x0629, 0, IN(FUEL_SUPPLY), 0, "Fuel pump control circuit"},
    {0x2146, 0x2157, 0, IN(FUEL_SUPPLY), 0, "Injector group supply"},
    {0x2294, 0x2296, 0, IN(FUEL_SUPPLY), 0, "Fuel pressure regulator 2"},
    /* -- misfire and ignition coils: SAE J2012, from memory */
    {0x0300, 0x0312, 0, IN(MISFIRE), 0,
     "Misfire in several cylinders|Misfire, cylinder 1|Misfire, cylinder 2|Misfire, cylinder 3|"
     "Misfire, cylinder 4|Misfire, cylinder 5|Misfire, cylinder 6|Misfire, cylinder 7|"
     "Misfire, cylinder 8|Misfire, cylinder 9|Misfire, cylinder 10|Misfire, cylinder 11|"
     "Misfire, cylinder 12"},
    {0x0313, 0x0314, 0, IN(MISFIRE), 0,
     "Misfire with low fuel|Misfire in one cylinder, not said which"},
    {0x0316, 0, 0, IN(MISFIRE), 0, "Misfire after the start"},
    {0x0324, 0x0334, 0, IN(OTHER), 0, "Knock sensor"},
    {0x0350, 0x0362, 0, IN(MISFIRE), 0, "Ignition coil circuit"},
    {0x0363, 0, 0, IN(MISFIRE), 0, "Misfire, fuel shut off"},
    {0x2300, 0x2335, 0, IN(MISFIRE), 0, "Ignition coil circuit"},
    /* -- exhaust gas recirculation, secondary air: SAE J2012, from memory */
    {0x0400, 0x0409, 0, IN(EGR), 0, "Exhaust gas recirculation"},
    {0x0486, 0x0490, 0, IN(EGR), 0, "Exhaust gas recirculation"},
    {0x2413, 0, 0, IN(EGR), 0, "Exhaust gas recirculation"},
    {0x0410, 0x0419, 0, IN(SECONDARY_AIR), 0, "Secondary air injection"},
    {0x0491, 0, 0x0492, IN(SECONDARY_AIR), 0, "Secondary air, too little flow"},
    {0x2257, 0x2260, 0, IN(SECONDARY_AIR), 0, "Secondary air control circuit"},
    {0x2430, 0x2434, 0x2435, IN(SECONDARY_AIR), 0, "Secondary air sensor"},
    {0x2440, 0x2441, 0x2442, IN(SECONDARY_AIR), 0, "Secondary air valve stuck"},
    {0x2444, 0x2445, 0x2446, IN(SECONDARY_AIR), 0, "Secondary air pump stuck"},
    {0x2448, 0, 0x2449, IN(SECONDARY_AIR), 0, "Secondary air, too much flow"},
    /* -- catalyst: SAE J2012, from memory */
    {0x0420, 0x0424, 0x0430, IN(CATALYST), 0,
     "Catalyst efficiency below its threshold|Warm-up catalyst efficiency|"
     "Main catalyst efficiency|Heated catalyst"},
    {0x0425, 0x0428, 0x0435, IN(CATALYST_TEMP), 0, "Catalyst temperature sensor"},
    {0x0429, 0, 0x0439, IN(CATALYST), 0, "Heated catalyst, control circuit"},
    /* -- purge; the tank and its leak test: SAE J2012, from memory */
    {0x0440, 0x0441, 0, IN(PURGE), 0, "Evaporative system|Purge flow is not what it should be"},
    {0x0443, 0x0445, 0, IN(PURGE), 0, "Purge valve circuit"},
    {0x0446, 0x0449, 0, IN(PURGE), 0, "Evaporative system, vent"},
    {0x0458, 0x0459, 0, IN(PURGE), 0, "Purge valve circuit, low or high"},
    {0x0465, 0x0469, 0, IN(PURGE), 0, "Purge flow sensor"},
    {0x0496, 0x0499, 0, IN(PURGE), 0,
     "Purge flow when there should be none|Too little purge flow|"
     "Evaporative system, vent circuit"},
    {0x2421, 0x2422, 0, IN(PURGE), 0, "Evaporative system, vent stuck"},
    {0x0442, 0, 0, IN(EVAP), 0, "Evaporative system, small leak"},
    {0x0450, 0x0454, 0, IN(EVAP), 0, "Evaporative system, pressure sensor"},
    {0x0455, 0x0457, 0, IN(EVAP), 0, "Evaporative system, leak"},
    {0x2400, 0x2409, 0, IN(EVAP), 0, "Evaporative system, leak test"},
    {0x2418, 0x2420, 0, IN(EVAP), 0, "Evaporative system, leak test"},
    /* -- the ECU and what it feeds its sensors with: SAE J2012, from memory */
    {0x0601, 0, 0, IN(ECU), 0, "ECU, memory checksum"},
    {0x0604, 0x0607, 0, IN(ECU), 0, "ECU, memory or processor"},
    {0x0641, 0x0643, 0, IN(ECU), 0, "Sensor reference voltage A"},
    {0x0651, 0x0653, 0, IN(ECU), 0, "Sensor reference voltage B"},
};

/* Counts codes in the way of a row: by decimal digits, or by hexadecimal ones. */
static unsigned ordinal(uint16_t code, bool letters)
{
    return letters ? code
                   : code / 0x1000U * 1000 + (code >> 8 & 0xFU) * 100 + (code >> 4 & 0xFU) * 10 +
                         (code & 0xFU);
}

static bool has_letter(uint16_t code)
{
    return (code & 0xF) > 9 || (code >> 4 & 0xF) > 9 || (code >> 8 & 0xF) > 9;
}

/* The code is one of these: *nth tells which, from 0. */
static bool covers(const struct row *r, uint16_t first, uint16_t code, unsigned *nth)
{
    bool letters = has_letter(r->first);
    if (code < first || (!letters && has_letter(code)))
        return false;
    *nth = ordinal(code, letters) - ordinal(first, letters);
    return *nth == 0 || *nth + ordinal(r->first, letters) <= ordinal(r->last, letters);
}

struct found {
    const struct row *row; /* NULL: the code is not in the table */
    unsigned nth;          /* of its codes */
    unsigned bank, sensor; /* 0: not named */
};

static struct found find(uint16_t code)
{
    struct found f = {0};
    for (const struct row *r = rows; r < rows + sizeof rows / sizeof *rows; r++) {
        bool second = r->bank_2 && covers(r, r->bank_2, code, &f.nth);
        if (!second && !covers(r, r->first, code, &f.nth))
            continue;
        f.row = r;
        f.bank = r->bank_2 ? 1 + second : 0;
        f.sensor = r->sensor == EACH ? f.nth + 1 : r->sensor;
        break;
    }
    return f;
}

enum oxl_family oxl_dtc_listed(uint16_t code)
{
    struct found f = find(code);
    enum oxl_family family = f.row ? (enum oxl_family)f.row->family : OXL_FAMILY_COUNT;
    bool of_sensor = family == SENSOR || family == SLOW || family == HEATER;
    return of_sensor && f.sensor > 1 ? (enum oxl_family)(family + 1) : family;
}

unsigned oxl_dtc_bank(uint16_t code)
{
    return find(code).bank;
}

unsigned oxl_dtc_sensor(uint16_t code)
{
    return find(code).sensor;
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
    struct found f = find(code);
    if (!f.row) {
        say_unlisted(code, out, n);
        return;
    }
    const char *words = f.row->words, *bar;
    for (unsigned i = 0; i < f.nth && (bar = strchr(words, '|')); i++)
        words = bar + 1;
    int len = (int)strcspn(words, "|");
    if (f.sensor)
        snprintf(out, n, "%.*s, bank %u sensor %u", len, words, f.bank, f.sensor);
    else if (f.bank)
        snprintf(out, n, "%.*s, bank %u", len, words, f.bank);
    else
        snprintf(out, n, "%.*s", len, words);
}
