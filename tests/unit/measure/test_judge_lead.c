/* Which of two figures leads, by hand: limits of 2 and 7 s, 132 and 411 mg. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_bench.h"
#include "measure/judge.h"

static struct figure one_run(double value, double low, double high)
{
    return (struct figure){.n = 1, .all = {low, high}, .value = value, .run = 1};
}

static struct oxl_lead lead(enum oxl_verdict verdict, enum oxl_conclusion conclusion,
                            struct figure delay, struct figure oxygen)
{
    struct oxl_profile p;
    const struct oxl_result r = {
        .verdict = verdict, .conclusion = conclusion, .bad_limit_mg = 132, .good_limit_mg = 411};
    const struct claims c = {.delay = delay, .oxygen = oxygen, .at_target = true};
    test_profile(&p);
    return oxl_judge_lead(&c, &p, &r);
}

/* 1 to 4 s is half way to "bad" (2 of 4 s), 500 to 600 mg is past "good" altogether; 8 to 9 s is,
 * too, and of 100 to 300 mg 132 of 300 is not half way. What went all the way leads, as a bound on
 * its own side that reads like no verdict. */
static void test_the_one_that_decides_leads_though_nothing_is_concluded(void **state)
{
    (void)state;
    struct oxl_lead l = lead(OXL_VERDICT_INCONCLUSIVE, OXL_CONCLUSION_NONE, one_run(2, 1, 4),
                             one_run(550, 500, 600));
    assert_int_equal(l.figure, OXL_LEAD_OXYGEN);
    assert_true(isnan(l.span.value) && isnan(l.span.low) && l.span.high == 600);
    l = lead(OXL_VERDICT_INCONCLUSIVE, OXL_CONCLUSION_NONE, one_run(8.5, 8, 9),
             one_run(200, 100, 300));
    assert_int_equal(l.figure, OXL_LEAD_DELAY_AT_TARGET);
    assert_true(isnan(l.span.value) && isnan(l.span.low) && l.span.high == 9);
}

/* Each alone leaves two zones, both together the middle one: 1.5 to 3 s, 200 to 450 mg and more. */
static void test_beside_questionable_a_value_in_the_middle_leads(void **state)
{
    static const struct {
        double s, mg, mg_low, mg_high;
        enum oxl_lead_figure leads;
    } rows[] = {
        {1.8, 300, 200, 450, OXL_LEAD_OXYGEN},          /* 1.8 s by itself would be bad */
        {2.4, 440, 200, 450, OXL_LEAD_DELAY_AT_TARGET}, /* 440 mg by itself would be good */
        {2.4, 300, 200, 450, OXL_LEAD_DELAY_AT_TARGET}, /* 2 of 3 s; 200 of 411 mg */
        {2.4, 410, 400, 450, OXL_LEAD_OXYGEN},          /* 400 of 411 mg */
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct oxl_lead l =
            lead(OXL_VERDICT_QUESTIONABLE, OXL_CONCLUSION_QUESTIONABLE, one_run(rows[i].s, 1.5, 3),
                 one_run(rows[i].mg, rows[i].mg_low, rows[i].mg_high));
        assert_int_equal(l.figure, rows[i].leads);
        assert_true(l.span.value == (l.figure == OXL_LEAD_OXYGEN ? rows[i].mg : rows[i].s));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_the_one_that_decides_leads_though_nothing_is_concluded),
        cmocka_unit_test(test_beside_questionable_a_value_in_the_middle_leads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
