/* Codes in words. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_vehicle.h"
#include "oxylag/onboard.h"

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
        {0x0148, 0, "other", "Powertrain code: see the maker's list"},
        {0x0171, 1, "fuel-trim", "System too lean, bank 1"},
        {0x0304, 0, "misfire", "Misfire, cylinder 4"},
        {0x0312, 0, "misfire", "Misfire, cylinder 12"},
        {0x030A, 0, "other", "Powertrain code: see the maker's list"},
        {0x0102, 0, "air-metering", "Mass or volume air flow, circuit or range"},
        {0x0118, 0, "coolant", "Coolant temperature, circuit or range"},
        {0x0128, 0, "thermostat", "Coolant stays below the thermostat's temperature"},
        {0x0411, 0, "secondary-air", "Secondary air injection"},
        {0x0441, 0, "purge", "Purge flow is not what it should be"},
        {0x2096, 1, "rear-trim", "Too lean behind the catalyst, bank 1"},
        {0x0040, 0, "sensors-swapped", "Front sensors swapped between the banks"},
        {0x1420, 0, "other", "Powertrain code of the maker: see the maker's list"},
        {0x4123, 0, "other", "Chassis code: see the maker's list"},
        {0xC158, 0, "other", "Network code: see the maker's list"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[64];
        oxl_dtc_words((uint16_t)rows[i].code, text, sizeof text);
        assert_string_equal(text, rows[i].words);
        assert_string_equal(oxl_dtc_family((uint16_t)rows[i].code)->id, rows[i].family);
        assert_int_equal(oxl_dtc_bank((uint16_t)rows[i].code), rows[i].bank);
    }
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
        assert_true(oxl_dtc_bank((uint16_t)code) <= 2);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(code_words),
        cmocka_unit_test(every_code_is_spoken_of),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
