/* Runs into one verdict: the table, one run of every class under every flaw, cases by name. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_bench.h"
#include "help_judge.h"
#include "measure/parts.h"

/* ---- the table, over every input ---- */
static void test_zones(void **state)
{
    (void)state;
    assert_int_equal(oxl_zones_of(0.5, 1.9, 2, 7), ZONE_BAD);
    assert_int_equal(oxl_zones_of(1.9, 2.0, 2, 7), ZONE_BAD | ZONE_MIDDLE);
    assert_int_equal(oxl_zones_of(2.0, 7.0, 2, 7), ZONE_MIDDLE); /* questionable is 2 to 7 */
    assert_int_equal(oxl_zones_of(7.0, 7.1, 2, 7), ZONE_MIDDLE | ZONE_GOOD);
    assert_int_equal(oxl_zones_of(7.1, 8.0, 2, 7), ZONE_GOOD);
    assert_int_equal(oxl_zones_of(1, 8, 2, 7), 7);
    assert_int_equal(oxl_zones_of(7.1, INFINITY, 2, 7), ZONE_GOOD);
    assert_int_equal(oxl_zones_of(-INFINITY, 1, 2, 7), ZONE_BAD);
    assert_int_equal(oxl_zones_of(NAN, 1, 2, 7), 0);
    assert_int_equal(oxl_zones_of(1, 2, NAN, 7), 0);
}

static void test_table_is_safe(void **state)
{
    (void)state;
    for (unsigned delay = 0; delay < 8; delay++)
        for (unsigned oxygen = 0; oxygen < 8; oxygen++)
            for (int open = 0; open < 2; open++) {
                struct judgement j = oxl_judge_zones(delay, oxygen, open);
                unsigned both = delay && oxygen ? delay & oxygen : delay | oxygen;
                /* A hard verdict needs all that is known to allow it and nothing else left. */
                assert_true((j.verdict == OXL_VERDICT_GOOD) == (both == ZONE_GOOD));
                assert_true((j.verdict == OXL_VERDICT_BAD) == (both == ZONE_BAD));
                assert_true(j.disagree == (delay && oxygen && !(delay & oxygen)));
                if (both == ZONE_MIDDLE)
                    assert_int_equal(j.verdict, OXL_VERDICT_QUESTIONABLE);
                /* What a conclusion excludes, all that is known excludes: the union where it
                 * disagrees. */
                unsigned left = oxl_zones_left(j.conclusion), either = delay | oxygen;
                assert_true(j.conclusion == OXL_CONCLUSION_NONE ||
                            left == (j.disagree ? either : both));
                assert_true((j.conclusion == OXL_CONCLUSION_NOT_BAD) ==
                            (left == (ZONE_MIDDLE | ZONE_GOOD)));
                assert_true((j.conclusion == OXL_CONCLUSION_NOT_GOOD) ==
                            (left == (ZONE_MIDDLE | ZONE_BAD)));
                assert_true((j.conclusion == OXL_CONCLUSION_NONE) ==
                            (both == 7 || both == (ZONE_BAD | ZONE_GOOD) || either == 0 ||
                             (j.disagree && either & ZONE_BAD && either & ZONE_GOOD)));
                if (open && both != (both & -both))
                    assert_int_equal(j.verdict, OXL_VERDICT_INCONCLUSIVE);
                if (both == (ZONE_BAD | ZONE_GOOD) || both == 7 || delay + oxygen == 0)
                    assert_int_equal(j.verdict, OXL_VERDICT_INCONCLUSIVE);
            }
}

/* ---- one run of every class under every flaw ---- */
/* The leading figure lies on the verdict's side, or in no zone alone. */
static void check_lead(const struct oxl_result *v)
{
    const struct oxl_lead *l = &v->lead;
    const unsigned in =
        oxl_zones_of(isnan(l->span.low) ? -INFINITY : l->span.low,
                     isnan(l->span.high) ? INFINITY : l->span.high, l->bad_limit, l->good_limit);
    bool bound = isnan(l->span.low) || isnan(l->span.high) || isinf(l->span.high);
    assert_true(l->figure == OXL_LEAD_NONE || bound == isnan(l->span.value));
    /* Half an answer stands beside a figure that excludes what it excludes, unless seconds and
     * grams exclude each other. */
    if ((v->conclusion == OXL_CONCLUSION_NOT_BAD || v->conclusion == OXL_CONCLUSION_NOT_GOOD) &&
        !judged_has(v, OXL_R_SECONDS_AND_GRAMS_DISAGREE))
        assert_int_equal(in, oxl_zones_left(v->conclusion));
    switch (v->verdict) {
    case OXL_VERDICT_BAD:
        assert_int_equal(in, ZONE_BAD);
        break;
    case OXL_VERDICT_GOOD:
        assert_int_equal(in, ZONE_GOOD);
        break;
    case OXL_VERDICT_QUESTIONABLE:
        assert_true(in & ZONE_MIDDLE);
        assert_true(v->conclusion != OXL_CONCLUSION_NONE);
        break;
    case OXL_VERDICT_INCONCLUSIVE:
        assert_true(l->figure == OXL_LEAD_NONE || (in & (in - 1)));
        assert_true(v->conclusion == OXL_CONCLUSION_NONE ||
                    v->conclusion == OXL_CONCLUSION_NOT_BAD ||
                    v->conclusion == OXL_CONCLUSION_NOT_GOOD);
        break;
    }
}

static void check_class(int d, int o, enum oxl_reason flaw, bool lean, bool dropped)
{
    struct oxl_run_result r = a_run(1, 0.1, 100, 10);
    r.dropped = dropped;
    r.delay_s = r.delay_at_target_s = span_class(d, 1, 0);
    /* 2 and 7 s are 132 and 411 mg at 3 g/s: the same place between the limits. */
    r.o2_mg = span_class(o, 55.8, 20.4);
    r.reasons = flaw < OXL_R_COUNT ? OXL_REASON_BIT(flaw) : 0;
    struct oxl_session_facts facts = {true, lean, 0, 0, false, 0};
    struct oxl_result v = judged(&r, 1, &facts);
    enum oxl_push push = flaw < OXL_R_COUNT ? oxl_reason_push(flaw) : OXL_PUSH_NONE;
    bool unproven = !lean && !dropped;
    double high = fmin(isnan(r.delay_s.high) ? INFINITY : r.delay_s.high,
                       isnan(r.o2_mg.high) ? INFINITY : (r.o2_mg.high - 20.4) / 55.8);
    double low = fmax(isnan(r.delay_s.low) ? -INFINITY : r.delay_s.low,
                      isnan(r.o2_mg.low) ? -INFINITY : (r.o2_mg.low - 20.4) / 55.8);
    if (v.verdict == OXL_VERDICT_BAD) {
        assert_true(push != OXL_PUSH_SHORTER && push != OXL_PUSH_VOID);
        assert_true(high < 2);
        assert_true(judged_has(&v, OXL_R_LEAK_CHECK_FIRST) && judged_has(&v, OXL_R_LOW_STORAGE));
        assert_true(oxl_reasons_has(v.next, OXL_R_LEAK_CHECK_FIRST) ||
                    flaw == OXL_R_LEAK_NOT_FOUND);
    }
    if (v.verdict == OXL_VERDICT_GOOD) {
        assert_true(!unproven && push != OXL_PUSH_VOID && low > 7);
        /* Pushed longer it is good only by the mass, and only for flaws that the mass settles. */
        if (push == OXL_PUSH_LONGER)
            assert_true(r.o2_mg.low > 411 &&
                        (flaw == OXL_R_UNDER_ENRICHED || flaw == OXL_R_FAST_TRIM_RECOVERY ||
                         flaw == OXL_R_SUPPLY_TOO_SMALL || flaw == OXL_R_SLOW_RELEASE ||
                         flaw == OXL_R_DEPTH_UNKNOWN));
        assert_true(judged_has(&v, OXL_R_GOOD_STORAGE) &&
                    (flaw == OXL_R_LEAK_CHECK_FIRST || !judged_has(&v, OXL_R_LEAK_CHECK_FIRST)));
    }
    if (push == OXL_PUSH_NONE && !unproven && d == o) {
        static const enum oxl_verdict plain[CLASSES] = {
            OXL_VERDICT_BAD,          OXL_VERDICT_QUESTIONABLE, OXL_VERDICT_QUESTIONABLE,
            OXL_VERDICT_QUESTIONABLE, OXL_VERDICT_GOOD,         OXL_VERDICT_INCONCLUSIVE,
            OXL_VERDICT_GOOD,         OXL_VERDICT_INCONCLUSIVE};
        assert_int_equal(v.verdict, plain[d]);
    }
    if (v.verdict == OXL_VERDICT_INCONCLUSIVE)
        assert_int_not_equal(oxl_next_step(&v, 0), OXL_R_COUNT);
    check_lead(&v);
    assert_true(judged_has(&v, OXL_R_REAR_NOT_SEEN_LEAN) ==
                (unproven || flaw == OXL_R_REAR_NOT_SEEN_LEAN));
}

static void test_every_class_and_flaw(void **state)
{
    (void)state;
    for (int d = 0; d < CLASSES; d++)
        for (int o = 0; o < CLASSES; o++)
            for (unsigned flaw = 0; flaw <= OXL_R_COUNT; flaw++)
                for (int lean = 0; lean < 2; lean++)
                    for (int dropped = 0; dropped < 2; dropped++)
                        check_class(d, o, (enum oxl_reason)flaw, lean, dropped);
}

/* ---- cases of the specification, by name ---- */
static void test_over_enriched_good_stands_bad_does_not(void **state)
{
    (void)state;
    struct oxl_run_result r = a_run(9, 0.2, 500, 30);
    r.reasons = OXL_REASON_BIT(OXL_R_OVER_ENRICHED);
    struct oxl_result v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_false(oxl_reasons_has(v.next, OXL_R_OVER_ENRICHED)); /* nothing to repeat */
    r = a_run(1, 0.1, 60, 20);
    r.reasons = OXL_REASON_BIT(OXL_R_OVER_ENRICHED);
    v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(oxl_reasons_has(v.next, OXL_R_OVER_ENRICHED));
}

/* 7 s and 411 mg are the good limits: both reach across, and one value lies beyond. */
static void test_the_lead_lies_where_the_verdict_does(void **state)
{
    (void)state;
    struct oxl_run_result r = a_run(4.5, 0.1, 420, 50);
    r.delay_at_target_s.high = 7.4;
    struct oxl_result v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_QUESTIONABLE);
    assert_int_equal(v.lead.figure, OXL_LEAD_DELAY_AT_TARGET);
    /* At least nothing: not known. */
    r = held_run(0, 0);
    v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_false(oxl_figure_known(&v.lead.span) || v.lead.run);
}

static void test_held(void **state)
{
    (void)state;
    struct oxl_session_facts unseen = {true, false, 0, 0, false, 0};
    struct oxl_run_result r = held_run(13, 520);
    struct oxl_result v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_true(v.held && isnan(v.o2_mg.value) && isinf(v.o2_mg.high));
    assert_near(v.o2_mg.low, 520, 0);
    v = judged(&r, 1, &unseen);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(oxl_reasons_has(v.next, OXL_R_REAR_NOT_SEEN_LEAN));
    assert_false(judged_has(&v, OXL_R_STRADDLES_LIMIT)); /* there is no interval at all */
    const struct oxl_session_facts never_rich = {false, true, 0, 0, false, 0};
    v = judged(&r, 1, &never_rich);
    assert_true(judged_has(&v, OXL_R_REAR_NOT_SEEN_RICH));
    /* A ramp loop never shows 7 s at the target: the grams decide. */
    r = held_run(6.2, 450);
    assert_int_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_GOOD);
    /* More than a bad one could hold, not shown to be good. */
    r = held_run(6.2, 300);
    assert_int_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_INCONCLUSIVE);
    /* Fed less than a bad converter holds: proves nothing. */
    r = held_run(8, 60);
    r.reasons |= OXL_REASON_BIT(OXL_R_SUPPLY_TOO_SMALL);
    v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_int_equal(oxl_next_step(&v, 0), OXL_R_PART_EMPTIED); /* the deeper run */
    struct oxl_session_facts hot = {true, true, 0, 0, true, 0};
    v = judged(&r, 1, &hot);
    assert_false(oxl_reasons_has(v.next, OXL_R_PART_EMPTIED));
    assert_true(oxl_reasons_has(v.next, OXL_R_SUPPLY_TOO_SMALL));
    /* The rear fell in another run of the session: it has been seen lean. */
    struct oxl_run_result two[2] = {held_run(13, 520), a_run(12, 0.2, 600, 40)};
    v = judged(two, 2, &unseen);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_false(judged_has(&v, OXL_R_REAR_NOT_SEEN_LEAN));
}

static void test_resting_lean_stops_a_bad_verdict(void **state)
{
    (void)state;
    struct oxl_session_facts leak = {.rear_seen_rich = true,
                                     .rear_seen_lean = true,
                                     .reasons = OXL_REASON_BIT(OXL_R_REAR_RESTS_LEAN)};
    struct oxl_run_result r = a_run(0.6, 0.1, 20, 10);
    assert_int_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_BAD);
    struct oxl_result v = judged(&r, 1, &leak);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(oxl_reasons_has(v.next, OXL_R_REAR_RESTS_LEAN));
    r = a_run(9, 0.2, 500, 30);
    assert_int_equal(judged(&r, 1, &leak).verdict, OXL_VERDICT_GOOD);
}

static void test_part_emptied_bound(void **state)
{
    (void)state;
    struct oxl_run_result r = a_run(1.2, 0.1, 90, 10);
    r.o2_mg.high = INFINITY;
    r.reasons = OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    assert_int_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_INCONCLUSIVE);
}

/* Flaws that push it both ways leave no bound; what was timed is shown alone, and leads nothing. */
static void test_a_time_that_bounds_nothing(void **state)
{
    (void)state;
    struct oxl_run_result r = a_run(1.2, 0.1, 90, 10);
    r.o2_mg = (struct oxl_span){NAN, NAN, NAN};
    r.reasons = OXL_REASON_BIT(OXL_R_PART_EMPTIED) | OXL_REASON_BIT(OXL_R_FAST_TRIM_RECOVERY);
    const struct oxl_result v = judged(&r, 1, &proven);
    char text[OXL_LEAD_TEXT];
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(v.delay_s.value == 1.2 && isnan(v.delay_s.low) && isnan(v.delay_s.high));
    assert_true(isnan(v.delay_at_target_s.value));
    oxl_lead_text(&v.lead, text);
    assert_string_equal(text, "delay at target not known");
    /* A rear that was lean at the same moment, or before, was not timed. */
    for (double seen_s = 0; seen_s > -1; seen_s -= 0.5) {
        r.delay_s.value = r.delay_at_target_s.value = seen_s;
        assert_true(isnan(judged(&r, 1, &proven).delay_s.value));
    }
    /* A bound has no value beside it. */
    r.delay_s.value = r.delay_at_target_s.value = 1.2;
    r.reasons = OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    const struct oxl_result bound = judged(&r, 1, &proven);
    assert_true(isnan(bound.delay_s.value));
    assert_near(bound.delay_s.low, 1.1, 1e-12);
}

static void test_seconds_and_grams_disagree(void **state)
{
    (void)state;
    struct oxl_run_result r = a_run(1.2, 0.1, 600, 30);
    struct oxl_result v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(judged_has(&v, OXL_R_SECONDS_AND_GRAMS_DISAGREE));
}

static void test_without_grams_or_target(void **state)
{
    (void)state;
    struct oxl_run_result r = a_run(9, 0.2, NAN, NAN);
    r.air_g_s = NAN;
    struct oxl_result v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_true(isnan(v.bad_limit_mg) && isnan(v.o2_mg.low) && isnan(v.air_g_s));
    r.delay_at_target_s = (struct oxl_span){NAN, NAN, NAN};
    assert_int_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_GOOD);
}

static void test_limits_in_grams(void **state)
{
    (void)state;
    struct oxl_run_result r = a_run(4, 0.2, 250, 30);
    struct oxl_result v = judged(&r, 1, &proven);
    /* science.md (b): about 0.13 and 0.41 g at 3 g/s */
    assert_near(v.bad_limit_mg, 132, 1e-9);
    assert_near(v.good_limit_mg, 411, 1e-9);
}

/* Any truth, any depth of it hidden by flaws in their own direction: a sound converter is never
 * called bad, a dead one never good. */
static void test_never_the_wrong_way(void **state)
{
    (void)state;
    uint32_t seed = 21;
    int verdicts[4] = {0};
    for (int i = 0; i < 20000; i++) {
        struct oxl_run_result r[3];
        double truth = exp(log(0.4) + log(40) * random_unit(&seed)); /* 0.4 to 16 s */
        for (int k = 0; k < 3; k++) {
            double half = 0.05 + 0.5 * random_unit(&seed), bias = 1;
            r[k] = a_run(1, 0.1, 100, 10);
            if (random_unit(&seed) < 0.3) {
                r[k].reasons |= OXL_REASON_BIT(OXL_R_COOL_CONVERTER);
                bias *= 0.2 + 0.8 * random_unit(&seed);
            }
            if (random_unit(&seed) < 0.3) {
                r[k].reasons |= OXL_REASON_BIT(OXL_R_REAR_SLOW);
                bias /= 0.2 + 0.8 * random_unit(&seed);
            }
            double seen = truth * bias + half * (2 * random_unit(&seed) - 1);
            r[k].delay_s = (struct oxl_span){seen, seen - half, seen + half};
            r[k].delay_at_target_s = r[k].delay_s;
            double mg = 20.4 + 55.8 * truth * bias, mg_half = 0.1 * mg + 20;
            mg += mg_half * (2 * random_unit(&seed) - 1);
            r[k].o2_mg = (struct oxl_span){mg, mg - mg_half, mg + mg_half};
        }
        struct oxl_result v = judged(r, 1 + (size_t)(3 * random_unit(&seed)), &proven);
        verdicts[v.verdict]++;
        assert_false(truth > 7 && v.verdict == OXL_VERDICT_BAD);
        assert_false(truth < 2 && v.verdict == OXL_VERDICT_GOOD);
    }
    print_message("inconclusive %d, bad %d, questionable %d, good %d\n", verdicts[0], verdicts[1],
                  verdicts[2], verdicts[3]);
    /* And it does decide. */
    assert_true(verdicts[OXL_VERDICT_BAD] > 2000 && verdicts[OXL_VERDICT_GOOD] > 1500);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_zones),
        cmocka_unit_test(test_table_is_safe),
        cmocka_unit_test(test_every_class_and_flaw),
        cmocka_unit_test(test_over_enriched_good_stands_bad_does_not),
        cmocka_unit_test(test_the_lead_lies_where_the_verdict_does),
        cmocka_unit_test(test_held),
        cmocka_unit_test(test_resting_lean_stops_a_bad_verdict),
        cmocka_unit_test(test_part_emptied_bound),
        cmocka_unit_test(test_a_time_that_bounds_nothing),
        cmocka_unit_test(test_seconds_and_grams_disagree),
        cmocka_unit_test(test_without_grams_or_target),
        cmocka_unit_test(test_limits_in_grams),
        cmocka_unit_test(test_never_the_wrong_way),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
