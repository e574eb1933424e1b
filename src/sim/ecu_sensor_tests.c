/* Service 05: oxygen sensor monitor results of a vehicle without CAN, in single bytes (SAE J1979 /
 * ISO 15031-5). Only switching sensors have them. The numbers are invented, but agree with the
 * codes that the ECU stores. */
#include "sim/ecu.h"

#include <string.h>

struct test {
    uint8_t number, value, min, max;
};

/* 4 ms a count; 5 mV a count. */
static const struct test front_tests[] = {{0x05, 12, 0, 30}, {0x06, 10, 0, 30}};
static const struct test slow_front_tests[] = {{0x05, 45, 0, 30}, {0x06, 38, 0, 30}};
static const struct test rear_tests[] = {{0x07, 17, 0, 40}, {0x08, 156, 130, 255}};
static const struct test bad_rear_tests[] = {{0x07, 86, 0, 40}, {0x08, 92, 130, 255}};

static const struct test *tests_of(const struct oxl_ecu_case *c, int bank, int sensor)
{
    const uint16_t next = (uint16_t)(bank * 0x20);
    if (!oxl_ecu_has_sensor(c, bank, sensor) ||
        strcmp(oxl_ecu_sensor_kind(c->u, sensor), "switching") != 0)
        return NULL;
    if (sensor == 0)
        return oxl_ecu_has_dtc(c->u, (uint16_t)(0x0133 + next), (uint16_t)(0x0133 + next))
                   ? slow_front_tests
                   : front_tests;
    return oxl_ecu_has_dtc(c->u, (uint16_t)(0x0136 + next), (uint16_t)(0x0141 + next))
               ? bad_rear_tests
               : rear_tests;
}

size_t oxl_ecu_service_05(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                          struct oxl_ecu_answer *out)
{
    const unsigned per_bank = strcmp(c->u->layout, "1D") == 0 ? 2 : 4;
    unsigned place = 0;
    if (c->can || len != 3)
        return 0;
    while (place < 8 && req[2] != 1U << place)
        place++;
    if (place / per_bank > 1 || place % per_bank > 1)
        return 0;
    const struct test *t = tests_of(c, (int)(place / per_bank), (int)(place % per_bank));
    if (!t)
        return 0;
    if (req[1] == 0x00) {
        uint8_t mask[] = {0x45, 0x00, req[2], 0, 0, 0, 0};
        oxl_ecu_mask_bit(mask + 3, 0, t[0].number);
        oxl_ecu_mask_bit(mask + 3, 0, t[1].number);
        return oxl_ecu_put(out, mask, sizeof mask);
    }
    for (int i = 0; i < 2; i++) {
        const uint8_t msg[] = {0x45, t[i].number, req[2], t[i].value, t[i].min, t[i].max};
        if (t[i].number == req[1])
            return oxl_ecu_put(out, msg, sizeof msg);
    }
    return 0;
}
