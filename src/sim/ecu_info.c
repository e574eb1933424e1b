/* Service 09: vehicle information. On CAN one message with a count byte; on K-line and J1850
 * numbered messages of four bytes each (ISO 15031-5; the K-line shape is from memory). */
#include "sim/ecu.h"

#include <string.h>

enum { CAL_LEN = 16, NAME_LEN = 20 };

static const uint8_t calibration[CAL_LEN] = "OXYLAG SIM CAL1";
static const uint8_t verification[4] = {0x0A, 0x51, 0x3D, 0x01};
/* Four characters of acronym, a dash, fifteen of text, each padded with 00. */
static const uint8_t name[NAME_LEN] = "ECM\0-SimulatedUnit";

struct info {
    uint8_t pid;
    const uint8_t *bytes;
    size_t len;
    size_t front_pad; /* 00 bytes before it in the K-line form */
};

static bool info_of(const struct oxl_ecu_case *c, uint8_t pid, struct info *out)
{
    switch (pid) {
    case 0x02:
        *out = (struct info){pid, (const uint8_t *)c->u->vin, 17, 3};
        return strlen(c->u->vin) == 17;
    case 0x04:
        *out = (struct info){pid, calibration, CAL_LEN, 0};
        return true;
    case 0x06:
        *out = (struct info){pid, verification, sizeof verification, 0};
        return true;
    case 0x0A:
        *out = (struct info){pid, name, NAME_LEN, 0};
        return c->can; /* came with CAN */
    default:
        return false;
    }
}

static size_t messages_of(const struct info *i)
{
    return (i->front_pad + i->len) / 4;
}

static void put_mask(const struct oxl_ecu_case *c, struct oxl_ecu_answer *a)
{
    uint8_t mask[4] = {0};
    struct info i;
    for (uint8_t pid = 2; pid <= 0x0A; pid = (uint8_t)(pid + 2)) {
        if (!info_of(c, pid, &i))
            continue;
        oxl_ecu_mask_bit(mask, 0, pid);
        if (!c->can) /* the odd PID before it tells how many messages it takes */
            oxl_ecu_mask_bit(mask, 0, pid - 1U);
    }
    const uint8_t head[] = {0x49, 0x00, 0x01};
    oxl_ecu_put(a, head, c->can ? 2 : 3);
    oxl_ecu_put(a, mask, sizeof mask);
}

static size_t numbered(const struct info *i, struct oxl_ecu_answer *out, size_t max)
{
    uint8_t padded[32] = {0};
    memcpy(padded + i->front_pad, i->bytes, i->len);
    const uint32_t ecu = out[0].ecu;
    size_t n = messages_of(i) < max ? messages_of(i) : max;
    for (size_t m = 0; m < n; m++) {
        const uint8_t head[] = {0x49, i->pid, (uint8_t)(m + 1)};
        out[m] = (struct oxl_ecu_answer){.ecu = ecu};
        oxl_ecu_put(&out[m], head, sizeof head);
        oxl_ecu_put(&out[m], padded + 4 * m, 4);
    }
    return n;
}

static size_t message_count(const struct oxl_ecu_case *c, uint8_t pid, struct oxl_ecu_answer *a)
{
    struct info i;
    if (c->can || !info_of(c, (uint8_t)(pid + 1), &i))
        return 0;
    const uint8_t count[] = {0x49, pid, (uint8_t)messages_of(&i)};
    return oxl_ecu_put(a, count, sizeof count);
}

size_t oxl_ecu_service_09(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                          struct oxl_ecu_answer *out, size_t max)
{
    struct info i;
    if (len != 2)
        return 0;
    if (req[1] == 0x00) {
        put_mask(c, out);
        return 1;
    }
    if (req[1] % 2 == 1)
        return message_count(c, req[1], out);
    if (!info_of(c, req[1], &i))
        return 0;
    if (!c->can)
        return numbered(&i, out, max);
    const uint8_t head[] = {0x49, req[1], 0x01};
    oxl_ecu_put(out, head, sizeof head);
    oxl_ecu_put(out, i.bytes, i.len);
    return 1;
}
