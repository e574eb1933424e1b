/* What each family of trouble codes does to a test by propane. Common practice (no source) or
 * physics; practice.md's list of the codes that interfere (sensors, heaters, trims, misfire, air,
 * coolant, secondary air, purge, EGR) is the manufacturers'. */
#include "dtc_table.h"

#include "oxylag/reason.h"

#define NO_REASON OXL_R_COUNT

static const struct oxl_dtc_family families[OXL_FAMILY_COUNT] = {
    [OXL_FAMILY_OTHER] = {"other", "Other", OXL_DTC_NEUTRAL, NO_REASON, false, "", ""},
    [OXL_FAMILY_UNKNOWN] = {"unknown", "Meaning unknown", OXL_DTC_UNKNOWN, NO_REASON, false,
                            "What it does to this test is not known.",
                            "Look it up in the service information first."},
    [OXL_FAMILY_CATALYST] =
        {"catalyst", "Catalyst", OXL_DTC_SUBJECT, NO_REASON, false,
         "This is the complaint that the test is for.",
         "Do the test; check for exhaust leaks before a converter is condemned."},
    [OXL_FAMILY_CATALYST_TEMP] = {"catalyst-temperature", "Catalyst temperature", OXL_DTC_DISTURBS,
                                  NO_REASON, false,
                                  "The reading that tells a warm converter may be wrong.",
                                  "Warm the converter by the clock: two minutes at 2000-2500 rpm."},
    /* Oxygen ends the delay early or late, so that both ends are open. */
    [OXL_FAMILY_MISFIRE] = {"misfire", "Misfire", OXL_DTC_FORBIDS, OXL_R_MISFIRE, true,
                            "Unburned oxygen and fuel reach the converter: false readings, heat.",
                            "Repair the misfire first: no verdict stands with it."},
    [OXL_FAMILY_FUEL_TRIM] = {"fuel-trim", "Fuel trim", OXL_DTC_DISTURBS, NO_REASON, false,
                              "The trims start away from zero: less room, other causes.",
                              "Find the leak, metering or pressure fault first."},
    [OXL_FAMILY_REAR_TRIM] = {"rear-trim", "Trim behind the catalyst", OXL_DTC_DISTURBS, NO_REASON,
                              false,
                              "Front and rear disagree: a leak, or a front sensor that is off.",
                              "Check for exhaust leaks at the front sensor first."},
    [OXL_FAMILY_FRONT_SENSOR] = {"front-sensor", "Front oxygen sensor", OXL_DTC_DISTURBS, NO_REASON,
                                 false, "A front that reads wrong upsets the fuel control.",
                                 "Prove the front sensor rich and lean, or replace it first."},
    [OXL_FAMILY_REAR_SENSOR] = {"rear-sensor", "Rear oxygen sensor", OXL_DTC_DISTURBS, NO_REASON,
                                false, "A stuck rear makes a bad converter look good.",
                                "Prove the rear sensor rich and lean, or replace it first."},
    [OXL_FAMILY_FRONT_SLOW] = {"front-sensor", "Front oxygen sensor, slow", OXL_DTC_DISTURBS,
                               OXL_R_FRONT_SLOW, false,
                               "The ECU found the front sensor slow: the time may be short.",
                               "Prove it in a fuel cut, or replace it first."},
    [OXL_FAMILY_REAR_SLOW] = {"rear-sensor", "Rear oxygen sensor, slow", OXL_DTC_DISTURBS,
                              OXL_R_REAR_SLOW, false,
                              "The ECU found the rear sensor slow: the time may be long.",
                              "Prove it in a fuel cut, or replace it first."},
    /* A sensor that is heated by the exhaust of an idling engine alone is slow. */
    [OXL_FAMILY_FRONT_HEATER] = {"heater", "Front oxygen sensor heater", OXL_DTC_DISTURBS,
                                 OXL_R_FRONT_SLOW, false,
                                 "A cold front sensor answers late: the time may be short.",
                                 "Repair its heater or harness first."},
    [OXL_FAMILY_REAR_HEATER] = {"heater", "Rear oxygen sensor heater", OXL_DTC_DISTURBS,
                                OXL_R_REAR_SLOW, false,
                                "A cold rear sensor answers late: the time may be long.",
                                "Repair its heater or harness first."},
    /* What swapped sensors do is judged by what they show (proc/banks.c, proc/patterns.c). */
    [OXL_FAMILY_SWAPPED] = {"sensors-swapped", "Oxygen sensors swapped", OXL_DTC_FORBIDS, NO_REASON,
                            true, "One bank is trimmed by the other's sensor.",
                            "Connect the sensors the right way round first."},
    [OXL_FAMILY_AIR] = {"air-metering", "Air metering", OXL_DTC_DISTURBS, NO_REASON, true,
                        "Air flow, and with it grams and trims, may be wrong.",
                        "Repair the air measurement first, or go by seconds only."},
    [OXL_FAMILY_INTAKE_TEMP] = {"intake-temperature", "Intake temperature", OXL_DTC_DISTURBS,
                                NO_REASON, true,
                                "The mixture and a speed-density air flow may be off.",
                                "Repair it first, or go by seconds only."},
    [OXL_FAMILY_COOLANT] = {"coolant", "Coolant temperature", OXL_DTC_DISTURBS, NO_REASON, true,
                            "Closed loop may never come, or the warm-up gate may be wrong.",
                            "Compare the coolant reading with a thermometer first."},
    [OXL_FAMILY_THERMOSTAT] = {"thermostat", "Thermostat", OXL_DTC_DISTURBS, NO_REASON, true,
                               "The engine may stay too cool for closed loop at idle.",
                               "Warm it up at 2000-2500 rpm; replace the thermostat."},
    [OXL_FAMILY_THROTTLE] = {"throttle", "Throttle", OXL_DTC_DISTURBS, NO_REASON, true,
                             "The engine speed may not hold steady.", "Repair it first."},
    [OXL_FAMILY_FUEL_SUPPLY] = {"fuel-supply", "Fuel supply and injectors", OXL_DTC_DISTURBS,
                                NO_REASON, true, "Pressure or injector faults move the trims.",
                                "Repair it first."},
    [OXL_FAMILY_ENGINE_TIMING] = {"engine-timing", "Crankshaft, camshaft and valve timing",
                                  OXL_DTC_DISTURBS, NO_REASON, true,
                                  "The idle may be rough, and misfire may go unseen.",
                                  "Repair it first; listen for misfire."},
    [OXL_FAMILY_SECONDARY_AIR] = {"secondary-air", "Secondary air", OXL_DTC_DISTURBS, NO_REASON,
                                  false, "Air blown into the exhaust makes the rear read lean.",
                                  "Make sure that the pump is off and its valve shuts."},
    [OXL_FAMILY_PURGE] = {"purge", "Purge", OXL_DTC_DISTURBS, NO_REASON, true,
                          "Purge flow adds fuel of its own: the trims drift.",
                          "Clamp the purge hose for the test, or repair first."},
    /* A tank that leaks to the air feeds nothing to the engine. */
    [OXL_FAMILY_EVAP] = {"evaporative", "Evaporative system", OXL_DTC_NEUTRAL, NO_REASON, false, "",
                         ""},
    [OXL_FAMILY_EGR] = {"egr", "Exhaust gas recirculation", OXL_DTC_DISTURBS, NO_REASON, true,
                        "A valve that stays open makes a rough idle.",
                        "Check that it is shut at idle."},
    [OXL_FAMILY_IDLE] = {"idle", "Idle speed", OXL_DTC_DISTURBS, NO_REASON, true,
                         "The engine speed may not hold steady.",
                         "Hold the throttle still, or repair first."},
    [OXL_FAMILY_ECU] = {"ecu", "ECU and sensor supply", OXL_DTC_DISTURBS, NO_REASON, true,
                        "Any reading may be wrong.", "Repair it first."},
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
