#include "wire/frame.h"

#include "wire/hex.h"

enum { TESTER = 0xF1 }; /* address of the external test equipment, ISO 15765-4, ISO 14230-4 */

uint8_t oxl_checksum_sum(const uint8_t *p, size_t n)
{
    unsigned sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += p[i];
    return (uint8_t)sum;
}

uint8_t oxl_checksum_j1850(const uint8_t *p, size_t n)
{
    unsigned crc = 0xFF;
    for (size_t i = 0; i < n; i++) {
        crc ^= p[i];
        for (int bit = 0; bit < 8; bit++)
            crc = crc & 0x80 ? (crc << 1 ^ 0x1D) & 0xFF : crc << 1;
    }
    return (uint8_t)~crc;
}

/* ---- CAN, ISO 15765-4 ----------------------------------------------------------------------- */

/* id_digits hex digits of identifier and 1..8 bytes. */
static void read_can(const char *s, size_t digits, size_t id_digits, struct oxl_frame *f)
{
    if (digits < id_digits + 2 || digits > id_digits + 16 || (digits - id_digits) % 2 != 0)
        return;
    f->ecu = oxl_hex_value(s, id_digits);
    f->len = (digits - id_digits) / 2;
    oxl_hex_bytes(s + id_digits, f->len, f->bytes);
    bool answer =
        id_digits == 3 ? f->ecu >= 0x7E8 && f->ecu <= 0x7EF : f->ecu >> 8 == (0x18DA00 | TESTER);
    /* An identifier of 11 or 29 bits cannot be larger: then the line is something else. */
    if (f->ecu > (id_digits == 3 ? 0x7FFU : 0x1FFFFFFFU))
        return;
    f->kind = answer ? OXL_FRAME_CAN : OXL_FRAME_OTHER;
}

/* ---- K-line and J1850 ----------------------------------------------------------------------- */

static void take_whole(struct oxl_frame *f, size_t header, size_t total, uint8_t checksum)
{
    f->kind = OXL_FRAME_WHOLE;
    f->ecu = f->bytes[2];
    f->at = header;
    f->len = total - header - 1;
    f->bad_checksum = checksum != f->bytes[total - 1];
}

/* ISO 9141-2 and SAE J1850 (SAE J1979 header bytes): answers 48 6B addr, on PWM 41 6B addr;
 * requests 68 6A or 61 6A. At most 7 data bytes. */
static void read_three_byte_header(size_t n, bool j1850, struct oxl_frame *f)
{
    const uint8_t *b = f->bytes;
    if (n < 5 || n > 11)
        return;
    uint8_t checksum = j1850 ? oxl_checksum_j1850(b, n - 1) : oxl_checksum_sum(b, n - 1);
    if (b[1] == 0x6B && (b[0] == 0x48 || (j1850 && b[0] == 0x41)))
        take_whole(f, 3, n, checksum);
    else if (b[1] == 0x6A && (b[0] == 0x68 || (j1850 && b[0] == 0x61)))
        f->kind = OXL_FRAME_OTHER;
}

/* ISO 14230-2 clause on the header: format byte (two bits of mode, six of length), target,
 * source, and a length byte when the six bits are 0. ISO 14230-4 always sends the addresses. */
static void read_kwp(size_t n, struct oxl_frame *f)
{
    const uint8_t *b = f->bytes;
    if (n < 5 || (b[0] & 0x80) == 0)
        return;
    size_t header = 3;
    size_t len = b[0] & 0x3F;
    if (len == 0) {
        len = b[3];
        header = 4;
    }
    if (b[1] != TESTER)
        f->kind = OXL_FRAME_OTHER;
    else if (len == 0 || header + len + 1 != n)
        f->kind = OXL_FRAME_LENGTH;
    else
        take_whole(f, header, n, oxl_checksum_sum(b, n - 1));
}

/* ---- any ------------------------------------------------------------------------------------ */

static void read_bus(enum oxl_protocol p, const char *s, size_t digits, struct oxl_frame *f)
{
    size_t n = digits / 2;
    if (digits % 2 != 0 || n > OXL_FRAME_MAX)
        return;
    oxl_hex_bytes(s, n, f->bytes);
    if (p == OXL_PROTO_KWP_SLOW || p == OXL_PROTO_KWP_FAST)
        read_kwp(n, f);
    else
        read_three_byte_header(n, p == OXL_PROTO_J1850_PWM || p == OXL_PROTO_J1850_VPW, f);
}

static void reset(struct oxl_frame *f)
{
    f->kind = OXL_FRAME_NONE;
    f->at = f->len = 0;
    f->bad_checksum = false;
}

/* Without a known protocol only answers count, and on K-line and J1850 only with a right
 * checksum. An 11-bit identifier gives an odd number of digits, which no other shape does. */
static void read_by_shape(const char *s, size_t digits, struct oxl_frame *f)
{
    static const enum oxl_protocol buses[] = {OXL_PROTO_KWP_FAST, OXL_PROTO_ISO9141,
                                              OXL_PROTO_J1850_VPW};
    read_can(s, digits, digits % 2 != 0 ? 3 : 8, f);
    if (f->kind == OXL_FRAME_CAN)
        return;
    for (size_t i = 0; i < sizeof buses / sizeof *buses; i++) {
        reset(f);
        read_bus(buses[i], s, digits, f);
        if (f->kind == OXL_FRAME_WHOLE && !f->bad_checksum)
            return;
    }
    reset(f);
}

void oxl_frame_read(enum oxl_protocol p, const char *s, size_t digits, struct oxl_frame *f)
{
    reset(f);
    f->ecu = 0;
    if (p == OXL_PROTO_UNKNOWN)
        read_by_shape(s, digits, f);
    else if (oxl_protocol_is_can(p))
        read_can(s, digits, oxl_protocol_is_can29(p) ? 8 : 3, f);
    else
        read_bus(p, s, digits, f);
}
