/* Outside check of the simulated vehicle: tshark (its obd-ii dissector) reads the CAN frames
 * that the adapter showed and must come to the readout's numbers, within half a step of the
 * standard's coding; and it must put the vehicle's VIN together from its three frames. */
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

#include "help_unit.h"

static struct rig rig;
static char path[64];

static int setup(void **state)
{
    (void)state;
    rig_defaults(&rig);
    snprintf(path, sizeof path, "/tmp/oxl_unit_XXXXXX");
    int fd = mkstemp(path);
    return fd < 0 ? -1 : close(fd);
}

static int teardown(void **state)
{
    (void)state;
    return unlink(path);
}

/* What tshark must say: PID, its field, the value before coding, and the coding's step. */
struct expect {
    unsigned pid;
    const char *field;
    double value, step;
};

static void ask_all(struct capture *c, const struct expect *e, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        char request[16];
        snprintf(request, sizeof request, "01%02X1", e[i].pid);
        if (capture_reply(c, rig_ask(&rig, request)) != 1)
            fail_msg("item %02X: no frame in '%s'", e[i].pid, rig.reply);
    }
}

/* Text of a column of a row, columns parted by tabs; NULL when the row is shorter. */
static const char *column(const char *row, size_t i)
{
    for (; i > 0 && row; i--) {
        row = strchr(row, '\t');
        row = row ? row + 1 : NULL;
    }
    return row;
}

static bool first_use(const struct expect *e, size_t i)
{
    for (size_t k = 0; k < i; k++)
        if (strcmp(e[k].field, e[i].field) == 0)
            return false;
    return true;
}

/* tshark prints a field that is asked for twice only once: column 1 on, in order of first use. */
static size_t column_of(const struct expect *e, size_t i)
{
    size_t before = 0;
    for (size_t k = 0; strcmp(e[k].field, e[i].field) != 0; k++)
        before += first_use(e, k);
    return before + 1;
}

static void check_row(const struct expect *e, const char *row, const char *text)
{
    int pid = -1;
    double value = NAN;
    if (!text || sscanf(row, "%i", &pid) != 1 || sscanf(text, "%lf", &value) != 1 ||
        pid != (int)e->pid || !(fabs(value - e->value) <= e->step / 2 + 1e-9))
        fail_msg("item %02X %s: tshark says '%s', the vehicle had %.6f", e->pid, e->field, row,
                 e->value);
}

static void check(const struct expect *e, size_t n)
{
    static char rows[64][256];
    char fields[1600] = "-e obd-ii.mode01_pid";
    rig_ready(&rig);
    struct capture *c = capture_open(path);
    ask_all(c, e, n);
    capture_close(c);
    rig_close(&rig);
    for (size_t i = 0; i < n; i++)
        if (first_use(e, i))
            snprintf(fields + strlen(fields), sizeof fields - strlen(fields),
                     " -e obd-ii.mode01_%s", e[i].field);
    assert_int_equal(tshark_rows(path, "obd-ii", fields, rows, 64), n);
    for (size_t i = 0; i < n; i++)
        check_row(&e[i], rows[i], column(rows[i], column_of(e, i)));
}
#define CHECK(e) check(e, sizeof(e) / sizeof((e)[0]))

static void test_engine_values(void **state)
{
    (void)state;
    const struct oxl_readout *r = &rig.readout;
    rig.ecu.has_cat_temp = true;
    const struct expect e[] = {
        {0x03, "fuel_system1_status", 2, 0},
        {0x04, "engine_load", r->load_pct, 100.0 / 255},
        {0x05, "engine_coolant_temp", r->coolant_c, 1},
        {0x06, "short_term_fuel_bank1", r->stft_pct[0], 100.0 / 128},
        {0x07, "long_term_fuel_bank1", r->ltft_pct[0], 100.0 / 128},
        {0x0B, "intake_manifold_absolute_pressure", r->map_kpa, 1},
        {0x0C, "engine_rpm", r->rpm, 0.25},
        {0x0D, "vehicle_speed", r->speed_kmh, 1},
        {0x0F, "intake_air_temp", r->intake_c, 1},
        {0x10, "maf_air_flow_rate", r->air_g_s, 0.01},
        {0x11, "throttle_position", r->throttle_pct, 100.0 / 255},
        {0x14, "oxygen_sensor_voltage", r->front_v[0], 0.005},
        {0x15, "oxygen_sensor_voltage", r->rear_v[0], 0.005},
        {0x1C, "obd_standards", 1, 0},
        {0x1F, "engine_uptime", r->run_time_s, 1},
        {0x3C, "catalyst_temp_11", r->cat_temp_c[0], 0.1},
        {0x44, "fuel_air_commanded_equiv_ratio", 1, 0},
        {0x51, "fuel_type", 1, 0},
    };
    CHECK(e);
}

static void test_two_banks_of_wide_current_sensors(void **state)
{
    (void)state;
    struct oxl_readout *r = &rig.readout;
    strcpy(rig.ecu.front, "wide-current");
    rig.ecu.has_cat_temp = true;
    rig.set.protocol = 7; /* and 29-bit identifiers */
    r->front_lambda[0] = 0.8312;
    r->front_ma[0] = -0.713;
    r->front_lambda[1] = 1.0467;
    r->front_ma[1] = 0.214;
    r->stft_pct[1] = 24.7;
    r->ltft_pct[1] = -7.3;
    r->rear_v[1] = 0.123;
    r->cat_temp_c[1] = 633.27;
    const struct expect e[] = {
        {0x08, "short_term_fuel_bank2", r->stft_pct[1], 100.0 / 128},
        {0x09, "long_term_fuel_bank2", r->ltft_pct[1], 100.0 / 128},
        {0x34, "oxygen_sensor_fuel_air_ratio", r->front_lambda[0], 2.0 / 65536},
        {0x34, "oxygen_sensor_current", r->front_ma[0], 1.0 / 256},
        {0x38, "oxygen_sensor_fuel_air_ratio", r->front_lambda[1], 2.0 / 65536},
        {0x38, "oxygen_sensor_current", r->front_ma[1], 1.0 / 256},
        {0x15, "oxygen_sensor_voltage", r->rear_v[0], 0.005},
        {0x19, "oxygen_sensor_voltage", r->rear_v[1], 0.005},
        {0x3D, "catalyst_temp_21", r->cat_temp_c[1], 0.1},
    };
    CHECK(e);
}

static void test_wide_volts_sensors_in_the_other_layout(void **state)
{
    (void)state;
    struct oxl_readout *r = &rig.readout;
    strcpy(rig.ecu.front, "wide-volts");
    strcpy(rig.ecu.layout, "1D");
    r->front_lambda[0] = 1.0012;
    r->front_wide_v[0] = 3.2975;
    r->front_lambda[1] = 0.7431;
    r->front_wide_v[1] = 1.7023;
    r->rear_v[1] = 0.871;
    const struct expect e[] = {
        {0x24, "oxygen_sensor_fuel_air_ratio", r->front_lambda[0], 2.0 / 65536},
        {0x24, "oxygen_sensor_voltage", r->front_wide_v[0], 8.0 / 65536},
        {0x26, "oxygen_sensor_fuel_air_ratio", r->front_lambda[1], 2.0 / 65536},
        {0x26, "oxygen_sensor_voltage", r->front_wide_v[1], 8.0 / 65536},
        {0x17, "oxygen_sensor_voltage", r->rear_v[1], 0.005},
    };
    CHECK(e);
}

static void test_vin_and_reassembly(void **state)
{
    (void)state;
    char rows[8][256];
    rig_ready(&rig);
    struct capture *c = capture_open(path);
    assert_int_equal(capture_reply(c, rig_ask(&rig, "0902")), 3);
    capture_close(c);
    assert_int_equal(tshark_rows(path, "obd-ii", "-e obd-ii.VIN", rows, 8), 3);
    assert_string_equal(rows[2], rig.ecu.vin);
    /* A long answer to several PIDs, whole, by its length and bytes. */
    c = capture_open(path);
    assert_int_equal(capture_reply(c, rig_ask(&rig, "010C0D0B05040F")), 3);
    capture_close(c);
    rig_close(&rig);
    assert_int_equal(
        tshark_rows(path, "data", "-e iso15765.reassembled.length -e data.data", rows, 8), 3);
    assert_string_equal(rows[2], "14\t410c0b990d000b210584043a0f47");
}

/* tshark's list of supported PIDs in answers to 00, 20 and 40 against the answers given. */
static void test_masks(void **state)
{
    (void)state;
    static char rows[8][256];
    rig_ready(&rig);
    struct capture *c = capture_open(path);
    assert_int_equal(capture_reply(c, rig_ask(&rig, "01001")), 1);
    capture_close(c);
    assert_int_equal(tshark_rows(path, "obd-ii", "-e obd-ii.mode01_supported_pid", rows, 8), 1);
    bool told[0x21] = {false};
    for (char *at = rows[0]; *at;) {
        char *end;
        unsigned long pid = strtoul(at, &end, 0);
        assert_true(end != at && pid <= 0x20);
        told[pid] = true;
        at = *end ? end + 1 : end;
    }
    for (unsigned pid = 1; pid <= 0x20; pid++) {
        char request[16];
        snprintf(request, sizeof request, "01%02X", pid);
        assert_int_equal(strstr(rig_ask(&rig, request), "NO DATA") == NULL, told[pid]);
    }
    rig_close(&rig);
}

/* ISO 14229 form of a refusal, by tshark's uds dissector: service 04, code 22. */
static void test_refusal_to_clear(void **state)
{
    (void)state;
    char rows[8][256];
    strcpy(rig.ecu.stored, "P0420");
    rig_ready(&rig);
    struct capture *c = capture_open(path);
    assert_int_equal(capture_reply(c, rig_ask(&rig, "041")), 1);
    capture_close(c);
    assert_string_equal(rig_ask(&rig, "031"), "7E80443010420AAAAAA||>");
    rig_close(&rig);
    assert_int_equal(tshark_rows(path, "uds", "-e uds.err.sid -e uds.err.code", rows, 8), 1);
    unsigned sid = 0, code = 0;
    assert_int_equal(sscanf(rows[0], "%i\t%i", (int *)&sid, (int *)&code), 2);
    assert_int_equal(sid, 0x04);
    assert_int_equal(code, 0x22);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_engine_values, setup, teardown),
        cmocka_unit_test_setup_teardown(test_two_banks_of_wide_current_sensors, setup, teardown),
        cmocka_unit_test_setup_teardown(test_wide_volts_sensors_in_the_other_layout, setup,
                                        teardown),
        cmocka_unit_test_setup_teardown(test_vin_and_reassembly, setup, teardown),
        cmocka_unit_test_setup_teardown(test_masks, setup, teardown),
        cmocka_unit_test_setup_teardown(test_refusal_to_clear, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
