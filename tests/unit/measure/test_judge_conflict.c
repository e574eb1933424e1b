/* Where runs speak against each other, and what a shallow or hardly sufficient one is worth. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_bench.h"
#include "help_judge.h"

/* Two that held, and a later one that took out as much and fell at once. */
static struct oxl_result contradicted(double removed_mg, double fell_s, int run, bool deeper)
{
    struct oxl_run_result r[3] = {held_run(7.5, 450), held_run(7.4, 440),
                                  a_run(fell_s, 0.2, 60, 20)};
    for (int i = 0; i < 3; i++) {
        r[i].run = i + 2;
        r[i].o2_removed_mg = 400;
    }
    r[2].run = run;
    r[2].deeper = deeper;
    r[2].o2_removed_mg = removed_mg;
    r[2].reasons = OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    r[2].o2_mg.high = INFINITY;
    r[2].o2_is_lower_bound = true;
    return judged(r, 3, &proven);
}

static void test_a_later_short_run_takes_back_what_held(void **state)
{
    (void)state;
    const struct oxl_result v = contradicted(400, 1.5, 4, false);
    assert_int_equal(v.conclusion, OXL_CONCLUSION_NONE);
    assert_true(judged_has(&v, OXL_R_RUNS_SCATTER));
    assert_near(v.delay_at_target_s.low, 1.3, 1e-12);
    assert_near(v.o2_mg.low, 40, 1e-12);
    assert_int_equal(contradicted(370, 1.5, 4, false).conclusion, OXL_CONCLUSION_NONE);
    /* What it leaves is as little as the later run says, and nothing where that is less than
     * nothing. */
    assert_near(contradicted(400, 0.5, 4, false).delay_at_target_s.low, 0.3, 1e-12);
    assert_false(oxl_known(contradicted(400, 0.1, 4, false).delay_at_target_s.low));
    /* It took out less; it was the first; it fell between the limits; it is not comparable. */
    assert_int_equal(contradicted(350, 1.5, 4, false).conclusion, OXL_CONCLUSION_GOOD);
    assert_int_equal(contradicted(400, 1.5, 1, false).conclusion, OXL_CONCLUSION_GOOD);
    assert_int_equal(contradicted(400, 2.4, 4, false).conclusion, OXL_CONCLUSION_GOOD);
    assert_int_equal(contradicted(400, 1.5, 4, true).conclusion, OXL_CONCLUSION_GOOD);
    assert_int_equal(contradicted(NAN, 1.5, 4, false).conclusion, OXL_CONCLUSION_GOOD);
}

/* One run between 5 and 6 s, another of 3 s at most: no time fits both. */
static void test_a_bound_below_another_time_is_scatter(void **state)
{
    struct oxl_run_result r[2] = {a_run(5.5, 0.5, 200, 20), a_run(2.5, 0.5, 200, 20)};
    (void)state;
    r[1].delay_s.low = r[1].delay_at_target_s.low = -INFINITY;
    const struct oxl_result v = judged(r, 2, &proven);
    assert_true(judged_has(&v, OXL_R_RUNS_SCATTER));
    r[1].delay_s.high = r[1].delay_at_target_s.high = 5.8;
    const struct oxl_result fit = judged(r, 2, &proven);
    assert_false(judged_has(&fit, OXL_R_RUNS_SCATTER));
}

/* 0.3 s and 60 mg of a store that 400 mg emptied is bad. Where a larger dose may not have emptied
 * it that does not stand, neither in the result nor in what is shown of the run. */
static void test_a_smaller_dose_than_one_that_was_too_small(void **state)
{
    (void)state;
    static const struct {
        double other_mg;
        bool part;
        enum oxl_conclusion is;
    } rows[] = {{400, false, OXL_CONCLUSION_BAD},
                {410, true, OXL_CONCLUSION_NONE},
                {390, true, OXL_CONCLUSION_BAD},
                {NAN, true, OXL_CONCLUSION_BAD}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct oxl_run_result r[2] = {a_run(0.3, 0.1, 60, 20), a_run(0.3, 0.1, 60, 20)};
        struct oxl_profile p;
        test_profile(&p);
        r[0].o2_removed_mg = 400;
        r[1].run = 2;
        r[1].o2_removed_mg = rows[i].other_mg;
        if (rows[i].part) {
            r[1].reasons = OXL_REASON_BIT(OXL_R_PART_EMPTIED);
            r[1].o2_mg.high = INFINITY;
        }
        const struct oxl_result v = judged(r, 2, &proven);
        assert_int_equal(v.conclusion, rows[i].is);
        const struct oxl_run_figures shown = oxl_run_as_judged(&r[0], &v, &p);
        assert_int_equal(isinf(shown.o2_mg.high), rows[i].is == OXL_CONCLUSION_NONE);
    }
}

/* Limits: 2 s; 0.044 g for each g/s are 132 mg at 3 g/s. "Not bad" takes twice one of them. */
static void test_not_bad_clears_the_limit(void **state)
{
    (void)state;
    static const struct {
        double low_s, low_mg;
        enum oxl_conclusion is;
    } rows[] = {{3.9, 260, OXL_CONCLUSION_NONE},
                {4.1, 260, OXL_CONCLUSION_NOT_BAD},
                {3.9, 266, OXL_CONCLUSION_NOT_BAD},
                {NAN, 260, OXL_CONCLUSION_NONE},
                {7.1, 260, OXL_CONCLUSION_GOOD}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct oxl_run_result r = held_run(rows[i].low_s, rows[i].low_mg);
        assert_int_equal(judged(&r, 1, &proven).conclusion, rows[i].is);
    }
    /* Measured between the limits is no bound: it stands. */
    const struct oxl_run_result r = a_run(2.4, 0.1, 200, 20);
    assert_int_equal(judged(&r, 1, &proven).conclusion, OXL_CONCLUSION_QUESTIONABLE);
}

/* At half of the depth the mass counts half. */
static void test_a_shallow_mass_counts_in_proportion(void **state)
{
    (void)state;
    struct oxl_run_result r = held_run(NAN, 560);
    r.shift_pct = -10;
    assert_int_equal(judged(&r, 1, &proven).conclusion, OXL_CONCLUSION_GOOD);
    r.reasons |= OXL_REASON_BIT(OXL_R_UNDER_ENRICHED);
    const struct oxl_result v = judged(&r, 1, &proven);
    assert_int_equal(v.conclusion, OXL_CONCLUSION_NOT_BAD);
    assert_near(v.o2_mg.low, 280, 1e-9);
}

/* By lambda a run is weighed at any depth; by trims that do not say how deep it was it is a bound.
 */
static void test_a_mass_by_trims_needs_their_depth(void **state)
{
    (void)state;
    struct oxl_run_result r = a_run(4, 0.2, 250, 30);
    r.reasons = OXL_REASON_BIT(OXL_R_DEPTH_UNKNOWN);
    assert_near(judged(&r, 1, &proven).o2_mg.high, 280, 1e-9);
    r.x_source = OXL_XSRC_TRIM;
    const struct oxl_result v = judged(&r, 1, &proven);
    assert_false(oxl_figure_known(&v.o2_mg));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_later_short_run_takes_back_what_held),
        cmocka_unit_test(test_a_bound_below_another_time_is_scatter),
        cmocka_unit_test(test_a_smaller_dose_than_one_that_was_too_small),
        cmocka_unit_test(test_not_bad_clears_the_limit),
        cmocka_unit_test(test_a_mass_by_trims_needs_their_depth),
        cmocka_unit_test(test_a_shallow_mass_counts_in_proportion),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
