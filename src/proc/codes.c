/* Stored codes that bear on this test, by family (SAE J2012 groups). A code is evidence with a
 * direction like any other: a slow front makes the time short, a faulty rear long, a misfire both.
 * The efficiency codes 042x and 043x are why one tests. */
#include "proc.h"

#include <string.h>

#include "oxylag/onboard.h"

#define NO_REASON OXL_R_COUNT
static const char deal[] = "Deal with sensor, metering, misfire and trim codes first.";
static const char misfire[] = "Repair the misfire first: no verdict stands with it; mind the heat.";

static const struct code_row {
    uint16_t first, last;
    unsigned bank; /* 0: of both */
    enum oxl_reason reason;
    const char *advice;
} rows[] = {
    {0x0100, 0x010F, 0, NO_REASON, deal}, /* air metering */
    {0x0110, 0x011F, 0, NO_REASON, deal}, /* intake and coolant temperature */
    {0x0125, 0x0128, 0, NO_REASON, "Too cool for closed loop, or the thermostat: look at that."},
    {0x0133, 0x0133, 1, OXL_R_FRONT_SLOW,
     "The unit itself found the front sensor slow: see to it."},
    {0x0153, 0x0153, 2, OXL_R_FRONT_SLOW,
     "The unit itself found the front sensor slow: see to it."},
    {0x0139, 0x0139, 1, OXL_R_REAR_SLOW, "The unit itself found the rear sensor slow: see to it."},
    {0x0159, 0x0159, 2, OXL_R_REAR_SLOW, "The unit itself found the rear sensor slow: see to it."},
    {0x0130, 0x016F, 0, NO_REASON, deal}, /* other sensor and heater codes */
    {0x0170, 0x0175, 0, NO_REASON, deal}, /* fuel trim */
    {0x0410, 0x041F, 0, NO_REASON, "See to the secondary air: its pump may run all the time."},
    {0x0440, 0x044F, 0, NO_REASON, "Purge may feed vapour: clamp its hose for the test."},
    {0x2195, 0x2198, 0, NO_REASON, "A front sensor is stuck on one side: see to it."},
    {0x2270, 0x2273, 0, NO_REASON, "A rear sensor is stuck on one side: prove it by a fuel cut."},
};

/* The codes at which an inspection says stop (src/vehicle/dtc_table.c) are a stop here, too.
 * Misfire leaves no verdict; swapped sensors are judged by what they show (banks.c, patterns.c). */
static struct oxl_dtc_meaning forbidden(const struct oxl_dtc_family *f)
{
    bool misfires = strcmp(f->id, "misfire") == 0;
    return (struct oxl_dtc_meaning){OXL_GRADE_STOP, true, misfires ? OXL_R_MISFIRE : NO_REASON,
                                    misfires ? misfire : f->next};
}

struct oxl_dtc_meaning oxl_dtc_meaning(uint16_t code, unsigned bank)
{
    const struct oxl_dtc_family *f = oxl_dtc_family(code);
    if (f->weight == OXL_DTC_FORBIDS)
        return forbidden(f);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (code >= rows[i].first && code <= rows[i].last) {
            bool own = rows[i].bank == 0 || rows[i].bank == bank;
            return (struct oxl_dtc_meaning){OXL_GRADE_CAUTION, true,
                                            own ? rows[i].reason : NO_REASON, rows[i].advice};
        }
    return (struct oxl_dtc_meaning){OXL_GRADE_PASS, false, NO_REASON, ""};
}
