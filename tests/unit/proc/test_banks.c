/* Two banks whose fronts are crossed, or seem to be, against a scripted car. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "help_car.h"

/* ---- banks ----------------------------------------------------------------------------------- */
static void two_bank_car(struct car *c)
{
    static const uint8_t mask[4] = {0x01, 0x80, 0x00, 0x00}; /* 08 and 09 */
    oxl_support_add(&c->vehicle.support, 0x00, mask);
    static const uint8_t wide[4] = {0x11, 0x00, 0x00, 0x00}; /* 24 and 28 */
    oxl_support_add(&c->vehicle.support, 0x20, wide);
}

static void seesaw(struct car *c, double s, double front2, double trim2_per_s)
{
    double trim2 = 0;
    for (double t = 0; t < s; t += 0.25) {
        car_run(c, 0.25);
        trim2 += 0.25 * trim2_per_s;
        c->stft -= 0.25 * trim2_per_s;
        car_give(c, OXL_Q_LAMBDA, 2, 1, front2);
        car_give(c, OXL_Q_LTFT_PCT, 2, 0, 0);
        car_give(c, OXL_Q_STFT_PCT, 2, 0, trim2);
    }
}

static struct car *two_banks_at_rest(void)
{
    struct car *c = car_new();
    two_bank_car(c);
    car_survey(c);
    car_run(c, 3);
    return c;
}

static struct car *two_banks_apart(void)
{
    struct car *c = two_banks_at_rest();
    c->front = 1.03;
    seesaw(c, 12, 0.97, -0.5);
    assert_true(car_has(c, OXL_R_CROSSED_FRONTS));
    return c;
}

/* It takes its time to show. */
static void trims_apart_for_a_moment_are_not_crossed(void **state)
{
    (void)state;
    struct car *c = two_banks_at_rest();
    c->front = 1.03;
    seesaw(c, 2, 0.97, -0.5);
    assert_false(car_has(c, OXL_R_CROSSED_FRONTS));
    assert_null(car_check(c, "crossed-fronts"));
    car_free(c);
}

static void trims_that_run_apart_are_crossed(void **state)
{
    (void)state;
    struct car *c = two_banks_apart();
    assert_int_equal(car_check(c, "crossed-fronts")->grade, OXL_GRADE_CAUTION);
    car_run(c, 62);
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_int_equal(c->proc.outcome, OXL_ERR_UNSUITABLE);
    car_free(c);
}

/* At their limits they run no further. The leaner bank's trim stands on the side of more fuel; the
 * other way round it is on its way back from gas that only that bank had. */
static void trims_at_their_limits_are_crossed_as_well(void **state)
{
    (void)state;
    static const double stft_pct[] = {25, 15, -25};
    for (size_t i = 0; i < 3; i++) {
        struct car *c = two_banks_at_rest();
        c->front = 1.3;
        c->stft = stft_pct[i];
        seesaw(c, 12, 0.8, 0);
        assert_int_equal(car_has(c, OXL_R_CROSSED_FRONTS), i == 0);
        car_free(c);
    }
}

/* The sample that shows it says so, and none before or after it. */
static void it_shows_with_one_sample(void **state)
{
    (void)state;
    struct car *c = two_banks_at_rest();
    c->front = 1.03;
    seesaw(c, 5, 0.97, -0.5);
    const struct oxl_sample trim = {.channel = oxl_channel(OXL_Q_STFT_PCT, 1, 0)};
    struct oxl_banks_watch w = c->proc.banks;
    assert_false(oxl_banks_sample(&w, &c->proc, &trim));
    w.apart_us = c->proc.now_us - 10000000;
    w.apart_pct = 0;
    assert_true(oxl_banks_sample(&w, &c->proc, &trim));
    assert_false(oxl_banks_sample(&w, &c->proc, &trim));
    car_free(c);
}

/* Found behind a run, they are said at once: the trims never come back. */
static void crossed_fronts_are_not_waited_for(void **state)
{
    (void)state;
    struct car *c = car_in_release();
    car_glide(c, 0.3, c->stft, 1.2);
    car_run(c, 3);
    c->rear = 0.05;
    car_run(c, 3.5);
    assert_int_equal(c->proc.state, OXL_STATE_RECOVERY);
    c->proc.banks.crossed = true;
    c->stft = 25;
    assert_true(car_wait(c, OXL_STATE_BASELINE, 10));
    car_run(c, 3);
    assert_int_equal(car_heard(c, OXL_ADV_CROSSED), 1);
    car_free(c);
}

static void banks_at_balance_are_not_crossed(void **state)
{
    (void)state;
    struct car *c = two_banks_at_rest();
    seesaw(c, 12, 1.0, -0.5); /* trims drift apart, fronts at balance */
    c->front = 1.03;
    seesaw(c, 12, 1.03, 0); /* both lean: something else */
    assert_false(car_has(c, OXL_R_CROSSED_FRONTS));
    car_free(c);
}

/* What was taken for crossed when the gas was in one bank only. */
static void fronts_at_balance_are_crossed_no_more(void **state)
{
    (void)state;
    struct car *c = two_banks_apart();
    c->front = 1.0;
    seesaw(c, 8, 1.0, 0);
    assert_true(car_has(c, OXL_R_CROSSED_FRONTS));
    seesaw(c, 8, 1.0, 0);
    assert_false(car_has(c, OXL_R_CROSSED_FRONTS));
    assert_int_equal(car_check(c, "crossed-fronts")->grade, OXL_GRADE_PASS);
    car_free(c);
}

/* The other bank's line: trims and sensors that it has, and no more; from its bank's number on. */
static void the_other_bank_has_its_line(void **state)
{
    (void)state;
    struct car *c = two_banks_at_rest();
    seesaw(c, 4, 1.0, 0.25);
    oxl_banks_show(&c->proc.banks, &c->proc);
    const struct oxl_check *line = car_check(c, "other-bank");
    assert_non_null(line);
    assert_string_equal(line->found, "bank 2: trims +1.0 %, front lambda 1.00");
    car_free(c);
    c = car_new(); /* of one bank */
    car_survey(c);
    car_run(c, 3);
    c->log_n = 0;
    oxl_banks_show(&c->proc.banks, &c->proc);
    assert_null(car_check(c, "other-bank"));
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trims_apart_for_a_moment_are_not_crossed),
        cmocka_unit_test(trims_that_run_apart_are_crossed),
        cmocka_unit_test(trims_at_their_limits_are_crossed_as_well),
        cmocka_unit_test(it_shows_with_one_sample),
        cmocka_unit_test(crossed_fronts_are_not_waited_for),
        cmocka_unit_test(banks_at_balance_are_not_crossed),
        cmocka_unit_test(the_other_bank_has_its_line),
        cmocka_unit_test(fronts_at_balance_are_crossed_no_more),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
