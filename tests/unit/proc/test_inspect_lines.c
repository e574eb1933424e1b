/* Which facts an inspection shows: a line where there is something to say, and none where there is
 * not. What the lines say is the grade room's. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "oxylag/grade.h"
#include "proc/inspect.h"

static struct oxl_inspection v;

static void begin(unsigned bank)
{
    memset(&v, 0, sizeof v);
    v.bank = bank;
    v.front_hz = v.rear_hz = v.round_ms = NAN;
    v.vehicle.protocol = OXL_PROTO_CAN11_500;
    v.vehicle.ecu = 0x7E8;
    v.onboard.ecus_n = 1;
    v.onboard.ecus[0].ecu = 0x7E8;
}

static void look(void)
{
    struct oxl_session_config config = {.bank = v.bank};
    oxl_profile_defaults(&config.profile);
    v.checks_n = v.sections_n = 0;
    oxl_inspect_lines(&v, &config);
}

static bool shows(const char *id)
{
    for (size_t i = 0; i < v.checks_n; i++)
        if (strcmp(v.checks[i].id, id) == 0)
            return true;
    return false;
}

/* Scale 20: 1/256 a step; 1 at most. */
static void add_result(uint8_t monitor, uint16_t value)
{
    v.onboard.results[v.onboard.results_n++] = (struct oxl_monitor_result){
        .ecu = 0x7E8, .monitor = monitor, .test = 0x80, .scale = 0x20, .value = value, .max = 256};
    v.onboard.results_known = true;
}

static void which_monitor_results(void **state)
{
    (void)state;
    begin(1);
    look();
    assert_true(shows("monitors")); /* there are none */
    add_result(0x31, 100);          /* EGR: no matter of this test, and it passed */
    add_result(0x32, 300);          /* the other bank's, failed: shown all the same */
    add_result(0x01, 100);          /* the front sensor: shown though it passed */
    add_result(0x22, 100);          /* the catalyst of bank 2 is not that of bank 1 */
    look();
    assert_false(shows("monitors") || shows("monitor-31-80") || shows("monitors-cut"));
    assert_true(shows("monitor-32-80") && shows("monitor-01-80") && shows("monitor-catalyst"));
    add_result(0x21, 100);
    v.onboard.results_cut = true;
    look();
    assert_true(shows("monitors-cut") && shows("monitor-21-80"));
    assert_false(shows("monitor-catalyst"));
    /* On a K-line no monitor has the catalyst's number: its result is not missed. */
    v.vehicle.protocol = OXL_PROTO_ISO9141;
    v.onboard.results_n--;
    look();
    assert_false(shows("monitor-catalyst"));
}

static void what_answers_nothing_is_told(void **state)
{
    (void)state;
    begin(1);
    v.onboard.results_known = true; /* it answered, and has no results */
    look();
    assert_false(shows("monitors"));
    assert_true(shows("monitor-catalyst"));
    assert_true(shows("readiness"));
}

/* With compression ignition the monitors are others (SAE J1979, PID 01): only the lamp is told. */
static void readiness_of_either_ignition(void **state)
{
    (void)state;
    for (int diesel = 0; diesel < 2; diesel++) {
        begin(1);
        v.vehicle.readiness.known = true;
        v.vehicle.readiness.compression_ignition = diesel;
        look();
        assert_int_equal(shows("ready-catalyst"), !diesel);
        assert_true(shows("lamp"));
        assert_false(shows("readiness"));
    }
}

/* The count beside the lamp against the list, of each ECU that is there and of no more. */
static void a_count_that_is_not_that_of_the_list(void **state)
{
    (void)state;
    for (size_t ecus = 0; ecus <= 2; ecus++) {
        begin(1);
        for (size_t i = 0; i < 2; i++) {
            struct oxl_ecu_info *e = &v.onboard.ecus[i];
            e->readiness.known = e->dtcs[OXL_DTC_STORED].known = true;
            e->readiness.stored_dtcs = i == 1;
        }
        v.onboard.ecus_n = ecus;
        look();
        assert_int_equal(shows("codes-count"), ecus == 2);
    }
}

/* Of a second fuel system, where one answers. */
static void a_second_fuel_system(void **state)
{
    (void)state;
    begin(1);
    look();
    assert_false(shows("closed-loop-2"));
    v.reading[0].channel = oxl_channel(OXL_Q_FUEL_SYSTEM, 2, 0);
    v.reading[0].value = 2;
    v.readings_n = 1;
    look();
    assert_true(shows("closed-loop-2"));
}

/* The other bank has its line where it has sensors. */
static void the_other_banks_sensors(void **state)
{
    (void)state;
    for (unsigned bank = 1; bank <= 2; bank++) {
        static const char *const ids[] = {"sensors-bank-1", "sensors-bank-2"};
        const char *other = ids[2 - bank];
        begin(bank);
        look();
        assert_true(shows(ids[bank - 1]));
        assert_false(shows(other));
        v.pair[2 - bank].rear_kind = OXL_SENSOR_SWITCHING;
        look();
        assert_true(shows(other));
        v.pair[2 - bank] = (struct oxl_pair){.front_kind = OXL_SENSOR_WIDE};
        look();
        assert_true(shows(other));
    }
}

/* More than there is room for: the worst grade counts all the same. */
static void what_there_is_no_room_for_still_counts(void **state)
{
    (void)state;
    begin(1);
    v.onboard.ecus_n = 4;
    for (size_t u = 0; u < 4; u++) {
        struct oxl_ecu_info *e = &v.onboard.ecus[u];
        e->ecu = 0x7E8 + (uint32_t)u;
        for (int kind = 0; kind < OXL_DTC_KINDS; kind++) {
            e->dtcs[kind].known = true;
            for (; e->dtcs[kind].n < OXL_MAX_DTCS; e->dtcs[kind].n++)
                e->dtcs[kind].codes[e->dtcs[kind].n] = (uint16_t)(0x0171 + e->dtcs[kind].n);
        }
    }
    for (int i = 0; i < 32; i++)
        add_result(0x21, 300);
    look();
    assert_int_equal(v.checks_n, OXL_INSPECT_CHECKS);
    assert_true(v.worst >= OXL_GRADE_CAUTION);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(which_monitor_results),
        cmocka_unit_test(what_answers_nothing_is_told),
        cmocka_unit_test(readiness_of_either_ignition),
        cmocka_unit_test(a_count_that_is_not_that_of_the_list),
        cmocka_unit_test(a_second_fuel_system),
        cmocka_unit_test(the_other_banks_sensors),
        cmocka_unit_test(what_there_is_no_room_for_still_counts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
