/* Service 05: form of the answers, scales as in scapy 2.5.0's list of the tests (voltages 0.005 V,
 * switch times 0.004 s, periods 0.04 s a count), and what is no such answer. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_vehicle.h"
#include "oxylag/onboard.h"

static bool read_test(const char *payload, unsigned place, enum oxl_layout_kind layout,
                      struct oxl_monitor_result *r)
{
    struct help_message h;
    help_message(&h, payload);
    return oxl_decode_sensor_test(&h.m, place, layout, r);
}

static void scales_and_verdicts(void **state)
{
    (void)state;
    static const struct {
        const char *payload;
        double value, min, max; /* NAN: no such limit */
        const char *unit, *title;
        enum oxl_monitor_verdict verdict;
    } cases[] = {
        {"45 05 01 0C 00 1E", 0.048, NAN, 0.120, "s", "Switch time rich to lean",
         OXL_MONITOR_PASSED},
        {"45 06 01 2D 00 1E", 0.180, NAN, 0.120, "s", "Switch time lean to rich",
         OXL_MONITOR_FAILED},
        {"45 07 01 11 00 28", 0.085, NAN, 0.200, "V", "Sensor voltage, lowest", OXL_MONITOR_PASSED},
        {"45 08 01 5C 82 FF", 0.460, 0.65, NAN, "V", "Sensor voltage, highest", OXL_MONITOR_FAILED},
        {"45 09 01 19 05 64", 1.0, 0.2, 4.0, "s", "Time between transitions", OXL_MONITOR_PASSED},
        {"45 0A 01 19 1A 64", 1.0, 1.04, 4.0, "s", "Sensor period", OXL_MONITOR_FAILED},
        {"45 05 01 00 00 00", NAN, NAN, NAN, "s", "Switch time rich to lean", OXL_MONITOR_NOT_RUN},
        /* No limit at all, and limits that contradict each other: no verdict. */
        {"45 05 01 0C 00 FF", 0.048, NAN, NAN, "s", "Switch time rich to lean",
         OXL_MONITOR_UNKNOWN},
        {"45 05 01 0C 30 1E", 0.048, 0.192, 0.120, "s", "Switch time rich to lean",
         OXL_MONITOR_UNKNOWN},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct oxl_monitor_result r;
        char text[48];
        assert_true(read_test(cases[i].payload, 0, OXL_LAYOUT_13, &r));
        struct oxl_monitor_figures f = oxl_monitor_figures(&r);
        const double got[] = {f.value, f.min, f.max};
        const double want[] = {cases[i].value, cases[i].min, cases[i].max};
        for (int k = 0; k < 3; k++)
            assert_true(isnan(want[k]) ? isnan(got[k]) : fabs(got[k] - want[k]) < 1e-9);
        assert_string_equal(f.unit, cases[i].unit);
        assert_int_equal(oxl_monitor_verdict(&r), cases[i].verdict);
        oxl_test_title(&r, text, sizeof text);
        assert_string_equal(text, cases[i].title);
        oxl_monitor_title(&r, text, sizeof text);
        assert_string_equal(text, "Oxygen sensor, bank 1 sensor 1");
        assert_true(isnan(f.margin) || (f.margin < 0) == (cases[i].verdict == OXL_MONITOR_FAILED));
    }
}

/* One bit a sensor, at its place in PID 13 (two banks of four) or 1D (four banks of two); the
 * numbers are those of the monitors on CAN, four a bank. */
static void places(void **state)
{
    (void)state;
    static const uint8_t of_13[] = {1, 2, 3, 4, 5, 6, 7, 8}, of_1d[] = {1, 2, 5, 6, 9, 10, 13, 14};
    for (unsigned i = 0; i < 8; i++) {
        assert_int_equal(oxl_sensor_monitor(i, OXL_LAYOUT_13), of_13[i]);
        assert_int_equal(oxl_sensor_monitor(i, OXL_LAYOUT_1D), of_1d[i]);
        assert_int_equal(oxl_sensor_monitor(i, OXL_LAYOUT_UNKNOWN), 0);
    }
    assert_int_equal(oxl_sensor_monitor(8, OXL_LAYOUT_13), 0);
    struct oxl_monitor_result r;
    assert_true(read_test("45 05 04 0C 00 1E", 2, OXL_LAYOUT_1D, &r));
    assert_int_equal(oxl_monitor_bank(r.monitor), 2);
}

static void no_such_answer(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "45",
        "45 05 01 0C 00",       /* one byte short */
        "45 05 01 0C 00 1E 00", /* long */
        "46 05 01 0C 00 1E",    /* another service */
        "45 05 02 0C 00 1E",    /* another sensor */
        "45 03 01 28",          /* a constant */
        "45 04 01 28 00 FF",
        "45 0B 01 28 00 FF",
        "45 00 01 28 00 FF",
    };
    struct oxl_monitor_result r;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_false(read_test(bad[i], 0, OXL_LAYOUT_13, &r));
    assert_false(read_test("45 05 01 0C 00 1E", 0, OXL_LAYOUT_UNKNOWN, &r));
}

static void masks(void **state)
{
    (void)state;
    struct help_message h;
    struct oxl_support s = {{0}};
    help_message(&h, "45 00 02 03 00 00 00");
    assert_false(oxl_decode_sensor_mask(&h.m, 0, &s));
    assert_true(oxl_decode_sensor_mask(&h.m, 1, &s));
    assert_true(oxl_supports(&s, 7) && oxl_supports(&s, 8));
    assert_false(oxl_supports(&s, 5) || oxl_supports(&s, 9));
    help_message(&h, "45 05 02 03 00 00 00");
    assert_false(oxl_decode_sensor_mask(&h.m, 1, &s));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(scales_and_verdicts),
        cmocka_unit_test(places),
        cmocka_unit_test(no_such_answer),
        cmocka_unit_test(masks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
