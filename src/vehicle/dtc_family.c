/* What each family of trouble codes does to a test by propane. Common practice (no source) or
 * physics; practice.md's list of the codes that interfere (sensors, heaters, trims, misfire, air,
 * coolant, secondary air, purge, EGR) is the manufacturers'. */
#include "dtc_table.h"

#include "oxylag/reason.h"

#define NONE      OXL_R_COUNT
#define DISTURBS  OXL_DTC_DISTURBS
#define F(family) OXL_FAMILY_##family

static const struct oxl_dtc_family families[OXL_FAMILY_COUNT] = {
    [F(OTHER)] = {"other", "Other", OXL_DTC_NEUTRAL, NONE, false, "", ""},
    [F(UNKNOWN)] = {"unknown", "Meaning unknown", OXL_DTC_UNKNOWN, NONE, false,
                    "What it does to this test is not known.",
                    "Look it up in the service information first."},
    [F(CATALYST)] = {"catalyst", "Catalyst", OXL_DTC_SUBJECT, NONE, false,
                     "This is the complaint that the test is for.",
                     "Do the test; check for exhaust leaks before a converter is condemned."},
    [F(CATALYST_TEMP)] = {"catalyst-temperature", "Catalyst temperature", DISTURBS, NONE, false,
                          "The reading that tells a warm converter may be wrong.",
                          "Warm the converter by the clock: two minutes at 2000-2500 rpm."},
    /* Oxygen ends the delay early or late, so that both ends are open. */
    [F(MISFIRE)] = {"misfire", "Misfire", OXL_DTC_FORBIDS, OXL_R_MISFIRE, true,
                    "Unburned oxygen and fuel reach the converter: false readings, heat.",
                    "Repair the misfire first: no verdict stands with it."},
    [F(FUEL_TRIM)] = {"fuel-trim", "Fuel trim", DISTURBS, NONE, false,
                      "The trims start away from zero: less room, other causes.",
                      "Find the leak, metering or pressure fault first."},
    [F(REAR_TRIM)] = {"rear-trim", "Trim behind the catalyst", DISTURBS, NONE, false,
                      "Front and rear disagree: a leak, or a front sensor that is off.",
                      "Check for exhaust leaks at the front sensor first."},
    [F(FRONT_SENSOR)] = {"front-sensor", "Front oxygen sensor", DISTURBS, NONE, false,
                         "A front that reads wrong upsets the fuel control.",
                         "Prove the front sensor rich and lean, or replace it first."},
    [F(REAR_SENSOR)] = {"rear-sensor", "Rear oxygen sensor", DISTURBS, NONE, false,
                        "A stuck rear makes a bad converter look good.",
                        "Prove the rear sensor rich and lean, or replace it first."},
    [F(FRONT_SLOW)] = {"front-sensor", "Front oxygen sensor, slow", DISTURBS, OXL_R_FRONT_SLOW,
                       false, "The ECU found the front sensor slow: the time may be short.",
                       "Prove it in a fuel cut, or replace it first."},
    [F(REAR_SLOW)] = {"rear-sensor", "Rear oxygen sensor, slow", DISTURBS, OXL_R_REAR_SLOW, false,
                      "The ECU found the rear sensor slow: the time may be long.",
                      "Prove it in a fuel cut, or replace it first."},
    /* A sensor that is heated by the exhaust of an idling engine alone is slow. */
    [F(FRONT_HEATER)] = {"heater", "Front oxygen sensor heater", DISTURBS, OXL_R_FRONT_SLOW, false,
                         "A cold front sensor answers late: the time may be short.",
                         "Repair its heater or harness first."},
    [F(REAR_HEATER)] = {"heater", "Rear oxygen sensor heater", DISTURBS, OXL_R_REAR_SLOW, false,
                        "A cold rear sensor answers late: the time may be long.",
                        "Repair its heater or harness first."},
    /* What swapped sensors do is judged by what they show (proc/watch_banks.c, watch_patterns.c).
     */
    [F(SWAPPED)] = {"sensors-swapped", "Oxygen sensors swapped", OXL_DTC_FORBIDS, NONE, true,
                    "One bank is trimmed by the other's sensor.",
                    "Connect the sensors the right way round first."},
    [F(AIR)] = {"air-metering", "Air metering", DISTURBS, NONE, true,
                "Air flow, and with it grams and trims, may be wrong.",
                "Repair the air measurement first, or go by seconds only."},
    [F(INTAKE_TEMP)] = {"intake-temperature", "Intake temperature", DISTURBS, NONE, true,
                        "The mixture and a speed-density air flow may be off.",
                        "Repair it first, or go by seconds only."},
    [F(COOLANT)] = {"coolant", "Coolant temperature", DISTURBS, NONE, true,
                    "Closed loop may never come, or the warm-up gate may be wrong.",
                    "Compare the coolant reading with a thermometer first."},
    [F(THERMOSTAT)] = {"thermostat", "Thermostat", DISTURBS, NONE, true,
                       "The engine may stay too cool for closed loop at idle.",
                       "Warm it up at 2000-2500 rpm; replace the thermostat."},
    [F(THROTTLE)] = {"throttle", "Throttle", DISTURBS, NONE, true,
                     "The engine speed may not hold steady.", "Repair it first."},
    [F(FUEL_SUPPLY)] = {"fuel-supply", "Fuel supply and injectors", DISTURBS, NONE, true,
                        "Pressure or injector faults move the trims.", "Repair it first."},
    [F(ENGINE_TIMING)] = {"engine-timing", "Crankshaft, camshaft and valve timing", DISTURBS, NONE,
                          true, "The idle may be rough, and misfire may go unseen.",
                          "Repair it first; listen for misfire."},
    [F(SECONDARY_AIR)] = {"secondary-air", "Secondary air", DISTURBS, NONE, false,
                          "Air blown into the exhaust makes the rear read lean.",
                          "Make sure that the pump is off and its valve shuts."},
    [F(PURGE)] = {"purge", "Purge", DISTURBS, NONE, true,
                  "Purge flow adds fuel of its own: the trims drift.",
                  "Clamp the purge hose for the test, or repair first."},
    /* A tank that leaks to the air feeds nothing to the engine. */
    [F(EVAP)] = {"evaporative", "Evaporative system", OXL_DTC_NEUTRAL, NONE, false, "", ""},
    [F(EGR)] = {"egr", "Exhaust gas recirculation", DISTURBS, NONE, true,
                "A valve that stays open makes a rough idle.", "Check that it is shut at idle."},
    [F(IDLE)] = {"idle", "Idle speed", DISTURBS, NONE, true,
                 "The engine speed may not hold steady.",
                 "Hold the throttle still, or repair first."},
    [F(ECU)] = {"ecu", "ECU and sensor supply", DISTURBS, NONE, true, "Any reading may be wrong.",
                "Repair it first."},
};

/* By the first two digits, SAE J2012's division (from memory): what a code that is not in the
 * table may touch. Air, fuel, ignition, emission control: it may disturb the test. */
static bool may_disturb(uint16_t code)
{
    static const uint8_t groups[] = {0x00, 0x01, 0x02, 0x03, 0x04, 0x20, 0x21,
                                     0x22, 0x23, 0x24, 0x26, 0x2A, 0x2B, 0x34};
    unsigned group = code >> 8;
    if (oxl_dtc_is_manufacturers(code))
        return code < 0x4000; /* powertrain */
    for (size_t i = 0; i < sizeof groups; i++)
        if (group == groups[i])
            return true;
    return false;
}

bool oxl_dtc_is_manufacturers(uint16_t code)
{
    unsigned letter = code >> 14, digit = code >> 12 & 3, hundreds = code >> 8 & 0xF;
    const unsigned powertrain = 0;
    if (letter == powertrain) /* P1xxx, P30xx to P33xx; P2xxx is the standard's */
        return digit == 1 || (digit == 3 && hundreds < 4);
    return digit == 1 || digit == 2;
}

const struct oxl_dtc_family *oxl_dtc_family(uint16_t code)
{
    enum oxl_family f = oxl_dtc_listed(code);
    if (f == OXL_FAMILY_COUNT)
        f = may_disturb(code) ? OXL_FAMILY_UNKNOWN : OXL_FAMILY_OTHER;
    return &families[f];
}
