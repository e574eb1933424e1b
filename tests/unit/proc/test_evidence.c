/* Sensor proof and failure patterns, against a scripted car. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "help_car.h"

/* ---- sensor proof ---------------------------------------------------------------------------- */
static void proof_has_its_times(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_pulse(c, -20, 3.0));
    const struct oxl_check *rear = car_check(c, "rear-proof");
    assert_non_null(rear);
    assert_int_equal(rear->grade, OXL_GRADE_PASS);
    assert_non_null(strstr(rear->found, "rich at "));
    assert_non_null(strstr(rear->found, "lean at "));
    assert_true(c->proc.sensors.rear.lean_us > c->proc.sensors.rear.rich_us);
    assert_int_equal(car_check(c, "front-proof")->grade, OXL_GRADE_PASS);
    car_free(c);
}

/* Snap: speed up, throttle shut, front to air, the rear falling in fall_s from 0.6 to 0.3 V. */
static void snap(struct car *c, double fall_s)
{
    c->rpm = 1700;
    car_run(c, 0.5);
    car_give(c, OXL_Q_THROTTLE_PCT, 0, 0, 14);
    c->front = 1.99;
    c->rear = 0.8;
    car_run(c, 0.3);
    double per_s = 0.3 / fall_s;
    for (double t = 0; t < 3 && c->rear > 0.06; t += 0.05) {
        c->rear = fmax(0.05, c->rear - 0.05 * per_s);
        car_run(c, 0.05);
    }
    car_give(c, OXL_Q_THROTTLE_PCT, 0, 0, 14);
    c->front = 1.0;
    c->rpm = 750;
    c->rear = 0.7;
    car_run(c, 5);
}

static void fuel_cut_times_the_rear(void **state)
{
    (void)state;
    static const struct {
        double fall_s;
        bool slow;
    } rows[] = {{0.3, false}, {1.0, false}, {2.5, true}};
    for (size_t i = 0; i < 3; i++) {
        struct car *c = car_in_enrichment();
        snap(c, rows[i].fall_s);
        assert_int_equal(c->proc.sensors.cut.seen, 1);
        assert_true(c->proc.sensors.rear.fall_in_cut);
        if (!rows[i].slow) /* the sampling step is 0.05 s */
            assert_true(fabs(c->proc.sensors.rear.fall_s - rows[i].fall_s) < 0.1);
        assert_int_equal(car_has(c, OXL_R_REAR_SLOW), rows[i].slow);
        assert_int_equal(car_check(c, "rear-proof")->grade,
                         rows[i].slow ? OXL_GRADE_CAUTION : OXL_GRADE_PASS);
        car_free(c);
    }
}

/* Half a second of air fills what a run has left open: only then the rear shows where it stands in
 * it. */
static void only_a_cut_that_fills_shows_the_lean_end(void **state)
{
    (void)state;
    static const double cut_s[] = {0.4, 0.7};
    for (size_t i = 0; i < 2; i++) {
        struct car *c = car_new();
        car_survey(c);
        assert_true(car_pulse(c, -20, 3.0));
        assert_int_equal(c->proc.kept.valid_n, 1);
        c->rpm = 1700;
        car_run(c, 0.5);
        car_give(c, OXL_Q_THROTTLE_PCT, 0, 0, 14);
        c->front = 1.99;
        c->rear = 0.04;
        car_run(c, cut_s[i]);
        car_give(c, OXL_Q_THROTTLE_PCT, 0, 0, 14);
        c->front = 1.0;
        c->rpm = 750;
        c->rear = 0.7;
        car_run(c, 5);
        assert_int_equal(c->proc.sensors.cut.seen, 1);
        car_free(c);
    }
}

/* The rear held in every run: whether it lives is asked last, and the verdict waits for it. */
static struct car *held(unsigned runs)
{
    struct car *c = car_new();
    c->proc.runs_wanted = runs;
    car_survey(c);
    for (unsigned i = 0; i < runs; i++) {
        assert_int_equal(car_heard(c, OXL_ADV_PROVE_REAR), 0);
        assert_true(car_pulse(c, -25, INFINITY));
    }
    car_run(c, 5);
    assert_int_equal(car_heard(c, OXL_ADV_PROVE_REAR), 1);
    assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
    return c;
}

static void a_held_rear_is_proven_last(void **state)
{
    (void)state;
    for (unsigned runs = 1; runs <= 3; runs += 2) {
        struct car *c = held(runs);
        snap(c, 0.3);
        const struct oxl_event *r = car_last(c, OXL_EV_RESULT);
        assert_non_null(r);
        assert_int_equal(r->u.result.conclusion, OXL_CONCLUSION_GOOD);
        assert_false(oxl_reasons_has(r->u.result.reasons, OXL_R_REAR_NOT_SEEN_LEAN));
        car_free(c);
    }
}

static void a_proof_that_nobody_gives_is_not_waited_for(void **state)
{
    (void)state;
    struct car *c = held(1);
    car_run(c, 120); /* the deeper run is offered in vain, too */
    const struct oxl_event *r = car_last(c, OXL_EV_RESULT);
    assert_non_null(r);
    assert_int_equal(r->u.result.conclusion, OXL_CONCLUSION_NONE);
    assert_true(oxl_reasons_has(r->u.result.reasons, OXL_R_REAR_NOT_SEEN_LEAN));
    assert_int_equal(car_heard(c, OXL_ADV_PROVE_REAR), 1);
    car_free(c);
}

/* A cut too short to move a rear is asked for again, and two of them do. */
static void a_short_cut_is_asked_for_again(void **state)
{
    (void)state;
    struct car *c = held(1);
    for (int k = 0; k < 2; k++) {
        assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
        c->rpm = 1700;
        car_run(c, 0.5);
        c->front = 1.99;
        car_run(c, 0.65);
        c->front = 1.0;
        c->rpm = 750;
        car_run(c, 5);
        assert_int_equal(car_heard(c, OXL_ADV_PROVE_REAR), 2);
        assert_int_equal(oxl_sensors_cut_moves_rear(&c->proc.sensors), k == 1);
    }
    car_free(c);
}

/* It is no slower than its quickest fall: 0.3 s of 0.6 to 0.3 V are 0.37 s, 0.17 more than the
 * profile's. */
static void the_quickest_fall_bounds_the_lag(void **state)
{
    (void)state;
    const struct oxl_sensors_watch none = {.quickest_s = NAN}, quick = {.quickest_s = 0.1},
                                   slow = {.quickest_s = 0.3};
    assert_true(isinf(oxl_sensors_rear_lag_s(&none, 0.2))); /* nothing tells */
    assert_true(oxl_sensors_rear_lag_s(&quick, 0.2) <= 0);
    assert_true(fabs(oxl_sensors_rear_lag_s(&slow, 0.2) - 0.17) < 0.005);
    struct car *c = car_in_enrichment();
    snap(c, 1.5);
    snap(c, 0.6);
    assert_true(fabs(c->proc.sensors.quickest_s - 0.6) < 0.1);
    car_free(c);
}

static void lean_without_a_rise_of_speed_is_no_cut(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->front = 1.99;
    car_run(c, 1);
    c->front = 1.0;
    car_run(c, 5);
    assert_int_equal(c->proc.sensors.cut.seen, 0);
    car_free(c);
}

/* ---- patterns -------------------------------------------------------------------------------- */
/* One run, in rich gas and in lean, whatever the rear does. */
static void run_by(struct car *c)
{
    double rest = c->stft;
    car_glide(c, 1, rest, 0.95);
    car_glide(c, 6, rest - 20, 1.0);
    car_run(c, 4);
    car_glide(c, 0.3, c->stft, 1.24);
    car_run(c, 3);
    car_glide(c, 3, rest, 1.0);
    car_run(c, 4);
}

/* A fuel cut of s seconds that the rear does not answer. */
static void cut_by(struct car *c, double s)
{
    c->rpm = 1700;
    car_run(c, 0.5);
    c->front = 1.99;
    car_run(c, s);
    c->front = 1.0;
    c->rpm = 750;
    car_run(c, 4);
}

static void a_rear_that_a_cut_does_not_move_is_stuck(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment(); /* the rear at 0.7 V, and it stays there */
    run_by(c);                           /* as a sound one does behind a sound store */
    assert_non_null(car_last(c, OXL_EV_RUN));
    assert_false(car_has(c, OXL_R_REAR_STUCK));
    cut_by(c, 0.5); /* the store takes it up */
    assert_int_equal(c->proc.sensors.cut.seen, 1);
    assert_false(car_has(c, OXL_R_REAR_STUCK));
    cut_by(c, 6);
    assert_true(car_has(c, OXL_R_REAR_STUCK));
    assert_int_equal(car_check(c, "rear-stuck")->grade, OXL_GRADE_CAUTION);
    car_free(c);
}

/* One value is enough, be the link slow and the moment short. */
static void what_a_cut_shows_lean_is_not_stuck(void **state)
{
    (void)state;
    static const double hz[] = {20, 2.5};
    for (size_t i = 0; i < 2; i++) {
        struct car *c = car_in_enrichment();
        cut_by(c, 6);
        assert_true(car_has(c, OXL_R_REAR_STUCK));
        c->hz = hz[i];
        c->rpm = 1700;
        car_run(c, 0.5);
        c->front = 1.99;
        car_run(c, 0.4);
        c->rear = 0.05;
        car_run(c, 1 / c->hz);
        c->front = 1.0;
        c->rear = 0.7;
        c->rpm = 750;
        car_run(c, 4);
        assert_false(car_has(c, OXL_R_REAR_STUCK));
        assert_int_equal(car_check(c, "rear-stuck")->grade, OXL_GRADE_PASS);
        car_free(c);
    }
}

static void a_rear_in_the_middle_of_its_step_does_not_stand(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->rear = 0.52;
    car_survey(c);
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    run_by(c);
    assert_true(car_has(c, OXL_R_REAR_STUCK));
    car_free(c);
    c = car_new();
    car_survey(c);
    assert_true(car_pulse(c, -20, INFINITY)); /* 0.7 to 0.8 V: it lives */
    assert_false(car_has(c, OXL_R_REAR_STUCK));
    car_free(c);
}

/* Balance for two seconds, then lean within a tenth. */
static void a_store_that_swallows_the_cut_is_no_slow_rear(void **state)
{
    (void)state;
    struct car *c = car_in_enrichment();
    c->air = 1;
    car_run(c, 3);
    c->rpm = 1700;
    car_run(c, 0.5);
    c->front = 1.99;
    for (c->rear = 0.62; c->rear > 0.47; c->rear -= 0.003)
        car_run(c, 0.05);
    for (; c->rear > 0.05; c->rear -= 0.1)
        car_run(c, 0.05);
    c->front = 1.0;
    c->rpm = 750;
    c->rear = 0.7;
    car_run(c, 5);
    assert_int_equal(c->proc.sensors.cut.seen, 1);
    assert_true(c->proc.sensors.rear.fall_in_cut);
    assert_false(car_has(c, OXL_R_REAR_SLOW));
    car_free(c);
}

static void biased_ends_are_taken_back(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->rear = 0.55;
    car_survey(c);
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    c->rear = 0.45; /* it moves, and not to 0.6 */
    run_by(c);
    assert_true(car_has(c, OXL_R_REAR_BIASED_LEAN));
    c->rear = 0.7;
    car_run(c, 2);
    assert_false(car_has(c, OXL_R_REAR_BIASED_LEAN));
    assert_int_equal(car_check(c, "rear-biased-lean")->grade, OXL_GRADE_PASS);
    c->rear = 0.35;
    cut_by(c, 6);
    assert_true(car_has(c, OXL_R_REAR_BIASED_RICH));
    c->rear = 0.1;
    car_run(c, 0.1);
    assert_false(car_has(c, OXL_R_REAR_BIASED_RICH));
    assert_int_equal(car_check(c, "rear-biased-rich")->grade, OXL_GRADE_PASS);
    car_free(c);
}

static void high_trims_are_taken_back(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->ltft = 11;
    car_survey(c);
    car_run(c, 16);
    assert_true(car_has(c, OXL_R_TRIMS_HIGH));
    c->ltft = 7.5; /* a hose was put on again */
    car_restart(c);
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    assert_false(car_has(c, OXL_R_TRIMS_HIGH));
    assert_int_equal(car_check(c, "trims-high")->grade, OXL_GRADE_PASS);
    car_free(c);
}

static void rest_levels_are_read_at_the_baseline(void **state)
{
    (void)state;
    static const struct {
        double ltft, rear;
        enum oxl_reason reason;
    } rows[] = {{13, 0.7, OXL_R_TRIMS_HIGH}, {1, 0.1, OXL_R_REAR_RESTS_LEAN}};
    for (size_t i = 0; i < 2; i++) {
        struct car *c = car_new();
        c->ltft = rows[i].ltft;
        c->rear = rows[i].rear;
        car_survey(c);
        car_run(c, 16);
        assert_true(car_has(c, rows[i].reason));
        assert_false(car_has(c, rows[1 - i].reason));
        car_free(c);
    }
}

static void lean_spikes_are_a_misfire(void **state)
{
    (void)state;
    struct car *c = car_new();
    car_survey(c);
    for (int i = 0; i < 8; i++) {
        car_run(c, 1.9);
        c->front = 1.06;
        car_run(c, 0.1);
        c->front = 1.0;
    }
    car_run(c, 3);
    assert_true(car_has(c, OXL_R_MISFIRE));
    car_free(c);
}

static void a_misfire_code_lets_no_verdict_stand(void **state)
{
    (void)state;
    struct car *c = car_new();
    c->vehicle.dtcs[OXL_DTC_STORED].codes[0] = 0x0302;
    c->vehicle.dtcs[OXL_DTC_STORED].n = 1;
    car_survey(c);
    car_run(c, 1);
    car_key(c, OXL_KEY_NOW); /* it is a stop, passed on purpose */
    for (int i = 0; i < 3; i++)
        assert_true(car_pulse(c, -20, 1.0));
    car_run(c, 30);
    const struct oxl_event *r = car_last(c, OXL_EV_RESULT);
    assert_non_null(r);
    assert_int_equal(r->u.result.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(oxl_reasons_has(r->u.result.reasons, OXL_R_MISFIRE));
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(proof_has_its_times),
        cmocka_unit_test(fuel_cut_times_the_rear),
        cmocka_unit_test(only_a_cut_that_fills_shows_the_lean_end),
        cmocka_unit_test(a_held_rear_is_proven_last),
        cmocka_unit_test(a_proof_that_nobody_gives_is_not_waited_for),
        cmocka_unit_test(a_short_cut_is_asked_for_again),
        cmocka_unit_test(the_quickest_fall_bounds_the_lag),
        cmocka_unit_test(lean_without_a_rise_of_speed_is_no_cut),
        cmocka_unit_test(a_rear_that_a_cut_does_not_move_is_stuck),
        cmocka_unit_test(what_a_cut_shows_lean_is_not_stuck),
        cmocka_unit_test(a_rear_in_the_middle_of_its_step_does_not_stand),
        cmocka_unit_test(a_store_that_swallows_the_cut_is_no_slow_rear),
        cmocka_unit_test(biased_ends_are_taken_back),
        cmocka_unit_test(high_trims_are_taken_back),
        cmocka_unit_test(rest_levels_are_read_at_the_baseline),
        cmocka_unit_test(lean_spikes_are_a_misfire),
        cmocka_unit_test(a_misfire_code_lets_no_verdict_stand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
