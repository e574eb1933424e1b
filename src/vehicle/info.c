/* Service 09: what an ECU says of itself. */
#include "oxylag/onboard.h"

#include <string.h>

enum {
    REPLY = 0x49,
    PART = 4, /* bytes in a numbered message of K-line and J1850 */
    CALIBRATION = 16,
    VERIFICATION = 4,
    ACRONYM = 4,
    NAME = 20
};

/* CAN: 49, PID, number of pieces, all of them. */
static bool whole(const struct oxl_message *m, struct oxl_info *info)
{
    size_t n = m->len - 3;
    if (n > OXL_INFO_BYTES)
        n = OXL_INFO_BYTES;
    memcpy(info->bytes, m->data + 3, n);
    info->len = n;
    return n > 0;
}

/* Elsewhere: 49, PID, number of the message from 1, four bytes. */
static bool part(const struct oxl_message *m, struct oxl_info *info)
{
    unsigned at = m->data[2];
    if (m->len != 3 + PART || at < 1 || at > OXL_INFO_BYTES / PART)
        return false;
    memcpy(info->bytes + (at - 1) * (size_t)PART, m->data + 3, PART);
    info->parts |= UINT32_C(1) << (at - 1);
    info->len = 0;
    while (info->len < OXL_INFO_BYTES && (info->parts >> info->len / PART & 1))
        info->len += PART;
    return true;
}

bool oxl_decode_info(const struct oxl_message *m, bool can, uint8_t pid, struct oxl_info *info)
{
    if (m->len < 4 || m->data[0] != REPLY || m->data[1] != pid || m->bad_checksum)
        return false;
    return can ? whole(m, info) : part(m, info);
}

/* Printable characters only; fill bytes are left out, wherever they stand. */
static size_t text(const uint8_t *b, size_t n, char *out)
{
    size_t len = 0;
    for (size_t i = 0; i < n; i++)
        if (b[i] != 0x00 && b[i] != 0xFF)
            out[len++] = b[i] >= 0x20 && b[i] < 0x7F ? (char)b[i] : '?';
    while (len && out[len - 1] == ' ')
        len--;
    out[len] = '\0';
    return len;
}

size_t oxl_info_calibrations(const struct oxl_info *i, char out[OXL_MAX_CALIBRATIONS][17])
{
    size_t n = 0;
    for (size_t at = 0; at + CALIBRATION <= i->len && n < OXL_MAX_CALIBRATIONS; at += CALIBRATION)
        n += text(i->bytes + at, CALIBRATION, out[n]) > 0;
    return n;
}

size_t oxl_info_verifications(const struct oxl_info *i, uint32_t out[OXL_MAX_CALIBRATIONS])
{
    size_t n = 0;
    for (size_t at = 0; at + VERIFICATION <= i->len && n < OXL_MAX_CALIBRATIONS;
         at += VERIFICATION) {
        const uint8_t *b = i->bytes + at;
        out[n++] = (uint32_t)b[0] << 24 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 8 | b[3];
    }
    return n;
}

/* Four characters of acronym, filled up with 00, then a dash and the name. */
void oxl_info_name(const struct oxl_info *i, char out[24])
{
    size_t n = i->len < NAME ? i->len : NAME;
    size_t head = text(i->bytes, n < ACRONYM ? n : ACRONYM, out);
    if (n > ACRONYM)
        text(i->bytes + ACRONYM, n - ACRONYM, out + head);
}
