/* What leads, what is said first and what is to be done next, by cases. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_bench.h"
#include "help_judge.h"

static bool has_step(const struct oxl_result *r, enum oxl_reason step)
{
    enum oxl_reason s;
    for (size_t i = 0; (s = oxl_next_step(r, i)) != OXL_R_COUNT; i++)
        if (s == step)
            return true;
    return false;
}

static size_t steps(const struct oxl_result *r)
{
    size_t n = 0;
    while (oxl_next_step(r, n) != OXL_R_COUNT)
        n++;
    return n;
}

static struct oxl_run_result flawed(double delay, double mg, oxl_reasons flaws)
{
    struct oxl_run_result r = a_run(delay, 0.1, mg, 10);
    r.reasons = flaws;
    return r;
}

static struct oxl_session_facts with(oxl_reasons reasons)
{
    return (struct oxl_session_facts){true, true, reasons, 0, false, 0};
}

/* ---- the leading figure ---- */
static void test_delay_leads_where_it_decides(void **state)
{
    (void)state;
    struct oxl_run_result r[3] = {a_run(1.0, 0.1, 70, 10), a_run(1.1, 0.1, 75, 10),
                                  a_run(1.2, 0.1, 80, 10)};
    for (int i = 0; i < 3; i++)
        r[i].run = i + 1;
    struct oxl_result v = judged(r, 3, &proven);
    assert_int_equal(v.lead.figure, OXL_LEAD_DELAY_AT_TARGET);
    assert_int_equal(v.lead.run, 0); /* of three */
    assert_near(v.lead.span.value, 1.1, 1e-12);
    v = judged(r, 1, &proven);
    assert_int_equal(v.lead.run, 1);
    char text[OXL_LEAD_TEXT];
    oxl_lead_text(&v.lead, text);
    assert_string_equal(text, "delay at target 1.00 s (0.90 to 1.10) (bad below 2.0 s), run 1");
    r[0].delay_at_target_s = (struct oxl_span){NAN, NAN, NAN};
    assert_int_equal(judged(r, 1, &proven).lead.figure, OXL_LEAD_DELAY);
}

/* The pulses of a large store read 0.3 s; the deeper run's mass is what decides. */
static void test_oxygen_leads_where_the_delay_is_a_bound(void **state)
{
    (void)state;
    struct oxl_run_result r[4];
    for (int i = 0; i < 3; i++)
        r[i] = flawed(0.3, 3, OXL_REASON_BIT(OXL_R_PART_EMPTIED));
    r[3] = held_run(9, 450);
    for (int i = 0; i < 4; i++)
        r[i].run = i + 1;
    r[3].deeper = true;
    struct oxl_result v = judged(r, 4, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_true(isnan(v.delay_s.value) && isnan(v.delay_at_target_s.value));
    r[3].delay_at_target_s = (struct oxl_span){NAN, NAN, NAN};
    v = judged(r, 4, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_int_equal(v.lead.figure, OXL_LEAD_OXYGEN);
    assert_int_equal(v.lead.run, 4);
    char text[OXL_LEAD_TEXT];
    oxl_lead_text(&v.lead, text);
    assert_string_equal(text, "stored oxygen at least 450 mg (good above 411 mg), run 4");
    assert_int_equal(oxl_nth_reason(&v, 0), OXL_R_GOOD_STORAGE);
    assert_null(strstr(oxl_reason_sentence(oxl_nth_reason(&v, 1)), "oo little"));
}

/* 0.5 s and 600 mg: what leads must read like no verdict. */
static void test_a_disagreement_leads_with_a_bound(void **state)
{
    (void)state;
    struct oxl_run_result r = a_run(0.5, 0.1, 600, 30);
    struct oxl_result v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_int_equal(v.lead.figure, OXL_LEAD_DELAY_AT_TARGET);
    assert_true(isnan(v.lead.span.value) && isinf(v.lead.span.high));
    assert_near(v.lead.span.low, 0.4, 1e-12);
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_SECONDS_AND_GRAMS_DISAGREE);
}

static void test_the_nearest_leads_an_open_result(void **state)
{
    (void)state;
    struct oxl_run_result r = held_run(2.5, 380); /* 0.36 of 7 s, 0.92 of 411 mg */
    struct oxl_result v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_int_equal(v.lead.figure, OXL_LEAD_OXYGEN);
    r = held_run(6.5, 200);
    assert_int_equal(judged(&r, 1, &proven).lead.figure, OXL_LEAD_DELAY_AT_TARGET);
    assert_int_equal(judged(NULL, 0, &proven).lead.figure, OXL_LEAD_NONE);
}

/* Two held, two short of it: there is no spread of four, nor of two. */
static void test_spread_of_values_only(void **state)
{
    (void)state;
    const oxl_reasons part = OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    struct oxl_run_result r[4] = {held_run(15.4, 450), flawed(0.33, 3, part), flawed(0.54, 5, part),
                                  held_run(9.17, 400)};
    struct oxl_result v = judged(r, 4, &proven);
    assert_true(isnan(v.spread_s) && v.spread_runs == 0);
    r[1].reasons = r[2].reasons = 0;
    v = judged(r, 4, &proven);
    assert_near(v.spread_s, 0.21, 1e-12);
    assert_int_equal(v.spread_runs, 2);
}

/* ---- next steps ---- */
static void test_deeper_run_is_asked_for_where_it_can_be(void **state)
{
    (void)state;
    struct oxl_run_result r[2] = {flawed(0.3, 3, OXL_REASON_BIT(OXL_R_PART_EMPTIED)),
                                  flawed(0.3, 3, OXL_REASON_BIT(OXL_R_PART_EMPTIED))};
    r[0].reasons |= OXL_REASON_BIT(OXL_R_OVER_ENRICHED);
    struct oxl_result v = judged(r, 2, &proven);
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_PART_EMPTIED);
    assert_int_equal(steps(&v), 1); /* no "less gas" beside it */
    struct oxl_session_facts hot = {true, true, 0, 0, true, 0};
    struct oxl_session_facts table = with(OXL_REASON_BIT(OXL_R_IMPORTED));
    v = judged(r, 2, &hot);
    assert_false(has_step(&v, OXL_R_PART_EMPTIED));
    assert_true(steps(&v) > 0);
    v = judged(r, 2, &table);
    assert_false(has_step(&v, OXL_R_PART_EMPTIED));
    assert_true(steps(&v) > 0);
    /* Taken, and it took out too little: not again. */
    r[1].deeper = true;
    v = judged(r, 2, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_OVER_ENRICHED); /* what was wrong all along */
    assert_int_equal(steps(&v), 1);
    r[0].reasons = OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    v = judged(r, 2, &proven);
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_FAST_TRIM_RECOVERY); /* open the gas quickly */
    assert_int_equal(steps(&v), 1);
    r[1].deeper = false;
    r[0].air_g_s = r[1].air_g_s = NAN;
    v = judged(r, 2, &proven);
    assert_false(has_step(&v, OXL_R_PART_EMPTIED));
}

static void test_one_depth(void **state)
{
    (void)state;
    const oxl_reasons over = OXL_REASON_BIT(OXL_R_OVER_ENRICHED),
                      under = OXL_REASON_BIT(OXL_R_UNDER_ENRICHED);
    struct oxl_run_result r[2] = {flawed(1.0, NAN, over), flawed(8.0, NAN, under)};
    struct oxl_result v = judged(r, 2, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(has_step(&v, OXL_R_UNDER_ENRICHED) && !has_step(&v, OXL_R_OVER_ENRICHED));
    struct oxl_run_result last = r[0];
    r[0] = r[1];
    r[1] = last;
    v = judged(r, 2, &proven);
    assert_true(has_step(&v, OXL_R_OVER_ENRICHED) && !has_step(&v, OXL_R_UNDER_ENRICHED));
    /* A stumble: less, whatever the others say. */
    r[0].valid = r[1].valid = false;
    r[1].reasons |= OXL_REASON_BIT(OXL_R_RPM_DROP);
    v = judged(r, 2, &proven);
    assert_true(has_step(&v, OXL_R_RPM_DROP));
    assert_false(has_step(&v, OXL_R_UNDER_ENRICHED) || has_step(&v, OXL_R_OVER_ENRICHED));
}

static void test_proven_comes_first_and_alone(void **state)
{
    (void)state;
    struct oxl_run_result r = flawed(0.6, 20, OXL_REASON_BIT(OXL_R_PART_EMPTIED));
    struct oxl_session_facts leak =
        with(OXL_REASON_BIT(OXL_R_LEAK_FOUND) | OXL_REASON_BIT(OXL_R_REAR_RESTS_LEAN) |
             OXL_REASON_BIT(OXL_R_CODES_PRESENT));
    struct oxl_result v = judged(&r, 1, &leak);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_int_equal(oxl_nth_reason(&v, 0), OXL_R_LEAK_FOUND);
    char text[OXL_LEAD_TEXT]; /* said of no run, and like no verdict */
    oxl_lead_text(&v.lead, text);
    assert_string_equal(text, "delay at target not known");
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_LEAK_FOUND);
    assert_int_equal(oxl_next_step(&v, 1), OXL_R_CODES_PRESENT);
    assert_int_equal(steps(&v), 2);
    struct oxl_session_facts misfire = with(OXL_REASON_BIT(OXL_R_MISFIRE));
    v = judged(&r, 1, &misfire);
    assert_int_equal(oxl_nth_reason(&v, 0), OXL_R_MISFIRE);
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_MISFIRE);
    assert_int_equal(steps(&v), 1);
}

static void test_no_leak_check_twice(void **state)
{
    (void)state;
    struct oxl_run_result r = a_run(0.6, 0.1, 20, 10);
    struct oxl_result v = judged(&r, 1, &proven);
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_LEAK_CHECK_FIRST);
    assert_int_equal(steps(&v), 1); /* nothing is replaced before it */
    struct oxl_session_facts clear = with(OXL_REASON_BIT(OXL_R_LEAK_NOT_FOUND));
    v = judged(&r, 1, &clear);
    assert_int_equal(v.verdict, OXL_VERDICT_BAD);
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_LOW_STORAGE);
    assert_int_equal(steps(&v), 1);
    clear.reasons |= OXL_REASON_BIT(OXL_R_REAR_RESTS_LEAN);
    v = judged(&r, 1, &clear);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_REAR_BIASED_LEAN); /* the sensor, not the pipe */
    assert_int_equal(steps(&v), 1);
}

static void test_a_good_result_asks_for_no_gas(void **state)
{
    (void)state;
    /* Short of the target: good by its mass. */
    struct oxl_run_result r = flawed(9, 700, OXL_REASON_BIT(OXL_R_UNDER_ENRICHED));
    r.shift_pct = -14;
    struct oxl_result v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_int_equal(v.lead.figure, OXL_LEAD_OXYGEN);
    assert_int_equal(steps(&v), 0);
}

/* "Repeat the test" is what every other step ends in. */
static void test_repeat_stands_alone_or_not_at_all(void **state)
{
    (void)state;
    struct oxl_run_result r[2] = {flawed(1, 70, OXL_REASON_BIT(OXL_R_TIME_LIMIT)),
                                  flawed(1, 70, OXL_REASON_BIT(OXL_R_GAP_AT_EVENT))};
    r[0].valid = r[1].valid = false;
    struct oxl_result v = judged(r, 1, &proven);
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_NO_VALID_RUN);
    v = judged(r, 2, &proven);
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_GAP_AT_EVENT);
    assert_int_equal(steps(&v), 1);
}

/* A leak lets the rear fall at any depth: no more gas is asked for beside it. */
static void test_a_suspected_leak_asks_for_no_gas(void **state)
{
    (void)state;
    struct oxl_run_result r = held_run(1.9, 100);
    r.reasons |= OXL_REASON_BIT(OXL_R_SUPPLY_TOO_SMALL) | OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    struct oxl_session_facts leak = with(OXL_REASON_BIT(OXL_R_LEAK_SUSPECTED));
    struct oxl_result v = judged(&r, 1, &leak);
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_LEAK_SUSPECTED);
    assert_int_equal(steps(&v), 1);
    leak.reasons |= OXL_REASON_BIT(OXL_R_LEAK_NOT_FOUND);
    v = judged(&r, 1, &leak);
    assert_true(has_step(&v, OXL_R_PART_EMPTIED));
}

static void test_feed_closer_once(void **state)
{
    (void)state;
    const oxl_reasons disagree = OXL_REASON_BIT(OXL_R_LAMBDA_TRIM_DISAGREE);
    struct oxl_run_result r = flawed(4, 300, disagree | OXL_REASON_BIT(OXL_R_SLOW_RELEASE));
    struct oxl_result v = judged(&r, 1, &proven);
    assert_true(has_step(&v, OXL_R_SLOW_RELEASE));
    assert_false(has_step(&v, OXL_R_LAMBDA_TRIM_DISAGREE));
    r.reasons = disagree;
    v = judged(&r, 1, &proven);
    assert_true(has_step(&v, OXL_R_LAMBDA_TRIM_DISAGREE));
}

/* ---- what is no reason ---- */
static void test_no_reason_without_a_point(void **state)
{
    (void)state;
    /* "More than this", of a run that does not count. */
    struct oxl_run_result r = flawed(5, 177, OXL_REASON_BIT(OXL_R_PART_EMPTIED));
    struct oxl_result v = judged(&r, 1, &proven);
    assert_true(judged_has(&v, OXL_R_PART_EMPTIED));
    r.valid = false;
    v = judged(&r, 1, &proven);
    assert_false(judged_has(&v, OXL_R_PART_EMPTIED));
    assert_true(steps(&v) > 0);
    struct oxl_session_facts fresh = with(OXL_REASON_BIT(OXL_R_NEW_CONVERTER));
    r = a_run(9, 0.1, 500, 10);
    v = judged(&r, 1, &fresh);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_false(judged_has(&v, OXL_R_NEW_CONVERTER));
    r = a_run(0.5, 0.1, 20, 10);
    v = judged(&r, 1, &fresh);
    assert_true(judged_has(&v, OXL_R_NEW_CONVERTER));
}

/* ---- bounds that say nothing ---- */
static void test_no_bound_of_nothing(void **state)
{
    (void)state;
    struct oxl_run_result r = flawed(-1.1, 0, OXL_REASON_BIT(OXL_R_REAR_LEAN_FIRST));
    r.delay_at_target_s = (struct oxl_span){NAN, 0, INFINITY};
    r.o2_mg = (struct oxl_span){0, 0, 0};
    struct oxl_result v = judged(&r, 1, &proven);
    assert_false(oxl_figure_known(&v.delay_s) || oxl_figure_known(&v.delay_at_target_s) ||
                 oxl_figure_known(&v.o2_mg) || oxl_figure_known(&v.lead.span));
}

/* Each row of a page's table is what the result made of that run. */
static void test_a_run_is_shown_as_it_is_judged(void **state)
{
    (void)state;
    struct oxl_profile p;
    test_profile(&p);
    struct oxl_run_result r[2] = {flawed(1.9, 190, OXL_REASON_BIT(OXL_R_PART_EMPTIED)),
                                  a_run(2.1, 0.1, 150, 10)};
    struct oxl_run_figures f = oxl_run_as_judged(&r[0], NULL, &p);
    assert_true(isnan(f.delay_s.value) && isinf(f.delay_s.high) && isinf(f.o2_mg.high));
    assert_near(f.delay_s.low, 1.8, 1e-12);
    f = oxl_run_as_judged(&r[1], NULL, &p);
    assert_near(f.delay_s.value, 2.1, 1e-12);
    assert_near(f.delay_s.high, 2.2, 1e-12);
    /* The session's misfire leaves the time alone, a deeper run makes the others bounds. */
    f = oxl_run_as_judged(&r[1], &(struct oxl_result){.session = OXL_REASON_BIT(OXL_R_MISFIRE)},
                          &p);
    assert_true(isnan(f.delay_s.low) && isnan(f.delay_s.high) && !oxl_figure_known(&f.o2_mg));
    assert_near(f.delay_s.value, 2.1, 1e-12);
    f = oxl_run_as_judged(&r[1], &(struct oxl_result){.deeper_run = 2}, &p);
    assert_true(isinf(f.delay_at_target_s.high) && isinf(f.o2_mg.high));
    struct oxl_session_facts leak = with(OXL_REASON_BIT(OXL_R_REAR_RESTS_LEAN));
    struct oxl_result v = judged(r, 2, &leak);
    assert_true(oxl_reasons_has(v.session, OXL_R_REAR_RESTS_LEAN));
    assert_false(oxl_reasons_has(v.session, OXL_R_PART_EMPTIED));
}

/* Rows that end in the same thing to do are one step. */
static void test_same_words_once(void **state)
{
    (void)state;
    struct oxl_result r = {.next = OXL_REASON_BIT(OXL_R_LEAK_SUSPECTED) |
                                   OXL_REASON_BIT(OXL_R_REAR_RESTS_LEAN)};
    assert_int_equal(steps(&r), 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_delay_leads_where_it_decides),
        cmocka_unit_test(test_oxygen_leads_where_the_delay_is_a_bound),
        cmocka_unit_test(test_a_disagreement_leads_with_a_bound),
        cmocka_unit_test(test_the_nearest_leads_an_open_result),
        cmocka_unit_test(test_spread_of_values_only),
        cmocka_unit_test(test_deeper_run_is_asked_for_where_it_can_be),
        cmocka_unit_test(test_one_depth),
        cmocka_unit_test(test_proven_comes_first_and_alone),
        cmocka_unit_test(test_no_leak_check_twice),
        cmocka_unit_test(test_a_good_result_asks_for_no_gas),
        cmocka_unit_test(test_repeat_stands_alone_or_not_at_all),
        cmocka_unit_test(test_a_suspected_leak_asks_for_no_gas),
        cmocka_unit_test(test_feed_closer_once),
        cmocka_unit_test(test_no_reason_without_a_point),
        cmocka_unit_test(test_no_bound_of_nothing),
        cmocka_unit_test(test_a_run_is_shown_as_it_is_judged),
        cmocka_unit_test(test_same_words_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
