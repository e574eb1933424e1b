/* The table of trouble codes. */
#ifndef OXYLAG_VEHICLE_DTC_TABLE_H
#define OXYLAG_VEHICLE_DTC_TABLE_H

#include "oxylag/onboard.h"

/* What each family of trouble codes does to a test by propane. Common practice (no source) or
 * physics; practice.md's list of the codes that interfere (sensors, heaters, trims, misfire, air,
 * coolant, secondary air, purge, EGR) is the manufacturers'. X(id, name, title, weight, reason,
 * whole engine, effect, next), as in struct oxl_dtc_family; reason COUNT: none. Where a rear
 * follows a front, the rear is the next one: sensor 1 is the front. */
#define OXL_FAMILIES(X)                                                                            \
    X(OTHER, "other", "Other", NEUTRAL, COUNT, false, "", "")                                      \
    X(UNKNOWN, "unknown", "Meaning unknown", UNKNOWN, COUNT, false,                                \
      "What it does to this test is not known.", "Look it up in the service information first.")   \
    X(CATALYST, "catalyst", "Catalyst", SUBJECT, COUNT, false,                                     \
      "This is the complaint that the test is for.",                                               \
      "Do the test; check for exhaust leaks before a converter is condemned.")                     \
    X(CATALYST_TEMP, "catalyst-temperature", "Catalyst temperature", DISTURBS, COUNT, false,       \
      "The reading that tells a warm converter may be wrong.",                                     \
      "Warm the converter by the clock: two minutes at 2000-2500 rpm.")                            \
    /* Oxygen ends the delay early or late, so that both ends are open. */                         \
    X(MISFIRE, "misfire", "Misfire", FORBIDS, MISFIRE, true,                                       \
      "Unburned oxygen and fuel reach the converter: false readings, heat.",                       \
      "Repair the misfire first: no verdict stands with it.")                                      \
    X(FUEL_TRIM, "fuel-trim", "Fuel trim", DISTURBS, COUNT, false,                                 \
      "The trims start away from zero: less room, other causes.",                                  \
      "Find the leak, metering or pressure fault first.")                                          \
    X(REAR_TRIM, "rear-trim", "Trim behind the catalyst", DISTURBS, COUNT, false,                  \
      "Front and rear disagree: a leak, or a front sensor that is off.",                           \
      "Check for exhaust leaks at the front sensor first.")                                        \
    X(FRONT_SENSOR, "front-sensor", "Front oxygen sensor", DISTURBS, COUNT, false,                 \
      "A front that reads wrong upsets the fuel control.",                                         \
      "Prove the front sensor rich and lean, or replace it first.")                                \
    X(REAR_SENSOR, "rear-sensor", "Rear oxygen sensor", DISTURBS, COUNT, false,                    \
      "A stuck rear makes a bad converter look good.",                                             \
      "Prove the rear sensor rich and lean, or replace it first.")                                 \
    X(FRONT_SLOW, "front-sensor", "Front oxygen sensor, slow", DISTURBS, FRONT_SLOW, false,        \
      "The ECU found the front sensor slow: the time may be short.",                               \
      "Prove it in a fuel cut, or replace it first.")                                              \
    X(REAR_SLOW, "rear-sensor", "Rear oxygen sensor, slow", DISTURBS, REAR_SLOW, false,            \
      "The ECU found the rear sensor slow: the time may be long.",                                 \
      "Prove it in a fuel cut, or replace it first.")                                              \
    /* A sensor that is heated by the exhaust of an idling engine alone is slow. */                \
    X(FRONT_HEATER, "heater", "Front oxygen sensor heater", DISTURBS, FRONT_SLOW, false,           \
      "A cold front sensor answers late: the time may be short.",                                  \
      "Repair its heater or harness first.")                                                       \
    X(REAR_HEATER, "heater", "Rear oxygen sensor heater", DISTURBS, REAR_SLOW, false,              \
      "A cold rear sensor answers late: the time may be long.",                                    \
      "Repair its heater or harness first.")                                                       \
    /* What swapped sensors do is judged by what they show (proc/watch_banks.c, watch_patterns.c). \
     */                                                                                            \
    X(SWAPPED, "sensors-swapped", "Oxygen sensors swapped", FORBIDS, COUNT, true,                  \
      "One bank is trimmed by the other's sensor.",                                                \
      "Connect the sensors the right way round first.")                                            \
    X(AIR, "air-metering", "Air metering", DISTURBS, COUNT, true,                                  \
      "Air flow, and with it grams and trims, may be wrong.",                                      \
      "Repair the air measurement first, or go by seconds only.")                                  \
    X(INTAKE_TEMP, "intake-temperature", "Intake temperature", DISTURBS, COUNT, true,              \
      "The mixture and a speed-density air flow may be off.",                                      \
      "Repair it first, or go by seconds only.")                                                   \
    X(COOLANT, "coolant", "Coolant temperature", DISTURBS, COUNT, true,                            \
      "Closed loop may never come, or the warm-up gate may be wrong.",                             \
      "Compare the coolant reading with a thermometer first.")                                     \
    X(THERMOSTAT, "thermostat", "Thermostat", DISTURBS, COUNT, true,                               \
      "The engine may stay too cool for closed loop at idle.",                                     \
      "Warm it up at 2000-2500 rpm; replace the thermostat.")                                      \
    X(THROTTLE, "throttle", "Throttle", DISTURBS, COUNT, true,                                     \
      "The engine speed may not hold steady.", "Repair it first.")                                 \
    X(FUEL_SUPPLY, "fuel-supply", "Fuel supply and injectors", DISTURBS, COUNT, true,              \
      "Pressure or injector faults move the trims.", "Repair it first.")                           \
    X(ENGINE_TIMING, "engine-timing", "Crankshaft, camshaft and valve timing", DISTURBS, COUNT,    \
      true, "The idle may be rough, and misfire may go unseen.",                                   \
      "Repair it first; listen for misfire.")                                                      \
    X(SECONDARY_AIR, "secondary-air", "Secondary air", DISTURBS, COUNT, false,                     \
      "Air blown into the exhaust makes the rear read lean.",                                      \
      "Make sure that the pump is off and its valve shuts.")                                       \
    X(PURGE, "purge", "Purge", DISTURBS, COUNT, true,                                              \
      "Purge flow adds fuel of its own: the trims drift.",                                         \
      "Clamp the purge hose for the test, or repair first.")                                       \
    /* A tank that leaks to the air feeds nothing to the engine. */                                \
    X(EVAP, "evaporative", "Evaporative system", NEUTRAL, COUNT, false, "", "")                    \
    X(EGR, "egr", "Exhaust gas recirculation", DISTURBS, COUNT, true,                              \
      "A valve that stays open makes a rough idle.", "Check that it is shut at idle.")             \
    X(IDLE, "idle", "Idle speed", DISTURBS, COUNT, true, "The engine speed may not hold steady.",  \
      "Hold the throttle still, or repair first.")                                                 \
    X(ECU, "ecu", "ECU and sensor supply", DISTURBS, COUNT, true, "Any reading may be wrong.",     \
      "Repair it first.")

enum oxl_family {
#define X(id, name, title, weight, reason, whole_engine, effect, next) OXL_FAMILY_##id,
    OXL_FAMILIES(X)
#undef X
        OXL_FAMILY_COUNT
};

/* COUNT when the code is not in the table. */
enum oxl_family oxl_dtc_listed(uint16_t code);

#endif
