/* Vehicles that do not say what they have: support masks that name too much or too little, and a
 * switching rear sensor that is reported as a wide-range one. */
#include "sim/ecu.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* "25 34": two hexadecimal digits each. How many of them lie in the range. */
static unsigned listed(const char *pids, unsigned first, unsigned last)
{
    unsigned found = 0;
    for (char *end; *pids; pids = end) {
        unsigned long n = strtoul(pids, &end, 16);
        if (end == pids)
            break;
        found += n >= first && n <= last;
    }
    return found;
}

bool oxl_ecu_announces(const struct oxl_ecu_settings *u, uint8_t pid, bool is_there)
{
    return (is_there || listed(u->announces, pid, pid)) && !listed(u->hides, pid, pid);
}

bool oxl_ecu_has_mask(const struct oxl_ecu_settings *u, unsigned base)
{
    return base % 32 == 0 && (base <= 0x40 || listed(u->announces, base + 1, 0xFF));
}

bool oxl_ecu_mutes(const struct oxl_ecu_settings *u, uint8_t pid)
{
    return listed(u->mutes, pid, pid);
}

/* The lambda never moves. The volts are the sensor's own (dummy-volts), or stand still as well,
 * beside a switching PID that lives (dummy-beside). */
size_t oxl_ecu_dummy_wide(const struct oxl_ecu_case *c, unsigned slot, uint8_t out[4])
{
    int bank, sensor;
    if (!oxl_ecu_place(c, slot, &bank, &sensor) || sensor != 1 ||
        strncmp(c->u->rear, "dummy", 5) != 0)
        return 0;
    bool live = strcmp(c->u->rear, "dummy-volts") == 0;
    unsigned lambda = (unsigned)lround(c->u->dummy_lambda * 32768);
    unsigned volts = live ? (unsigned)lround(c->r->rear_v[bank] * 8192) : 0;
    oxl_ecu_word(out, lambda);
    oxl_ecu_word(out + 2, volts);
    return 4;
}
