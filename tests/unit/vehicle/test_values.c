/* Values that depend on more than their own bytes: full scales, layouts, "not used" marks. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_vehicle.h"

static const struct oxl_decoding plain = {.layout = OXL_LAYOUT_13, .sensors = 0x33};

static struct oxl_decoding with_scaling(struct oxl_scaling s)
{
    struct oxl_decoding d = plain;
    d.scaling = s;
    return d;
}

/* Published meaning of PID 4F: 04 0A 00 00 makes raw 8000h lambda 2.00003 and 5.00008 V, and
 * leaves the current as it is. */
static void full_scales_work_each_on_its_own(void **state)
{
    (void)state;
    struct oxl_decoding d = with_scaling((struct oxl_scaling){4, 10, 0, 0, 0});
    struct help_samples s = help_decode("41 2480008000 3480008080", &d);
    assert_true(s.clean);
    assert_near(help_value(&s, "lambda_b1s1"), 2.0000305, 1e-6);
    assert_near(help_value(&s, "wide_b1s1_v"), 5.0000763, 1e-6);
    assert_near(help_value(&s, "wide_b1s1_ma"), 0.5, 0);
    s = help_decode("4144 8000", &d);
    assert_near(help_value(&s, "commanded_lambda"), 2.0000305, 1e-6);
    /* Switching sensors are not touched. */
    s = help_decode("4114 B4FF", &d);
    assert_near(help_value(&s, "o2_b1s1_v"), 0.9, 1e-12);
}

static void full_scale_of_current_pressure_and_air(void **state)
{
    (void)state;
    struct oxl_decoding d = with_scaling((struct oxl_scaling){0, 0, 64, 51, 65});
    struct help_samples s = help_decode("41 3480008000", &d);
    assert_near(help_value(&s, "lambda_b1s1"), 1, 0);
    assert_near(help_value(&s, "wide_b1s1_ma"), 0, 0);
    s = help_decode("41 3480000000", &d);
    assert_near(help_value(&s, "wide_b1s1_ma"), -64, 0);
    s = help_decode("410B 80", &d);
    assert_near(help_value(&s, "map_kpa"), 256, 1e-12);
    s = help_decode("4110 FFFF", &d);
    assert_near(help_value(&s, "air_g_s"), 650, 1e-9);
}

static void air_meters_of_item_66(void **state)
{
    (void)state;
    struct help_samples s = help_decode("4166 01 0064 0040", &plain);
    assert_true(s.clean);
    assert_near(help_value(&s, "air_g_s"), 3.125, 0);
    s = help_decode("4166 02 0064 0040", &plain);
    assert_near(help_value(&s, "air_g_s"), 2, 0);
    s = help_decode("4166 03 0064 0040", &plain);
    assert_near(help_value(&s, "air_g_s"), 5.125, 0);
    /* No meter fitted: no value, which is not 0. */
    s = help_decode("4166 00 0064 0040", &plain);
    assert_true(s.clean);
    assert_int_equal(s.n, 0);
}

static void sensors_by_layout(void **state)
{
    (void)state;
    /* Bank and sensor of PIDs 14..1B; ISO 15031-5: PID 13 two banks of four, 1D four of two. */
    static const uint8_t in_13[8] = {11, 12, 13, 14, 21, 22, 23, 24};
    static const uint8_t in_1d[8] = {11, 12, 21, 22, 31, 32, 41, 42};
    static const uint8_t groups[3] = {0x14, 0x24, 0x34};
    for (unsigned g = 0; g < 3; g++) {
        for (unsigned i = 0; i < 8; i++) {
            uint8_t pid = (uint8_t)(groups[g] + i);
            struct oxl_channel a = oxl_sensor_channel(pid, OXL_LAYOUT_13);
            struct oxl_channel b = oxl_sensor_channel(pid, OXL_LAYOUT_1D);
            struct oxl_channel c = oxl_sensor_channel(pid, OXL_LAYOUT_UNKNOWN);
            assert_int_equal(a.quantity, g ? OXL_Q_LAMBDA : OXL_Q_O2_V);
            assert_int_equal(a.bank * 10 + a.sensor, in_13[i]);
            assert_int_equal(b.bank * 10 + b.sensor, in_1d[i]);
            assert_true(oxl_channel_same(a, c));
        }
    }
    static const uint8_t others[] = {0x00, 0x13, 0x1C, 0x23, 0x2C, 0x33, 0x3C, 0xFF};
    for (unsigned i = 0; i < sizeof others; i++)
        assert_int_equal(oxl_sensor_channel(others[i], OXL_LAYOUT_13).quantity, OXL_Q_NONE);
}

static void the_layout_places_decoded_sensors(void **state)
{
    (void)state;
    struct oxl_decoding four = {.layout = OXL_LAYOUT_1D, .sensors = 0xFF};
    struct help_samples s = help_decode("41 165A80 3780008000", &four);
    assert_true(s.clean);
    assert_near(help_value(&s, "o2_b2s1_v"), 0.45, 1e-12);
    assert_near(help_value(&s, "o2_trim_b2s1_pct"), 0, 0);
    assert_near(help_value(&s, "lambda_b2s2"), 1, 0);
    assert_near(help_value(&s, "wide_b2s2_ma"), 0, 0);
}

static void unused_trim_is_no_value(void **state)
{
    (void)state;
    struct help_samples s = help_decode("4115 9AFF", &plain);
    assert_true(s.clean);
    assert_int_equal(s.n, 1);
    s = help_decode("4115 9AFE", &plain);
    assert_int_equal(s.n, 2);
    assert_near(help_value(&s, "o2_trim_b1s2_pct"), 98.4375, 0);
    /* Bank trims have no such mark. */
    s = help_decode("4106 FF", &plain);
    assert_near(help_value(&s, "stft_b1_pct"), 99.21875, 0);
}

static void fuel_system_states(void **state)
{
    (void)state;
    struct help_samples s = help_decode("4103 0200", &plain);
    assert_int_equal(s.n, 1); /* there is no second system */
    assert_near(help_value(&s, "fuel_system_b1"), 2, 0);
    s = help_decode("4103 0000", &plain);
    assert_int_equal(s.n, 1);
    assert_near(help_value(&s, "fuel_system_b1"), 0, 0);
    /* Two states at once are none; so is a later edition's bank-2 bit alone. */
    s = help_decode("4103 0320", &plain);
    assert_true(s.clean);
    assert_int_equal(s.n, 0);
    s = help_decode("4103 2202", &plain);
    assert_near(help_value(&s, "fuel_system_b1"), 0x22, 0);
    assert_near(help_value(&s, "fuel_system_b2"), 2, 0);
}

static void catalyst_order_is_not_sensor_order(void **state)
{
    (void)state;
    struct help_samples s = help_decode("41 3C1130 3D14B4 3E0190 3F1900", &plain);
    assert_true(s.clean);
    assert_near(help_value(&s, "cat_temp_b1s1_c"), 400, 0);
    assert_near(help_value(&s, "cat_temp_b2s1_c"), 490, 0);
    assert_near(help_value(&s, "cat_temp_b1s2_c"), 0, 0);
    assert_near(help_value(&s, "cat_temp_b2s2_c"), 600, 0);
}

/* PID 4F and 50 name what they scale: lambda, volts, current, pressure and air flow, nothing else.
 */
static void full_scales_touch_nothing_else(void **state)
{
    (void)state;
    static const char *const others[] = {
        "4103 0201", "4104 80",   "4105 80",   "4106 90",   "4107 90",   "4108 90",
        "4109 90",   "410C 1234", "410D 30",   "410F 40",   "4111 40",   "4112 01",
        "4114 B490", "411F 0123", "413C 1234", "413D 1234", "413E 1234", "413F 1234",
        "4142 3210", "4151 01",   "4155 90",   "4156 90",   "4157 90",   "4158 90",
        "4106 9091", "4108 9091", "4155 9091", "4156 9091", "4157 9091", "4158 9091",
    };
    struct oxl_decoding d = with_scaling((struct oxl_scaling){5, 11, 77, 99, 101});
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        struct help_samples a = help_decode(others[i], &plain), b = help_decode(others[i], &d);
        assert_true(a.n > 0 && a.clean && b.clean);
        assert_int_equal(a.n, b.n);
        for (size_t k = 0; k < a.n; k++)
            assert_near(b.s[k].value, a.s[k].value, 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(full_scales_work_each_on_its_own),
        cmocka_unit_test(full_scale_of_current_pressure_and_air),
        cmocka_unit_test(full_scales_touch_nothing_else),
        cmocka_unit_test(air_meters_of_item_66),
        cmocka_unit_test(sensors_by_layout),
        cmocka_unit_test(the_layout_places_decoded_sensors),
        cmocka_unit_test(unused_trim_is_no_value),
        cmocka_unit_test(fuel_system_states),
        cmocka_unit_test(catalyst_order_is_not_sensor_order),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
