/* Unit-and-scaling ids of service 06, and what a result says against its limits. */
#include "oxylag/onboard.h"

#include <math.h>

/* SAE J1979 / ISO 15031-5 Annex E. Steps and units as in the scapy 2.5.0 packet library's table
 * (facts read, no code); where the printed step is rounded (05, 06, 0A, 1E, 20, 30, 32, 85, 86,
 * 8A, B0) the exact one is taken: 2/65536, 20/65536, 8000/65536, 1/256, 100/65535, 100/32767.
 * Ids 3A-41, 87, 99, AD, AE and FC of later editions are known second hand only and left out. */
enum { ALONE, BOTH }; /* BOTH: id + 80 is the same with a sign */
static const struct row {
    uint8_t id;
    const char *unit;
    double step, offset;
    uint8_t twin;
} rows[] = {
    {0x01, "", 1, 0, BOTH},
    {0x02, "", 0.1, 0, BOTH},
    {0x03, "", 0.01, 0, BOTH},
    {0x04, "", 0.001, 0, BOTH},
    {0x05, "", 2.0 / 65536, 0, BOTH},
    {0x06, "", 20.0 / 65536, 0, BOTH},
    {0x07, "rpm", 0.25, 0, ALONE},
    {0x08, "km/h", 0.01, 0, ALONE},
    {0x09, "km/h", 1, 0, ALONE},
    {0x0A, "mV", 8000.0 / 65536, 0, BOTH},
    {0x0B, "V", 0.001, 0, BOTH},
    {0x0C, "V", 0.01, 0, BOTH},
    {0x0D, "mA", 0.00390625, 0, BOTH},
    {0x0E, "A", 0.001, 0, BOTH},
    {0x0F, "A", 0.01, 0, ALONE},
    {0x10, "ms", 1, 0, BOTH},
    {0x11, "ms", 100, 0, ALONE},
    {0x12, "s", 1, 0, ALONE},
    {0x13, "mOhm", 1, 0, ALONE},
    {0x14, "Ohm", 1, 0, ALONE},
    {0x15, "kOhm", 1, 0, ALONE},
    {0x16, "C", 0.1, -40, ALONE},
    {0x17, "kPa", 0.01, 0, ALONE},
    {0x18, "kPa", 0.0117, 0, ALONE},
    {0x19, "kPa", 0.079, 0, ALONE},
    {0x1A, "kPa", 1, 0, ALONE},
    {0x1B, "kPa", 10, 0, ALONE},
    {0x1C, "deg", 0.01, 0, BOTH},
    {0x1D, "deg", 0.5, 0, BOTH},
    {0x1E, "lambda", 2.0 / 65536, 0, ALONE},
    {0x1F, "air/fuel", 0.05, 0, ALONE},
    {0x20, "", 1.0 / 256, 0, ALONE},
    {0x21, "mHz", 1, 0, ALONE},
    {0x22, "Hz", 1, 0, ALONE},
    {0x23, "kHz", 1, 0, ALONE},
    {0x24, "counts", 1, 0, ALONE},
    {0x25, "km", 1, 0, ALONE},
    {0x26, "mV/ms", 0.1, 0, ALONE},
    {0x27, "g/s", 0.01, 0, ALONE},
    {0x28, "g/s", 1, 0, BOTH},
    {0x29, "Pa/s", 0.25, 0, BOTH},
    {0x2A, "kg/h", 0.001, 0, ALONE},
    {0x2B, "switches", 1, 0, ALONE},
    {0x2C, "g/cyl", 0.01, 0, ALONE},
    {0x2D, "mg/stroke", 0.01, 0, ALONE},
    {0x2E, "true/false", 1, 0, ALONE},
    {0x2F, "%", 0.01, 0, BOTH},
    {0x30, "%", 100.0 / 65535, 0, ALONE},
    {0x31, "l", 0.001, 0, ALONE},
    {0x32, "inch", 2.0 / 65536, 0, ALONE},
    {0x33, "lambda", 0.00024414, 0, ALONE},
    {0x34, "min", 1, 0, ALONE},
    {0x35, "ms", 10, 0, ALONE},
    {0x36, "g", 0.01, 0, ALONE},
    {0x37, "g", 0.1, 0, ALONE},
    {0x38, "g", 1, 0, ALONE},
    {0x39, "%", 0.01, -327.68, ALONE}, /* unsigned with an offset: 8000 is 0 % */
    {0x96, "C", 0.1, 0, ALONE},        /* without the offset of 16 */
    {0xB0, "%", 100.0 / 32767, 0, ALONE},
    {0xB1, "mV/s", 2, 0, ALONE},
    {0xFD, "kPa", 0.001, 0, ALONE},
    {0xFE, "Pa", 0.25, 0, ALONE},
};

static bool signed_id(uint8_t id)
{
    return id >= 0x80;
}

bool oxl_scale_of(uint8_t id, struct oxl_scale *out)
{
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (rows[i].id == id || (rows[i].twin == BOTH && rows[i].id + 0x80 == id)) {
            *out = (struct oxl_scale){rows[i].unit, rows[i].step, rows[i].offset, signed_id(id)};
            return true;
        }
    *out = (struct oxl_scale){"", NAN, NAN, signed_id(id)};
    return false;
}

static int32_t number(bool is_signed, uint16_t raw)
{
    return is_signed && raw >= 0x8000 ? (int32_t)raw - 0x10000 : raw;
}

/* Service 05 scales by the test (scapy 2.5.0's list). */
static bool sensor_scale(uint8_t test, struct oxl_scale *out)
{
    bool volts = test == 0x07 || test == 0x08, switching = test == 0x05 || test == 0x06;
    if (test < OXL_SENSOR_TEST_FIRST || test > OXL_SENSOR_TEST_LAST)
        return false;
    *out = (struct oxl_scale){volts ? "V" : "s",
                              volts       ? 0.005
                              : switching ? 0.004
                                          : 0.04,
                              0, false};
    return true;
}

/* Counts are plain numbers. */
static bool scale_of_result(const struct oxl_monitor_result *r, struct oxl_scale *out)
{
    *out = (struct oxl_scale){"", 1, 0, false};
    if (r->form == OXL_LIMITS_BOTH)
        return oxl_scale_of(r->scale, out);
    return r->form != OXL_LIMITS_BYTES || sensor_scale(r->test, out);
}

/* A result's numbers with their sign, and which limits apply: the end of the range stands for
 * none (0000 and FFFF unsigned, 8000 and 7FFF signed). */
struct view {
    int32_t value, min, max;
    bool has_min, has_max;
};

static struct view view_of(const struct oxl_monitor_result *r)
{
    bool is_signed = r->form == OXL_LIMITS_BOTH && signed_id(r->scale);
    struct view v = {.value = number(is_signed, r->value),
                     .min = number(is_signed, r->min),
                     .max = number(is_signed, r->max),
                     .has_min = r->form != OXL_LIMIT_MAX,
                     .has_max = r->form != OXL_LIMIT_MIN};
    if (r->form == OXL_LIMITS_BOTH) {
        v.has_min = r->min != (is_signed ? 0x8000 : 0x0000);
        v.has_max = r->max != (is_signed ? 0x7FFF : 0xFFFF);
    }
    if (r->form == OXL_LIMITS_BYTES) {
        v.has_min = r->min != 0x00;
        v.has_max = r->max != 0xFF;
    }
    return v;
}

/* Between limits that make sense, of which one at least applies where they are single bytes. */
static bool is_judged(const struct oxl_monitor_result *r, const struct view *v)
{
    struct oxl_scale s;
    bool both = r->form == OXL_LIMITS_BOTH || r->form == OXL_LIMITS_BYTES;
    if (!scale_of_result(r, &s) || (both && v->min > v->max))
        return false;
    return r->form != OXL_LIMITS_BYTES || v->has_min || v->has_max;
}

static bool not_run(const struct oxl_monitor_result *r)
{
    return r->value == 0 && r->min == 0 && r->max == 0;
}

enum oxl_monitor_verdict oxl_monitor_verdict(const struct oxl_monitor_result *r)
{
    struct view v = view_of(r);
    if (not_run(r))
        return OXL_MONITOR_NOT_RUN;
    if (!is_judged(r, &v))
        return OXL_MONITOR_UNKNOWN;
    bool within = (!v.has_min || v.value >= v.min) && (!v.has_max || v.value <= v.max);
    return within ? OXL_MONITOR_PASSED : OXL_MONITOR_FAILED;
}

const char *oxl_monitor_verdict_name(enum oxl_monitor_verdict v)
{
    static const char *const names[] = {"unknown", "not run", "passed", "failed"};
    return (size_t)v < sizeof names / sizeof *names ? names[v] : "unknown";
}

static void add_margin(struct oxl_monitor_figures *f)
{
    bool low = isfinite(f->min), high = isfinite(f->max);
    if (!low && !high)
        return;
    f->margin = fmin(low ? f->value - f->min : INFINITY, high ? f->max - f->value : INFINITY);
    double whole = low && high ? f->max - f->min : fabs(low ? f->min : f->max);
    if (whole > 0)
        f->margin_pct = 100 * f->margin / whole;
}

struct oxl_monitor_figures oxl_monitor_figures(const struct oxl_monitor_result *r)
{
    struct oxl_monitor_figures f = {NAN, NAN, NAN, NAN, NAN, ""};
    struct oxl_scale s;
    struct view v = view_of(r);
    if (!scale_of_result(r, &s))
        return f;
    f.unit = s.unit;
    if (not_run(r)) /* zeros that stand for nothing */
        return f;
    f.value = v.value * s.step + s.offset;
    if (v.has_min)
        f.min = v.min * s.step + s.offset;
    if (v.has_max)
        f.max = v.max * s.step + s.offset;
    if (oxl_monitor_verdict(r) != OXL_MONITOR_UNKNOWN)
        add_margin(&f);
    return f;
}
