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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(support_masks),
        cmocka_unit_test(pairs),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
