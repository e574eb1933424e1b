/* Service 01: present values. Scalings of SAE J1979 / ISO 15031-5, value -> bytes. */
#include "sim/ecu.h"

#include <math.h>
#include <string.h>

static uint16_t code(double value, double per_bit, double zero, double most)
{
    double n = round((value - zero) / per_bit);
    if (!(n > 0)) /* also NAN */
        return 0;
    return (uint16_t)(n > most ? most : n);
}

static size_t byte_of(double value, double per_bit, double zero, uint8_t *out)
{
    if (isnan(value))
        return 0;
    out[0] = (uint8_t)code(value, per_bit, zero, 255);
    return 1;
}

static size_t word_of(double value, double per_bit, double zero, uint8_t *out)
{
    if (isnan(value))
        return 0;
    oxl_ecu_word(out, code(value, per_bit, zero, 65535));
    return 2;
}

static size_t trim_of(double pct, uint8_t *out)
{
    return byte_of(pct, 100.0 / 128.0, -100.0, out);
}

const char *oxl_ecu_sensor_kind(const struct oxl_ecu_settings *u, int sensor)
{
    return sensor == 0 ? u->front : u->rear;
}

static double sensor_lambda(const struct oxl_readout *r, int bank, int sensor)
{
    return sensor == 0 ? r->front_lambda[bank] : r->rear_lambda[bank];
}

static double sensor_v(const struct oxl_readout *r, int bank, int sensor)
{
    return sensor == 0 ? r->front_v[bank] : r->rear_v[bank];
}

bool oxl_ecu_has_sensor(const struct oxl_ecu_case *c, int bank, int sensor)
{
    const char *kind = oxl_ecu_sensor_kind(c->u, sensor);
    if (strcmp(kind, "switching") == 0 || strncmp(kind, "dummy", 5) == 0)
        return !isnan(sensor_v(c->r, bank, sensor));
    if (strcmp(kind, "wide-volts") == 0 || strcmp(kind, "wide-current") == 0)
        return !isnan(sensor_lambda(c->r, bank, sensor));
    return false;
}

/* Which bank and position an PID's place (0..7) in 14-1B, 24-2B or 34-3B means, by the layout
 * that the vehicle reports: four sensors a bank with PID 13, two with 1D. */
bool oxl_ecu_place(const struct oxl_ecu_case *c, unsigned slot, int *bank, int *sensor)
{
    unsigned per_bank = strcmp(c->u->layout, "1D") == 0 ? 2 : 4;
    *bank = (int)(slot / per_bank);
    *sensor = (int)(slot % per_bank);
    return *bank < OXL_SIM_BANKS && *sensor < 2 && oxl_ecu_has_sensor(c, *bank, *sensor);
}

static bool place_of_kind(const struct oxl_ecu_case *c, unsigned slot, const char *kind, int *bank,
                          int *sensor)
{
    if (!oxl_ecu_place(c, slot, bank, sensor))
        return false;
    const char *is = oxl_ecu_sensor_kind(c->u, *sensor);
    return strcmp(is, kind) == 0 ||
           (strcmp(kind, "switching") == 0 && strcmp(is, "dummy-beside") == 0);
}

static size_t layout_pid(const struct oxl_ecu_case *c, const char *layout, uint8_t *out)
{
    if (strcmp(c->u->layout, layout) != 0)
        return 0;
    int bank, sensor;
    unsigned bits = 0;
    for (unsigned slot = 0; slot < 8; slot++)
        if (oxl_ecu_place(c, slot, &bank, &sensor))
            bits |= 1U << slot;
    out[0] = (uint8_t)bits;
    return 1;
}

/* PIDs 14-1B. FF in the second byte: no trim is tied to this sensor, so a trim of the front
 * sensor stops at FE. */
static size_t switching_pid(const struct oxl_ecu_case *c, unsigned slot, uint8_t *out)
{
    int bank, sensor;
    if (!place_of_kind(c, slot, "switching", &bank, &sensor))
        return 0;
    byte_of(sensor_v(c->r, bank, sensor), 0.005, 0, out);
    out[1] = 0xFF;
    if (sensor == 0 && trim_of(c->r->stft_pct[bank], out + 1) && out[1] == 0xFF)
        out[1] = 0xFE;
    return 2;
}

/* The plant may give only the lambda of a wide-range sensor. Volts and current then follow it
 * along slopes of our own invention: no standard ties them, and no reader may rely on them. */
static double wide_volts(const struct oxl_readout *r, int bank, int sensor)
{
    double v = sensor == 0 ? r->front_wide_v[bank] : NAN;
    return isnan(v) ? 2.5 + 3.0 * (sensor_lambda(r, bank, sensor) - 1.0) : v;
}

static double wide_ma(const struct oxl_readout *r, int bank, int sensor)
{
    double ma = sensor == 0 ? r->front_ma[bank] : NAN;
    return isnan(ma) ? 4.0 * (sensor_lambda(r, bank, sensor) - 1.0) : ma;
}

static size_t wide_volts_pid(const struct oxl_ecu_case *c, unsigned slot, uint8_t *out)
{
    int bank, sensor;
    size_t dummy = oxl_ecu_dummy_wide(c, slot, out);
    if (dummy || !place_of_kind(c, slot, "wide-volts", &bank, &sensor))
        return dummy;
    word_of(sensor_lambda(c->r, bank, sensor), 2.0 / 65536, 0, out);
    word_of(wide_volts(c->r, bank, sensor), 8.0 / 65536, 0, out + 2);
    return 4;
}

static size_t wide_current_pid(const struct oxl_ecu_case *c, unsigned slot, uint8_t *out)
{
    int bank, sensor;
    if (!place_of_kind(c, slot, "wide-current", &bank, &sensor))
        return 0;
    word_of(sensor_lambda(c->r, bank, sensor), 2.0 / 65536, 0, out);
    word_of(wide_ma(c->r, bank, sensor), 1.0 / 256, -128, out + 2);
    return 4;
}

/* Monitors of a spark engine: misfire, fuel, components; catalyst, sensors, their heaters. */
enum { MONITORS_B = 0x07, CATALYST = 0x01, SENSORS = 0x20, HEATERS = 0x40 };

static uint8_t monitors_c(const struct oxl_ecu_case *c)
{
    return (uint8_t)(SENSORS | HEATERS | (oxl_ecu_has_sensor(c, 0, 1) ? CATALYST : 0));
}

static size_t status_pid(const struct oxl_ecu_case *c, uint8_t *out)
{
    uint16_t codes[OXL_ECU_DTCS];
    size_t n = oxl_ecu_dtcs(c->u->stored, codes) + (c->r->rich_dtc != 0);
    out[0] = (uint8_t)(n | (n > 0 ? 0x80U : 0U));
    out[1] = MONITORS_B;
    out[2] = monitors_c(c);
    out[3] = (out[2] & CATALYST) && !oxl_ecu_catalyst_monitor_ran(c->u) ? CATALYST : 0;
    return 4;
}

/* This driving cycle: all enabled, those of byte C not run yet. */
static size_t cycle_pid(const struct oxl_ecu_case *c, uint8_t *out)
{
    out[0] = 0;
    out[1] = MONITORS_B;
    out[2] = out[3] = monitors_c(c);
    return 4;
}

static size_t bytes_pid(uint8_t *out, size_t n, uint8_t a, uint8_t b)
{
    memset(out, 0, 4);
    out[0] = a;
    out[1] = b;
    return n;
}

/* The second byte is filling, at 0 % as a controller without that bank has it. */
static size_t trim_pid(const struct oxl_ecu_case *c, double pct, uint8_t *out)
{
    out[1] = 0x80;
    return trim_of(pct, out) ? c->u->trim_bytes : 0;
}

static size_t engine_pid(const struct oxl_ecu_case *c, uint8_t pid, uint8_t *out)
{
    const struct oxl_readout *r = c->r;
    switch (pid) {
    case 0x01:
        return status_pid(c, out);
    case 0x03:
        return bytes_pid(out, 2, r->fuel_system[0],
                         c->u->second_system ? (uint8_t)c->u->second_system : r->fuel_system[1]);
    case 0x04:
        return byte_of(r->load_pct, 100.0 / 255, 0, out);
    case 0x05:
        return byte_of(r->coolant_c, 1, -40, out);
    case 0x06:
        return trim_pid(c, r->stft_pct[0], out);
    case 0x07:
        return c->u->has_ltft ? trim_pid(c, r->ltft_pct[0], out) : 0;
    case 0x08:
        return trim_pid(c, r->stft_pct[1], out);
    case 0x09:
        return c->u->has_ltft ? trim_pid(c, r->ltft_pct[1], out) : 0;
    case 0x0B:
        return c->u->has_map ? byte_of(r->map_kpa, 1, 0, out) : 0;
    case 0x0C:
        return word_of(r->rpm, 0.25, 0, out);
    case 0x0D:
        return byte_of(r->speed_kmh, 1, 0, out);
    case 0x0F:
        return byte_of(r->intake_c, 1, -40, out);
    case 0x10:
        return c->u->has_air ? word_of(r->air_g_s, 0.01, 0, out) : 0;
    case 0x11:
        return byte_of(r->throttle_pct, 100.0 / 255, 0, out);
    case 0x12:
        return r->secondary_air ? bytes_pid(out, 1, r->secondary_air, 0) : 0;
    case 0x13:
        return layout_pid(c, "13", out);
    case 0x1C:
        return bytes_pid(out, 1, (uint8_t)c->u->obd_standard, 0);
    case 0x1D:
        return layout_pid(c, "1D", out);
    case 0x1F:
        return c->u->has_run_time ? word_of(r->run_time_s, 1, 0, out) : 0;
    default:
        return 0;
    }
}

static size_t later_pid(const struct oxl_ecu_case *c, uint8_t pid, uint8_t *out)
{
    switch (pid) {
    case 0x3C:
        return c->u->has_cat_temp ? word_of(c->r->cat_temp_c[0], 0.1, -40, out) : 0;
    case 0x3D:
        return c->u->has_cat_temp ? word_of(c->r->cat_temp_c[1], 0.1, -40, out) : 0;
    case 0x41:
        return cycle_pid(c, out);
    case 0x42: /* 1 mV */
        return c->r->module_v > 0 ? word_of(c->r->module_v, 0.001, 0, out) : 0;
    case 0x44:
        return word_of(c->r->target_lambda > 0 ? c->r->target_lambda : 1, 2.0 / 65536, 0, out);
    case 0x4F:
    case 0x50:
        return bytes_pid(out, 4, 0, 0); /* the published steps hold */
    case 0x51:
        return bytes_pid(out, 1, (uint8_t)c->u->fuel_type, 0);
    case 0x55:
    case 0x56: /* the rear sensor's own trims; their values are not modelled */
        return bytes_pid(out, c->u->rear_trim_bytes, 0x81, 0x80);
    default:
        return 0;
    }
}

static size_t mask_pid(const struct oxl_ecu_case *c, uint8_t base, uint8_t out[4])
{
    uint8_t data[4];
    memset(out, 0, 4);
    for (unsigned n = base + 1U; n <= base + 31U; n++)
        if (oxl_ecu_announces(c->u, (uint8_t)n, oxl_ecu_pid(c, (uint8_t)n, data) > 0))
            oxl_ecu_mask_bit(out, base, n);
    if (oxl_ecu_has_mask(c->u, base + 32U))
        oxl_ecu_mask_bit(out, base, base + 32U);
    return 4;
}

size_t oxl_ecu_pid(const struct oxl_ecu_case *c, uint8_t pid, uint8_t out[4])
{
    if (oxl_ecu_has_mask(c->u, pid))
        return mask_pid(c, pid, out);
    if (pid >= 0x14 && pid <= 0x1B)
        return switching_pid(c, pid - 0x14U, out);
    if (pid >= 0x24 && pid <= 0x2B)
        return wide_volts_pid(c, pid - 0x24U, out);
    if (pid >= 0x34 && pid <= 0x3B)
        return wide_current_pid(c, pid - 0x34U, out);
    return pid < 0x20 ? engine_pid(c, pid, out) : later_pid(c, pid, out);
}

void oxl_ecu_service_01(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                        struct oxl_ecu_answer *a)
{
    /* ISO 15031-5: up to six PIDs in a request, and only on CAN. */
    if (len < 2 || len > 7 || (len > 2 && !(c->can && c->u->multi_pid)))
        return;
    for (size_t i = 1; i < len; i++) {
        uint8_t record[5] = {req[i]};
        size_t n = oxl_ecu_mutes(c->u, req[i]) ? 0 : oxl_ecu_pid(c, req[i], record + 1);
        oxl_ecu_put_record(a, 0x01, record, n ? n + 1 : 0);
    }
}
