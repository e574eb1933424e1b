/* Patterns of the first baseline, looked for in what a car has just said. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_car.h"

static bool finds_when(struct car *c, enum oxl_pattern_when when, enum oxl_reason r)
{
    struct oxl_patterns_watch w = {0};
    oxl_patterns_apply(&w, &c->proc, when);
    return oxl_reasons_has(w.of_session | w.of_run, r);
}

static bool finds(struct car *c, enum oxl_reason r)
{
    return finds_when(c, OXL_AT_BASELINE, r);
}

/* The front and the rear, so long each. */
static void stand(struct car *c, double s, double front, double rear)
{
    c->front = front;
    c->rear = rear;
    car_run(c, s);
}

/* A car of which nothing is known but that its front rests at balance. */
static struct car *car_at_rest(enum oxl_sensor_kind front)
{
    struct car *c = car_new();
    car_survey(c);
    c->proc.pair.front_kind = front;
    c->proc.base.front_level = 1.0;
    return c;
}

/* The rear goes to and fro, the front is calm. A front whose ECU refreshes it every 0.3 s and
 * oftener would show its own dither of a second; one that is refreshed seldomer may hide it. */
static void sensors_that_are_swapped(void **state)
{
    static const struct {
        double refresh_s, front_v[2];
        int rears;
        bool swapped;
    } rows[] = {
        {0.1, {0.7, 0.7}, 5, true},  {0.3, {0.7, 0.7}, 5, true},  {0.31, {0.7, 0.7}, 5, false},
        {0.1, {0.7, 0.1}, 5, false}, {0.1, {0.7, 0.7}, 4, false},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct car *c = car_at_rest(OXL_SENSOR_SWITCHING);
        for (int k = 0; k <= rows[i].rears; k++)
            stand(c, 0.5, rows[i].front_v[k % 2], k % 2 ? 0.1 : 0.8);
        c->proc.refreshes.front =
            (struct oxl_refresh){.known = true, .period_s = rows[i].refresh_s};
        assert_int_equal(finds(c, OXL_R_SENSORS_SWAPPED), rows[i].swapped);
        c->proc.pair.front_kind = OXL_SENSOR_WIDE;
        assert_false(finds(c, OXL_R_SENSORS_SWAPPED));
        car_free(c);
    }
}

/* Three spikes of 0.2 s above lambda 1.03 that end by themselves, the first of them from the first
 * value on; two, one that is longer, and a ripple to both sides are none. */
static void spikes_that_are_misfires(void **state)
{
    static const struct {
        int spikes;
        double s, peak, trough;
        bool misfires;
    } rows[] = {
        {3, 0.2, 1.05, 1.0, true},  {2, 0.2, 1.05, 1.0, false},  {3, 0.2, 1.025, 1.0, false},
        {3, 0.7, 1.05, 1.0, false}, {3, 0.2, 1.05, 0.96, false}, {3, 0.2, 1.05, 0.975, true},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct car *c = car_at_rest(OXL_SENSOR_WIDE);
        c->mute = true; /* it says nothing at first */
        car_run(c, 1);
        c->mute = false;
        for (int k = 0; k < rows[i].spikes; k++) {
            stand(c, rows[i].s, rows[i].peak, 0.7);
            stand(c, 0.5, 1.0, 0.7);
        }
        stand(c, 0.2, rows[i].trough, 0.7);
        stand(c, 0.5, 1.0, 0.7);
        assert_int_equal(finds(c, OXL_R_MISFIRE), rows[i].misfires);
        car_free(c);
    }
}

/* Below 0.4 V for 6 s. */
static void a_rear_that_rests_lean(void **state)
{
    (void)state;
    struct car *c = car_at_rest(OXL_SENSOR_WIDE);
    stand(c, 7, 1.0, c->proc.profile.lean_v - 0.005); /* it goes to and fro by 5 mV */
    assert_false(finds(c, OXL_R_REAR_RESTS_LEAN));
    stand(c, 5, 1.0, 0.39);
    assert_false(finds(c, OXL_R_REAR_RESTS_LEAN));
    stand(c, 2, 1.0, 0.39);
    assert_true(finds(c, OXL_R_REAR_RESTS_LEAN));
    car_free(c);
}

/* In a cut that no store keeps a rear that moved by more than 0.15 V, and never came below 0.25 V,
 * does not show lean. */
static void a_rear_that_shows_no_lean(void **state)
{
    (void)state;
    struct car *c = car_at_rest(OXL_SENSOR_WIDE);
    struct oxl_proof *r = &c->proc.sensors.rear;
    c->proc.sensors.cut.fed_mg = 1e6;
    r->lowest = r->least = 0.50;
    for (int moved = 0; moved < 2; moved++) {
        r->highest = moved ? 0.70 : 0.64;
        assert_int_equal(finds_when(c, OXL_AT_ANY_TIME, OXL_R_REAR_BIASED_RICH), moved);
    }
    r->least = 0.24;
    assert_false(finds_when(c, OXL_AT_ANY_TIME, OXL_R_REAR_BIASED_RICH));
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sensors_that_are_swapped),
        cmocka_unit_test(a_rear_that_rests_lean),
        cmocka_unit_test(a_rear_that_shows_no_lean),
        cmocka_unit_test(spikes_that_are_misfires),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
