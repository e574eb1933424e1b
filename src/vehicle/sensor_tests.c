/* Service 05: results of the oxygen sensors' own monitors, on K-line and J1850 (SAE J1979 / ISO
 * 15031-5, form and limits from memory; scales as in scapy 2.5.0's list of the tests). The sensor
 * is one bit at its place in PID 13 or 1D. */
#include "oxylag/onboard.h"

enum { REPLY = 0x45, CALCULATED = 6, MASK = 7, PLACES = 8 };

uint8_t oxl_sensor_monitor(unsigned place, enum oxl_layout_kind layout)
{
    if (place >= PLACES || layout == OXL_LAYOUT_UNKNOWN)
        return 0;
    unsigned per_bank = layout == OXL_LAYOUT_1D ? 2 : 4;
    return (uint8_t)(1 + 4 * (place / per_bank) + place % per_bank);
}

static bool answers(const struct oxl_message *m, unsigned place, size_t len)
{
    return m->len == len && !m->bad_checksum && m->data[0] == REPLY && place < PLACES &&
           m->data[2] == 1U << place;
}

/* 45, test, sensor, value, least, most. */
bool oxl_decode_sensor_test(const struct oxl_message *m, unsigned place,
                            enum oxl_layout_kind layout, struct oxl_monitor_result *out)
{
    uint8_t monitor = oxl_sensor_monitor(place, layout);
    if (!answers(m, place, CALCULATED) || monitor == 0 || m->data[1] < OXL_SENSOR_TEST_FIRST ||
        m->data[1] > OXL_SENSOR_TEST_LAST)
        return false;
    *out = (struct oxl_monitor_result){.ecu = m->ecu,
                                       .form = OXL_LIMITS_BYTES,
                                       .monitor = monitor,
                                       .test = m->data[1],
                                       .value = m->data[3],
                                       .min = m->data[4],
                                       .max = m->data[5]};
    return true;
}

/* 45, 00, sensor, four bytes. */
bool oxl_decode_sensor_mask(const struct oxl_message *m, unsigned place, struct oxl_support *s)
{
    if (!answers(m, place, MASK) || m->data[1] != 0)
        return false;
    oxl_support_add(s, 0, m->data + 3);
    return true;
}
