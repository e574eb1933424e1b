/* The engine as it runs now: where each line's grade changes, and what it says. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "oxylag/grade.h"

static struct oxl_vehicle vehicle;
static const struct oxl_profile profile = {.coolant_min_c = 70,
                                           .run_time_min_s = 120,
                                           .cat_temp_min_c = 350,
                                           .trim_abs_max_pct = 10,
                                           .target_pct = -20};
static const struct oxl_grade_facts facts = {.bank = 1, .vehicle = &vehicle, .profile = &profile};

static void grades(enum oxl_gate g, double value, enum oxl_grade want)
{
    struct oxl_check c = oxl_grade_gate(&facts, g, value);
    if (c.grade != want)
        fail_msg("%s at %g: %s (%s)", c.id, value, oxl_grade_name(c.grade), c.found);
    assert_true(c.found[0]);
    assert_int_equal(c.advice[0] != 0, want >= OXL_GRADE_CAUTION);
}

static void gates_and_their_edges(void **state)
{
    (void)state;
    grades(OXL_GATE_COOLANT, 70, OXL_GRADE_PASS);
    grades(OXL_GATE_COOLANT, 69, OXL_GRADE_STOP);
    grades(OXL_GATE_RUN_TIME, 119, OXL_GRADE_STOP);
    grades(OXL_GATE_CAT_TEMP, 349, OXL_GRADE_STOP);
    grades(OXL_GATE_CAT_TEMP, 350, OXL_GRADE_PASS);
    grades(OXL_GATE_STILL, 0, OXL_GRADE_PASS);
    grades(OXL_GATE_STILL, 1, OXL_GRADE_STOP);
    /* A starter turns it at some 200: that is no engine that runs. */
    grades(OXL_GATE_ENGINE, 200, OXL_GRADE_STOP);
    grades(OXL_GATE_ENGINE, 400, OXL_GRADE_PASS);
    for (unsigned g = 0; g < OXL_GATE_COUNT; g++)
        grades((enum oxl_gate)g, NAN, OXL_GRADE_UNKNOWN);
}

/* No reading: because the vehicle has no such PID, or not yet. */
static void why_nothing_is_known(void **state)
{
    (void)state;
    static const uint8_t coolant[4] = {0x08, 0, 0, 0}; /* PID 05 */
    struct oxl_vehicle v = {0};
    struct oxl_grade_facts f = facts;
    f.vehicle = &v;
    assert_string_equal(oxl_grade_gate(&f, OXL_GATE_COOLANT, NAN).found,
                        "coolant temperature: not reported by the vehicle");
    oxl_support_add(&v.support, 0x00, coolant);
    assert_string_equal(oxl_grade_gate(&f, OXL_GATE_COOLANT, NAN).found,
                        "coolant temperature: no reading came yet");
    f.imported = true;
    assert_string_equal(oxl_grade_gate(&f, OXL_GATE_COOLANT, NAN).found,
                        "coolant temperature: not in the table");
}

/* PID 03 of SAE J1979: one bit each; bit 6 and 7 are of bank 2 in later editions. */
static void states_of_the_loop(void **state)
{
    (void)state;
    static const struct {
        double code;
        enum oxl_grade grade;
        const char *found;
    } rows[] = {
        {2, OXL_GRADE_PASS, "closed loop"},
        {0x42, OXL_GRADE_PASS, "closed loop"},
        {16, OXL_GRADE_CAUTION, "closed loop with a fault"},
        {1, OXL_GRADE_STOP, "open loop: not warm enough"},
        {4, OXL_GRADE_STOP, "open loop: load or fuel cut"},
        {8, OXL_GRADE_STOP, "open loop: system fault"},
        {0, OXL_GRADE_STOP, "fuel system not running (status 0)"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct oxl_check c = oxl_grade_gate(&facts, OXL_GATE_CLOSED_LOOP, rows[i].code);
        assert_int_equal(c.grade, rows[i].grade);
        assert_string_equal(c.found, rows[i].found);
        assert_int_equal(oxl_loop_closed(rows[i].code), rows[i].grade == OXL_GRADE_PASS);
        assert_int_equal(oxl_loop_closed_with_fault(rows[i].code), rows[i].code == 16);
        /* The other bank's system is no reason to stop. */
        assert_int_equal(oxl_grade_second_loop(rows[i].code, true).grade, rows[i].grade);
        assert_int_equal(oxl_grade_second_loop(rows[i].code, false).grade,
                         rows[i].grade == OXL_GRADE_STOP ? OXL_GRADE_CAUTION : rows[i].grade);
    }
    assert_false(oxl_loop_closed(NAN));
}

static void which_system_rules_a_bank(void **state)
{
    (void)state;
    assert_int_equal(oxl_bank_channel(OXL_Q_FUEL_SYSTEM, 1, 2).bank, 1);
    assert_int_equal(oxl_bank_channel(OXL_Q_FUEL_SYSTEM, 2, 2).bank, 2);
    assert_int_equal(oxl_bank_channel(OXL_Q_FUEL_SYSTEM, 2, 0).bank,
                     1); /* there is no second system */
    assert_int_equal(oxl_bank_channel(OXL_Q_FUEL_SYSTEM, 2, NAN).bank, 1);
    /* The bytes are systems (SAE J1979, PID 03): a second one that is "not warm enough" in an
     * engine whose first is closed is none of bank 2's. Every other difference is real. */
    static const double closed[] = {2, 16, 0x42}, open[] = {4, 8, 2, 16, 0};
    for (size_t i = 0; i < sizeof closed / sizeof *closed; i++) {
        assert_true(isnan(oxl_second_system(closed[i], 1)));
        for (size_t j = 0; j < sizeof open / sizeof *open; j++)
            assert_true(oxl_second_system(closed[i], open[j]) == open[j]);
    }
    assert_true(oxl_second_system(1, 1) == 1 && oxl_second_system(4, 1) == 1);
    assert_true(oxl_second_system(NAN, 1) == 1 && isnan(oxl_second_system(2, NAN)));
}

/* PID 12 of SAE J1979: 1 and 2 into the exhaust, 4 outside or off, 8 on for diagnosis. */
static void secondary_air(void **state)
{
    (void)state;
    static const unsigned on[] = {1, 2, 8, 9};
    for (size_t i = 0; i < sizeof on / sizeof *on; i++)
        grades(OXL_GATE_SECONDARY_AIR, on[i], OXL_GRADE_STOP);
    grades(OXL_GATE_SECONDARY_AIR, 4, OXL_GRADE_PASS);
    grades(OXL_GATE_SECONDARY_AIR, 0, OXL_GRADE_PASS);
    assert_false(oxl_secondary_air_on(NAN));
}

static void trims(void **state)
{
    (void)state;
    assert_int_equal(oxl_grade_trims(&facts, 6, 4).grade, OXL_GRADE_PASS);
    assert_int_equal(oxl_grade_trims(&facts, 6, 4.1).grade, OXL_GRADE_CAUTION);
    assert_int_equal(oxl_grade_trims(&facts, -6, -5).grade, OXL_GRADE_CAUTION);
    assert_int_equal(oxl_grade_trims(&facts, NAN, 2).grade, OXL_GRADE_UNKNOWN);
    assert_string_equal(oxl_grade_trims(&facts, 3, NAN).found,
                        "total trim +3.0 % (short +3.0, no long-term trim), usual within 10");
    /* -25 is the nearest limit: 20 below the start must stay above it. */
    assert_int_equal(oxl_grade_trim_room(-5, &profile).grade, OXL_GRADE_PASS);
    assert_int_equal(oxl_grade_trim_room(-5.1, &profile).grade, OXL_GRADE_CAUTION);
    assert_int_equal(oxl_grade_trim_room(NAN, &profile).grade, OXL_GRADE_UNKNOWN);
    /* The sum counts: a long-term trim of -9 leaves no room, whatever the short-term one says. */
    assert_int_equal(oxl_grade_trim_room(oxl_total_trim_of(0, -9), &profile).grade,
                     OXL_GRADE_CAUTION);
}

static void a_trim_that_does_not_move(void **state)
{
    (void)state;
    assert_int_equal(oxl_grade_frozen_trim(true, OXL_SENSOR_WIDE).grade, OXL_GRADE_UNKNOWN);
    assert_int_equal(oxl_grade_frozen_trim(true, OXL_SENSOR_SWITCHING).grade, OXL_GRADE_CAUTION);
    assert_int_equal(oxl_grade_frozen_trim(false, OXL_SENSOR_WIDE).grade, OXL_GRADE_CAUTION);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gates_and_their_edges),
        cmocka_unit_test(why_nothing_is_known),
        cmocka_unit_test(states_of_the_loop),
        cmocka_unit_test(which_system_rules_a_bank),
        cmocka_unit_test(secondary_air),
        cmocka_unit_test(trims),
        cmocka_unit_test(a_trim_that_does_not_move),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
