#include "sim/ecu.h"

#include <math.h>
#include <string.h>

bool oxl_ecu_put(struct oxl_ecu_answer *a, const uint8_t *bytes, size_t n)
{
    if (n > sizeof a->data - a->len)
        return false;
    memcpy(a->data + a->len, bytes, n);
    a->len += n;
    return true;
}

void oxl_ecu_put_record(struct oxl_ecu_answer *a, uint8_t service, const uint8_t *record, size_t n)
{
    const uint8_t reply = (uint8_t)(service + 0x40);
    if (n > 0 && a->len == 0)
        oxl_ecu_put(a, &reply, 1);
    oxl_ecu_put(a, record, n);
}

void oxl_ecu_word(uint8_t out[2], unsigned n)
{
    out[0] = (uint8_t)(n >> 8);
    out[1] = (uint8_t)n;
}

void oxl_ecu_mask_bit(uint8_t mask[4], unsigned base, unsigned number)
{
    if (number <= base || number > base + 32)
        return;
    unsigned n = number - base - 1;
    mask[n / 8] = (uint8_t)(mask[n / 8] | (0x80U >> (n % 8)));
}

static struct oxl_ecu_answer *start(struct oxl_ecu_answer *a, uint32_t ecu)
{
    *a = (struct oxl_ecu_answer){.ecu = ecu};
    return a;
}

static size_t engine_answers(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                             struct oxl_ecu_answer *out, size_t max)
{
    static const uint8_t refusal[] = {0x7F, 0x04, 0x22};
    switch (req[0]) {
    case 0x01:
        oxl_ecu_service_01(c, req, len, out);
        return out->len > 0;
    case 0x02:
        oxl_ecu_service_02(c, req, len, out);
        return out->len > 0;
    case 0x03:
    case 0x07:
    case 0x0A:
        return len == 1 ? oxl_ecu_service_dtcs(c, req[0], out, max) : 0;
    case 0x04:
        /* Clearing is refused with "conditions not correct", always: this program never asks,
         * and a simulated vehicle must not lose its codes to a slip. */
        return oxl_ecu_put(out, refusal, sizeof refusal);
    case 0x05:
        return oxl_ecu_service_05(c, req, len, out);
    case 0x06:
        return oxl_ecu_service_06(c, req, len, out, max);
    case 0x09:
        return oxl_ecu_service_09(c, req, len, out, max);
    default:
        /* ISO 15031-5: an ECU that does not know a functionally addressed request is silent. */
        return 0;
    }
}

/* A second emission ECU that knows only its monitor status and the vehicle speed. */
static size_t second_pid(const struct oxl_ecu_case *c, uint8_t pid, uint8_t out[4])
{
    memset(out, 0, 4);
    if (pid == 0x00) {
        oxl_ecu_mask_bit(out, 0, 0x01);
        oxl_ecu_mask_bit(out, 0, 0x0D);
        return 4;
    }
    if (pid == 0x01) {
        /* comprehensive components only, complete */
        size_t codes = oxl_ecu_dtcs(c->u->second_stored, (uint16_t[OXL_ECU_DTCS]){0});
        out[0] = (uint8_t)((codes ? 0x80 : 0) | codes);
        out[1] = 0x04;
        return 4;
    }
    return pid == 0x0D ? oxl_ecu_pid(c, pid, out) : 0;
}

static void second_codes(const struct oxl_ecu_case *c, struct oxl_ecu_answer *a)
{
    uint16_t codes[OXL_ECU_DTCS];
    size_t n = oxl_ecu_dtcs(c->u->second_stored, codes);
    oxl_ecu_put_dtcs(c, 0x03, codes, n, a, 1);
}

/* Its name is all that it says of itself, and only on CAN. */
static void second_info(const struct oxl_ecu_case *c, uint8_t pid, struct oxl_ecu_answer *a)
{
    static const uint8_t mask[] = {0x49, 0x00, 0x00, 0x40, 0x00, 0x00};
    static const uint8_t name[23] = {0x49, 0x0A, 0x01, 'T', 'C', 'M', 0,   '-', 'S', 'i', 'm',
                                     'u',  'l',  'a',  't', 'e', 'd', 'G', 'e', 'a', 'r'};
    if (c->can && pid == 0x00)
        oxl_ecu_put(a, mask, sizeof mask);
    else if (c->can && pid == 0x0A)
        oxl_ecu_put(a, name, sizeof name);
}

static void second_answer(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                          struct oxl_ecu_answer *a)
{
    if (req[0] == 0x03 && len == 1) {
        second_codes(c, a);
        return;
    }
    if (req[0] == 0x09 && len == 2) {
        second_info(c, req[1], a);
        return;
    }
    if (req[0] != 0x01 || len < 2 || len > 7 || (len > 2 && !(c->can && c->u->multi_pid)))
        return;
    for (size_t i = 1; i < len; i++) {
        uint8_t record[5] = {req[i]};
        size_t n = second_pid(c, req[i], record + 1);
        oxl_ecu_put_record(a, 0x01, record, n ? n + 1 : 0);
    }
}

/* What the twin says: nothing that the engine's own ECU would say at the same time. */
static void say_instead(double *value, double other)
{
    if (!isnan(*value))
        *value = other;
}

static void stranger(struct oxl_readout *r)
{
    for (int b = 0; b < OXL_SIM_BANKS; b++) {
        say_instead(&r->stft_pct[b], 20);
        say_instead(&r->ltft_pct[b], 20);
        say_instead(&r->front_v[b], 0.1);
        say_instead(&r->rear_v[b], 0.1);
        say_instead(&r->front_lambda[b], 1.3);
        say_instead(&r->rear_lambda[b], 1.3);
    }
    r->rpm = 4000;
    r->air_g_s = 40;
}

size_t oxl_ecu_answers(const struct oxl_ecu_settings *u, const struct oxl_readout *r, bool can,
                       const uint8_t *req, size_t len, struct oxl_ecu_answer *out, size_t max)
{
    if (!u->answers || len == 0 || max == 0)
        return 0;
    const struct oxl_ecu_case c = {u, r, can};
    size_t n = engine_answers(&c, req, len, start(out, can ? 0x7E8 : 0x10), max);
    if (u->twin_ecu && n < max) {
        struct oxl_readout other = *r;
        stranger(&other);
        const struct oxl_ecu_case twin = {u, &other, can};
        n += engine_answers(&twin, req, len, start(out + n, can ? 0x7E9 : 0x18), max - n);
    } else if (u->second_ecu && n < max) {
        second_answer(&c, req, len, start(out + n, can ? 0x7E9 : 0x18));
        n += out[n].len > 0;
    }
    return n;
}
