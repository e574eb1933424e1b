/* The family of a trouble code, and of one that is not in the table. */
#include "dtc_table.h"

#include "oxylag/reason.h"

static const struct oxl_dtc_family families[OXL_FAMILY_COUNT] = {
#define X(id, name, title, weight, reason, whole_engine, effect, next)                             \
    [OXL_FAMILY_##id] = {name, title, OXL_DTC_##weight, OXL_R_##reason, whole_engine, effect, next},
    OXL_FAMILIES(X)
#undef X
};

/* By the first two digits, SAE J2012's division (from memory): what a code that is not in the
 * table may touch. Air, fuel, ignition, emission control: it may disturb the test. */
static bool may_disturb(uint16_t code)
{
    static const uint8_t groups[] = {0x00, 0x01, 0x02, 0x03, 0x04, 0x20, 0x21,
                                     0x22, 0x23, 0x24, 0x26, 0x2A, 0x2B, 0x34};
    unsigned group = code >> 8;
    if (oxl_dtc_is_manufacturers(code))
        return code < 0x4000; /* powertrain */
    for (size_t i = 0; i < sizeof groups; i++)
        if (group == groups[i])
            return true;
    return false;
}

bool oxl_dtc_is_manufacturers(uint16_t code)
{
    unsigned letter = code >> 14, digit = code >> 12 & 3, hundreds = code >> 8 & 0xF;
    const unsigned powertrain = 0;
    if (letter == powertrain) /* P1xxx, P30xx to P33xx; P2xxx is the standard's */
        return digit == 1 || (digit == 3 && hundreds < 4);
    return digit == 1 || digit == 2;
}

const struct oxl_dtc_family *oxl_dtc_family(uint16_t code)
{
    enum oxl_family f = oxl_dtc_listed(code);
    if (f == OXL_FAMILY_COUNT)
        f = may_disturb(code) ? OXL_FAMILY_UNKNOWN : OXL_FAMILY_OTHER;
    return &families[f];
}
