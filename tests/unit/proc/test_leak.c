/* The leak check against a scripted car: found, not found, waited for, offered. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_car.h"

static void leak_check(struct car *c, double covered_v)
{
    double rest = c->rear;
    car_key(c, OXL_KEY_LEAK);
    assert_int_equal(c->proc.state, OXL_STATE_LEAK_CHECK);
    car_run(c, 19); /* gas had been asked for: 3 s to see that none comes */
    assert_true(car_heard(c, OXL_ADV_LEAK_COVER) >= 1);
    c->rear = covered_v;
    car_run(c, 20);
    c->rear = rest;
    car_run(c, 20);
    assert_int_not_equal(c->proc.state, OXL_STATE_LEAK_CHECK);
}

static void cover_that_changes_the_rear_is_a_leak(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    leak_check(c, 0.7);
    assert_int_equal(car_check(c, "leak-check-1")->grade, OXL_GRADE_PASS);
    assert_true(car_has(c, OXL_R_LEAK_NOT_FOUND));
    car_run(c, 3);
    c->rear = 0.2;
    car_run(c, 3);
    leak_check(c, 0.7); /* another place: the second check */
    assert_int_equal(car_check(c, "leak-check-2")->grade, OXL_GRADE_STOP);
    assert_non_null(strstr(car_check(c, "leak-check-2")->found, "rear +0.50 V"));
    assert_true(car_has(c, OXL_R_LEAK_FOUND) && !car_has(c, OXL_R_LEAK_NOT_FOUND));
    /* Proven, it ends the test, and is the first thing said. */
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    const struct oxl_result *r = &car_last(c, OXL_EV_RESULT)->u.result;
    assert_int_equal(r->verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(oxl_reasons_has(r->next, OXL_R_LEAK_FOUND));
    assert_int_equal(r->reasons & (OXL_REASON_BIT(OXL_R_LEAK_FOUND) - 1), 0);
    car_free(c);
}

static void leak_check_waits_for_the_run(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rear = 0.8;
    car_glide(c, 1, 0, 0.95);
    car_key(c, OXL_KEY_LEAK);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_LATER), 1);
    assert_true(c->proc.leak.wanted);
    car_free(c);
}

/* With the engine off it is not waited for any longer: who starts it again may ask again. */
static void an_engine_that_stops_ends_the_wait(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rear = 0.8;
    car_glide(c, 1, 0, 0.95);
    car_key(c, OXL_KEY_LEAK);
    assert_true(c->proc.leak.wanted);
    c->rpm = 0;
    car_run(c, 5);
    assert_false(c->proc.leak.wanted);
    car_free(c);
}

static void three_bad_pulses(struct car *c)
{
    c->ramp_s = 35; /* long enough rich to have emptied a sound store, too */
    for (int i = 0; i < 3; i++)
        assert_true(car_pulse(c, -20, 0.3));
}

static void a_bad_looking_result_offers_the_leak_check(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    three_bad_pulses(c);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_OFFER), 1);
    assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
    const double left_s = 1e-6 * (double)(oxl_recovery_offer_due(&c->proc) - c->t_us);
    assert_true(left_s > 1 && left_s <= 10);
    car_run(c, left_s - 0.5);
    assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
    car_run(c, 1); /* nothing is pressed: it ends by itself */
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    assert_int_equal(car_last(c, OXL_EV_RESULT)->u.result.verdict, OXL_VERDICT_BAD);
    car_free(c);
}

/* Where the leak check was made before, whether the converter is new is asked alone. */
static void before_bad_it_asks_whether_the_converter_is_new(void **state)
{
    (void)state;
    for (int is_new = 0; is_new < 2; is_new++) {
        struct car *c = car_in_enrichment();
        leak_check(c, c->rear); /* it is tight */
        three_bad_pulses(c);
        assert_int_equal(car_heard(c, OXL_ADV_LEAK_OFFER), 0);
        assert_int_equal(car_heard(c, OXL_ADV_ASK_NEW), 1);
        assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
        if (is_new)
            car_key(c, OXL_KEY_NEW);
        car_run(c, 22);
        assert_int_equal(c->proc.state, OXL_STATE_DONE);
        assert_int_equal(car_last(c, OXL_EV_RESULT)->u.result.verdict,
                         is_new ? OXL_VERDICT_INCONCLUSIVE : OXL_VERDICT_BAD);
        car_free(c);
    }
}

/* The offer of the leak check asks it, too; then it is not asked again. */
static void it_asks_once(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    three_bad_pulses(c);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_OFFER), 1);
    car_key(c, OXL_KEY_LEAK);
    assert_true(car_wait(c, OXL_STATE_LEAK_CHECK, 5));
    assert_true(car_wait(c, OXL_STATE_DONE, 150));
    assert_int_equal(car_check(c, "leak-check-1")->grade, OXL_GRADE_PASS);
    assert_int_equal(car_heard(c, OXL_ADV_ASK_NEW), 0);
    assert_int_equal(car_last(c, OXL_EV_RESULT)->u.result.verdict, OXL_VERDICT_BAD);
    car_free(c);
}

static void an_unclear_one_is_offered_once_more(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    three_bad_pulses(c);
    for (unsigned offers = 1; offers <= 2; offers++) {
        assert_int_equal(car_heard(c, OXL_ADV_LEAK_OFFER), offers);
        car_key(c, OXL_KEY_LEAK);
        assert_true(car_wait(c, OXL_STATE_LEAK_CHECK, 5));
        car_run(c, 25);
        c->rpm += 300; /* a hand on the throttle while it is covered */
        car_run(c, 2);
        c->rpm -= 300;
        assert_true(car_wait(c, offers == 1 ? OXL_STATE_RECOVERY : OXL_STATE_DONE, 150));
    }
    assert_int_equal(car_check(c, "leak-check-2")->grade, OXL_GRADE_UNKNOWN);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_OFFER), 2);
    car_free(c);
}

static void new_converter_is_said_by_key(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    car_key(c, OXL_KEY_NEW);
    assert_true(car_has(c, OXL_R_NEW_CONVERTER));
    car_key(c, OXL_KEY_NEW);
    assert_false(car_has(c, OXL_R_NEW_CONVERTER));
    car_free(c);
}

static bool is_suspected(const struct car *c)
{
    return oxl_reasons_has(oxl_leak_watch_reasons(&c->proc.leak_watch), OXL_R_LEAK_SUSPECTED);
}

/* A switching front that is rich for so long, and a rear that is lean for the last 1.5 s of it. */
static bool suspected(double hz, double rich_s)
{
    struct car *c = car_in_enrichment();
    c->proc.pair.front_kind = OXL_SENSOR_SWITCHING;
    c->hz = hz;
    c->front = 0.1;
    c->rear = 0.8;
    car_run(c, 7);
    c->front = 0.8;
    car_run(c, rich_s - 1.5);
    c->rear = 0.1;
    car_run(c, 1.5);
    bool is = is_suspected(c);
    car_free(c);
    return is;
}

/* Under a front that has long been rich a rear is lean at two samples by chance; a quarter second
 * (and the step between samples) is none. */
static void a_moment_of_lean_is_no_leak(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rear = 0.8;
    c->front = 0.95;
    car_run(c, 3);
    c->rear = 0.1;
    car_run(c, 0.2);
    c->rear = 0.8;
    car_run(c, 1);
    assert_false(is_suspected(c));
    c->rear = 0.1;
    car_run(c, 0.4);
    assert_true(is_suspected(c));
    car_free(c);
}

/* The gas takes its time to the rear: until the front has been rich for a second, a lean rear
 * has its oxygen from before. */
static void a_rear_that_is_lean_when_the_gas_begins(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rear = 0.8;
    car_run(c, 1);
    c->front = 0.95;
    c->rear = 0.1;
    car_run(c, 1);
    assert_false(is_suspected(c));
    car_run(c, 0.5);
    assert_true(is_suspected(c));
    car_free(c);
}

/* Four samples running that are rich may all be of the rich halves of a dither. */
static void a_slow_link_sees_a_dither_as_rich(void **state)
{
    (void)state;
    assert_true(suspected(20, 2.8));
    assert_false(suspected(1.6, 2.8));
    assert_true(suspected(1.6, 7));
}

/* Gas that has not left the trims after two minutes, though the cut was seen: where they are then
 * is rest, and the first window begins anew. Values that have come for 14 s are compared, not those
 * of before. */
static void what_gas_left_behind_is_where_it_rests(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    oxl_gas_cut_seen(&c->proc);
    car_key(c, OXL_KEY_LEAK);
    c->stft = -18;
    car_run(c, 30);
    c->mute = true;
    car_run(c, 92);
    c->mute = false;
    assert_int_equal(c->proc.state, OXL_STATE_LEAK_CHECK);
    assert_true(car_has(c, OXL_R_BASELINE_DRIFT));
    car_run(c, 10);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_COVER), 0);
    car_run(c, 3);
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_COVER), 1);
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cover_that_changes_the_rear_is_a_leak),
        cmocka_unit_test(leak_check_waits_for_the_run),
        cmocka_unit_test(an_engine_that_stops_ends_the_wait),
        cmocka_unit_test(a_bad_looking_result_offers_the_leak_check),
        cmocka_unit_test(before_bad_it_asks_whether_the_converter_is_new),
        cmocka_unit_test(it_asks_once),
        cmocka_unit_test(an_unclear_one_is_offered_once_more),
        cmocka_unit_test(new_converter_is_said_by_key),
        cmocka_unit_test(what_gas_left_behind_is_where_it_rests),
        cmocka_unit_test(a_moment_of_lean_is_no_leak),
        cmocka_unit_test(a_rear_that_is_lean_when_the_gas_begins),
        cmocka_unit_test(a_slow_link_sees_a_dither_as_rich),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
