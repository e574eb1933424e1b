#include "safe_request.h"

#include <stdint.h>
#include <string.h>

enum { ANY = 255 };

/* Requests that change something, and the lengths (bytes, service byte included) at which a unit
 * might accept them. Those of ISO 14229-1 and ISO 14230-3 are from memory; no edition was at
 * hand. A length that no edition allows is refused by every unit (negative response 13 or 12),
 * so it is no danger. */
static const struct {
    uint8_t service, least, most;
} changing[] = {
    {0x04, 1, ANY}, /* SAE J1979 / ISO 15031-5: clear codes; data behind it may be ignored */
    {0x08, 1, ANY}, /* SAE J1979 / ISO 15031-5: control of on-board systems */
    {0x11, 2, 2},   /* ECUReset: one byte (kind of reset) in both standards */
    {0x14, 3, 5},   /* clear codes: a group of 2 bytes (14230-3) or 3 (14229-1), since 2020
                       with a memory selection */
    {0x28, 2, ANY}, /* communication control: a unit that falls silent */
    {0x2E, 4, ANY}, /* write data by (common) identifier: 2 bytes and at least one of data */
    {0x2F, 4, ANY}, /* input output control by (common) identifier: 2 bytes and the parameter */
    {0x30, 3, ANY}, /* 14230-3: input output control by local identifier */
    {0x31, 2, ANY}, /* 14230-3: start routine by local identifier; 14229-1: at least 4 */
    {0x32, 2, ANY}, /* 14230-3: stop routine by local identifier */
    {0x38, 4, ANY}, /* 14230-3: start routine by address, 3 bytes */
    {0x39, 4, ANY}, /* 14230-3: stop routine by address */
    {0x3B, 3, ANY}, /* 14230-3: write data by local identifier */
    {0x3D, 5, ANY}, /* write memory by address: 14229-1 at least a format, address, size, data */
    {0x85, 2, ANY}, /* control DTC setting: codes are no longer stored */
};

/* bytes 0: of some length. */
static bool is_change(unsigned service, size_t bytes)
{
    for (size_t i = 0; i < sizeof changing / sizeof changing[0]; i++)
        if (changing[i].service == service)
            return !bytes || (bytes >= changing[i].least &&
                              (changing[i].most == ANY || bytes <= changing[i].most));
    return false;
}

static int digit_of(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'A' && c <= 'F')
        return c - 'A' + 10;
    return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

/* Adapters leave spaces, NULs and controls out (common practice, no source), and so may one do
 * with a byte that is no ASCII; another refuses the line for it, which is no danger. */
static bool is_ignored(char c)
{
    unsigned char u = (unsigned char)c;
    return u <= ' ' || u >= 0x7F;
}

/* Pairs of digits are bytes, an odd one at the end is the number of replies; any other character
 * makes the line a command or none at all. */
bool oxl_request_changes(const char *text, size_t n)
{
    unsigned service = 0;
    size_t digits = 0;
    for (size_t i = 0; i < n; i++) {
        if (is_ignored(text[i]))
            continue;
        int digit = digit_of(text[i]);
        if (digit < 0)
            return false;
        if (digits < 2)
            service = service * 16 + (unsigned)digit;
        if (++digits == 2 && !is_change(service, 0))
            return false;
    }
    return digits >= 2 && is_change(service, digits / 2);
}

/* ---- damage ---- */

/* `cut` characters at `at` are replaced by `with` (fill characters of them). */
static bool changes_with(const char *text, size_t n, size_t at, size_t cut, char with, size_t fill)
{
    char damaged[OXL_SAFE_TEXT + 2];
    memcpy(damaged, text, at);
    memset(damaged + at, with, fill);
    memcpy(damaged + at + fill, text + at + cut, n - at - cut);
    return oxl_request_changes(damaged, n - cut + fill);
}

static bool any_bit_changes(const char *text, size_t n, size_t at)
{
    for (unsigned bit = 0; bit < 8; bit++) {
        char flipped = (char)((unsigned char)text[at] ^ 1U << bit);
        if (changes_with(text, n, at, 1, flipped, 1))
            return true;
    }
    return false;
}

static bool stands_at(const char *text, size_t n, size_t at, enum oxl_threat threat)
{
    if (changes_with(text, n, at, 1, 0, 0) || changes_with(text, n, at, 1, text[at], 2))
        return false;
    if (threat >= OXL_THREAT_BIT && any_bit_changes(text, n, at))
        return false;
    return threat < OXL_THREAT_NEIGHBOURS || at + 1 >= n || !changes_with(text, n, at, 2, 0, 0);
}

/* Behind the first two digits damage alters neither the service nor, where the service changes
 * nothing, anything that matters. */
bool oxl_request_stands(const char *text, enum oxl_threat threat)
{
    size_t n = strlen(text), digits = 0;
    if (n > OXL_SAFE_TEXT || oxl_request_changes(text, n))
        return false;
    for (size_t i = 0; i < n && digits < 2; i++) {
        if (!stands_at(text, n, i, threat))
            return false;
        digits += !is_ignored(text[i]);
    }
    return true;
}

bool oxl_request_tails_stand(const char *text)
{
    size_t n = strlen(text);
    for (size_t i = 1; i < n; i++)
        if (oxl_request_changes(text + i, n - i))
            return false;
    return true;
}
