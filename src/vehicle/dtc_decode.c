#include "oxylag/vehicle.h"

#include <stdio.h>
#include <string.h>

void oxl_dtc_text(uint16_t code, char out[6])
{
    snprintf(out, 6, "%c%01X%03X", "PCBU"[code >> 14], code >> 12 & 3U, code & 0xFFFU);
}

static void add_code(uint16_t code, uint16_t *list, size_t *n, size_t max)
{
    if (code == 0)
        return;
    for (size_t i = 0; i < *n; i++)
        if (list[i] == code) /* the same answer once more, after a repeated request */
            return;
    if (*n < max)
        list[(*n)++] = code;
}

const char *const oxl_dtc_kind_names[OXL_DTC_KINDS] = {"stored", "pending", "permanent"};

struct oxl_dtc_list *oxl_dtc_list_of(struct oxl_dtc_list lists[OXL_DTC_KINDS], uint8_t service)
{
    return service == 0x03   ? &lists[OXL_DTC_STORED]
           : service == 0x07 ? &lists[OXL_DTC_PENDING]
           : service == 0x0A ? &lists[OXL_DTC_PERMANENT]
                             : NULL;
}

bool oxl_decode_dtcs(const struct oxl_message *m, bool can, uint16_t *list, size_t *n, size_t max)
{
    if (m->len < 1 || m->bad_checksum)
        return false;
    if (m->data[0] != 0x43 && m->data[0] != 0x47 && m->data[0] != 0x4A)
        return false;
    const uint8_t *codes = m->data + 1;
    size_t bytes = m->len - 1;
    if (can) {
        /* The count and the length must agree: an answer of the other form never passes. */
        if (bytes < 1 || bytes - 1 != 2 * (size_t)codes[0])
            return false;
        codes++;
        bytes--;
    } else if (bytes % 2 || bytes > 6) {
        return false;
    }
    for (size_t i = 0; i + 1 < bytes; i += 2)
        add_code((uint16_t)(codes[i] << 8 | codes[i + 1]), list, n, max);
    return true;
}

/* Where a monitor's "supported" and "not complete" bits stand (SAE J1979 PID 01; bit table as
 * published, the order within bytes C and D agrees with the worded example of ISO 15031-5). Bytes
 * C and D mean other monitors on a compression-ignition engine; EGR stands in both. */
enum { SPARK = 1, COMPRESSION = 2, EITHER = SPARK | COMPRESSION };
static const struct {
    uint8_t byte, bit, open_byte, open_bit, ignition;
} monitors[OXL_MON_COUNT] = {
    [OXL_MON_MISFIRE] = {1, 0, 1, 4, EITHER},
    [OXL_MON_FUEL] = {1, 1, 1, 5, EITHER},
    [OXL_MON_COMPONENTS] = {1, 2, 1, 6, EITHER},
    [OXL_MON_CATALYST] = {2, 0, 3, 0, SPARK},
    [OXL_MON_HEATED_CATALYST] = {2, 1, 3, 1, SPARK},
    [OXL_MON_EVAP] = {2, 2, 3, 2, SPARK},
    [OXL_MON_SECONDARY_AIR] = {2, 3, 3, 3, SPARK},
    [OXL_MON_AC_OR_FILTER] = {2, 4, 3, 4, SPARK},
    [OXL_MON_O2_SENSOR] = {2, 5, 3, 5, SPARK},
    [OXL_MON_O2_HEATER] = {2, 6, 3, 6, SPARK},
    [OXL_MON_EGR] = {2, 7, 3, 7, EITHER},
    [OXL_MON_NMHC_CATALYST] = {2, 0, 3, 0, COMPRESSION},
    [OXL_MON_NOX_SCR] = {2, 1, 3, 1, COMPRESSION},
    [OXL_MON_BOOST] = {2, 3, 3, 3, COMPRESSION},
    [OXL_MON_GAS_SENSOR] = {2, 5, 3, 5, COMPRESSION},
    [OXL_MON_PM_FILTER] = {2, 6, 3, 6, COMPRESSION},
};

const char *oxl_monitor_word(enum oxl_monitor m)
{
    static const char *const all[] = {
#define X(id, word, words) word,
        OXL_MONITORS(X)
#undef X
    };
    return m < OXL_MON_COUNT ? all[m] : "";
}

bool oxl_decode_readiness(const uint8_t data[4], struct oxl_readiness *out)
{
    memset(out, 0, sizeof *out);
    if (!data)
        return false;
    out->known = true;
    out->mil_on = data[0] & 0x80;
    out->stored_dtcs = data[0] & 0x7F;
    out->compression_ignition = data[1] & 0x08;
    unsigned ignition = out->compression_ignition ? COMPRESSION : SPARK;
    for (unsigned i = 0; i < OXL_MON_COUNT; i++) {
        if (!(monitors[i].ignition & ignition))
            continue;
        out->supported[i] = data[monitors[i].byte] >> monitors[i].bit & 1;
        out->complete[i] =
            out->supported[i] && !(data[monitors[i].open_byte] >> monitors[i].open_bit & 1);
    }
    return true;
}
