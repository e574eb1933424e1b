/* Trouble codes (services 03, 07, 0A) and the freeze frame (02). Codes are two bytes:
 * two bits of letter, two of first digit, then three hex digits (ISO 15031-6). */
#include "sim/ecu.h"

#include <ctype.h>
#include <string.h>

#include "oxylag/hex.h"

/* Five characters, "P0420". */
static bool code_of(const char *text, uint16_t *out)
{
    static const char letters[] = "PCBU";
    const char *letter = *text ? strchr(letters, toupper((unsigned char)*text)) : NULL;
    if (!letter)
        return false;
    unsigned n = (unsigned)(letter - letters);
    for (int i = 1; i <= 4; i++) {
        int digit = oxl_hex_digit((char)toupper((unsigned char)text[i]));
        if (digit < 0 || (i == 1 && digit > 3))
            return false;
        n = n << (i == 1 ? 2 : 4) | (unsigned)digit;
    }
    *out = (uint16_t)n;
    return true;
}

size_t oxl_ecu_dtcs(const char *text, uint16_t out[OXL_ECU_DTCS])
{
    static const char between[] = " ,\t";
    size_t n = 0;
    while (*text && n < OXL_ECU_DTCS) {
        text += strspn(text, between);
        size_t word = strcspn(text, between);
        if (word == 5 && code_of(text, &out[n]) && out[n] != 0)
            n++;
        text += word;
    }
    return n;
}

static bool among(const char *text, uint16_t first, uint16_t last)
{
    uint16_t codes[OXL_ECU_DTCS];
    size_t n = oxl_ecu_dtcs(text, codes);
    for (size_t i = 0; i < n; i++)
        if (codes[i] >= first && codes[i] <= last)
            return true;
    return false;
}

bool oxl_ecu_has_dtc(const struct oxl_ecu_settings *u, uint16_t first, uint16_t last)
{
    return among(u->stored, first, last) || among(u->pending, first, last);
}

static void put_code(struct oxl_ecu_answer *a, uint16_t code)
{
    uint8_t two[2];
    oxl_ecu_word(two, code);
    oxl_ecu_put(a, two, sizeof two);
}

/* ISO 15031-5 on CAN: a count byte, then the codes. */
static size_t codes_can(uint8_t reply, const uint16_t *codes, size_t n, struct oxl_ecu_answer *out)
{
    const uint8_t head[] = {reply, (uint8_t)n};
    oxl_ecu_put(out, head, sizeof head);
    for (size_t i = 0; i < n; i++)
        put_code(out, codes[i]);
    return 1;
}

/* K-line and J1850: exactly three codes a message, the rest 0000, no count. */
static size_t codes_kline(uint8_t reply, const uint16_t *codes, size_t n,
                          struct oxl_ecu_answer *out, size_t max)
{
    size_t messages = n == 0 ? 1 : (n + 2) / 3;
    const uint32_t ecu = out[0].ecu;
    if (messages > max)
        messages = max;
    for (size_t m = 0; m < messages; m++) {
        out[m] = (struct oxl_ecu_answer){.ecu = ecu};
        oxl_ecu_put(&out[m], &reply, 1);
        for (size_t i = 3 * m; i < 3 * m + 3; i++)
            put_code(&out[m], i < n ? codes[i] : 0);
    }
    return messages;
}

size_t oxl_ecu_put_dtcs(const struct oxl_ecu_case *c, uint8_t service, const uint16_t *codes,
                        size_t n, struct oxl_ecu_answer *out, size_t max)
{
    uint8_t reply = (uint8_t)(service + 0x40);
    return c->can ? codes_can(reply, codes, n, out) : codes_kline(reply, codes, n, out, max);
}

size_t oxl_ecu_service_dtcs(const struct oxl_ecu_case *c, uint8_t service,
                            struct oxl_ecu_answer *out, size_t max)
{
    /* Permanent codes came with CAN; older vehicles do not know the service. */
    if (service == 0x0A && !c->can)
        return 0;
    const char *text = service == 0x03   ? c->u->stored
                       : service == 0x07 ? c->u->pending
                                         : c->u->permanent;
    uint16_t codes[OXL_ECU_DTCS];
    size_t n = oxl_ecu_dtcs(text, codes);
    if (service == 0x03 && c->r->rich_dtc && n < OXL_ECU_DTCS)
        codes[n++] = c->r->rich_dtc;
    return oxl_ecu_put_dtcs(c, service, codes, n, out, max);
}

/* The freeze frame is invented: a steady 60 km/h at 2000 rpm with warm engine. */
struct freeze_frame_value {
    uint8_t pid, len, data[2];
};
static const struct freeze_frame_value freeze_frame_values[] = {
    {0x03, 2, {0x02, 0x00}}, /* closed loop */
    {0x04, 1, {0x59}},       /* load 34.9 % */
    {0x05, 1, {0x82}},       /* 90 C */
    {0x06, 1, {0x81}},       /* +0.8 % */
    {0x07, 1, {0x83}},       /* +2.3 % */
    {0x0B, 1, {0x2D}},       /* 45 kPa */
    {0x0C, 2, {0x1F, 0x40}}, /* 2000 rpm */
    {0x0D, 1, {0x3C}},       /* 60 km/h */
    {0x10, 2, {0x04, 0xB0}}, /* 12.00 g/s */
};
enum { FREEZE_FRAME_VALUES = sizeof freeze_frame_values / sizeof freeze_frame_values[0] };

/* The frame holds no PID that the vehicle does not have. */
static bool freezes(const struct oxl_ecu_settings *u, const struct freeze_frame_value *f)
{
    return !(f->pid == 0x07 && !u->has_ltft) && !(f->pid == 0x0B && !u->has_map) &&
           !(f->pid == 0x10 && !u->has_air);
}

static size_t freeze_frame_mask(const struct oxl_ecu_settings *u, bool stored, uint8_t out[4])
{
    memset(out, 0, 4);
    oxl_ecu_mask_bit(out, 0, 0x02);
    for (size_t i = 0; stored && i < FREEZE_FRAME_VALUES; i++)
        if (freezes(u, &freeze_frame_values[i]))
            oxl_ecu_mask_bit(out, 0, freeze_frame_values[i].pid);
    return 4;
}

static size_t freeze_frame_pid(const struct oxl_ecu_settings *u, uint8_t pid, uint8_t out[4])
{
    uint16_t codes[OXL_ECU_DTCS];
    size_t n = oxl_ecu_dtcs(u->stored, codes);
    if (pid == 0x00)
        return freeze_frame_mask(u, n > 0, out);
    if (pid == 0x02) { /* the code that stored the frame; 0000 = there is none */
        oxl_ecu_word(out, n > 0 ? codes[0] : 0);
        return 2;
    }
    for (size_t i = 0; n > 0 && i < FREEZE_FRAME_VALUES; i++) {
        const struct freeze_frame_value *f = &freeze_frame_values[i];
        if (f->pid == pid && freezes(u, f)) {
            memcpy(out, f->data, f->len);
            return f->len;
        }
    }
    return 0;
}

void oxl_ecu_service_02(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                        struct oxl_ecu_answer *a)
{
    /* Pairs of PID and frame number: up to three on CAN, one elsewhere. */
    if (len < 3 || len > (c->can ? 7U : 3U) || len % 2 == 0)
        return;
    for (size_t i = 1; i + 1 < len; i += 2) {
        uint8_t record[6] = {req[i], req[i + 1]};
        size_t n = req[i + 1] == 0 ? freeze_frame_pid(c->u, req[i], record + 2) : 0;
        oxl_ecu_put_record(a, 0x02, record, n ? n + 2 : 0);
    }
}
