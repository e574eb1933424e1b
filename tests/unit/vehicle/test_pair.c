/* What is supported, and which two sensors a bank is tested with. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_vehicle.h"

static void support_masks(void **state)
{
    (void)state;
    static const uint8_t first[4] = {0x80, 0, 0, 0x01}, last[4] = {0, 0, 0, 0x03};
    struct oxl_support s = {{0}};
    oxl_support_add(&s, 0x00, first);
    oxl_support_add(&s, 0xE0, last); /* bit 0 would be PID 100h */
    unsigned n = 0;
    for (unsigned pid = 0; pid < 256; pid++)
        n += oxl_supports(&s, (uint8_t)pid);
    assert_int_equal(n, 3);
    assert_true(oxl_supports(&s, 0x01) && oxl_supports(&s, 0x20) && oxl_supports(&s, 0xFF));
    oxl_support_add(&s, 0x20, first); /* adds, takes nothing away */
    assert_true(oxl_supports(&s, 0x01) && oxl_supports(&s, 0x21) && oxl_supports(&s, 0x40));
}

static struct oxl_vehicle vehicle_with(enum oxl_layout_kind layout, const uint8_t *pids, size_t n)
{
    struct oxl_vehicle v = {.decoding = {.layout = layout}};
    for (size_t i = 0; i < n; i++) {
        uint8_t mask[4] = {0}, at = (uint8_t)((pids[i] - 1) % 32);
        mask[at / 8] = (uint8_t)(0x80 >> at % 8);
        oxl_support_add(&v.support, (uint8_t)((pids[i] - 1) & 0xE0), mask);
    }
    return v;
}

static void check_pair(enum oxl_layout_kind layout, const uint8_t pids[4], unsigned bank,
                       uint8_t front, uint8_t rear, unsigned rear_sensor)
{
    size_t n = 0;
    while (n < 4 && pids[n])
        n++;
    struct oxl_vehicle v = vehicle_with(layout, pids, n);
    struct oxl_pair p = oxl_vehicle_pair(&v, bank);
    assert_int_equal(p.front_pid, front);
    assert_int_equal(p.rear_pid, rear);
    assert_int_equal(p.front_kind, !front         ? OXL_SENSOR_NONE
                                   : front < 0x24 ? OXL_SENSOR_SWITCHING
                                                  : OXL_SENSOR_WIDE);
    assert_int_equal(p.rear_kind, !rear         ? OXL_SENSOR_NONE
                                  : rear < 0x24 ? OXL_SENSOR_SWITCHING
                                                : OXL_SENSOR_WIDE);
    assert_int_equal(p.front.quantity, !front         ? OXL_Q_NONE
                                       : front < 0x24 ? OXL_Q_O2_V
                                                      : OXL_Q_LAMBDA);
    assert_int_equal(p.rear.quantity, !rear ? OXL_Q_NONE : rear < 0x24 ? OXL_Q_O2_V : OXL_Q_LAMBDA);
    assert_int_equal(p.front.bank, front ? bank : 0);
    /* PID 15 stands in bank 1 under PID 13, whoever shares them. */
    unsigned rear_bank = layout == OXL_LAYOUT_13 && bank == 2 && rear == 0x15 ? 1 : bank;
    assert_int_equal(p.rear.bank, rear ? rear_bank : 0);
    assert_int_equal(p.front.sensor, front ? 1 : 0);
    assert_int_equal(p.rear.sensor, rear ? rear_sensor : 0);
}

static void pairs(void **state)
{
    (void)state;
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x14, 0x15}, 1, 0x14, 0x15, 2);
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x34, 0x15}, 1, 0x34, 0x15, 2);
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x24, 0x15}, 1, 0x24, 0x15, 2);
    check_pair(OXL_LAYOUT_UNKNOWN, (const uint8_t[4]){0x14, 0x15, 0x18, 0x19}, 2, 0x18, 0x19, 2);
    check_pair(OXL_LAYOUT_1D, (const uint8_t[4]){0x14, 0x15, 0x16, 0x17}, 2, 0x16, 0x17, 2);
    check_pair(OXL_LAYOUT_1D, (const uint8_t[4]){0x3A, 0x1B}, 4, 0x3A, 0x1B, 2);
    /* Listed twice: wide-range is taken, and of those the current form. */
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x14, 0x34, 0x15}, 1, 0x34, 0x15, 2);
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x24, 0x34, 0x15}, 1, 0x34, 0x15, 2);
    /* A third sensor does not displace the one behind the first converter; alone it is taken. */
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x14, 0x15, 0x16}, 1, 0x14, 0x15, 2);
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x14, 0x16}, 1, 0x14, 0x16, 3);
    /* Something is missing. */
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x14}, 1, 0x14, 0, 0);
    /* Both banks join ahead of one rear sensor: bank 2's pair has bank 1's rear. */
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x14, 0x15, 0x18}, 2, 0x18, 0x15, 2);
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x14, 0x18}, 2, 0x18, 0, 0);
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x15, 0x18}, 2, 0x18, 0, 0);
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x15}, 1, 0, 0x15, 2);
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x14, 0x15}, 2, 0, 0, 0);
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x14, 0x15}, 0, 0, 0, 0);
    check_pair(OXL_LAYOUT_13, (const uint8_t[4]){0x14, 0x15}, 9, 0, 0, 0);
}

/* A rear whose lambda stands still gives way: to its own voltage, or to the next form. */
static void a_lambda_that_stands_still_is_no_rear(void **state)
{
    (void)state;
    struct oxl_vehicle v = vehicle_with(OXL_LAYOUT_13, (const uint8_t[]){0x14, 0x25, 0x15}, 3);
    oxl_support_put(&v.still, 0x25, true);
    assert_int_equal(oxl_vehicle_pair(&v, 1).rear_pid, 0x15);
    assert_int_equal(oxl_vehicle_pair(&v, 1).rear_kind, OXL_SENSOR_SWITCHING);
    v.volts_pid = 0x25;
    struct oxl_pair p = oxl_vehicle_pair(&v, 1);
    assert_int_equal(p.rear_pid, 0x25);
    assert_int_equal(p.rear_kind, OXL_SENSOR_SWITCHING);
    assert_int_equal(p.rear.quantity, OXL_Q_WIDE_V);
    assert_true(p.rear.bank == 1 && p.rear.sensor == 2);
    oxl_support_put(&v.support, 0x15, false);
    v.volts_pid = 0;
    assert_int_equal(oxl_vehicle_pair(&v, 1).rear_kind, OXL_SENSOR_NONE);
}

/* The other bank's rear stands in for one that is not there, never for one that is silent. */
static void a_silent_rear_is_not_shared(void **state)
{
    (void)state;
    struct oxl_vehicle v = vehicle_with(OXL_LAYOUT_13, (const uint8_t[]){0x14, 0x15, 0x18}, 3);
    v.decoding.sensors = 0x13;
    assert_int_equal(oxl_vehicle_pair(&v, 2).rear_pid, 0x15);
    v.decoding.sensors = 0x33;
    assert_int_equal(oxl_vehicle_pair(&v, 2).rear_pid, 0);
    v.decoding = (struct oxl_decoding){0};
    assert_int_equal(oxl_vehicle_pair(&v, 2).rear_pid, 0x15);
    oxl_support_put(&v.silent, 0x19, true);
    assert_int_equal(oxl_vehicle_pair(&v, 2).rear_pid, 0);
}

/* Places by PIDs 13 and 1D, SAE J1979 as in public parameter tables (pids.csv: 16 is B1S3 under 13
 * and B2S1 under 1D). */
static void forms_of_a_sensor(void **state)
{
    (void)state;
    static const struct {
        enum oxl_layout_kind layout;
        uint8_t sensors;
        unsigned bank, sensor;
        uint8_t first; /* of its forms, 34-3B; 0: none */
    } rows[] = {
        {OXL_LAYOUT_UNKNOWN, 0x00, 1, 2, 0x35}, {OXL_LAYOUT_13, 0x03, 1, 1, 0x34},
        {OXL_LAYOUT_13, 0x01, 1, 2, 0},         {OXL_LAYOUT_13, 0x33, 2, 2, 0x39},
        {OXL_LAYOUT_1D, 0x0F, 2, 1, 0x36},      {OXL_LAYOUT_1D, 0xFF, 4, 2, 0x3B},
        {OXL_LAYOUT_1D, 0xFF, 1, 3, 0},         {OXL_LAYOUT_13, 0xFF, 3, 1, 0},
    };
    for (unsigned i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t pids[OXL_SENSOR_FORMS];
        struct oxl_decoding d = {.layout = rows[i].layout, .sensors = rows[i].sensors};
        unsigned n = oxl_sensor_forms(&d, rows[i].bank, rows[i].sensor, pids);
        assert_int_equal(n, rows[i].first ? OXL_SENSOR_FORMS : 0);
        for (unsigned o = 0; o < n; o++)
            assert_int_equal(pids[o], rows[i].first - 0x10 * o);
    }
}

/* Only the fourth sensor along the exhaust answers: it is the rear one. Layout 13 has four of a
 * bank (SAE J1979). */
static void the_last_sensor_along_the_exhaust_is_a_rear_one(void **state)
{
    struct oxl_vehicle v = {0};
    (void)state;
    v.decoding.layout = OXL_LAYOUT_13;
    v.decoding.sensors = 0x09;
    oxl_support_put(&v.support, 0x14, true);
    oxl_support_put(&v.support, 0x17, true);
    struct oxl_pair p = oxl_vehicle_pair(&v, 1);
    assert_int_equal(p.front_pid, 0x14);
    assert_int_equal(p.rear_pid, 0x17);
    assert_int_equal(p.rear.sensor, 4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(support_masks),
        cmocka_unit_test(pairs),
        cmocka_unit_test(a_lambda_that_stands_still_is_no_rear),
        cmocka_unit_test(a_silent_rear_is_not_shared),
        cmocka_unit_test(the_last_sensor_along_the_exhaust_is_a_rear_one),
        cmocka_unit_test(forms_of_a_sensor),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
