/* Several runs into one verdict: median, scatter, what is set aside or not mixed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_bench.h"
#include "help_judge.h"

/* ---- several runs ---- */
static void test_median_of_runs(void **state)
{
    (void)state;
    struct oxl_run_result r[3] = {a_run(4.0, 0.2, 250, 30), a_run(4.1, 0.2, 255, 30),
                                  a_run(4.3, 0.2, 260, 30)};
    struct oxl_result v = judged(r, 3, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_QUESTIONABLE);
    assert_near(v.delay_s.value, 4.1, 1e-12);
    assert_near(v.delay_s.low, 3.9, 1e-12);
    assert_near(v.delay_s.high, 4.3, 1e-12);
    assert_near(v.spread_s, 0.3, 1e-12);
    assert_near(v.o2_mg.value, 255, 1e-12);
    assert_int_equal(v.runs, 3);
    assert_int_equal(v.valid_runs, 3);
    assert_false(judged_has(&v, OXL_R_RUNS_SCATTER) || judged_has(&v, OXL_R_RUN_SET_ASIDE));
    v = judged(r, 2, &proven);
    assert_near(v.delay_s.value, 4.05, 1e-12);
}

static void test_scatter_takes_the_hull(void **state)
{
    (void)state;
    struct oxl_run_result r[3] = {a_run(1.0, 0.1, 70, 10), a_run(1.5, 0.1, 100, 10),
                                  a_run(2.6, 0.1, 170, 10)};
    struct oxl_result v = judged(r, 3, &proven);
    assert_true(judged_has(&v, OXL_R_RUNS_SCATTER));
    assert_near(v.delay_s.low, 0.9, 1e-12);
    assert_near(v.delay_s.high, 2.7, 1e-12);
    assert_int_equal(v.verdict, OXL_VERDICT_QUESTIONABLE); /* reaches over the limit */
    assert_true(judged_has(&v, OXL_R_STRADDLES_LIMIT));
}

static void test_set_aside_needs_three(void **state)
{
    (void)state;
    struct oxl_run_result r[3] = {a_run(4.0, 0.1, 250, 30), a_run(1.0, 0.1, 60, 10),
                                  a_run(4.1, 0.1, 255, 30)};
    for (int i = 0; i < 3; i++)
        r[i].run = i + 1;
    struct oxl_result v = judged(r, 3, &proven);
    assert_true(judged_has(&v, OXL_R_RUN_SET_ASIDE));
    assert_near(v.delay_s.value, 4.05, 1e-12);
    assert_int_equal(v.valid_runs, 3); /* named, not deleted */
    assert_int_equal(v.aside_run, r[1].run);
    v = judged(r, 2, &proven);
    assert_int_equal(v.aside_run, 0);
    assert_false(judged_has(&v, OXL_R_RUN_SET_ASIDE));
    assert_true(judged_has(&v, OXL_R_RUNS_SCATTER));
}

/* Beside 4 s within 0.1 s one within 0.4 s is far when it is 1.5 s away, three times both halves.
 */
static void test_far_is_three_times_what_both_leave_open(void **state)
{
    (void)state;
    for (int far = 0; far < 2; far++) {
        struct oxl_run_result r[3] = {a_run(4.0, 0.1, 250, 30),
                                      a_run(far ? 2.2 : 2.6, 0.4, 200, 30),
                                      a_run(4.02, 0.1, 250, 30)};
        for (int i = 0; i < 3; i++)
            r[i].run = i + 1;
        assert_int_equal(judged(r, 3, &proven).aside_run, far ? 2 : 0);
    }
}

static void test_unlike_speed_is_not_mixed(void **state)
{
    (void)state;
    struct oxl_run_result r[3] = {a_run(4.0, 0.2, 250, 30), a_run(1.2, 0.1, 240, 30),
                                  a_run(4.1, 0.2, 255, 30)};
    r[1].rpm = 2000;
    struct oxl_result v = judged(r, 3, &proven);
    assert_true(judged_has(&v, OXL_R_RUNS_UNLIKE));
    assert_near(v.delay_s.value, 4.05, 1e-12);
    assert_near(v.rpm, 750, 1e-12);
}

/* Nor are runs under another load, or measured by other means. */
static void test_unlike_air_and_sources_are_not_mixed(void **state)
{
    (void)state;
    for (int what = 0; what < 3; what++) {
        struct oxl_run_result r[3] = {a_run(4.0, 0.2, 250, 30), a_run(2.9, 0.2, 260, 30),
                                      a_run(4.1, 0.2, 255, 30)};
        struct oxl_result v = judged(r, 3, &proven);
        assert_false(judged_has(&v, OXL_R_RUNS_UNLIKE));
        if (what == 0)
            r[1].air_g_s = 1.4 * r[0].air_g_s; /* the same speed with the compressor on */
        else if (what == 1)
            r[1].air_source = OXL_AIRSRC_SPEED_DENSITY;
        else
            r[1].x_source = r[0].x_source == OXL_XSRC_TRIM ? OXL_XSRC_LAMBDA : OXL_XSRC_TRIM;
        v = judged(r, 3, &proven);
        assert_true(judged_has(&v, OXL_R_RUNS_UNLIKE));
        assert_near(v.delay_s.value, 4.05, 1e-12);
        assert_near(v.air_g_s, r[0].air_g_s, 1e-12);
    }
}

/* Two at idle decide beside a later one at another speed. */
static void test_the_larger_group_decides(void **state)
{
    (void)state;
    struct oxl_run_result r[3] = {a_run(4.0, 0.2, 250, 30), a_run(4.1, 0.2, 250, 30),
                                  a_run(1.2, 0.1, 70, 10)};
    r[2].rpm = 1500;
    assert_near(judged(r, 3, &proven).delay_s.value, 4.05, 1e-12);
}

static void test_invalid_runs_do_not_count(void **state)
{
    (void)state;
    struct oxl_run_result r[2] = {a_run(9, 0.2, 500, 30), a_run(1.2, 0.1, 70, 10)};
    r[1].valid = false;
    r[1].reasons = OXL_REASON_BIT(OXL_R_RPM_UNSTEADY);
    struct oxl_result v = judged(r, 2, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_int_equal(v.valid_runs, 1);
    r[0].valid = false;
    v = judged(r, 2, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(judged_has(&v, OXL_R_NO_VALID_RUN) && judged_has(&v, OXL_R_RPM_UNSTEADY));
    assert_true(isnan(v.delay_s.value) && isnan(v.o2_mg.low));
    v = judged(NULL, 0, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(judged_has(&v, OXL_R_NO_VALID_RUN));
}

/* It does not decide, but what excludes where it lies does not stand. */
static void test_a_run_set_aside_objects(void **state)
{
    (void)state;
    static const struct {
        double two_s, aside_s;
        enum oxl_conclusion said;
    } rows[] = {
        {1.0, 9.0, OXL_CONCLUSION_NONE},         {9.0, 1.0, OXL_CONCLUSION_NONE},
        {2.0, 9.0, OXL_CONCLUSION_NONE},         {2.0, 0.9, OXL_CONCLUSION_NOT_GOOD},
        {7.0, 1.0, OXL_CONCLUSION_NONE},         {7.0, 15.0, OXL_CONCLUSION_NOT_BAD},
        {4.0, 1.0, OXL_CONCLUSION_QUESTIONABLE},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const double mg = 20.4 + 55.8 * rows[i].two_s, aside_mg = 20.4 + 55.8 * rows[i].aside_s;
        struct oxl_run_result r[3] = {a_run(rows[i].two_s, 0.05, mg, 10),
                                      a_run(rows[i].aside_s, 0.1, aside_mg, 10),
                                      a_run(rows[i].two_s + 0.02, 0.05, mg, 10)};
        for (int k = 0; k < 3; k++)
            r[k].run = k + 1;
        struct oxl_result v = judged(r, 3, &proven);
        assert_int_equal(v.aside_run, 2);
        assert_int_equal(v.conclusion, rows[i].said);
        assert_int_equal(judged_has(&v, OXL_R_RUNS_SCATTER), rows[i].said == OXL_CONCLUSION_NONE);
    }
}

/* Where pulses were too small to empty the store, one that was not decides. */
static void test_where_some_pulses_were_too_small(void **state)
{
    (void)state;
    for (size_t n = 1; n <= 4; n++)
        for (size_t small = 0; small <= n; small++) {
            struct oxl_run_result r[4];
            for (size_t i = 0; i < n; i++) {
                r[i] = a_run(1.0, 0.1, 60, 10);
                r[i].reasons = i < small ? OXL_REASON_BIT(OXL_R_PART_EMPTIED) : 0;
            }
            struct oxl_result v = judged(r, n, &proven);
            const bool all = small == n;
            assert_int_equal(v.verdict, all ? OXL_VERDICT_INCONCLUSIVE : OXL_VERDICT_BAD);
            assert_int_equal(isfinite(v.delay_s.high) != 0, !all);
        }
}

/* A run whose rear held bounds the store from below. Where that lies above what the others took,
 * in seconds or in grams, the others had not begun with an empty one: neither of their figures has
 * an upper end. */
static void test_a_store_that_held_more_in_one_run(void **state)
{
    (void)state;
    static const struct {
        double low_s, low_mg;
        bool more;
    } rows[] = {{1.05, 65, false}, {1.5, 65, true}, {1.05, 120, true}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct oxl_run_result r[3] = {a_run(1.0, 0.1, 60, 10), a_run(1.0, 0.1, 60, 10),
                                      held_run(rows[i].low_s, rows[i].low_mg)};
        struct oxl_result v = judged(r, 3, &proven);
        assert_int_equal(v.verdict, rows[i].more ? OXL_VERDICT_INCONCLUSIVE : OXL_VERDICT_BAD);
        assert_int_equal(isfinite(v.o2_mg.high) && isfinite(v.delay_at_target_s.high),
                         !rows[i].more);
    }
}

/* 3 to 5 s and 4 to 5 s, and one that held for 4 s: the ends that come out are those of the second
 * run alone, but it took all three to come to them. */
static void test_ends_of_several_runs_are_of_no_run(void **state)
{
    (void)state;
    struct oxl_run_result r[3] = {a_run(4.0, 1.0, 250, 30), a_run(4.5, 0.5, 250, 30),
                                  held_run(4.0, 200)};
    for (int i = 0; i < 3; i++)
        r[i].run = i + 1;
    const struct oxl_result v = judged(r, 3, &proven);
    assert_int_equal(v.lead.figure, OXL_LEAD_DELAY_AT_TARGET);
    assert_near(v.lead.span.low, 4.0, 1e-12);
    assert_near(v.lead.span.high, 5.0, 1e-12);
    assert_int_equal(v.lead.run, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_median_of_runs),
        cmocka_unit_test(test_scatter_takes_the_hull),
        cmocka_unit_test(test_set_aside_needs_three),
        cmocka_unit_test(test_far_is_three_times_what_both_leave_open),
        cmocka_unit_test(test_a_run_set_aside_objects),
        cmocka_unit_test(test_unlike_speed_is_not_mixed),
        cmocka_unit_test(test_unlike_air_and_sources_are_not_mixed),
        cmocka_unit_test(test_where_some_pulses_were_too_small),
        cmocka_unit_test(test_a_store_that_held_more_in_one_run),
        cmocka_unit_test(test_the_larger_group_decides),
        cmocka_unit_test(test_invalid_runs_do_not_count),
        cmocka_unit_test(test_ends_of_several_runs_are_of_no_run),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
