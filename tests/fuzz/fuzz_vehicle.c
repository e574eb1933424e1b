/* Any payload into every decoder of the vehicle room.
 *
 * Input: flags (bit 0 CAN, bits 1-2 layout), sensor byte, five full scales, then the message.
 */
#include <math.h>

#include "help_fuzz.h"
#include "oxylag/onboard.h"

enum { HEADER = 7, MAX_SAMPLES = 64 };

static void live(const struct oxl_message *m, const struct oxl_decoding *d)
{
    struct oxl_sample out[MAX_SAMPLES];
    bool clean;
    for (size_t max = 0; max <= MAX_SAMPLES; max += MAX_SAMPLES / 2) {
        size_t n = oxl_decode_live(m, d, 1, out, max, &clean);
        CHECK(n <= max);
        for (size_t i = 0; i < n; i++) {
            CHECK(isfinite(out[i].value));
            CHECK(out[i].channel.quantity > OXL_Q_NONE && out[i].channel.quantity < OXL_Q_COUNT);
            CHECK(out[i].channel.bank <= OXL_BANKS && out[i].channel.sensor <= OXL_SENSORS);
        }
    }
    for (unsigned pid = 0; pid < 256; pid++) {
        size_t len = 0;
        const uint8_t *at = oxl_find_pid(m, d, (uint8_t)pid, &len);
        CHECK(!at || (at > m->data && at + len <= m->data + m->len && len > 0));
    }
}

static void codes(const struct oxl_message *m, bool can)
{
    uint16_t list[OXL_MAX_DTCS];
    size_t n = 0;
    oxl_decode_dtcs(m, can, list, &n, OXL_MAX_DTCS);
    oxl_decode_dtcs(m, !can, list, &n, OXL_MAX_DTCS);
    CHECK(n <= OXL_MAX_DTCS);
    for (size_t i = 0; i < n; i++) {
        char text[6];
        oxl_dtc_text(list[i], text);
        CHECK(strlen(text) == 5 && list[i] != 0);
    }
}

static void vin(const struct oxl_message *m, bool can)
{
    char out[18] = "";
    unsigned have = 0;
    bool whole = oxl_decode_vin(m, can, out, &have);
    CHECK(strlen(out) == (whole ? 17 : 0));
    oxl_vin_check_digit(out);
    if (m->len >= 18) {
        char any[18];
        memcpy(any, m->data, sizeof any);
        oxl_vin_check_digit(any);
    }
}

static void monitors(const struct oxl_message *m, bool can)
{
    struct oxl_monitor_result out[16];
    struct oxl_support s = {{0}};
    bool clean;
    oxl_decode_monitor_mask(m, can, &s);
    for (size_t max = 0; max <= 16; max += 8) {
        size_t n = oxl_decode_monitor(m, can, out, max, &clean);
        CHECK(n <= max);
        for (size_t i = 0; i < n; i++) {
            char text[48];
            struct oxl_monitor_figures f = oxl_monitor_figures(&out[i]);
            enum oxl_monitor_verdict v = oxl_monitor_verdict(&out[i]);
            oxl_monitor_title(&out[i], text, sizeof text);
            CHECK(text[0] && strlen(text) < sizeof text - 1);
            oxl_test_title(&out[i], text, sizeof text);
            CHECK(text[0] && strlen(text) < sizeof text - 1);
            /* What has passed has room left, what has failed has none. */
            CHECK(!(v == OXL_MONITOR_PASSED && f.margin < -1e-9));
            CHECK(!(v == OXL_MONITOR_FAILED && !(f.margin < 0)));
            CHECK(v != OXL_MONITOR_NOT_RUN || isnan(f.value));
        }
    }
}

static void sensor_tests(const struct oxl_message *m, enum oxl_layout_kind layout)
{
    for (unsigned place = 0; place <= 8; place++) {
        struct oxl_support s = {{0}};
        struct oxl_monitor_result r;
        oxl_decode_sensor_mask(m, place, &s);
        if (!oxl_decode_sensor_test(m, place, layout, &r))
            continue;
        struct oxl_monitor_figures f = oxl_monitor_figures(&r);
        CHECK(oxl_monitor_is_sensor(r.monitor));
        CHECK(oxl_monitor_verdict(&r) != OXL_MONITOR_FAILED || f.margin < 0);
    }
}

static void frozen(const struct oxl_message *m, const struct oxl_decoding *d)
{
    struct oxl_sample out[8];
    uint16_t code;
    bool clean;
    oxl_decode_freeze_frame_dtc(m, &code);
    for (size_t max = 0; max <= 8; max += 4) {
        size_t n = oxl_decode_freeze_frame(m, d, out, max, &clean);
        CHECK(n <= max);
        for (size_t i = 0; i < n; i++)
            CHECK(isfinite(out[i].value));
    }
}

static void info(const struct oxl_message *m, bool can)
{
    static const uint8_t pids[] = {0x04, 0x06, 0x0A};
    for (size_t i = 0; i < sizeof pids; i++) {
        struct oxl_info got = {.len = 0};
        char calibrations[OXL_MAX_CALIBRATIONS][17], name[24];
        uint32_t verifications[OXL_MAX_CALIBRATIONS];
        oxl_decode_info(m, can, pids[i], &got);
        CHECK(got.len <= OXL_INFO_BYTES);
        size_t n = oxl_info_calibrations(&got, calibrations);
        for (size_t c = 0; c < n; c++)
            CHECK(strlen(calibrations[c]) <= 16);
        CHECK(oxl_info_verifications(&got, verifications) <= OXL_MAX_CALIBRATIONS);
        oxl_info_name(&got, name);
        CHECK(strlen(name) < sizeof name);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size < HEADER)
        return 0;
    bool can = data[0] & 1;
    struct oxl_decoding d = {.layout = (enum oxl_layout_kind)((data[0] >> 1 & 3) % 3),
                             .sensors = data[1],
                             .scaling = {data[2], data[3], data[4], data[5], data[6]}};
    /* A copy of its own size, so that a read past the message is seen. */
    size_t len = size - HEADER;
    uint8_t *bytes = malloc(len ? len : 1);
    if (!bytes)
        return 0;
    memcpy(bytes, data + HEADER, len);
    struct oxl_message m = {.ecu = 0x7E8, .data = bytes, .len = len};
    live(&m, &d);
    codes(&m, can);
    vin(&m, can);
    monitors(&m, can);
    sensor_tests(&m, d.layout);
    frozen(&m, &d);
    info(&m, can);
    struct oxl_readiness r;
    if (len >= 4)
        CHECK(oxl_decode_readiness(bytes, &r) && r.stored_dtcs < 128);
    free(bytes);
    return 0;
}
