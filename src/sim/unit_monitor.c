/* Service 06 on CAN: results of the vehicle's own monitors, nine bytes a record (SAE J1979 /
 * ISO 15031-5). The numbers are invented, but agree with the codes that the unit stores. On
 * K-line test numbers and scales belong to the maker, so this vehicle has none there. */
#include "sim/unit.h"

#include <string.h>

/* Standard scales: 0B = 1 mV, 10 = 1 ms, 20 = ratio of 1/256; 01 = plain number. */
enum { SCALE_PLAIN = 0x01, SCALE_MV = 0x0B, SCALE_MS = 0x10, SCALE_RATIO = 0x20 };

struct result {
    uint8_t test, scale;
    uint16_t value, min, max;
};

static const struct result not_run = {0x80, SCALE_RATIO, 0, 0, 0};

/* Codes of the rear sensor signal: P0136-P0141 bank 1, P0156-P0161 bank 2. */
static bool rear_fault(const struct oxl_unit_settings *u, int bank)
{
    return bank == 0 ? oxl_unit_has_code(u, 0x0136, 0x0141) : oxl_unit_has_code(u, 0x0156, 0x0161);
}

bool oxl_unit_catalyst_monitor_ran(const struct oxl_unit_settings *u)
{
    return !rear_fault(u, 0) && !rear_fault(u, 1);
}

static void put_word(uint8_t *out, uint16_t n)
{
    out[0] = (uint8_t)(n >> 8);
    out[1] = (uint8_t)n;
}

static void put_result(struct oxl_unit_answer *a, uint8_t monitor, const struct result *r)
{
    uint8_t rec[9] = {monitor, r->test, r->scale};
    put_word(rec + 3, r->value);
    put_word(rec + 5, r->min);
    put_word(rec + 7, r->max);
    oxl_unit_put(a, rec, sizeof rec);
}

static void catalyst(const struct oxl_unit_case *c, uint8_t monitor, struct oxl_unit_answer *a)
{
    int bank = monitor - 0x21;
    if (rear_fault(c->u, bank)) {
        put_result(a, monitor, &not_run);
        return;
    }
    /* Rear over front swing, at most 0.75: P0420 / P0430 with their neighbours mean it failed. */
    bool bad = bank == 0 ? oxl_unit_has_code(c->u, 0x0420, 0x0424)
                         : oxl_unit_has_code(c->u, 0x0430, 0x0434);
    const struct result r = {0x80, SCALE_RATIO, bad ? 0x00EB : 0x0033, 0x0000, 0x00C0};
    put_result(a, monitor, &r);
}

static void front_sensor(const struct oxl_unit_case *c, uint8_t monitor, struct oxl_unit_answer *a)
{
    static const struct result rich_to_lean = {0x05, SCALE_MS, 48, 0, 120};
    static const struct result lean_to_rich = {0x06, SCALE_MS, 41, 0, 120};
    static const struct result wide_response = {0x81, SCALE_PLAIN, 610, 250, 0xFFFF};
    if (strcmp(c->u->front, "switching") != 0) {
        put_result(a, monitor, &wide_response);
        return;
    }
    put_result(a, monitor, &rich_to_lean);
    put_result(a, monitor, &lean_to_rich);
}

static void rear_sensor(const struct oxl_unit_case *c, uint8_t monitor, struct oxl_unit_answer *a)
{
    static const struct result wide_response = {0x81, SCALE_PLAIN, 580, 250, 0xFFFF};
    if (strcmp(c->u->rear, "switching") != 0) {
        put_result(a, monitor, &wide_response);
        return;
    }
    bool bad = rear_fault(c->u, monitor == 0x02 ? 0 : 1);
    const struct result lowest = {0x07, SCALE_MV, bad ? 430 : 85, 0, 200};
    const struct result highest = {0x08, SCALE_MV, bad ? 460 : 780, 650, 0xFFFF};
    put_result(a, monitor, &lowest);
    put_result(a, monitor, &highest);
}

static bool supported(const struct oxl_unit_case *c, unsigned monitor)
{
    switch (monitor) {
    case 0x01:
        return oxl_unit_has_sensor(c, 0, 0);
    case 0x02:
    case 0x21:
        return oxl_unit_has_sensor(c, 0, 1);
    case 0x05:
        return oxl_unit_has_sensor(c, 1, 0);
    case 0x06:
    case 0x22:
        return oxl_unit_has_sensor(c, 1, 1);
    default:
        return false;
    }
}

static void masks(const struct oxl_unit_case *c, const uint8_t *req, size_t len,
                  struct oxl_unit_answer *a)
{
    for (size_t i = 1; i < len; i++) {
        uint8_t rec[5] = {req[i]};
        if (req[i] != 0x00 && req[i] != 0x20)
            continue;
        for (unsigned n = req[i] + 1U; n <= req[i] + 31U; n++)
            if (supported(c, n))
                oxl_unit_mask_bit(rec + 1, req[i], n);
        if (req[i] == 0x00)
            oxl_unit_mask_bit(rec + 1, 0, 0x20);
        if (a->len == 0)
            oxl_unit_put(a, (const uint8_t[]){0x46}, 1);
        oxl_unit_put(a, rec, sizeof rec);
    }
}

void oxl_unit_service_06(const struct oxl_unit_case *c, const uint8_t *req, size_t len,
                         struct oxl_unit_answer *a)
{
    if (!c->can || len < 2 || len > 7)
        return;
    /* Up to six masks in a request, but only one monitor. */
    if (req[1] % 0x20 == 0) {
        masks(c, req, len, a);
        return;
    }
    if (len != 2 || !supported(c, req[1]))
        return;
    oxl_unit_put(a, (const uint8_t[]){0x46}, 1);
    if (req[1] >= 0x21)
        catalyst(c, req[1], a);
    else if (req[1] % 4 == 1)
        front_sensor(c, req[1], a);
    else
        rear_sensor(c, req[1], a);
}
