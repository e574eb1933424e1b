#include "oxylag/vehicle.h"

#include <stddef.h>

#include "pids.h"

/* Which full scale of PIDs 4F and 50 stretches a value. */
enum stretch { STRETCH_NONE = 0, BY_LAMBDA, BY_VOLTS, BY_CURRENT, BY_PRESSURE, BY_AIR };

/* How bank and sensor are found: by the PID, or as named, ten times the bank and the sensor. */
enum place { ENGINE = 0, SENSOR = 1, BANK_1 = 10, BANK_2 = 20, BANK_3 = 30, BANK_4 = 40 };
enum { CAT_11 = 11, CAT_12 = 12, CAT_21 = 21, CAT_22 = 22 };

/* Which raw values are values at all. */
enum rule {
    ANY = 0,
    NOT_FF,       /* FF: this sensor is not used for trim */
    SYSTEM_DTC,   /* one of the status bits of PID 03 */
    SECOND_SYSTEM /* the same; 00 says that there is no second system */
};

struct field {
    uint8_t first, last; /* PIDs */
    uint8_t at, width;   /* big-endian bytes within the PID's data */
    uint8_t quantity;    /* enum oxl_quantity */
    uint8_t place, rule, stretch;
    double num, den, zero; /* value = raw * num / den + zero */
};

#define PERCENT  100, 255, 0
#define TRIM     100, 128, -100
#define CELSIUS  1, 1, -40
#define AS_IT_IS 1, 1, 0

/* SAE J1979 / ISO 15031-5 service 01 scalings as published in public parameter tables. The wide
 * range steps are printed there rounded (0.0000305, 0.000122); 2/65536 and 8/65536 are exact.
 * PIDs 24-2B, 34-3B and 44 are labelled "fuel-air equivalence ratio" in some tables, but the
 * value is lambda: below 1 is rich. */
static const struct field fields[] = {
    {0x03, 0x03, 0, 1, OXL_Q_FUEL_SYSTEM, BANK_1, SYSTEM_DTC, 0, AS_IT_IS},
    {0x03, 0x03, 1, 1, OXL_Q_FUEL_SYSTEM, BANK_2, SECOND_SYSTEM, 0, AS_IT_IS},
    {0x04, 0x04, 0, 1, OXL_Q_LOAD_PCT, ENGINE, ANY, 0, PERCENT},
    {0x05, 0x05, 0, 1, OXL_Q_COOLANT_C, ENGINE, ANY, 0, CELSIUS},
    {0x06, 0x06, 0, 1, OXL_Q_STFT_PCT, BANK_1, ANY, 0, TRIM},
    {0x06, 0x06, 1, 1, OXL_Q_STFT_PCT, BANK_3, ANY, 0, TRIM},
    {0x07, 0x07, 0, 1, OXL_Q_LTFT_PCT, BANK_1, ANY, 0, TRIM},
    {0x07, 0x07, 1, 1, OXL_Q_LTFT_PCT, BANK_3, ANY, 0, TRIM},
    {0x08, 0x08, 0, 1, OXL_Q_STFT_PCT, BANK_2, ANY, 0, TRIM},
    {0x08, 0x08, 1, 1, OXL_Q_STFT_PCT, BANK_4, ANY, 0, TRIM},
    {0x09, 0x09, 0, 1, OXL_Q_LTFT_PCT, BANK_2, ANY, 0, TRIM},
    {0x09, 0x09, 1, 1, OXL_Q_LTFT_PCT, BANK_4, ANY, 0, TRIM},
    {0x0B, 0x0B, 0, 1, OXL_Q_MAP_KPA, ENGINE, ANY, BY_PRESSURE, AS_IT_IS},
    {0x0C, 0x0C, 0, 2, OXL_Q_RPM, ENGINE, ANY, 0, 1, 4, 0},
    {0x0D, 0x0D, 0, 1, OXL_Q_SPEED_KMH, ENGINE, ANY, 0, AS_IT_IS},
    {0x0F, 0x0F, 0, 1, OXL_Q_INTAKE_C, ENGINE, ANY, 0, CELSIUS},
    {0x10, 0x10, 0, 2, OXL_Q_AIR_G_S, ENGINE, ANY, BY_AIR, 1, 100, 0},
    {0x11, 0x11, 0, 1, OXL_Q_THROTTLE_PCT, ENGINE, ANY, 0, PERCENT},
    {0x12, 0x12, 0, 1, OXL_Q_SECONDARY_AIR, ENGINE, ANY, 0, AS_IT_IS},
    {0x14, 0x1B, 0, 1, OXL_Q_O2_V, SENSOR, ANY, 0, 1, 200, 0},
    {0x14, 0x1B, 1, 1, OXL_Q_O2_TRIM_PCT, SENSOR, NOT_FF, 0, TRIM},
    {0x1F, 0x1F, 0, 2, OXL_Q_RUN_TIME_S, ENGINE, ANY, 0, AS_IT_IS},
    {0x24, 0x2B, 0, 2, OXL_Q_LAMBDA, SENSOR, ANY, BY_LAMBDA, 2, 65536, 0},
    {0x24, 0x2B, 2, 2, OXL_Q_WIDE_V, SENSOR, ANY, BY_VOLTS, 8, 65536, 0},
    {0x34, 0x3B, 0, 2, OXL_Q_LAMBDA, SENSOR, ANY, BY_LAMBDA, 2, 65536, 0},
    {0x34, 0x3B, 2, 2, OXL_Q_WIDE_MA, SENSOR, ANY, BY_CURRENT, 1, 256, -128},
    {0x3C, 0x3C, 0, 2, OXL_Q_CAT_TEMP_C, CAT_11, ANY, 0, 1, 10, -40},
    {0x3D, 0x3D, 0, 2, OXL_Q_CAT_TEMP_C, CAT_21, ANY, 0, 1, 10, -40},
    {0x3E, 0x3E, 0, 2, OXL_Q_CAT_TEMP_C, CAT_12, ANY, 0, 1, 10, -40},
    {0x3F, 0x3F, 0, 2, OXL_Q_CAT_TEMP_C, CAT_22, ANY, 0, 1, 10, -40},
    {0x42, 0x42, 0, 2, OXL_Q_MODULE_V, ENGINE, ANY, 0, 1, 1000, 0},
    {0x44, 0x44, 0, 2, OXL_Q_COMMANDED_LAMBDA, ENGINE, ANY, BY_LAMBDA, 2, 65536, 0},
    {0x51, 0x51, 0, 1, OXL_Q_FUEL_TYPE, ENGINE, ANY, 0, AS_IT_IS},
    {0x55, 0x55, 0, 1, OXL_Q_REAR_STFT_PCT, BANK_1, ANY, 0, TRIM},
    {0x55, 0x55, 1, 1, OXL_Q_REAR_STFT_PCT, BANK_3, ANY, 0, TRIM},
    {0x56, 0x56, 0, 1, OXL_Q_REAR_LTFT_PCT, BANK_1, ANY, 0, TRIM},
    {0x56, 0x56, 1, 1, OXL_Q_REAR_LTFT_PCT, BANK_3, ANY, 0, TRIM},
    {0x57, 0x57, 0, 1, OXL_Q_REAR_STFT_PCT, BANK_2, ANY, 0, TRIM},
    {0x57, 0x57, 1, 1, OXL_Q_REAR_STFT_PCT, BANK_4, ANY, 0, TRIM},
    {0x58, 0x58, 0, 1, OXL_Q_REAR_LTFT_PCT, BANK_2, ANY, 0, TRIM},
    {0x58, 0x58, 1, 1, OXL_Q_REAR_LTFT_PCT, BANK_4, ANY, 0, TRIM},
    {0x5E, 0x5E, 0, 2, OXL_Q_FUEL_RATE_L_H, ENGINE, ANY, 0, 1, 20, 0},
};

/* PIDs 4F and 50: each byte, when not 0, replaces the published step of its values by
 * value = raw * max * unit / den, less max where the value is signed. */
static const struct {
    size_t member;
    double unit, den, zero;
} stretches[] = {
    [BY_LAMBDA] = {offsetof(struct oxl_scaling, lambda_max), 1, 65535, 0},
    [BY_VOLTS] = {offsetof(struct oxl_scaling, o2_max_v), 1, 65535, 0},
    [BY_CURRENT] = {offsetof(struct oxl_scaling, o2_max_ma), 1, 32768, -1},
    [BY_PRESSURE] = {offsetof(struct oxl_scaling, map_max_10kpa), 10, 255, 0},
    [BY_AIR] = {offsetof(struct oxl_scaling, air_max_10g_s), 10, 65535, 0},
};

static unsigned big_endian(const uint8_t *data, unsigned width)
{
    unsigned raw = 0;
    while (width--)
        raw = raw << 8 | *data++;
    return raw;
}

static double scaled(const struct field *f, unsigned raw, const struct oxl_scaling *s)
{
    if (f->stretch) {
        unsigned max = ((const uint8_t *)s)[stretches[f->stretch].member];
        if (max)
            return raw * (max * stretches[f->stretch].unit) / stretches[f->stretch].den +
                   max * stretches[f->stretch].zero;
    }
    return raw * f->num / f->den + f->zero;
}

/* PID 03: exactly one of the five states; later editions may add a bit for bank 2 beside it
 * (recalled, unconfirmed). 00 is an engine that is off. Anything else is not a state. */
static bool is_system_dtc(unsigned code)
{
    unsigned state = code & 0x1F;
    return code == 0 || (state != 0 && (state & (state - 1)) == 0);
}

static bool is_value(const struct field *f, unsigned raw)
{
    switch (f->rule) {
    case NOT_FF:
        return raw != 0xFF;
    case SYSTEM_DTC:
        return is_system_dtc(raw);
    case SECOND_SYSTEM:
        return raw != 0 && is_system_dtc(raw);
    default:
        return true;
    }
}

static struct oxl_channel channel_of(const struct field *f, uint8_t pid,
                                     const struct oxl_decoding *d)
{
    struct oxl_channel c = f->place == SENSOR
                               ? oxl_sensor_channel(pid, d->layout)
                               : oxl_channel(OXL_Q_NONE, f->place / 10U, f->place % 10U);
    c.quantity = f->quantity;
    return c;
}

/* Where the samples of one answer go. */
struct sink {
    const struct oxl_message *m;
    int64_t sent_us;
    struct oxl_sample *out;
    size_t n, max;
    bool full;
};

static void put(struct sink *s, struct oxl_channel c, double value)
{
    if (s->n >= s->max) {
        s->full = true;
        return;
    }
    s->out[s->n++] = (struct oxl_sample){.channel = c,
                                         .value = value,
                                         .sent_us = s->sent_us,
                                         .recv_us = s->m->first_byte_us,
                                         .ecu = s->m->ecu};
}

/* PID 66: byte A tells which of the two meters are fitted (bits 0 and 1); each has 1/32 g/s
 * steps; the engine breathes their sum. */
static void put_air_meters(struct sink *s, const uint8_t data[5])
{
    double air_g_s = 0;
    if (!(data[0] & 3))
        return;
    if (data[0] & 1)
        air_g_s += big_endian(data + 1, 2) / 32.0;
    if (data[0] & 2)
        air_g_s += big_endian(data + 3, 2) / 32.0;
    put(s, oxl_channel(OXL_Q_AIR_G_S, 0, 0), air_g_s);
}

static void put_pid(struct sink *s, const struct oxl_pid *it, const struct oxl_decoding *d)
{
    if (it->id == 0x66)
        put_air_meters(s, it->data);
    /* The rows stand in the order of their PIDs. */
    for (size_t i = 0; i < sizeof fields / sizeof fields[0] && fields[i].first <= it->id; i++) {
        const struct field *f = &fields[i];
        if (it->id > f->last || (size_t)f->at + f->width > it->len)
            continue;
        /* Where the layout has no bank 3 or 4 a second trim byte is filling. */
        if ((f->place == BANK_3 || f->place == BANK_4) && d->layout != OXL_LAYOUT_UNKNOWN &&
            !oxl_second_bank_fitted(it->id, d))
            continue;
        unsigned raw = big_endian(it->data + f->at, f->width);
        if (is_value(f, raw))
            put(s, channel_of(f, it->id, d), scaled(f, raw, &d->scaling));
    }
}

size_t oxl_decode_live(const struct oxl_message *m, const struct oxl_decoding *d, int64_t sent_us,
                       struct oxl_sample *out, size_t max, bool *clean)
{
    struct sink s = {.m = m, .sent_us = sent_us, .out = out, .max = max};
    struct oxl_walk w;
    struct oxl_pid it;
    *clean = false;
    if (!oxl_walk_start(&w, m, d))
        return 0;
    while (oxl_walk_next(&w, &it))
        put_pid(&s, &it, d);
    *clean = w.at == w.end && !s.full;
    return s.n;
}
