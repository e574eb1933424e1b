#include "oxylag/vehicle.h"

#include <string.h>

enum { LETTERS = 17, PARTS = 5, ALL_PARTS = (1 << PARTS) - 1 };

/* Digits and capitals without I, O and Q (ISO 3779). */
static bool is_legal(uint8_t c)
{
    return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z' && c != 'I' && c != 'O' && c != 'Q');
}

static bool all_legal(const uint8_t *c, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (!is_legal(c[i]))
            return false;
    return true;
}

static bool is_fill(uint8_t c)
{
    return c == 0x00 || c == 0xFF;
}

/* CAN: 49 02 01 and 17 characters in one message; some ECUs fill up with 00 or FF. */
static bool whole_vin(const uint8_t *c, size_t n, char out[18])
{
    while (n && is_fill(c[0]))
        c++, n--;
    while (n && is_fill(c[n - 1]))
        n--;
    if (n != LETTERS || !all_legal(c, n))
        return false;
    memcpy(out, c, LETTERS);
    out[LETTERS] = '\0';
    return true;
}

/* K-line: part 1 is three fill bytes and the first character, parts 2-5 hold four each. Until all
 * are there the text must read as empty, so the first character waits in the last place. */
static bool part_of_vin(unsigned part, const uint8_t c[4], char out[18], unsigned *have)
{
    if (part == 1) {
        if (!is_fill(c[0]) || !is_fill(c[1]) || !is_fill(c[2]) || !is_legal(c[3]))
            return false;
        out[LETTERS] = (char)c[3];
    } else {
        if (!all_legal(c, 4))
            return false;
        memcpy(out + 1 + (size_t)4 * (part - 2), c, 4);
    }
    *have |= 1u << (part - 1);
    if (*have != ALL_PARTS)
        return false;
    out[0] = out[LETTERS];
    out[LETTERS] = '\0';
    return true;
}

bool oxl_decode_vin(const struct oxl_message *m, bool can, char out[18], unsigned *have)
{
    if (m->len < 3 || m->data[0] != 0x49 || m->data[1] != 0x02 || m->bad_checksum)
        return false;
    if (can) {
        if (!whole_vin(m->data + 3, m->len - 3, out))
            return false;
        *have = ALL_PARTS;
        return true;
    }
    if (*have == ALL_PARTS)
        return true;
    if (*have == 0)
        memset(out, 0, LETTERS + 1);
    unsigned part = m->data[2];
    if (m->len != 7 || part < 1 || part > PARTS)
        return false;
    return part_of_vin(part, m->data + 3, out, have);
}

/* 49 CFR 565.15(c), table III: A-H 1-8, J-N 1-5, P 7, R 9, S-Z 2-9. */
static unsigned letter_value(char c)
{
    static const char values[] = "12345678.12345.7.923456789";
    return c <= '9' ? (unsigned)(c - '0') : (unsigned)(values[c - 'A'] - '0');
}

bool oxl_vin_check_digit(const char vin[18])
{
    static const uint8_t weights[LETTERS] = {8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2};
    unsigned sum = 0;
    for (unsigned i = 0; i < LETTERS; i++) {
        if (!is_legal((uint8_t)vin[i]))
            return false;
        sum += weights[i] * letter_value(vin[i]);
    }
    if (vin[LETTERS] != '\0')
        return false;
    return vin[8] == "0123456789X"[sum % 11];
}
