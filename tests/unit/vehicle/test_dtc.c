/* The table of trouble codes: number, subject, place, words, and what it does to the test. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_vehicle.h"
#include "oxylag/event.h"
#include "oxylag/onboard.h"
#include "oxylag/reason.h"
#include "vehicle/dtc_table.h"

static void code_words(void **state)
{
    (void)state;
    /* Numbers and subjects by SAE J2012, from memory. */
    struct {
        unsigned code, bank;
        const char *family, *words;
    } rows[] = {
        {0x0420, 1, "catalyst", "Catalyst efficiency below its threshold, bank 1"},
        {0x0430, 2, "catalyst", "Catalyst efficiency below its threshold, bank 2"},
        {0x0130, 1, "front-sensor", "Circuit, bank 1 sensor 1"},
        {0x0133, 1, "front-sensor", "Slow response, bank 1 sensor 1"},
        {0x0135, 1, "heater", "Heater circuit, bank 1 sensor 1"},
        {0x0139, 1, "rear-sensor", "Slow response, bank 1 sensor 2"},
        {0x0140, 1, "rear-sensor", "No activity, bank 1 sensor 2"},
        {0x0141, 1, "heater", "Heater circuit, bank 1 sensor 2"},
        {0x0155, 2, "heater", "Heater circuit, bank 2 sensor 1"},
        {0x0161, 2, "heater", "Heater circuit, bank 2 sensor 2"},
        {0x013A, 1, "rear-sensor", "Slow response rich to lean, bank 1 sensor 2"},
        {0x0148, 0, "fuel-supply", "Fuel delivery or its timing"},
        {0x0145, 1, "rear-sensor", "Slow response, bank 1 sensor 3"},
        {0x0171, 1, "fuel-trim", "System too lean, bank 1"},
        {0x0304, 0, "misfire", "Misfire, cylinder 4"},
        {0x0312, 0, "misfire", "Misfire, cylinder 12"},
        {0x030A, 0, "unknown", "Powertrain trouble code: look it up"},
        {0x0102, 0, "air-metering", "Mass or volume air flow, circuit or range"},
        {0x0118, 0, "coolant", "Coolant temperature, circuit or range"},
        {0x0128, 0, "thermostat", "Coolant stays below the thermostat's temperature"},
        {0x0411, 0, "secondary-air", "Secondary air injection"},
        {0x0441, 0, "purge", "Purge flow is not what it should be"},
        {0x2096, 1, "rear-trim", "Too lean behind the catalyst, bank 1"},
        {0x0040, 0, "sensors-swapped", "Front sensors swapped between the banks"},
        {0x0036, 1, "heater", "Heater control circuit, bank 1 sensor 2"},
        {0x0061, 2, "heater", "Heater resistance, bank 2 sensor 3"},
        {0x0063, 2, "heater", "Heater control circuit, bank 2 sensor 3"},
        {0x2231, 1, "front-sensor", "Signal shorted to the heater, bank 1 sensor 1"},
        {0x2235, 2, "rear-sensor", "Signal shorted to the heater, bank 2 sensor 2"},
        {0x2239, 1, "front-sensor", "Positive current control circuit, bank 1 sensor 1"},
        {0x2240, 2, "front-sensor", "Positive current control circuit, bank 2 sensor 1"},
        {0x2246, 1, "front-sensor", "Reference voltage circuit, bank 1 sensor 1"},
        {0x2254, 2, "front-sensor", "Negative current control circuit, bank 2 sensor 1"},
        {0x2414, 1, "front-sensor", "Exhaust sample error, bank 1 sensor 1"},
        {0x2417, 2, "rear-sensor", "Swapped with sensor 3, bank 2 sensor 2"},
        {0x2400, 0, "evaporative", "Evaporative system, leak test"},
        {0x2418, 0, "evaporative", "Evaporative system, leak test"},
        {0x2626, 1, "front-sensor", "Pumping current trim circuit, bank 1 sensor 1"},
        {0x2629, 2, "front-sensor", "Pumping current trim circuit, bank 2 sensor 1"},
        {0x2A05, 2, "rear-sensor", "Circuit range or performance, bank 2 sensor 3"},
        {0x219A, 1, "fuel-trim", "Cylinders differ in mixture, bank 1"},
        {0x219B, 2, "fuel-trim", "Cylinders differ in mixture, bank 2"},
        {0x2198, 2, "front-sensor", "Signal biased or stuck rich, bank 2 sensor 1"},
        {0x2276, 2, "rear-sensor", "Signal stuck lean, bank 2 sensor 3"},
        {0x0425, 1, "catalyst-temperature", "Catalyst temperature sensor, bank 1"},
        {0x0455, 0, "evaporative", "Evaporative system, leak"},
        {0x0496, 0, "purge", "Purge flow when there should be none"},
        {0x0011, 1, "engine-timing", "Camshaft position actuator, bank 1"},
        {0x0340, 1, "engine-timing", "Camshaft position sensor A, bank 1"},
        {0x2300, 0, "misfire", "Ignition coil circuit"},
        {0x0296, 0, "fuel-supply", "Injector or cylinder balance"},
        {0x029A, 0, "unknown",
         "Powertrain trouble code: look it up"}, /* no letters in that range */
        {0x020B, 0, "fuel-supply", "Injection timing"},
        {0x2446, 2, "secondary-air", "Secondary air pump stuck, bank 2"},
        {0x0507, 0, "idle", "Idle speed control"},
        {0x0606, 0, "ecu", "ECU, memory or processor"},
        {0x0234, 0, "other", "Boost control"},
        {0x0700, 0, "other", "Powertrain trouble code: look it up"},
        {0x1420, 0, "unknown", "Powertrain trouble code of the manufacturer: look it up"},
        {0x3010, 0, "unknown", "Powertrain trouble code of the manufacturer: look it up"},
        {0x3400, 0, "unknown", "Powertrain trouble code: look it up"},
        {0x4123, 0, "other", "Chassis trouble code: look it up"},
        {0x5123, 0, "other", "Chassis trouble code of the manufacturer: look it up"},
        {0xC158, 0, "other", "Network trouble code: look it up"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[64];
        oxl_dtc_words((uint16_t)rows[i].code, text, sizeof text);
        assert_string_equal(text, rows[i].words);
        assert_string_equal(oxl_dtc_family((uint16_t)rows[i].code)->id, rows[i].family);
        assert_int_equal(oxl_dtc_bank((uint16_t)rows[i].code), rows[i].bank);
    }
}

/* Known from elsewhere than memory: the pages of manufacturers that the notes of this project name
 * (practice.md, mode06.csv, regulation.md), and the worked examples of ISO 15031-5 as retold. */
static void codes_known_from_elsewhere(void **state)
{
    (void)state;
    static const struct {
        uint16_t code;
        unsigned bank, sensor;
        const char *family;
    } rows[] = {
        {0x0420, 1, 0, "catalyst"}, /* regulation.md, section 5: bank 1 */
        {0x0430, 2, 0, "catalyst"}, /* ... bank 2 */
        {0x0135, 1, 1, "heater"},   /* practice.md, section 4: the heaters */
        {0x0141, 1, 2, "heater"},      {0x0155, 2, 1, "heater"},       {0x0161, 2, 2, "heater"},
        {0x0037, 1, 2, "heater"}, /* mode06.csv: page of monitor 42, heater B1S2 */
        {0x0038, 1, 2, "heater"},      {0x2A00, 1, 1, "front-sensor"}, /* ... of monitor 01, B1S1 */
        {0x0139, 1, 2, "rear-sensor"}, /* P33: malfunction threshold, rear 0.6 to 0.3 V */
        {0x0171, 1, 0, "fuel-trim"},   {0x0172, 1, 0, "fuel-trim"}, /* P24: trim monitor */
        {0x2096, 1, 0, "rear-trim"}, /* P37: one-sided trim behind the catalyst */
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        assert_string_equal(oxl_dtc_family(rows[i].code)->id, rows[i].family);
        assert_int_equal(oxl_dtc_bank(rows[i].code), rows[i].bank);
        assert_int_equal(oxl_dtc_sensor(rows[i].code), rows[i].sensor);
    }
}

/* A rear sensor's code is never of the front's family, nor the other way round. What only the
 * manufacturer's list has is not guessed at. */
static void the_table_is_sound(void **state)
{
    (void)state;
    unsigned listed = 0;
    for (unsigned code = 1; code < 0x10000; code++) {
        const struct oxl_dtc_family *f = oxl_dtc_family((uint16_t)code);
        unsigned sensor = oxl_dtc_sensor((uint16_t)code);
        bool front = strcmp(f->id, "front-sensor") == 0 || f->reason == OXL_R_FRONT_SLOW;
        bool rear = strcmp(f->id, "rear-sensor") == 0 || f->reason == OXL_R_REAR_SLOW;
        if (sensor)
            assert_true(sensor == 1 ? front && !rear : rear && !front);
        if (oxl_dtc_is_manufacturers((uint16_t)code))
            assert_true(f->weight == OXL_DTC_UNKNOWN || f->weight == OXL_DTC_NEUTRAL);
        listed += oxl_dtc_listed((uint16_t)code) != OXL_FAMILY_COUNT;
    }
    assert_true(listed > 700);
}

/* Whatever the code: words that fit a line, and something to do where it bears on the test. */
static void every_code_is_spoken_of(void **state)
{
    (void)state;
    for (unsigned code = 1; code < 0x10000; code++) {
        char text[64];
        const struct oxl_dtc_family *f = oxl_dtc_family((uint16_t)code);
        oxl_dtc_words((uint16_t)code, text, sizeof text);
        assert_true(strlen(text) > 5 && strlen(text) < sizeof text - 1);
        assert_int_equal(f->effect[0] != 0, f->weight != OXL_DTC_NEUTRAL);
        assert_int_equal(f->next[0] != 0, f->weight != OXL_DTC_NEUTRAL);
        /* "P0301: ", why it matters, what to do: whole, in a line's advice. */
        if (f->weight != OXL_DTC_SUBJECT)
            assert_true(strlen("P0301: ") + strlen(f->effect) + 1 + strlen(f->next) <
                        sizeof((struct oxl_check *)NULL)->advice);
        assert_true(oxl_dtc_bank((uint16_t)code) <= 2);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(code_words),
        cmocka_unit_test(codes_known_from_elsewhere),
        cmocka_unit_test(the_table_is_sound),
        cmocka_unit_test(every_code_is_spoken_of),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
