/* Which service 01 PIDs a vehicle must have for these channels (SAE J1979; bank 2 in the order of
 * PID 13: sensors 1-4 of bank 1 first). */
#include <string.h>

#include "oxylag/import.h"

static uint8_t item_of(struct oxl_channel c)
{
    uint8_t place = (uint8_t)((c.bank == 2 ? 4 : 0) + (c.sensor > 0 ? c.sensor - 1 : 0));
    switch (c.quantity) {
    case OXL_Q_O2_V:
        return (uint8_t)(0x14 + place);
    case OXL_Q_LAMBDA:
        return (uint8_t)(0x24 + place);
    case OXL_Q_STFT_PCT:
        return c.bank == 2 ? 0x08 : 0x06;
    case OXL_Q_LTFT_PCT:
        return c.bank == 2 ? 0x09 : 0x07;
    case OXL_Q_AIR_G_S:
        return 0x10;
    case OXL_Q_RPM:
        return 0x0C;
    case OXL_Q_MAP_KPA:
        return 0x0B;
    case OXL_Q_INTAKE_C:
        return 0x0F;
    case OXL_Q_COOLANT_C:
        return 0x05;
    case OXL_Q_CAT_TEMP_C:
        return c.bank == 2 ? 0x3D : 0x3C;
    default:
        return 0;
    }
}

void oxl_imported_vehicle(const struct oxl_imported *about, struct oxl_vehicle *out)
{
    memset(out, 0, sizeof *out);
    for (unsigned i = 0; i < about->channels_n && i < OXL_IMPORT_CHANNELS; i++) {
        uint8_t item = item_of(about->channels[i]);
        if (item)
            out->support.bits[item / 8] |= (uint8_t)(1u << item % 8);
    }
    out->survey_done = true;
}
