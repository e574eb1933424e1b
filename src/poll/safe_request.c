#include "safe_request.h"

#include <stdint.h>
#include <string.h>

enum { ANY = 255 };

/* Requests that change something, by service, and the lengths (bytes, service byte included) at
 * which an ECU might accept them; 0 for all others. Those of ISO 14229-1 and ISO 14230-3 are from
 * memory; no edition was at hand. A length that no edition allows is refused by every ECU
 * (negative response 13 or 12), so it is no danger. */
static const struct {
    uint8_t least, most;
} changing[256] = {
    [0x04] = {1, ANY}, /* SAE J1979 / ISO 15031-5: clear trouble codes; more may be ignored */
    [0x08] = {1, ANY}, /* SAE J1979 / ISO 15031-5: control of on-board systems */
    [0x11] = {2, 2},   /* ECUReset: one byte (kind of reset) in both standards */
    [0x14] = {3, 5}, /* clear trouble codes: a group of 2 bytes (14230-3) or 3 (14229-1), since 2020
                        with a memory selection */
    [0x28] = {2, ANY}, /* communication control: an ECU that falls silent */
    [0x2E] = {4, ANY}, /* write data by (common) identifier: 2 bytes and at least one of data */
    [0x2F] = {4, ANY}, /* input output control by (common) identifier: 2 bytes, the parameter */
    [0x30] = {3, ANY}, /* 14230-3: input output control by local identifier */
    [0x31] = {2, ANY}, /* 14230-3: start routine by local identifier; 14229-1: at least 4 */
    [0x32] = {2, ANY}, /* 14230-3: stop routine by local identifier */
    [0x38] = {4, ANY}, /* 14230-3: start routine by address, 3 bytes */
    [0x39] = {4, ANY}, /* 14230-3: stop routine by address */
    [0x3B] = {3, ANY}, /* 14230-3: write data by local identifier */
    [0x3D] = {5, ANY}, /* write memory by address: a format, address, size and data */
    [0x85] = {2, ANY}, /* control DTC setting: trouble codes are no longer stored */
};

/* What two first digits and their number make; -1 for a digit that is not there. */
static bool is_change(int high, int low, size_t digits)
{
    if (high < 0 || low < 0)
        return false;
    unsigned service = (unsigned)(high * 16 + low);
    size_t bytes = digits / 2;
    return changing[service].least && bytes >= changing[service].least &&
           (changing[service].most == ANY || bytes <= changing[service].most);
}

static int digit_of(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'A' && c <= 'F')
        return c - 'A' + 10;
    return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

/* ---- damage to a text of digits ---- */

/* The digit at a place; -1 behind the end. */
static int digit_at(const char *text, size_t n, size_t at)
{
    return at < n ? digit_of(text[at]) : -1;
}

/* A wrong bit makes another digit, or something that is left out (a loss), or no request. */
static bool any_bit_changes(const char *text, size_t n, size_t at)
{
    for (unsigned bit = 0; bit < 8; bit++) {
        int digit = digit_of((char)((unsigned char)text[at] ^ 1U << bit));
        int high = at == 0 ? digit : digit_at(text, n, 0);
        int low = at == 1 ? digit : digit_at(text, n, 1);
        if (is_change(high, low, n))
            return true;
    }
    return false;
}

/* The service is in the first two digits: only what happens to them, or puts others in their
 * place, makes another; and a service that changes nothing does so at any length. */
bool oxl_request_stands(const char *text, enum oxl_threat threat)
{
    size_t n = strlen(text);
    int d[4];
    for (size_t i = 0; i < 4; i++)
        d[i] = digit_at(text, n, i);
    if (d[0] < 0 || d[1] < 0)
        return false; /* no request */
    bool lost = is_change(d[1], d[2], n - 1) || is_change(d[0], d[2], n - 1);
    bool doubled = is_change(d[0], d[0], n + 1);
    bool two_lost = is_change(d[2], d[3], n - 2) || is_change(d[0], d[3], n - 2);
    if (changing[d[0] * 16 + d[1]].least || lost || doubled)
        return false;
    if (threat >= OXL_THREAT_BIT && (any_bit_changes(text, n, 0) || any_bit_changes(text, n, 1)))
        return false;
    return threat < OXL_THREAT_NEIGHBOURS || !two_lost;
}

bool oxl_request_tails_stand(const char *text)
{
    size_t n = strlen(text);
    for (size_t i = 1; i + 1 < n; i++)
        if (is_change(digit_of(text[i]), digit_of(text[i + 1]), n - i))
            return false;
    return true;
}
