/* Service 06: the answers' form, and what monitors and tests are called. */
#include "oxylag/onboard.h"

#include <stdio.h>
#include <string.h>

enum { REPLY = 0x46, RECORD = 9, BUS_ANSWER = 7, MASK_STEP = 0x20 };

static uint16_t word(const uint8_t *b)
{
    return (uint16_t)(b[0] << 8 | b[1]);
}

static bool is_mask(uint8_t number)
{
    return number % MASK_STEP == 0;
}

/* CAN: 46, then one or more of: monitor, test, scale, value, min, max. */
static size_t can_records(const struct oxl_message *m, struct oxl_monitor_result *out, size_t max,
                          bool *clean)
{
    size_t n = 0, at = 1;
    if (is_mask(m->data[1]))
        return 0;
    for (; at + RECORD <= m->len && n < max; at += RECORD) {
        const uint8_t *b = m->data + at;
        if (b[0] != m->data[1] && is_mask(b[0])) /* fill bytes, no record */
            break;
        out[n++] = (struct oxl_monitor_result){.ecu = m->ecu,
                                               .form = OXL_LIMITS_BOTH,
                                               .monitor = b[0],
                                               .test = b[1],
                                               .scale = b[2],
                                               .value = word(b + 3),
                                               .min = word(b + 5),
                                               .max = word(b + 7)};
    }
    *clean = at == m->len;
    return n;
}

/* K-line and J1850: 46, test, component with the kind of limit in bit 7, value, limit (a
 * manufacturer's service manual prints the two kinds; the place of the bit is from memory). */
static size_t bus_record(const struct oxl_message *m, struct oxl_monitor_result *out, size_t max,
                         bool *clean)
{
    *clean = m->len == BUS_ANSWER;
    if (!*clean || max == 0 || is_mask(m->data[1]))
        return 0;
    bool minimum = m->data[2] & 0x80;
    uint16_t limit = word(m->data + 5);
    *out = (struct oxl_monitor_result){.ecu = m->ecu,
                                       .form = minimum ? OXL_LIMIT_MIN : OXL_LIMIT_MAX,
                                       .test = m->data[1],
                                       .component = m->data[2] & 0x7F,
                                       .value = word(m->data + 3),
                                       .min = minimum ? limit : 0,
                                       .max = minimum ? 0 : limit};
    return 1;
}

size_t oxl_decode_monitor(const struct oxl_message *m, bool can, struct oxl_monitor_result *out,
                          size_t max, bool *clean)
{
    *clean = false;
    if (m->len < 2 || m->data[0] != REPLY || m->bad_checksum)
        return 0;
    return can ? can_records(m, out, max, clean) : bus_record(m, out, max, clean);
}

/* CAN: 46, then mask number and four bytes, once or several times. Elsewhere a fill byte FF
 * stands behind the number (from memory). */
bool oxl_decode_monitor_mask(const struct oxl_message *m, bool can, struct oxl_support *s)
{
    if (m->len < 6 || m->data[0] != REPLY || m->bad_checksum || !is_mask(m->data[1]))
        return false;
    if (!can) {
        if (m->len != BUS_ANSWER)
            return false;
        oxl_support_add(s, m->data[1], m->data + 3);
        return true;
    }
    for (size_t at = 1; at + 5 <= m->len && is_mask(m->data[at]); at += 5)
        oxl_support_add(s, m->data[at], m->data + at + 1);
    return true;
}

/* ---- names (scapy 2.5.0's list of the standard's monitor ids; 31 and the misfire tests from
 * memory). Groups of sixteen count sensors, four a bank, whatever layout the vehicle uses. ---- */

bool oxl_monitor_is_catalyst(uint8_t monitor)
{
    return monitor >= 0x21 && monitor <= 0x24;
}

bool oxl_monitor_is_sensor(uint8_t monitor)
{
    return monitor >= 0x01 && monitor <= 0x10;
}

static const struct group {
    uint8_t first, last;
    enum { BY_SENSOR, BY_BANK, BY_CYLINDER, BY_NUMBER, ALONE } count;
    const char *words;
} groups[] = {
    {0x01, 0x10, BY_SENSOR, "Oxygen sensor"},
    {0x21, 0x24, BY_BANK, "Catalyst"},
    {0x31, 0x34, BY_BANK, "Exhaust gas recirculation"},
    {0x35, 0x38, BY_BANK, "Valve timing"},
    {0x39, 0x39, ALONE, "Evaporative system, cap off"},
    {0x3A, 0x3A, ALONE, "Evaporative system, 0.090 inch"},
    {0x3B, 0x3B, ALONE, "Evaporative system, 0.040 inch"},
    {0x3C, 0x3C, ALONE, "Evaporative system, 0.020 inch"},
    {0x3D, 0x3D, ALONE, "Purge flow"},
    {0x41, 0x50, BY_SENSOR, "Oxygen sensor heater"},
    {0x61, 0x64, BY_BANK, "Heated catalyst"},
    {0x71, 0x74, BY_NUMBER, "Secondary air"},
    {0x81, 0x84, BY_BANK, "Fuel system"},
    {0x85, 0x86, BY_BANK, "Boost pressure"},
    {0x90, 0x91, BY_BANK, "NOx adsorber"},
    {0x98, 0x99, BY_BANK, "NOx catalyst"},
    {0xA1, 0xA1, ALONE, "Misfire, general"},
    {0xA2, 0xAD, BY_CYLINDER, "Misfire"},
    {0xB0, 0xB1, BY_BANK, "Particulate filter"},
};

static const struct group *group_of(uint8_t monitor)
{
    for (size_t i = 0; i < sizeof groups / sizeof *groups; i++)
        if (monitor >= groups[i].first && monitor <= groups[i].last)
            return &groups[i];
    return NULL;
}

unsigned oxl_monitor_bank(uint8_t monitor)
{
    const struct group *g = group_of(monitor);
    if (g && g->count == BY_SENSOR)
        return (monitor - g->first) / 4U + 1;
    return g && g->count == BY_BANK ? monitor - g->first + 1U : 0;
}

bool oxl_monitor_by_component(const struct oxl_monitor_result *r)
{
    return r->form == OXL_LIMIT_MAX || r->form == OXL_LIMIT_MIN;
}

void oxl_monitor_title(const struct oxl_monitor_result *r, char *out, size_t n)
{
    const struct group *g = group_of(r->monitor);
    unsigned i = g ? (unsigned)(r->monitor - g->first) : 0;
    if (oxl_monitor_by_component(r))
        snprintf(out, n, "Test %02X, component %02X", r->test, r->component);
    else if (!g)
        snprintf(out, n, "Monitor %02X", r->monitor);
    else if (g->count == BY_SENSOR)
        snprintf(out, n, "%s, bank %u sensor %u", g->words, i / 4 + 1, i % 4 + 1);
    else if (g->count == BY_BANK)
        snprintf(out, n, "%s, bank %u", g->words, i + 1);
    else if (g->count == BY_CYLINDER)
        snprintf(out, n, "%s, cylinder %u", g->words, i + 1);
    else if (g->count == BY_NUMBER)
        snprintf(out, n, "%s %u", g->words, i + 1);
    else
        snprintf(out, n, "%s", g->words);
}

void oxl_test_title(const struct oxl_monitor_result *r, char *out, size_t n)
{
    static const char *const sensor_tests[] = {"",
                                               "Threshold rich to lean",
                                               "Threshold lean to rich",
                                               "Low voltage for switch time",
                                               "High voltage for switch time",
                                               "Switch time rich to lean",
                                               "Switch time lean to rich",
                                               "Sensor voltage, lowest",
                                               "Sensor voltage, highest",
                                               "Time between transitions",
                                               "Sensor period"};
    bool sensor = !oxl_monitor_by_component(r) && oxl_monitor_is_sensor(r->monitor);
    bool misfire = r->form == OXL_LIMITS_BOTH && r->monitor >= 0xA1 && r->monitor <= 0xAD;
    if (sensor && r->test >= 0x01 && r->test <= 0x0A)
        snprintf(out, n, "%s", sensor_tests[r->test]);
    else if (misfire && r->test == 0x0B)
        snprintf(out, n, "Misfires, mean of earlier driving cycles");
    else if (misfire && r->test == 0x0C)
        snprintf(out, n, "Misfires, last or present driving cycle");
    else if (oxl_monitor_by_component(r) || r->test >= 0x80)
        snprintf(out, n, "Manufacturer's test %02X", r->test);
    else
        snprintf(out, n, "Test %02X", r->test);
}
