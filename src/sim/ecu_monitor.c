/* Service 06: results of the vehicle's own monitors (SAE J1979 / ISO 15031-5). On CAN nine bytes a
 * record; on K-line and J1850 one message for each component of a test, with one limit, where
 * the meaning of both numbers is the manufacturer's. The numbers are invented, but agree with the
 * codes that the ECU stores. */
#include "sim/ecu.h"

#include <string.h>

/* Standard scales: 0B = 1 mV, 10 = 1 ms, 20 = ratio of 1/256; 01 = plain number. */
enum { SCALE_PLAIN = 0x01, SCALE_MV = 0x0B, SCALE_MS = 0x10, SCALE_RATIO = 0x20 };

struct result {
    uint8_t test, scale;
    uint16_t value, min, max;
};

static const struct result not_run = {0x80, SCALE_RATIO, 0, 0, 0};

/* Codes of the rear sensor signal: P0136-P0141 bank 1, P0156-P0161 bank 2. */
static bool rear_fault(const struct oxl_ecu_settings *u, int bank)
{
    return bank == 0 ? oxl_ecu_has_dtc(u, 0x0136, 0x0141) : oxl_ecu_has_dtc(u, 0x0156, 0x0161);
}

/* P0420, P0430 and their neighbours. */
static bool catalyst_fault(const struct oxl_ecu_settings *u, int bank)
{
    return bank == 0 ? oxl_ecu_has_dtc(u, 0x0420, 0x0424) : oxl_ecu_has_dtc(u, 0x0430, 0x0434);
}

bool oxl_ecu_catalyst_monitor_ran(const struct oxl_ecu_settings *u)
{
    return !rear_fault(u, 0) && !rear_fault(u, 1);
}

static void put_result(struct oxl_ecu_answer *a, uint8_t monitor, const struct result *r)
{
    uint8_t rec[9] = {monitor, r->test, r->scale};
    oxl_ecu_word(rec + 3, r->value);
    oxl_ecu_word(rec + 5, r->min);
    oxl_ecu_word(rec + 7, r->max);
    oxl_ecu_put(a, rec, sizeof rec);
}

static void catalyst(const struct oxl_ecu_case *c, uint8_t monitor, struct oxl_ecu_answer *a)
{
    int bank = monitor - 0x21;
    if (rear_fault(c->u, bank)) {
        put_result(a, monitor, &not_run);
        return;
    }
    /* Rear over front swing, at most 0.75. */
    const struct result r = {0x80, SCALE_RATIO, catalyst_fault(c->u, bank) ? 0x00EB : 0x0033,
                             0x0000, 0x00C0};
    put_result(a, monitor, &r);
}

static void front_sensor(const struct oxl_ecu_case *c, uint8_t monitor, struct oxl_ecu_answer *a)
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

static void rear_sensor(const struct oxl_ecu_case *c, uint8_t monitor, struct oxl_ecu_answer *a)
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

static bool supported(const struct oxl_ecu_case *c, unsigned monitor)
{
    switch (monitor) {
    case 0x01:
        return oxl_ecu_has_sensor(c, 0, 0);
    case 0x02:
    case 0x21:
        return oxl_ecu_has_sensor(c, 0, 1);
    case 0x05:
        return oxl_ecu_has_sensor(c, 1, 0);
    case 0x06:
    case 0x22:
        return oxl_ecu_has_sensor(c, 1, 1);
    default:
        return false;
    }
}

static void masks(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                  struct oxl_ecu_answer *a)
{
    for (size_t i = 1; i < len; i++) {
        uint8_t rec[5] = {req[i]};
        if (req[i] != 0x00 && req[i] != 0x20)
            continue;
        for (unsigned n = req[i] + 1U; n <= req[i] + 31U; n++)
            if (supported(c, n))
                oxl_ecu_mask_bit(rec + 1, req[i], n);
        if (req[i] == 0x00)
            oxl_ecu_mask_bit(rec + 1, 0, 0x20);
        oxl_ecu_put_record(a, 0x06, rec, sizeof rec);
    }
}

static void service_06_can(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                           struct oxl_ecu_answer *a)
{
    /* Up to six masks in a request, but only one monitor. */
    if (req[1] % 0x20 == 0) {
        masks(c, req, len, a);
        return;
    }
    if (len != 2 || !supported(c, req[1]))
        return;
    oxl_ecu_put(a, (const uint8_t[]){0x46}, 1);
    if (req[1] >= 0x21)
        catalyst(c, req[1], a);
    else if (req[1] % 4 == 1)
        front_sensor(c, req[1], a);
    else
        rear_sensor(c, req[1], a);
}

/* ---- K-line and J1850: tests 01 (catalyst) and 02 (rear sensor) of an invented manufacturer ----
 */

enum { TEST_CATALYST = 0x01, TEST_REAR = 0x02, AT_LEAST = 0x80 };

/* Bit 7 of the component says that the limit is a minimum. */
static void put_line(struct oxl_ecu_answer *a, uint8_t test, unsigned component, unsigned value,
                     unsigned limit)
{
    uint8_t msg[7] = {0x46, test, (uint8_t)component};
    oxl_ecu_word(msg + 3, value);
    oxl_ecu_word(msg + 5, limit);
    oxl_ecu_put(a, msg, sizeof msg);
}

static void bus_mask(const struct oxl_ecu_case *c, struct oxl_ecu_answer *a)
{
    uint8_t msg[7] = {0x46, 0x00, 0xFF};
    if (!oxl_ecu_has_sensor(c, 0, 1))
        return;
    oxl_ecu_mask_bit(msg + 3, 0, TEST_CATALYST);
    oxl_ecu_mask_bit(msg + 3, 0, TEST_REAR);
    oxl_ecu_put(a, msg, sizeof msg);
}

static void bus_catalyst(const struct oxl_ecu_case *c, int bank, struct oxl_ecu_answer *a)
{
    bool bad = catalyst_fault(c->u, bank);
    if (rear_fault(c->u, bank))
        put_line(a, TEST_CATALYST, 0x11U + (unsigned)bank, 0, 0);
    else
        put_line(a, TEST_CATALYST, 0x11U + (unsigned)bank, bad ? 235 : 51, 192);
}

/* Two messages a bank: the lowest voltage at most, the highest at least. */
static size_t bus_rear(const struct oxl_ecu_case *c, int bank, struct oxl_ecu_answer *out)
{
    bool bad = rear_fault(c->u, bank);
    put_line(&out[0], TEST_REAR, 0x21U + (unsigned)bank, bad ? 86 : 17, 40);
    put_line(&out[1], TEST_REAR, AT_LEAST | (0x21U + (unsigned)bank), bad ? 92 : 156, 130);
    return 2;
}

static size_t service_06_bus(const struct oxl_ecu_case *c, uint8_t test, struct oxl_ecu_answer *out,
                             size_t max)
{
    size_t n = 0;
    const uint32_t ecu = out[0].ecu;
    if (test == 0x00) {
        bus_mask(c, out);
        return out->len > 0;
    }
    for (int bank = 0; bank < 2 && n + 2 <= max; bank++) {
        if (!oxl_ecu_has_sensor(c, bank, 1))
            continue;
        out[n] = out[n + 1] = (struct oxl_ecu_answer){.ecu = ecu};
        if (test == TEST_CATALYST)
            bus_catalyst(c, bank, &out[n++]);
        else if (test == TEST_REAR)
            n += bus_rear(c, bank, &out[n]);
    }
    return n;
}

size_t oxl_ecu_service_06(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                          struct oxl_ecu_answer *out, size_t max)
{
    if (len < 2 || len > 7)
        return 0;
    if (!c->can)
        return len == 2 ? service_06_bus(c, req[1], out, max) : 0;
    service_06_can(c, req, len, out);
    return out->len > 0;
}
