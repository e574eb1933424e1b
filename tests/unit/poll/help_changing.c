#include "help_changing.h"

#include <string.h>

/* Service and, behind it, the payload lengths in bytes that an ECU might take ('-': up to any). */
static const char *const obeyed[] = {
    "04 1-", "08 1-", "11 2",  "14 345", "28 2-", "2E 4-", "2F 4-", "30 3-",
    "31 2-", "32 2-", "38 4-", "39 4-",  "3B 3-", "3D 5-", "85 2-",
};

static bool unit_obeys(const char *digits)
{
    size_t bytes = strlen(digits) / 2;
    for (size_t i = 0; i < sizeof obeyed / sizeof *obeyed; i++) {
        if (bytes == 0 || strncmp(obeyed[i], digits, 2) != 0)
            continue;
        for (const char *c = obeyed[i] + 3; *c; c++)
            if ((size_t)(*c - '0') == bytes || (c[1] == '-' && bytes >= (size_t)(*c - '0')))
                return true;
    }
    return false;
}

/* Lower case is taken; controls, blanks and bytes that are no ASCII are left out. */
bool line_changes(const char *line, size_t n)
{
    char digits[200] = "";
    size_t at = 0;
    for (size_t i = 0; i < n; i++) {
        unsigned char c = (unsigned char)line[i];
        if (c >= 'a' && c <= 'f')
            c = (unsigned char)(c - 32);
        if ((c >= '0' && c <= '9') || (c >= 'A' && c <= 'F'))
            digits[at++] = (char)c;
        else if (c > ' ' && c < 0x7F)
            return false;
    }
    digits[at] = '\0';
    return unit_obeys(digits);
}
