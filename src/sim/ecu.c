#include "sim/ecu.h"

#include <math.h>
#include <string.h>

#define SETTING(key_name, field, kind_char, low, high)                                             \
    {                                                                                              \
        "ecu", key_name, kind_char, offsetof(struct oxl_ecu_settings, field),                      \
            sizeof(((struct oxl_ecu_settings *)0)->field), low, high                               \
    }

const struct oxl_setting oxl_ecu_setting_table[] = {
    SETTING("vin", vin, 't', 0, 0),
    SETTING("layout", layout, 't', 0, 0),
    SETTING("front", front, 't', 0, 0),
    SETTING("rear", rear, 't', 0, 0),
    SETTING("has_air", has_air, 'b', 0, 1),
    SETTING("has_map", has_map, 'b', 0, 1),
    SETTING("has_cat_temp", has_cat_temp, 'b', 0, 1),
    SETTING("has_ltft", has_ltft, 'b', 0, 1),
    SETTING("has_run_time", has_run_time, 'b', 0, 1),
    SETTING("second_ecu", second_ecu, 'b', 0, 1),
    SETTING("multi_pid", multi_pid, 'b', 0, 1),
    SETTING("answer_ms_min", answer_ms_min, 'u', 0, 5000),
    SETTING("answer_ms_max", answer_ms_max, 'u', 0, 5000),
    SETTING("stored", stored, 't', 0, 0),
    SETTING("pending", pending, 't', 0, 0),
    SETTING("permanent", permanent, 't', 0, 0),
    SETTING("second_stored", second_stored, 't', 0, 0),
    SETTING("answers", answers, 'b', 0, 1),
    SETTING("calc_ms", calc_ms, 'u', 0, 1000),
    SETTING("refresh_front_ms", refresh_ms[OXL_REFRESH_FRONT], 'd', 0, 10000),
    SETTING("refresh_rear_ms", refresh_ms[OXL_REFRESH_REAR], 'd', 0, 10000),
    SETTING("refresh_trims_ms", refresh_ms[OXL_REFRESH_TRIMS], 'd', 0, 10000),
    SETTING("refresh_rest_ms", refresh_ms[OXL_REFRESH_REST], 'd', 0, 10000),
    SETTING("phase_front_ms", refresh_phase_ms[OXL_REFRESH_FRONT], 'd', 0, 10000),
    SETTING("phase_rear_ms", refresh_phase_ms[OXL_REFRESH_REAR], 'd', 0, 10000),
    SETTING("phase_trims_ms", refresh_phase_ms[OXL_REFRESH_TRIMS], 'd', 0, 10000),
    SETTING("phase_rest_ms", refresh_phase_ms[OXL_REFRESH_REST], 'd', 0, 10000),
    SETTING("refresh_phase_random", refresh_phase_random, 'b', 0, 1),
    SETTING("refresh_snapshot", refresh_snapshot, 'b', 0, 1),
    SETTING("refresh_drift_ppm", refresh_drift_ppm, 'd', -100000, 100000),
    SETTING("refresh_jitter_ms", refresh_jitter_ms, 'd', 0, 1000),
    SETTING("refresh_jump_s", refresh_jump_s, 'd', 0, 10000),
    SETTING("refresh_change_at_s", refresh_change_at_s, 'd', 0, 100000),
    SETTING("refresh_change_factor", refresh_change_factor, 'd', 0.01, 100),
    SETTING("twin_ecu", twin_ecu, 'b', 0, 1),
    SETTING("late_pct", late_pct, 'd', 0, 100),
    SETTING("late_ms", late_ms, 'd', 0, 10000),
    SETTING("pending_pct", pending_pct, 'd', 0, 100),
    SETTING("pending_ms", pending_ms, 'd', 0, 10000),
    SETTING("padding", padding, 't', 0, 0),
    SETTING("short_frames", short_frames, 'b', 0, 1),
    SETTING("announces", announces, 't', 0, 0),
    SETTING("hides", hides, 't', 0, 0),
    SETTING("mutes", mutes, 't', 0, 0),
    SETTING("mask_losses", mask_losses, 'u', 0, 100),
    SETTING("trim_bytes", trim_bytes, 'u', 1, 2),
    SETTING("rear_trim_bytes", rear_trim_bytes, 'u', 0, 2),
    SETTING("second_system", second_system, 'u', 0, 255),
    SETTING("obd_standard", obd_standard, 'u', 1, 255),
    SETTING("dummy_lambda", dummy_lambda, 'd', 0, 1.999),
    SETTING("fuel_type", fuel_type, 'u', 0, 255),
};
const size_t oxl_ecu_setting_count = sizeof oxl_ecu_setting_table / sizeof oxl_ecu_setting_table[0];

/* A VIN that no vehicle has: ISO 3780 gives no world region the first character 0. Its ninth
 * character is the check digit of 49 CFR 565.15. */
static const char invented_vin[] = "0XYLAGSM4R0000003";

void oxl_ecu_defaults(struct oxl_ecu_settings *u)
{
    *u = (struct oxl_ecu_settings){
        .layout = "13",
        .front = "switching",
        .rear = "switching",
        .has_air = true,
        .has_map = true,
        .has_ltft = true,
        .has_run_time = true,
        .multi_pid = true,
        .answer_ms_min = 5,
        .answer_ms_max = 15,
        .answers = true,
        .calc_ms = 10,
        .refresh_change_factor = 1,
        .late_ms = 250,
        .pending_ms = 300,
        .padding = "AA",
        .trim_bytes = 1,
        .obd_standard = 1,
        .dummy_lambda = 1,
        .fuel_type = 1,
    };
    memcpy(u->vin, invented_vin, sizeof invented_vin);
}

bool oxl_ecu_put(struct oxl_ecu_answer *a, const uint8_t *bytes, size_t n)
{
    if (n > sizeof a->data - a->len)
        return false;
    memcpy(a->data + a->len, bytes, n);
    a->len += n;
    return true;
}

void oxl_ecu_mask_bit(uint8_t mask[4], unsigned base, unsigned number)
{
    if (number <= base || number > base + 32)
        return;
    unsigned n = number - base - 1;
    mask[n / 8] = (uint8_t)(mask[n / 8] | (0x80U >> (n % 8)));
}

static struct oxl_ecu_answer *start(struct oxl_ecu_answer *a, uint32_t ecu)
{
    *a = (struct oxl_ecu_answer){.ecu = ecu};
    return a;
}

static size_t engine_answers(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                             struct oxl_ecu_answer *out, size_t max)
{
    static const uint8_t refusal[] = {0x7F, 0x04, 0x22};
    switch (req[0]) {
    case 0x01:
        oxl_ecu_service_01(c, req, len, out);
        return out->len > 0;
    case 0x02:
        oxl_ecu_service_02(c, req, len, out);
        return out->len > 0;
    case 0x03:
    case 0x07:
    case 0x0A:
        return len == 1 ? oxl_ecu_service_dtcs(c, req[0], out, max) : 0;
    case 0x04:
        /* Clearing is refused with "conditions not correct", always: this program never asks,
         * and a simulated vehicle must not lose its codes to a slip. */
        return oxl_ecu_put(out, refusal, sizeof refusal);
    case 0x05:
        return oxl_ecu_service_05(c, req, len, out);
    case 0x06:
        return oxl_ecu_service_06(c, req, len, out, max);
    case 0x09:
        return oxl_ecu_service_09(c, req, len, out, max);
    default:
        /* ISO 15031-5: a ECU that does not know a functionally addressed request is silent. */
        return 0;
    }
}

/* A second emission ECU that knows only its monitor status and the vehicle speed. */
static size_t second_pid(const struct oxl_ecu_case *c, uint8_t pid, uint8_t out[4])
{
    memset(out, 0, 4);
    if (pid == 0x00) {
        oxl_ecu_mask_bit(out, 0, 0x01);
        oxl_ecu_mask_bit(out, 0, 0x0D);
        return 4;
    }
    if (pid == 0x01) {
        /* comprehensive components only, complete */
        size_t codes = oxl_ecu_dtcs(c->u->second_stored, (uint16_t[OXL_ECU_DTCS]){0});
        out[0] = (uint8_t)((codes ? 0x80 : 0) | codes);
        out[1] = 0x04;
        return 4;
    }
    return pid == 0x0D ? oxl_ecu_pid(c, pid, out) : 0;
}

static void second_codes(const struct oxl_ecu_case *c, struct oxl_ecu_answer *a)
{
    uint16_t codes[OXL_ECU_DTCS];
    size_t n = oxl_ecu_dtcs(c->u->second_stored, codes);
    const uint8_t head[] = {0x43, (uint8_t)n};
    oxl_ecu_put(a, head, c->can ? 2 : 1);
    for (size_t i = 0; i < (c->can ? n : 3); i++) {
        uint16_t code = i < n ? codes[i] : 0;
        const uint8_t two[] = {(uint8_t)(code >> 8), (uint8_t)code};
        oxl_ecu_put(a, two, sizeof two);
    }
}

/* Its name is all that it says of itself, and only on CAN. */
static void second_info(const struct oxl_ecu_case *c, uint8_t pid, struct oxl_ecu_answer *a)
{
    static const uint8_t mask[] = {0x49, 0x00, 0x00, 0x40, 0x00, 0x00};
    static const uint8_t name[23] = {0x49, 0x0A, 0x01, 'T', 'C', 'M', 0,   '-', 'S', 'i', 'm',
                                     'u',  'l',  'a',  't', 'e', 'd', 'G', 'e', 'a', 'r'};
    if (c->can && pid == 0x00)
        oxl_ecu_put(a, mask, sizeof mask);
    else if (c->can && pid == 0x0A)
        oxl_ecu_put(a, name, sizeof name);
}

static void second_answer(const struct oxl_ecu_case *c, const uint8_t *req, size_t len,
                          struct oxl_ecu_answer *a)
{
    if (req[0] == 0x03 && len == 1) {
        second_codes(c, a);
        return;
    }
    if (req[0] == 0x09 && len == 2) {
        second_info(c, req[1], a);
        return;
    }
    if (req[0] != 0x01 || len < 2 || len > 7 || (len > 2 && !(c->can && c->u->multi_pid)))
        return;
    for (size_t i = 1; i < len; i++) {
        uint8_t record[5] = {req[i]};
        size_t n = second_pid(c, req[i], record + 1);
        if (n > 0 && a->len == 0)
            oxl_ecu_put(a, (const uint8_t[]){0x41}, 1);
        if (n > 0)
            oxl_ecu_put(a, record, n + 1);
    }
}

/* What the twin says: nothing that the engine's own ECU would say at the same time. */
static void say_instead(double *value, double other)
{
    if (!isnan(*value))
        *value = other;
}

static void stranger(struct oxl_readout *r)
{
    for (int b = 0; b < OXL_SIM_BANKS; b++) {
        say_instead(&r->stft_pct[b], 20);
        say_instead(&r->ltft_pct[b], 20);
        say_instead(&r->front_v[b], 0.1);
        say_instead(&r->rear_v[b], 0.1);
        say_instead(&r->front_lambda[b], 1.3);
        say_instead(&r->rear_lambda[b], 1.3);
    }
    r->rpm = 4000;
    r->air_g_s = 40;
}

size_t oxl_ecu_answers(const struct oxl_ecu_settings *u, const struct oxl_readout *r, bool can,
                       const uint8_t *req, size_t len, struct oxl_ecu_answer *out, size_t max)
{
    if (!u->answers || len == 0 || max == 0)
        return 0;
    const struct oxl_ecu_case c = {u, r, can};
    size_t n = engine_answers(&c, req, len, start(out, can ? 0x7E8 : 0x10), max);
    if (u->twin_ecu && n < max) {
        struct oxl_readout other = *r;
        stranger(&other);
        const struct oxl_ecu_case twin = {u, &other, can};
        n += engine_answers(&twin, req, len, start(out + n, can ? 0x7E9 : 0x18), max - n);
    } else if (u->second_ecu && n < max) {
        second_answer(&c, req, len, start(out + n, can ? 0x7E9 : 0x18));
        n += out[n].len > 0;
    }
    return n;
}
