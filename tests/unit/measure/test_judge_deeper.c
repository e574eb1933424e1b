/* The deeper run in the verdict. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_bench.h"
#include "help_judge.h"

/* ---- the deeper run (method.md, section 6) ---- */
static void test_a_deeper_run_decides(void **state)
{
    (void)state;
    /* Held runs bound it from below; the deeper one that dropped measures it. */
    struct oxl_run_result r[3] = {held_run(6.2, 300), held_run(6.1, 310), a_run(NAN, NAN, 520, 50)};
    r[2].dropped = true;
    r[2].delay_s = (struct oxl_span){3.6, 3.5, 3.7};
    r[2].delay_at_target_s = (struct oxl_span){NAN, 7.4, INFINITY};
    r[2].reasons = OXL_REASON_BIT(OXL_R_OVER_ENRICHED);
    struct oxl_result v = judged(r, 3, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_false(v.held);
    /* Over-enriched and no deeper run: a bound, and it carried the verdict. */
    assert_true(isnan(v.o2_mg.value) && isinf(v.o2_mg.high));
    assert_near(v.o2_mg.low, 470, 1e-12);
    assert_int_equal(v.lead.figure, OXL_LEAD_DELAY_AT_TARGET);
    assert_near(v.lead.span.low, 7.4, 1e-12);
    assert_true(isnan(v.lead.span.value));
}

static struct oxl_run_result part_run(double delay, double mg)
{
    struct oxl_run_result r = a_run(delay, 0.1, mg, 10);
    r.o2_mg.high = INFINITY;
    r.o2_is_lower_bound = true;
    r.reasons = OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    return r;
}

static struct oxl_run_result deeper_run(double delay, double mg, double half_mg)
{
    struct oxl_run_result r = a_run(delay, 0.1, mg, half_mg);
    r.deeper = true;
    r.run = 4;
    r.shift_pct = -28;
    return r;
}

static void test_deeper_condemns_by_its_mass(void **state)
{
    (void)state;
    struct oxl_run_result r[4] = {part_run(0.3, 2), part_run(0.3, 3), part_run(0.4, 5),
                                  deeper_run(0.3, 4, 8)};
    assert_int_equal(judged(r, 3, &proven).verdict, OXL_VERDICT_INCONCLUSIVE);
    struct oxl_result v = judged(r, 4, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_BAD);
    assert_int_equal(v.deeper_run, 4);
    /* Raised to the flux of the target, as it was judged. */
    assert_near(v.o2_mg.high, 12 * pow(1.4, 0.4), 1e-12);
    assert_int_equal(v.lead.figure, OXL_LEAD_OXYGEN);
    assert_int_equal(v.lead.run, 4);
    char of[OXL_RUN_TEXT];
    oxl_o2_run_text(&v, of);
    assert_string_equal(of, ", by the deeper run 4");
    /* A deeper run that was emptied in part, beside one that held more. */
    struct oxl_run_result held[2] = {held_run(5, 280), deeper_run(4, 247, 10)};
    held[0].run = 2;
    held[1].reasons = OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    struct oxl_result w = judged(held, 2, &proven);
    assert_int_equal(w.deeper_run, 4);
    oxl_o2_run_text(&w, of);
    assert_string_equal(of, ", run 2");
    /* The pulses' seconds are no more than a bound, and never a value beside the verdict. */
    assert_true(isnan(v.delay_s.value));
    assert_near(v.delay_s.low, 0.3, 1e-12);
    assert_true(isnan(v.spread_s) && v.spread_runs == 0);
    assert_true(judged_has(&v, OXL_R_LEAK_CHECK_FIRST));
    /* That the pulses did not empty it is beside the point now. */
    assert_false(judged_has(&v, OXL_R_PART_EMPTIED));
    assert_false(oxl_reasons_has(v.next, OXL_R_PART_EMPTIED));
    /* The same figures of a run that is not a deeper one: too much gas, no verdict. */
    r[3].deeper = false;
    r[3].reasons = OXL_REASON_BIT(OXL_R_OVER_ENRICHED);
    assert_int_equal(judged(r, 4, &proven).verdict, OXL_VERDICT_INCONCLUSIVE);
    /* A deeper one that took out too little is a bound, too. */
    r[3] = deeper_run(0.3, 4, 8);
    r[3].reasons |= OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    assert_int_equal(judged(r, 4, &proven).verdict, OXL_VERDICT_INCONCLUSIVE);
}

static void test_deeper_contradicted_does_not_condemn(void **state)
{
    (void)state;
    struct oxl_run_result r[4] = {part_run(0.3, 2), part_run(2.6, 300), part_run(0.4, 5),
                                  deeper_run(0.3, 4, 8)};
    /* One run held 290 mg at least: a store of 12 mg it is not. */
    assert_int_equal(judged(r, 4, &proven).verdict, OXL_VERDICT_INCONCLUSIVE);
    /* And a deeper run that held lets no small mass of another stand. */
    r[1] = a_run(0.3, 0.1, 5, 10);
    r[0] = r[2] = r[1];
    assert_int_equal(judged(r, 3, &proven).verdict, OXL_VERDICT_BAD);
    r[3] = held_run(6, 300);
    r[3].deeper = true;
    assert_int_equal(judged(r, 4, &proven).verdict, OXL_VERDICT_INCONCLUSIVE);
    struct oxl_session_facts slow = {true, true, OXL_REASON_BIT(OXL_R_REAR_SLOW), 0, false, 0};
    assert_int_equal(judged(r, 4, &slow).verdict, OXL_VERDICT_INCONCLUSIVE);
}

static void test_deeper_bound_proves_a_sound_store(void **state)
{
    (void)state;
    struct oxl_run_result r[4] = {held_run(4, 250), part_run(0.3, 3), part_run(3, 200),
                                  held_run(9, 450)};
    r[3].deeper = true;
    struct oxl_result v = judged(r, 3, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    v = judged(r, 4, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_near(v.o2_mg.low, 450, 1e-12);
    /* Its raw seconds never stand for a delay. */
    r[3].delay_at_target_s = (struct oxl_span){NAN, NAN, NAN};
    r[3].o2_mg = (struct oxl_span){NAN, NAN, NAN};
    assert_int_equal(judged(r, 4, &proven).verdict, OXL_VERDICT_INCONCLUSIVE);
}

/* More could have been stored at the target: 130 mg at twice the flux may be 130 * 2^0.4 = 172. */
static void test_deeper_mass_at_the_target_flux(void **state)
{
    (void)state;
    struct oxl_run_result r = deeper_run(0.9, 110, 15);
    r.delay_at_target_s = (struct oxl_span){1.4, 1.2, 1.6};
    r.shift_pct = -20;
    assert_int_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_BAD); /* 125 of 132 mg */
    r.shift_pct = -40;
    r.delay_at_target_s = (struct oxl_span){NAN, NAN, NAN};
    assert_int_not_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_BAD);
}

/* At a raised speed a sound bed may let gas through long before it is full: nothing is bad there,
 * and a bound that is large enough is good all the same. */
static void test_deeper_at_a_high_flow(void **state)
{
    (void)state;
    struct oxl_run_result r = deeper_run(0.3, 60, 20);
    r.air_g_s = 9;
    r.shift_pct = -20;
    r.reasons |= OXL_REASON_BIT(OXL_R_HIGH_AIR_FLOW);
    assert_int_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_int_equal(judged(&r, 1, &proven).conclusion, OXL_CONCLUSION_NONE);
    r.deeper = false;
    r.o2_mg = (struct oxl_span){60, 40, 80};
    assert_int_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_INCONCLUSIVE);
    r.deeper = true;
    r.o2_mg = (struct oxl_span){1400, 1300, 1500}; /* the limit at 9 g/s is 1233 mg */
    r.delay_at_target_s = (struct oxl_span){9, 8, 10};
    assert_int_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_GOOD);
}

static bool may_condemn_in_spite_of(enum oxl_reason flaw)
{
    enum oxl_push push = flaw < OXL_R_COUNT ? oxl_reason_push(flaw) : OXL_PUSH_NONE;
    return (push != OXL_PUSH_SHORTER && push != OXL_PUSH_VOID) || flaw == OXL_R_DEPTH_UNKNOWN;
}

/* One deeper run of every class under every flaw. */
static void test_deeper_every_class_and_flaw(void **state)
{
    (void)state;
    for (int d = 0; d < CLASSES; d++)
        for (int o = 0; o < CLASSES; o++)
            for (unsigned flaw = 0; flaw <= OXL_R_COUNT; flaw++) {
                struct oxl_run_result r = deeper_run(1, 100, 10);
                r.shift_pct = -20;
                r.delay_at_target_s = span_class(d, 1, 0);
                r.o2_mg = span_class(o, 55.8, 20.4);
                r.dropped = oxl_known(r.o2_mg.value);
                r.reasons |= flaw < OXL_R_COUNT ? OXL_REASON_BIT(flaw) : 0;
                struct oxl_result v = judged(&r, 1, &proven);
                bool low =
                    fmin(isnan(r.delay_at_target_s.high) ? INFINITY : r.delay_at_target_s.high,
                         isnan(r.o2_mg.high) ? INFINITY : (r.o2_mg.high - 20.4) / 55.8) < 2;
                bool high = fmax(isnan(r.delay_at_target_s.low) ? 0 : r.delay_at_target_s.low,
                                 isnan(r.o2_mg.low) ? 0 : (r.o2_mg.low - 20.4) / 55.8) > 7;
                if (v.verdict == OXL_VERDICT_BAD)
                    assert_true(low && may_condemn_in_spite_of((enum oxl_reason)flaw));
                if (v.verdict == OXL_VERDICT_GOOD)
                    assert_true(high && (flaw == OXL_R_COUNT ||
                                         oxl_reason_push((enum oxl_reason)flaw) != OXL_PUSH_VOID));
                if (flaw == OXL_R_COUNT && d == o && o == 0)
                    assert_int_equal(v.verdict, OXL_VERDICT_BAD);
            }
}

/* A rear that is late by a second lengthens every time by that, and the mass by its share of it. */
static void test_a_slow_rear_opens_what_it_can_amount_to(void **state)
{
    (void)state;
    struct oxl_session_facts late = proven;
    struct oxl_run_result r = a_run(2.5, 0.2, 300, 20);
    r.rear_above_v = 0;
    struct oxl_result sure = judged(&r, 1, &late);
    late.rear_lag_s = 1;
    struct oxl_result v = judged(&r, 1, &late);
    assert_near(v.delay_at_target_s.low, sure.delay_at_target_s.low - 1, 1e-9);
    assert_near(v.delay_at_target_s.high, sure.delay_at_target_s.high, 1e-9);
    assert_near(v.o2_mg.low, sure.o2_mg.low * (1 - 1 / 2.5), 1e-9);
    r = held_run(8, 300); /* the gas that it let through a second before the end would not show */
    sure = judged(&r, 1, &proven);
    v = judged(&r, 1, &late);
    assert_near(v.o2_mg.low, sure.o2_mg.low * (1 - 1 / 8.0), 1e-9);
}

/* A rear whose fall nobody saw may be as late as it likes. That is said, with what shows it, where
 * a quick one would have settled more, and nowhere else. */
static void test_an_unseen_fall_is_said_where_it_matters(void **state)
{
    (void)state;
    struct oxl_session_facts unseen = proven;
    struct oxl_run_result r = a_run(9, 0.2, 900, 20);
    r.rear_above_v = 0;
    assert_int_equal(judged(&r, 1, &proven).conclusion, OXL_CONCLUSION_GOOD);
    unseen.rear_lag_s = INFINITY;
    struct oxl_result v = judged(&r, 1, &unseen);
    assert_int_equal(v.conclusion, OXL_CONCLUSION_NONE);
    assert_true(judged_has(&v, OXL_R_REAR_FALL_UNSEEN));
    assert_true(oxl_reasons_has(v.next, OXL_R_REAR_FALL_UNSEEN));
    unseen.rear_lag_s = 60; /* one that was seen, and is slow */
    v = judged(&r, 1, &unseen);
    assert_false(judged_has(&v, OXL_R_REAR_FALL_UNSEEN));
    unseen.rear_lag_s = INFINITY;
    r = a_run(1, 0.2, 20, 20); /* may be more than that, whatever the rear is like */
    r.reasons = OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    v = judged(&r, 1, &unseen);
    assert_int_equal(v.conclusion, OXL_CONCLUSION_NONE);
    assert_int_equal(judged(&r, 1, &proven).conclusion, OXL_CONCLUSION_NONE);
    assert_false(judged_has(&v, OXL_R_REAR_FALL_UNSEEN));
    r = held_run(6, 300); /* not bad, if the rear would have shown it by the end */
    assert_int_equal(judged(&r, 1, &proven).conclusion, OXL_CONCLUSION_NOT_BAD);
    v = judged(&r, 1, &unseen);
    assert_true(judged_has(&v, OXL_R_REAR_FALL_UNSEEN));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_an_unseen_fall_is_said_where_it_matters),
        cmocka_unit_test(test_a_slow_rear_opens_what_it_can_amount_to),
        cmocka_unit_test(test_a_deeper_run_decides),
        cmocka_unit_test(test_deeper_condemns_by_its_mass),
        cmocka_unit_test(test_deeper_contradicted_does_not_condemn),
        cmocka_unit_test(test_deeper_bound_proves_a_sound_store),
        cmocka_unit_test(test_deeper_mass_at_the_target_flux),
        cmocka_unit_test(test_deeper_at_a_high_flow),
        cmocka_unit_test(test_deeper_every_class_and_flaw),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
