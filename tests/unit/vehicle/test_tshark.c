/* Outside check: several hundred random answers of every PID that is decoded, judged by the
 * obd-ii dissector of tshark. It does not know two-byte trims, several PIDs in an answer, PID
 * 66 or the rescaling of PIDs 4F and 50; those are checked elsewhere. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "help_vehicle.h"

enum { ROUNDS = 12, MAX_FRAMES = 1024 };

/* PIDs and the number of data bytes sent. */
static const struct {
    uint8_t first, last, len;
} pids[] = {{0x03, 0x03, 2}, {0x04, 0x09, 1}, {0x0B, 0x0B, 1}, {0x0C, 0x0C, 2}, {0x0D, 0x0D, 1},
            {0x0F, 0x0F, 1}, {0x10, 0x10, 2}, {0x11, 0x12, 1}, {0x14, 0x1B, 2}, {0x1F, 0x1F, 2},
            {0x24, 0x2B, 4}, {0x34, 0x3B, 4}, {0x3C, 0x3F, 2}, {0x44, 0x44, 2}, {0x51, 0x51, 1},
            {0x55, 0x58, 2}, {0x5E, 0x5E, 2}};

/* The fields that tshark prints, each with the value of ours that it must equal. Bank and sensor
 * 0: those of the PID, as tshark's oxygen sensor number says. */
static const struct {
    const char *field;
    uint8_t quantity, bank, sensor;
} fields[] = {
    {"fuel_system1_status", OXL_Q_FUEL_SYSTEM, 1, 0},
    {"fuel_system2_status", OXL_Q_FUEL_SYSTEM, 2, 0},
    {"engine_load", OXL_Q_LOAD_PCT, 0, 0},
    {"engine_coolant_temp", OXL_Q_COOLANT_C, 0, 0},
    {"short_term_fuel_bank1", OXL_Q_STFT_PCT, 1, 0},
    {"short_term_fuel_bank2", OXL_Q_STFT_PCT, 2, 0},
    {"long_term_fuel_bank1", OXL_Q_LTFT_PCT, 1, 0},
    {"long_term_fuel_bank2", OXL_Q_LTFT_PCT, 2, 0},
    {"intake_manifold_absolute_pressure", OXL_Q_MAP_KPA, 0, 0},
    {"engine_rpm", OXL_Q_RPM, 0, 0},
    {"vehicle_speed", OXL_Q_SPEED_KMH, 0, 0},
    {"intake_air_temp", OXL_Q_INTAKE_C, 0, 0},
    {"maf_air_flow_rate", OXL_Q_AIR_G_S, 0, 0},
    {"throttle_position", OXL_Q_THROTTLE_PCT, 0, 0},
    {"secondary_air_status", OXL_Q_SECONDARY_AIR, 0, 0},
    {"engine_uptime", OXL_Q_RUN_TIME_S, 0, 0},
    {"oxygen_sensor_fuel_air_ratio", OXL_Q_LAMBDA, 0, 0},
    {"oxygen_sensor_voltage", OXL_Q_O2_V, 0, 0}, /* or WIDE_V, by the PID */
    {"oxygen_sensor_current", OXL_Q_WIDE_MA, 0, 0},
    {"catalyst_temp_11", OXL_Q_CAT_TEMP_C, 1, 1},
    {"catalyst_temp_21", OXL_Q_CAT_TEMP_C, 2, 1},
    {"catalyst_temp_12", OXL_Q_CAT_TEMP_C, 1, 2},
    {"catalyst_temp_22", OXL_Q_CAT_TEMP_C, 2, 2},
    {"fuel_air_commanded_equiv_ratio", OXL_Q_COMMANDED_LAMBDA, 0, 0},
    {"fuel_type", OXL_Q_FUEL_TYPE, 0, 0},
    {"engine_fuel_rate", OXL_Q_FUEL_RATE_L_H, 0, 0},
};
enum { FIELDS = sizeof fields / sizeof fields[0] };

struct frame {
    uint8_t len, data[8]; /* data: the answer from 41 on */
};
static struct frame frames[MAX_FRAMES];
static size_t frame_count;

static uint32_t seed = 20240607;
static uint8_t any_byte(void)
{
    seed = seed * 1664525u + 1013904223u;
    return (uint8_t)(seed >> 24);
}

static void make_frame(uint8_t pid, uint8_t len)
{
    assert_true(frame_count < MAX_FRAMES);
    struct frame *f = &frames[frame_count++];
    f->len = (uint8_t)(len + 2);
    f->data[0] = 0x41;
    f->data[1] = pid;
    for (unsigned i = 0; i < len; i++) {
        f->data[2 + i] = any_byte();
        if (pid == 0x03) /* only these are states */
            f->data[2 + i] = (uint8_t)(1u << f->data[2 + i] % 5);
        if (pid >= 0x14 && pid <= 0x1B && i == 1 && frame_count % 4 == 0)
            f->data[2 + i] = 0xFF;
    }
}

static void put32(FILE *f, uint32_t v)
{
    for (unsigned i = 0; i < 4; i++)
        fputc((int)(v >> 8 * i & 0xFF), f);
}

/* Classic pcap, link type 227 (SocketCAN): identifier big-endian, length, three fill bytes. */
static void write_pcap(const char *path)
{
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    put32(f, 0xA1B2C3D4);
    put32(f, 2 | 4u << 16);
    put32(f, 0);
    put32(f, 0);
    put32(f, 0xFFFF);
    put32(f, 227);
    for (size_t i = 0; i < frame_count; i++) {
        const uint8_t head[8] = {0, 0, 0x07, 0xE8, 8, 0, 0, 0};
        put32(f, (uint32_t)i);
        put32(f, 0);
        put32(f, 16);
        put32(f, 16);
        fwrite(head, 1, sizeof head, f);
        fputc(frames[i].len, f); /* ISO 15765-2 single frame */
        fwrite(frames[i].data, 1, frames[i].len, f);
        for (unsigned n = frames[i].len; n < 7; n++)
            fputc(0xAA, f);
    }
    assert_int_equal(fclose(f), 0);
}

static FILE *run_tshark(const char *pcap)
{
    static char cmd[4096];
    int n = snprintf(cmd, sizeof cmd,
                     "LC_ALL=C.UTF-8 tshark -n -r %s -d can.subdissector,iso15765 "
                     "-d iso15765.subdissector,obd-ii -T fields -E separator=/t -E occurrence=f "
                     "-e frame.number -e _ws.col.Info",
                     pcap);
    for (unsigned i = 0; i < FIELDS; i++)
        n += snprintf(cmd + n, sizeof cmd - (size_t)n, " -e obd-ii.mode01_%s", fields[i].field);
    snprintf(cmd + n, sizeof cmd - (size_t)n, " 2>/dev/null");
    return popen(cmd, "r");
}

static double ours(const struct help_samples *s, struct oxl_channel c)
{
    for (size_t i = 0; i < s->n; i++)
        if (oxl_channel_same(s->s[i].channel, c))
            return s->s[i].value;
    return NAN;
}

static struct help_samples decode_frame(const struct frame *f)
{
    const struct oxl_decoding d = {.layout = OXL_LAYOUT_UNKNOWN};
    struct oxl_message m = {.ecu = 0x7E8, .data = f->data, .len = f->len};
    struct help_samples s = {.n = 0};
    s.n = oxl_decode_live(&m, &d, 0, s.s, HELP_MAX_SAMPLES, &s.clean);
    assert_true(s.clean);
    return s;
}

static struct oxl_channel channel_of(unsigned field, uint8_t pid)
{
    struct oxl_channel c = oxl_channel((enum oxl_quantity)fields[field].quantity,
                                       fields[field].bank, fields[field].sensor);
    bool of_sensor =
        c.quantity == OXL_Q_LAMBDA || c.quantity == OXL_Q_O2_V || c.quantity == OXL_Q_WIDE_MA;
    if (of_sensor) { /* PID-13 order, written out here once more on purpose */
        unsigned index = (pid & 0x0Fu) - 4;
        c.bank = (uint8_t)(index / 4 + 1);
        c.sensor = (uint8_t)(index % 4 + 1);
        if (c.quantity == OXL_Q_O2_V && pid >= 0x24)
            c.quantity = OXL_Q_WIDE_V;
    }
    return c;
}

/* Values that tshark prints only in its sentence, with two decimals. Returns how many. */
static unsigned compare_sentence(const char *info, const struct frame *f,
                                 const struct help_samples *s)
{
    double a, b;
    uint8_t pid = f->data[1];
    const char *at = strstr(info, "Short term fuel trim: ");
    if (pid >= 0x14 && pid <= 0x1B && at) {
        unsigned index = pid - 0x14u;
        assert_int_equal(sscanf(at, "Short term fuel trim: %lf", &a), 1);
        assert_near(ours(s, oxl_channel(OXL_Q_O2_TRIM_PCT, index / 4 + 1, index % 4 + 1)), a,
                    0.0051);
        return 1;
    }
    if (pid >= 0x55 && pid <= 0x58) {
        enum oxl_quantity q = pid % 2 ? OXL_Q_REAR_STFT_PCT : OXL_Q_REAR_LTFT_PCT;
        unsigned bank = pid < 0x57 ? 1 : 2;
        at = strchr(info, '{');
        assert_non_null(at);
        assert_int_equal(sscanf(at, "{ %lf %%, %lf", &a, &b), 2);
        assert_near(ours(s, oxl_channel(q, bank, 0)), a, 0.0051);
        assert_near(ours(s, oxl_channel(q, bank + 2, 0)), b, 0.0051);
        return 2;
    }
    return 0;
}

/* Every sample of ours must be among what tshark printed, and the other way round. */
static unsigned compare_row(char *row, size_t index)
{
    const struct frame *f = &frames[index];
    struct help_samples s = decode_frame(f);
    char *number = row, *info = strchr(number, '\t');
    assert_non_null(info);
    *info++ = '\0';
    assert_int_equal(strtoul(number, NULL, 10), index + 1);
    char *column = strchr(info, '\t');
    assert_non_null(column);
    *column++ = '\0';
    unsigned compared = compare_sentence(info, f, &s);
    for (unsigned i = 0; i < FIELDS; i++) {
        char *end = column + strcspn(column, "\t\n");
        if (end > column) {
            double theirs = strtod(column, NULL), mine = ours(&s, channel_of(i, f->data[1]));
            if (!(fabs(theirs - mine) <= 1e-6))
                fail_msg("item %02X, %s: tshark says %.9g, we say %.9g", f->data[1],
                         fields[i].field, theirs, mine);
            compared++;
        }
        column = *end ? end + 1 : end;
    }
    if (compared != s.n)
        fail_msg("item %02X: %u values from tshark, %zu from us", f->data[1], compared, s.n);
    return compared;
}

static void tshark_agrees(void **state)
{
    (void)state;
    char pcap[] = "/tmp/oxylag-vehicle-XXXXXX", line[4096];
    unsigned values = 0;
    size_t rows = 0;
    for (unsigned round = 0; round < ROUNDS; round++)
        for (unsigned i = 0; i < sizeof pids / sizeof pids[0]; i++)
            for (unsigned pid = pids[i].first; pid <= pids[i].last; pid++)
                make_frame((uint8_t)pid, pids[i].len);
    int fd = mkstemp(pcap);
    assert_true(fd >= 0);
    close(fd);
    write_pcap(pcap);
    FILE *out = run_tshark(pcap);
    assert_non_null(out);
    while (fgets(line, sizeof line, out) && rows < frame_count)
        values += compare_row(line, rows++);
    int status = pclose(out);
    unlink(pcap);
    if (status != 0 || rows != frame_count)
        fail_msg("tshark is needed for this test: status %d, %zu of %zu rows", status, rows,
                 frame_count);
    print_message("%zu answers, %u values agree\n", rows, values);
    assert_true(values > 700);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(tshark_agrees)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
