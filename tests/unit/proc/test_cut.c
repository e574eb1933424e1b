/* The fuel cut behind a snap of the throttle: how long it is, and what it shows of either sensor,
 * against a scripted car. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "help_car.h"

/* A slow link asks for the speed seldom: the cut goes on while the front says so. */
static void a_cut_lasts_while_the_front_is_lean(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->rpm = 1700;
    car_run(c, 0.5);
    c->rpm = 750;
    car_run(c, 3.8); /* after 4 s the rise is long ago */
    c->front = 1.99;
    car_run(c, 1.2);
    c->front = 1.0;
    car_run(c, 5);
    assert_non_null(strstr(car_last(c, OXL_EV_MARK)->u.mark.text, "far lean for 1.1 s"));
    car_free(c);
}

/* A slow fall in one run or cut and a quick one in another are what the store let through. */
static void one_quick_fall_refutes_the_slow_ones(void **state)
{
    (void)state;
    const struct {
        struct oxl_sensors_watch watch;
        bool slow, refuted, may_be;
    } rows[] = {
        {{.quickest_s = 0.5}, false, true, false}, /* by a trouble code only */
        {{.quickest_s = 1.5}, false, false, true},
        {{.quickest_s = 1.5, .rear.tempo = OXL_TEMPO_SLOW}, true, false, true},
        {{.quickest_s = 0.5, .rear.tempo = OXL_TEMPO_SLOW}, false, true, false},
        {{.quickest_s = 0.5, .rear = {.tempo = OXL_TEMPO_SLOW, .fall_in_cut = true}},
         false,
         true,
         false},
        {{.quickest_s = 1.5, .rear = {.tempo = OXL_TEMPO_SLOW, .fall_in_cut = true}},
         true,
         false,
         false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct oxl_sensors_watch w = rows[i].watch;
        w.rear.fall_s = 2.5;
        const oxl_reasons slow = OXL_REASON_BIT(OXL_R_REAR_SLOW);
        assert_int_equal(oxl_sensors_reasons(&w), rows[i].slow ? slow : 0);
        assert_int_equal(oxl_sensors_refuted_of_runs(&w), rows[i].refuted ? slow : 0);
        assert_int_equal(oxl_sensors_refuted(&w), 0); /* a trouble code stands */
        assert_int_equal(oxl_sensors_rear_may_be_slow(&w), rows[i].may_be);
    }
}

/* ... and the page's line says so: slow by the first run or a cut, taken back by the next fall. */
static void the_line_of_the_rear_is_taken_back(void **state)
{
    (void)state;
    for (int in_cut = 0; in_cut < 2; in_cut++) {
        struct car *c = car_new();
        car_survey(c);
        c->fall_s = 3;
        assert_true(car_pulse(c, -20, 1));
        assert_int_equal(car_check(c, "rear-proof")->grade, OXL_GRADE_CAUTION);
        assert_true(oxl_reasons_has(oxl_sensors_reasons(&c->proc.sensors), OXL_R_REAR_SLOW));
        c->proc.sensors.rear.fall_in_cut = in_cut;
        c->fall_s = 0;
        assert_true(car_pulse(c, -20, 1));
        assert_int_equal(car_check(c, "rear-proof")->grade, OXL_GRADE_PASS);
        assert_false(oxl_reasons_has(oxl_sensors_reasons(&c->proc.sensors), OXL_R_REAR_SLOW));
        car_free(c);
    }
}

/* Each end of the rise lies anywhere within 0.05 s, the step between samples. */
/* The fall of a drop goes on after its run has ended, and is timed to its end: from 0.6 to 0.3 V at
 * this slope. */
static void a_slow_drop_is_timed_to_its_end(void **state)
{
    (void)state;
    static const double slopes_v_s[] = {0.03, 0.04, 0.15, 0.6};
    for (size_t i = 0; i < sizeof slopes_v_s / sizeof slopes_v_s[0]; i++) {
        struct car *c = car_in_release();
        car_glide(c, 0.3, c->stft, 1.25);
        car_run(c, 2);
        for (double t = 0; t < 18; t += 0.05) {
            c->rear = fmax(0.05, c->rear - 0.05 * slopes_v_s[i]);
            car_run(c, 0.05);
        }
        assert_int_equal(c->proc.kept.runs_n, 1);
        assert_true(c->proc.kept.runs[0].dropped);
        assert_true(fabs(c->proc.sensors.rear.fall_s - 0.3 / slopes_v_s[i]) < 0.2);
        car_free(c);
    }
}

/* A cut that ends before the rear's fall does: the rate of what was seen counts, for 0.6 to 0.3 V.
 */
static void a_fall_that_the_cut_leaves_is_timed_by_its_rate(void **state)
{
    (void)state;
    static const double slopes_v_s[] = {0.08, 0.12};
    for (size_t i = 0; i < sizeof slopes_v_s / sizeof slopes_v_s[0]; i++) {
        struct car *c = car_in_enrichment();
        c->rpm = 1700;
        car_run(c, 0.5);
        c->front = 1.99;
        for (c->rear = 0.7; c->rear > 0.34; c->rear -= 0.05 * slopes_v_s[i])
            car_run(c, 0.05);
        c->front = 1.0;
        c->rpm = 750;
        c->rear = 0.7;
        car_run(c, 5);
        assert_int_equal(c->proc.sensors.cut.seen, 1);
        double want_s = 0.3 / slopes_v_s[i];
        assert_true(fabs(c->proc.sensors.rear.fall_s - want_s) < 0.15 * want_s);
        assert_true(car_has(c, OXL_R_REAR_SLOW));
        car_free(c);
    }
}

static unsigned told(const struct car *c, const char *id)
{
    unsigned n = 0;
    for (size_t i = 0; i < c->log_n; i++)
        n += c->log[i].kind == OXL_EV_CHECK && strcmp(c->log[i].u.check.id, id) == 0;
    return n;
}

/* That both ends of a sensor were seen is said once, and once more with the time of a fall; not at
 * every sample that is lean again. */
static void a_proof_is_told_once(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_pulse(c, -20, 3.0));
    assert_int_equal(told(c, "front-proof"), 1);
    assert_int_equal(told(c, "rear-proof"), 2);
    assert_true(car_pulse(c, -20, 3.0));
    assert_int_equal(told(c, "front-proof"), 1);
    assert_int_equal(told(c, "rear-proof"), 3); /* timed again */
    car_free(c);
}

static void a_front_is_slow_beyond_its_samples_only(void **state)
{
    (void)state;
    for (int slow = 0; slow < 2; slow++) {
        struct car *c = car_in_enrichment();
        c->rpm = 1700;
        car_run(c, 0.5);
        car_glide(c, slow ? 0.6 : 0.3, c->stft, 1.99); /* 1.15 to 1.8 in 0.39 and 0.2 s */
        car_run(c, 0.8);
        c->front = 1.0;
        c->rpm = 750;
        car_run(c, 5);
        assert_int_equal(c->proc.sensors.cut.seen, 1);
        assert_int_equal(car_has(c, OXL_R_FRONT_SLOW), slow);
        car_free(c);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cut_lasts_while_the_front_is_lean),
        cmocka_unit_test(one_quick_fall_refutes_the_slow_ones),
        cmocka_unit_test(the_line_of_the_rear_is_taken_back),
        cmocka_unit_test(a_slow_drop_is_timed_to_its_end),
        cmocka_unit_test(a_fall_that_the_cut_leaves_is_timed_by_its_rate),
        cmocka_unit_test(a_proof_is_told_once),
        cmocka_unit_test(a_front_is_slow_beyond_its_samples_only),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
