/* The difference of two tests, against closed forms: the standard deviations of independent errors
 * add as squares (any textbook of error propagation; JCGM 100:2008, 5.1.2). */
#include "oxylag/compare.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "help_record.h"
#include "page/words.h"

static struct oxl_span span(double low, double v, double high)
{
    return (struct oxl_span){v, low, high};
}

static void near_to(double a, double b)
{
    if (fabs(a - b) > 1e-9)
        fail_msg("%.12g, expected %.12g", a, b);
}

/* 3-4-5 and 5-12-13: the distances of each side by themselves. */
static void independent_intervals_add_as_squares(void **state)
{
    (void)state;
    const struct oxl_span a = span(4 - 0.5, 4, 4 + 0.3), b = span(7 - 0.4, 7, 7 + 1.2);
    struct oxl_span d = oxl_span_difference(&a, &b);
    near_to(d.value, 3);
    near_to(d.low, 3 - 0.5);  /* b down 0.4, a up 0.3 */
    near_to(d.high, 3 + 1.3); /* b up 1.2, a down 0.5 */
    const struct oxl_span back = oxl_span_difference(&b, &a);
    near_to(back.value, -3);
    near_to(back.low, -d.high);
    near_to(back.high, -d.low);
}

static void bounds_give_bounds(void **state)
{
    (void)state;
    const struct oxl_span a = span(1.5, 2, 2.25), held = span(9, NAN, INFINITY);
    struct oxl_span d = oxl_span_difference(&a, &held);
    assert_true(isnan(d.value));
    near_to(d.low, 9 - 2.25); /* at least this much more */
    assert_true(isinf(d.high) && d.high > 0);
    assert_int_equal(oxl_judge_change(&d, 1), OXL_CHANGE_ROSE);
    assert_int_equal(oxl_judge_change(&d, 7), OXL_CHANGE_UNKNOWN); /* may be more, may be less */
    d = oxl_span_difference(&held, &a);
    near_to(d.high, 2.25 - 9);
    assert_true(isinf(d.low) && d.low < 0);
    assert_int_equal(oxl_judge_change(&d, 1), OXL_CHANGE_FELL);
    d = oxl_span_difference(&held, &held);
    assert_true(isnan(d.value) && isnan(d.low) && isnan(d.high));
    assert_int_equal(oxl_judge_change(&d, 0), OXL_CHANGE_UNKNOWN);
    const struct oxl_span none = span(NAN, NAN, NAN);
    d = oxl_span_difference(&a, &none);
    assert_true(isnan(d.value) && isnan(d.low) && isnan(d.high));
}

static void change_needs_interval_and_spread(void **state)
{
    (void)state;
    static const struct {
        double low, v, high, spread;
        enum oxl_trend change;
    } cases[] = {
        {0.1, 0.5, 0.9, 0.4, OXL_CHANGE_ROSE},         {0.1, 0.5, 0.9, 0.6, OXL_CHANGE_NOT_SHOWN},
        {-0.1, 0.5, 0.9, 0.4, OXL_CHANGE_NOT_SHOWN},   {-0.9, -0.5, -0.1, 0.4, OXL_CHANGE_FELL},
        {-0.9, -0.5, -0.1, 0.6, OXL_CHANGE_NOT_SHOWN}, {0.1, 0.5, 0.9, NAN, OXL_CHANGE_ROSE},
        {-0.9, -0.5, -0.1, NAN, OXL_CHANGE_FELL},      {0, 0, 0, 0, OXL_CHANGE_NOT_SHOWN},
        {NAN, NAN, NAN, 1, OXL_CHANGE_UNKNOWN},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct oxl_span d = span(cases[i].low, cases[i].v, cases[i].high);
        if (oxl_judge_change(&d, cases[i].spread) != cases[i].change)
            fail_msg("case %zu", i);
    }
}

/* Two copies of a made-up record, to be made unlike. */
static struct oxl_test_record a, b;
static struct oxl_comparison c;

static int pair(void **state)
{
    (void)state;
    a = *story_low();
    b = a;
    strcpy(b.sha256, "another");
    return 0;
}

static bool unlike(enum oxl_unlike u)
{
    oxl_compare(&a, &b, &c);
    return c.unlikes >> u & 1u;
}

static void like_is_compared(void **state)
{
    (void)state;
    b.result.delay_at_target_s = span(8, 8.31, 8.7);
    b.result.o2_mg = span(300, 320, 344);
    oxl_compare(&a, &b, &c);
    assert_true(c.allowed);
    assert_int_equal(c.unlikes, 0);
    near_to(c.delay_at_target_s.span.value, 8.31 - 1.31);
    near_to(c.delay_at_target_s.span.low, 7 - hypot(0.31, 0.15));
    near_to(c.delay_at_target_s.span.high, 7 + hypot(0.39, 0.21));
    /* Valid runs 1 and 2 of the record: at target 1.31 and 1.29 s, 81 and 82 mg; run 3, which does
     * not count, would make it 8.7 s. */
    near_to(c.delay_at_target_s.spread, 0.02);
    near_to(c.o2_mg.spread, 1);
    assert_int_equal(c.delay_at_target_s.change, OXL_CHANGE_ROSE);
    assert_int_equal(c.o2_mg.change, OXL_CHANGE_ROSE);
}

/* What the page shows as a bound, and the deeper run, say nothing of how far repeated runs lie
 * apart.
 */
static void the_spread_is_of_repeated_values(void **state)
{
    (void)state;
    b.runs[2].valid = b.runs[2].deeper = true;
    oxl_compare(&a, &b, &c);
    near_to(c.delay_at_target_s.spread, 0.02);
    a.runs[0].o2_mg.high = b.runs[0].o2_mg.high = INFINITY;
    oxl_compare(&a, &b, &c);
    assert_true(isnan(c.o2_mg.spread));
    near_to(c.delay_at_target_s.spread, 0.02);
    /* As the judge takes a part-emptied run. */
    a.runs[1].reasons |= OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    b.runs[1].reasons |= OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    oxl_compare(&a, &b, &c);
    assert_true(isnan(c.delay_at_target_s.spread));
}

static void same_again_shows_nothing(void **state)
{
    (void)state;
    oxl_compare(&a, &b, &c);
    assert_int_equal(c.delay_at_target_s.change, OXL_CHANGE_NOT_SHOWN);
    near_to(c.delay_at_target_s.span.value, 0);
}

static void forbids(enum oxl_unlike u)
{
    assert_true(unlike(u));
    assert_true(oxl_unlikes[u].forbids);
    assert_false(c.allowed);
    assert_int_equal(c.delay_at_target_s.change, OXL_CHANGE_UNKNOWN);
    assert_true(isnan(c.delay_at_target_s.span.value) && isnan(c.o2_mg.span.low));
}

static void unlike_runs_are_not_mixed(void **state)
{
    assert_false(unlike(OXL_UNLIKE_SPEED));
    b.result.rpm = a.result.rpm + a.profile.run_rpm_band + 1;
    forbids(OXL_UNLIKE_SPEED);
    b.result.rpm = a.result.rpm + a.profile.run_rpm_band - 1;
    assert_false(unlike(OXL_UNLIKE_SPEED));
    pair(state);
    b.header.bank = 2;
    forbids(OXL_UNLIKE_BANK);
    pair(state);
    b.vehicle.vin[16]++;
    forbids(OXL_UNLIKE_VEHICLE);
    pair(state);
    b.header.simulated = true;
    forbids(OXL_UNLIKE_SIMULATED);
    pair(state);
    strcpy(b.sha256, a.sha256);
    forbids(OXL_UNLIKE_SAME);
    pair(state);
    b.profile.target_pct = -30;
    forbids(OXL_UNLIKE_TARGET);
    pair(state);
    b.has_result = false;
    forbids(OXL_UNLIKE_NO_RESULT);
    pair(state);
    /* Item 24: front wide-range on bank 1 under layout 13; before, no sensor is listed. */
    b.vehicle.decoding.layout = OXL_LAYOUT_13;
    b.vehicle.decoding.sensors = 0x03;
    const uint8_t mask[4] = {0x10, 0, 0, 0}; /* item 24 of 21..40 */
    oxl_support_add(&b.vehicle.support, 0x20, mask);
    forbids(OXL_UNLIKE_SENSORS);
}

static void doubts(enum oxl_unlike u)
{
    assert_true(unlike(u));
    assert_false(oxl_unlikes[u].forbids);
    assert_true(c.allowed);
}

static void doubts_are_said(void **state)
{
    b.vehicle.vin[0] = '\0';
    doubts(OXL_UNLIKE_VEHICLE_UNKNOWN);
    pair(state);
    b.result.rpm = NAN;
    doubts(OXL_UNLIKE_SPEED_UNKNOWN);
    pair(state);
    b.result.air_g_s = 1.2 * a.result.air_g_s;
    doubts(OXL_UNLIKE_AIR_FLOW);
    pair(state);
    b.runs[0].air_source = OXL_AIRSRC_METER;
    doubts(OXL_UNLIKE_AIR_SOURCE);
    pair(state);
    strcpy(b.header.inlet, "through the air cleaner");
    doubts(OXL_UNLIKE_INLET);
    pair(state);
    b.profile.good_s = 9;
    doubts(OXL_UNLIKE_LIMITS);
    pair(state);
    b.result.valid_runs = 1;
    doubts(OXL_UNLIKE_FEW_RUNS);
    pair(state);
    strcpy(b.header.started, "2024-06-11T14:03:26+02:00");
    doubts(OXL_UNLIKE_ORDER);
    strcpy(b.header.started, "2024-06-11T14:03:28+02:00");
    assert_false(unlike(OXL_UNLIKE_ORDER));
}

static void words_and_json_say_it(void **state)
{
    (void)state;
    struct oxl_buf json = {0};
    char text[OXL_COMPARED];
    b.result.delay_at_target_s = span(NAN, NAN, NAN);
    b.result.delay_at_target_s.low = 9;
    b.result.delay_at_target_s.high = INFINITY;
    oxl_compare(&a, &b, &c);
    oxl_compared_words(&c, text);
    assert_non_null(
        strstr(text, "Delay at target: longer after, by at least 7.54 s. ")); /* 9 - 1.46 */
    assert_non_null(strstr(text, "more than the tests' own spread"));
    assert_non_null(strstr(text, "The runs of one test lie within 0.02 s."));
    oxl_report_pair_json(&a, &b, &json);
    json_t *root = json_loads(json.data, JSON_REJECT_DUPLICATES, NULL);
    json_t *d = json_object_get(root, "delay_at_target_s");
    assert_non_null(d);
    assert_true(json_is_null(json_object_get(d, "difference")));
    assert_true(json_is_null(json_object_get(d, "high")));
    near_to(json_real_value(json_object_get(d, "low")), 9 - 1.46);
    assert_string_equal(json_string_value(json_object_get(d, "change")), "rose");
    json_decref(root);
    oxl_buf_free(&json);
    b.result.delay_at_target_s = span(NAN, NAN, 0.9);
    oxl_compare(&a, &b, &c);
    oxl_compared_words(&c, text);
    assert_non_null(strstr(text, "Delay at target: shorter after, by at least 0.20 s. "));
    b.result.delay_at_target_s.high = 5;
    oxl_compare(&a, &b, &c);
    oxl_compared_words(&c, text);
    assert_non_null(
        strstr(text, "Delay at target: longer after, by at most 3.90 s. ")); /* 5 - 1.1 */
    b.header.bank = 2;
    oxl_compare(&a, &b, &c);
    oxl_compared_words(&c, text);
    assert_null(strstr(text, "after, by at"));
    assert_non_null(strstr(oxl_compared_headline(&c), "no difference is given"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(independent_intervals_add_as_squares),
        cmocka_unit_test(bounds_give_bounds),
        cmocka_unit_test(change_needs_interval_and_spread),
        cmocka_unit_test_setup(like_is_compared, pair),
        cmocka_unit_test_setup(the_spread_is_of_repeated_values, pair),
        cmocka_unit_test_setup(same_again_shows_nothing, pair),
        cmocka_unit_test_setup(unlike_runs_are_not_mixed, pair),
        cmocka_unit_test_setup(doubts_are_said, pair),
        cmocka_unit_test_setup(words_and_json_say_it, pair),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
