/* Trouble codes: number, subject, place.
 *
 * All from SAE J2012 / ISO 15031-6, from memory, group by group; the words are ours. Numbers that
 * were checked against something else are named in tests/unit/vehicle/test_dtc.c. What a family
 * does to the test stands in dtc_family.c. */
#include "dtc_table.h"

#include <stddef.h>

#define ANY        OXL_DTC_NOWHERE
#define B1         OXL_DTC_BANK_1
#define B2         OXL_DTC_BANK_2
#define B1S1       OXL_DTC_B1S1
#define B1S2       OXL_DTC_B1S2
#define B1S3       OXL_DTC_B1S3
#define B2S1       OXL_DTC_B2S1
#define B2S2       OXL_DTC_B2S2
#define B2S3       OXL_DTC_B2S3
#define EACH       OXL_DTC_EACH
#define IN(family) OXL_FAMILY_##family
/* Of a sensor: oxl_dtc_family() picks the rear's where the place is behind the front. */
#define SENSOR OXL_FAMILY_FRONT_SENSOR
#define SLOW   OXL_FAMILY_FRONT_SLOW
#define HEATER OXL_FAMILY_FRONT_HEATER

/* Digits are as they are read: 0x0420 is P0420. P0130 to P0167 and P0301 to P0312 follow a pattern
 * and are worked out (dtc_text.c). */
static const struct oxl_dtc_row rows[] = {
    /* -- valve timing, crankshaft, camshaft: SAE J2012, from memory */
    {0x0010, 0x0015, IN(ENGINE_TIMING), B1, "Camshaft position actuator"},
    {0x0016, 0x0017, IN(ENGINE_TIMING), B1, "Crankshaft and camshaft do not agree"},
    {0x0018, 0x0019, IN(ENGINE_TIMING), B2, "Crankshaft and camshaft do not agree"},
    {0x0020, 0x0025, IN(ENGINE_TIMING), B2, "Camshaft position actuator"},
    {0x0026, 0x0027, IN(ENGINE_TIMING), B1, "Valve control solenoid"},
    {0x0028, 0x0029, IN(ENGINE_TIMING), B2, "Valve control solenoid"},
    {0x0075, 0x0080, IN(ENGINE_TIMING), B1, "Valve control solenoid circuit"},
    {0x0081, 0x0086, IN(ENGINE_TIMING), B2, "Valve control solenoid circuit"},
    {0x0315, 0, IN(ENGINE_TIMING), ANY, "Crankshaft variation not learned"},
    {0x0320, 0x0323, IN(ENGINE_TIMING), ANY, "Engine speed signal"},
    {0x0335, 0x0339, IN(ENGINE_TIMING), ANY, "Crankshaft position sensor A"},
    {0x0340, 0x0344, IN(ENGINE_TIMING), B1, "Camshaft position sensor A"},
    {0x0345, 0x0349, IN(ENGINE_TIMING), B2, "Camshaft position sensor A"},
    {0x0365, 0x0369, IN(ENGINE_TIMING), B1, "Camshaft position sensor B"},
    {0x0370, 0x0379, IN(ENGINE_TIMING), ANY, "Timing reference signal"},
    {0x0385, 0x0389, IN(ENGINE_TIMING), ANY, "Crankshaft position sensor B"},
    {0x0390, 0x0394, IN(ENGINE_TIMING), B2, "Camshaft position sensor B"},
    {0x2088, 0x2091, IN(ENGINE_TIMING), B1, "Camshaft position actuator circuit"},
    {0x2092, 0x2095, IN(ENGINE_TIMING), B2, "Camshaft position actuator circuit"},
    /* -- oxygen sensors, heaters: SAE J2012, from memory */
    {0x0030, 0x0032, HEATER, B1S1, "Heater control circuit"},
    {0x0036, 0x0038, HEATER, B1S2, "Heater control circuit"},
    {0x0042, 0x0044, HEATER, B1S3, "Heater control circuit"},
    {0x0050, 0x0052, HEATER, B2S1, "Heater control circuit"},
    {0x0053, 0, HEATER, B1S1, "Heater resistance"},
    {0x0054, 0, HEATER, B1S2, "Heater resistance"},
    {0x0055, 0, HEATER, B1S3, "Heater resistance"},
    {0x0056, 0x0058, HEATER, B2S2, "Heater control circuit"},
    {0x0059, 0, HEATER, B2S1, "Heater resistance"},
    {0x0060, 0, HEATER, B2S2, "Heater resistance"},
    {0x0061, 0, HEATER, B2S3, "Heater resistance"},
    {0x0062, 0x0064, HEATER, B2S3, "Heater control circuit"},
    /* -- oxygen sensors, response: SAE J2012, from memory */
    {0x013A, 0, SLOW, B1S2, "Slow response rich to lean"},
    {0x013B, 0, SLOW, B1S2, "Slow response lean to rich"},
    {0x013C, 0, SLOW, B2S2, "Slow response rich to lean"},
    {0x013D, 0, SLOW, B2S2, "Slow response lean to rich"},
    {0x013E, 0, SLOW, B1S2, "Delayed response rich to lean"},
    {0x013F, 0, SLOW, B1S2, "Delayed response lean to rich"},
    {0x014A, 0, SLOW, B2S2, "Delayed response rich to lean"},
    {0x014B, 0, SLOW, B2S2, "Delayed response lean to rich"},
    {0x014C, 0, SLOW, B1S1, "Slow response rich to lean"},
    {0x014D, 0, SLOW, B1S1, "Slow response lean to rich"},
    {0x014E, 0, SLOW, B2S1, "Slow response rich to lean"},
    {0x014F, 0, SLOW, B2S1, "Slow response lean to rich"},
    {0x015A, 0, SLOW, B1S1, "Delayed response rich to lean"},
    {0x015B, 0, SLOW, B1S1, "Delayed response lean to rich"},
    {0x015C, 0, SLOW, B2S1, "Delayed response rich to lean"},
    {0x015D, 0, SLOW, B2S1, "Delayed response lean to rich"},
    /* -- oxygen sensors, connectors: SAE J2012, from memory */
    {0x0040, 0, IN(SWAPPED), ANY, "Front sensors swapped between the banks"},
    {0x0041, 0, IN(SWAPPED), ANY, "Rear sensors swapped between the banks"},
    {0x2278, 0, IN(REAR_SENSOR), ANY, "Third sensors swapped between the banks"},
    {0x2416, 0, SENSOR, B1S2, "Swapped with sensor 3"},
    {0x2417, 0, SENSOR, B2S2, "Swapped with sensor 3"},
    /* -- oxygen sensors, signal: SAE J2012, from memory */
    {0x2195, 0, SENSOR, B1S1, "Signal biased or stuck lean"},
    {0x2196, 0, SENSOR, B1S1, "Signal biased or stuck rich"},
    {0x2197, 0, SENSOR, B2S1, "Signal biased or stuck lean"},
    {0x2198, 0, SENSOR, B2S1, "Signal biased or stuck rich"},
    {0x2270, 0, SENSOR, B1S2, "Signal stuck lean"},
    {0x2271, 0, SENSOR, B1S2, "Signal stuck rich"},
    {0x2272, 0, SENSOR, B2S2, "Signal stuck lean"},
    {0x2273, 0, SENSOR, B2S2, "Signal stuck rich"},
    {0x2274, 0, SENSOR, B1S3, "Signal stuck lean"},
    {0x2275, 0, SENSOR, B1S3, "Signal stuck rich"},
    {0x2276, 0, SENSOR, B2S3, "Signal stuck lean"},
    {0x2277, 0, SENSOR, B2S3, "Signal stuck rich"},
    {0x2297, 0, SENSOR, B1S1, "Signal out of range in a fuel cut"},
    {0x2298, 0, SENSOR, B2S1, "Signal out of range in a fuel cut"},
    {0x2A00, 0x2A05, SENSOR, EACH, "Circuit range or performance"},
    /* -- wide-range sensors: SAE J2012, from memory */
    {0x064D, 0, SENSOR, B1, "The ECU's sensor processor"},
    {0x064E, 0, SENSOR, B2, "The ECU's sensor processor"},
    {0x2231, 0x2236, SENSOR, EACH, "Signal shorted to the heater"},
    {0x2237, 0x2239, SENSOR, B1S1, "Positive current control circuit"},
    {0x2240, 0x2242, SENSOR, B2S1, "Positive current control circuit"},
    {0x2243, 0x2246, SENSOR, B1S1, "Reference voltage circuit"},
    {0x2247, 0x2250, SENSOR, B2S1, "Reference voltage circuit"},
    {0x2251, 0x2253, SENSOR, B1S1, "Negative current control circuit"},
    {0x2254, 0x2256, SENSOR, B2S1, "Negative current control circuit"},
    {0x2414, 0, SENSOR, B1S1, "Exhaust sample error"},
    {0x2415, 0, SENSOR, B2S1, "Exhaust sample error"},
    {0x2626, 0x2628, SENSOR, B1S1, "Pumping current trim circuit"},
    {0x2629, 0x2631, SENSOR, B2S1, "Pumping current trim circuit"},
    /* -- fuel trim, mixture: SAE J2012, from memory */
    {0x016A, 0, IN(FUEL_TRIM), ANY, "Closed loop takes too long to come"},
    {0x0170, 0, IN(FUEL_TRIM), B1, "Fuel trim"},
    {0x0171, 0, IN(FUEL_TRIM), B1, "System too lean"},
    {0x0172, 0, IN(FUEL_TRIM), B1, "System too rich"},
    {0x0173, 0, IN(FUEL_TRIM), B2, "Fuel trim"},
    {0x0174, 0, IN(FUEL_TRIM), B2, "System too lean"},
    {0x0175, 0, IN(FUEL_TRIM), B2, "System too rich"},
    {0x2096, 0, IN(REAR_TRIM), B1, "Too lean behind the catalyst"},
    {0x2097, 0, IN(REAR_TRIM), B1, "Too rich behind the catalyst"},
    {0x2098, 0, IN(REAR_TRIM), B2, "Too lean behind the catalyst"},
    {0x2099, 0, IN(REAR_TRIM), B2, "Too rich behind the catalyst"},
    {0x2177, 0, IN(FUEL_TRIM), B1, "System too lean off idle"},
    {0x2178, 0, IN(FUEL_TRIM), B1, "System too rich off idle"},
    {0x2179, 0, IN(FUEL_TRIM), B2, "System too lean off idle"},
    {0x2180, 0, IN(FUEL_TRIM), B2, "System too rich off idle"},
    {0x2187, 0, IN(FUEL_TRIM), B1, "System too lean at idle"},
    {0x2188, 0, IN(FUEL_TRIM), B1, "System too rich at idle"},
    {0x2189, 0, IN(FUEL_TRIM), B2, "System too lean at idle"},
    {0x2190, 0, IN(FUEL_TRIM), B2, "System too rich at idle"},
    {0x2191, 0, IN(FUEL_TRIM), B1, "System too lean at higher load"},
    {0x2192, 0, IN(FUEL_TRIM), B1, "System too rich at higher load"},
    {0x2193, 0, IN(FUEL_TRIM), B2, "System too lean at higher load"},
    {0x2194, 0, IN(FUEL_TRIM), B2, "System too rich at higher load"},
    {0x219A, 0, IN(FUEL_TRIM), B1, "Cylinders differ in mixture"},
    {0x219B, 0, IN(FUEL_TRIM), B2, "Cylinders differ in mixture"},
    {0x219C, 0x219F, IN(FUEL_TRIM), ANY, "One cylinder differs in mixture"},
    {0x21A0, 0x21A7, IN(FUEL_TRIM), ANY, "One cylinder differs in mixture"},
    /* -- air: SAE J2012, from memory */
    {0x0068, 0x0069, IN(AIR), ANY, "Air measurements and throttle contradict each other"},
    {0x0070, 0x0074, IN(OTHER), ANY, "Ambient air temperature"},
    {0x0095, 0x0099, IN(INTAKE_TEMP), ANY, "Intake air temperature 2"},
    {0x0100, 0x0104, IN(AIR), ANY, "Mass or volume air flow, circuit or range"},
    {0x0105, 0x0109, IN(AIR), ANY, "Manifold or barometric pressure, circuit or range"},
    {0x010A, 0x010F, IN(AIR), ANY, "Mass or volume air flow B, circuit or range"},
    {0x0110, 0x0114, IN(INTAKE_TEMP), ANY, "Intake air temperature, circuit or range"},
    {0x0127, 0, IN(INTAKE_TEMP), ANY, "Intake air too hot"},
    {0x0129, 0, IN(AIR), ANY, "Barometric pressure too low"},
    {0x2074, 0, IN(AIR), ANY, "Manifold pressure and throttle contradict each other"},
    {0x2199, 0, IN(INTAKE_TEMP), ANY, "Intake air temperatures contradict each other"},
    {0x2226, 0x2230, IN(AIR), ANY, "Barometric pressure, circuit or range"},
    {0x2279, 0, IN(AIR), ANY, "Intake leak"},
    /* Boost, which an idling engine has none of. */
    {0x0033, 0x0035, IN(OTHER), ANY, "Boost control"},
    {0x0039, 0, IN(OTHER), ANY, "Boost control"},
    {0x0045, 0x0049, IN(OTHER), ANY, "Boost control"},
    {0x0234, 0x0250, IN(OTHER), ANY, "Boost control"},
    {0x0299, 0, IN(OTHER), ANY, "Boost too low"},
    /* -- coolant: SAE J2012, from memory */
    {0x0115, 0x0119, IN(COOLANT), ANY, "Coolant temperature, circuit or range"},
    {0x011A, 0x011F, IN(COOLANT), ANY, "Temperatures contradict each other"},
    {0x0125, 0, IN(COOLANT), ANY, "Coolant too cold for closed loop"},
    {0x0126, 0, IN(THERMOSTAT), ANY, "Coolant too cold for stable operation"},
    {0x0128, 0, IN(THERMOSTAT), ANY, "Coolant stays below the thermostat's temperature"},
    {0x0217, 0, IN(COOLANT), ANY, "Engine too hot"},
    {0x2181, 0x2186, IN(COOLANT), ANY, "Cooling system or second coolant temperature"},
    /* -- throttle and idle: SAE J2012, from memory */
    {0x0120, 0x0124, IN(THROTTLE), ANY, "Throttle or pedal position A, circuit or range"},
    {0x0220, 0x0229, IN(THROTTLE), ANY, "Throttle or pedal position B or C"},
    {0x0505, 0x0509, IN(IDLE), ANY, "Idle speed control"},
    {0x0510, 0, IN(THROTTLE), ANY, "Closed throttle switch"},
    {0x0511, 0, IN(IDLE), ANY, "Idle speed control circuit"},
    {0x0519, 0, IN(IDLE), ANY, "Idle speed control"},
    {0x0638, 0x0639, IN(THROTTLE), ANY, "Throttle actuator, range"},
    {0x2100, 0x2119, IN(THROTTLE), ANY, "Throttle actuator"},
    {0x2120, 0x2140, IN(THROTTLE), ANY, "Throttle or pedal position"},
    {0x2172, 0x2175, IN(THROTTLE), ANY, "Air flow does not follow the throttle"},
    /* -- fuel pressure, injectors, fuel: SAE J2012, from memory */
    {0x0087, 0, IN(FUEL_SUPPLY), ANY, "Fuel pressure too low"},
    {0x0088, 0, IN(FUEL_SUPPLY), ANY, "Fuel pressure too high"},
    {0x0089, 0x0092, IN(FUEL_SUPPLY), ANY, "Fuel pressure regulator"},
    {0x0093, 0x0094, IN(FUEL_SUPPLY), ANY, "Fuel system leak"},
    {0x0148, 0x0149, IN(FUEL_SUPPLY), ANY, "Fuel delivery or its timing"},
    {0x0169, 0, IN(FUEL_SUPPLY), ANY, "Wrong fuel composition"},
    {0x0176, 0x0179, IN(FUEL_SUPPLY), ANY, "Fuel composition sensor"},
    {0x0190, 0x0194, IN(FUEL_SUPPLY), ANY, "Fuel rail pressure, circuit or range"},
    {0x0200, 0x0214, IN(FUEL_SUPPLY), ANY, "Injector circuit"},
    {0x020A, 0x020F, IN(FUEL_SUPPLY), ANY, "Injection timing"},
    {0x0230, 0x0233, IN(FUEL_SUPPLY), ANY, "Fuel pump circuit"},
    {0x0261, 0x0296, IN(FUEL_SUPPLY), ANY, "Injector or cylinder balance"},
    {0x0627, 0x0629, IN(FUEL_SUPPLY), ANY, "Fuel pump control circuit"},
    {0x2146, 0x2157, IN(FUEL_SUPPLY), ANY, "Injector group supply"},
    {0x2294, 0x2296, IN(FUEL_SUPPLY), ANY, "Fuel pressure regulator 2"},
    /* -- misfire and ignition coils: SAE J2012, from memory */
    {0x0300, 0, IN(MISFIRE), ANY, "Misfire in several cylinders"},
    {0x0313, 0, IN(MISFIRE), ANY, "Misfire with low fuel"},
    {0x0314, 0, IN(MISFIRE), ANY, "Misfire in one cylinder, not said which"},
    {0x0316, 0, IN(MISFIRE), ANY, "Misfire after the start"},
    {0x0324, 0x0334, IN(OTHER), ANY, "Knock sensor"},
    {0x0350, 0x0362, IN(MISFIRE), ANY, "Ignition coil circuit"},
    {0x0363, 0, IN(MISFIRE), ANY, "Misfire, fuel shut off"},
    {0x2300, 0x2335, IN(MISFIRE), ANY, "Ignition coil circuit"},
    /* -- exhaust gas recirculation, secondary air: SAE J2012, from memory */
    {0x0400, 0x0409, IN(EGR), ANY, "Exhaust gas recirculation"},
    {0x0486, 0x0490, IN(EGR), ANY, "Exhaust gas recirculation"},
    {0x2413, 0, IN(EGR), ANY, "Exhaust gas recirculation"},
    {0x0410, 0x0419, IN(SECONDARY_AIR), ANY, "Secondary air injection"},
    {0x0491, 0, IN(SECONDARY_AIR), B1, "Secondary air, too little flow"},
    {0x0492, 0, IN(SECONDARY_AIR), B2, "Secondary air, too little flow"},
    {0x2257, 0x2260, IN(SECONDARY_AIR), ANY, "Secondary air control circuit"},
    {0x2430, 0x2434, IN(SECONDARY_AIR), B1, "Secondary air sensor"},
    {0x2435, 0x2439, IN(SECONDARY_AIR), B2, "Secondary air sensor"},
    {0x2440, 0x2441, IN(SECONDARY_AIR), B1, "Secondary air valve stuck"},
    {0x2442, 0x2443, IN(SECONDARY_AIR), B2, "Secondary air valve stuck"},
    {0x2444, 0x2445, IN(SECONDARY_AIR), B1, "Secondary air pump stuck"},
    {0x2446, 0x2447, IN(SECONDARY_AIR), B2, "Secondary air pump stuck"},
    {0x2448, 0, IN(SECONDARY_AIR), B1, "Secondary air, too much flow"},
    {0x2449, 0, IN(SECONDARY_AIR), B2, "Secondary air, too much flow"},
    /* -- catalyst: SAE J2012, from memory */
    {0x0420, 0, IN(CATALYST), B1, "Catalyst efficiency below its threshold"},
    {0x0421, 0, IN(CATALYST), B1, "Warm-up catalyst efficiency"},
    {0x0422, 0, IN(CATALYST), B1, "Main catalyst efficiency"},
    {0x0423, 0x0424, IN(CATALYST), B1, "Heated catalyst"},
    {0x0425, 0x0428, IN(CATALYST_TEMP), B1, "Catalyst temperature sensor"},
    {0x0429, 0, IN(CATALYST), B1, "Heated catalyst, control circuit"},
    {0x0430, 0, IN(CATALYST), B2, "Catalyst efficiency below its threshold"},
    {0x0431, 0, IN(CATALYST), B2, "Warm-up catalyst efficiency"},
    {0x0432, 0, IN(CATALYST), B2, "Main catalyst efficiency"},
    {0x0433, 0x0434, IN(CATALYST), B2, "Heated catalyst"},
    {0x0435, 0x0438, IN(CATALYST_TEMP), B2, "Catalyst temperature sensor"},
    {0x0439, 0, IN(CATALYST), B2, "Heated catalyst, control circuit"},
    /* -- purge; the tank and its leak test: SAE J2012, from memory */
    {0x0440, 0, IN(PURGE), ANY, "Evaporative system"},
    {0x0441, 0, IN(PURGE), ANY, "Purge flow is not what it should be"},
    {0x0443, 0x0445, IN(PURGE), ANY, "Purge valve circuit"},
    {0x0446, 0x0449, IN(PURGE), ANY, "Evaporative system, vent"},
    {0x0458, 0x0459, IN(PURGE), ANY, "Purge valve circuit, low or high"},
    {0x0465, 0x0469, IN(PURGE), ANY, "Purge flow sensor"},
    {0x0496, 0, IN(PURGE), ANY, "Purge flow when there should be none"},
    {0x0497, 0, IN(PURGE), ANY, "Too little purge flow"},
    {0x0498, 0x0499, IN(PURGE), ANY, "Evaporative system, vent circuit"},
    {0x2421, 0x2422, IN(PURGE), ANY, "Evaporative system, vent stuck"},
    {0x0442, 0, IN(EVAP), ANY, "Evaporative system, small leak"},
    {0x0450, 0x0454, IN(EVAP), ANY, "Evaporative system, pressure sensor"},
    {0x0455, 0x0457, IN(EVAP), ANY, "Evaporative system, leak"},
    {0x2400, 0x2409, IN(EVAP), ANY, "Evaporative system, leak test"},
    {0x2418, 0x2420, IN(EVAP), ANY, "Evaporative system, leak test"},
    /* -- the ECU and what it feeds its sensors with: SAE J2012, from memory */
    {0x0601, 0, IN(ECU), ANY, "ECU, memory checksum"},
    {0x0604, 0x0607, IN(ECU), ANY, "ECU, memory or processor"},
    {0x0641, 0x0643, IN(ECU), ANY, "Sensor reference voltage A"},
    {0x0651, 0x0653, IN(ECU), ANY, "Sensor reference voltage B"},
};

static bool has_letter(unsigned code)
{
    return (code & 0xF) > 9 || (code >> 4 & 0xF) > 9 || (code >> 8 & 0xF) > 9;
}

static bool covers(const struct oxl_dtc_row *r, uint16_t code)
{
    return code == r->first ||
           (code > r->first && code <= r->last && (has_letter(r->first) || !has_letter(code)));
}

const struct oxl_dtc_row *oxl_dtc_row(uint16_t code)
{
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (covers(&rows[i], code))
            return &rows[i];
    return NULL;
}
