/* Several runs into one verdict. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_bench.h"
#include "measure/parts.h"

static const struct oxl_session_facts proven = {true, true, 0};

static struct oxl_run_result a_run(double delay, double half, double mg, double half_mg)
{
    struct oxl_run_result r = {0};
    r.valid = r.dropped = true;
    r.delay_s = (struct oxl_span){delay, delay - half, delay + half};
    r.delay_at_target_s = r.delay_s;
    r.o2_mg = (struct oxl_span){mg, mg - half_mg, mg + half_mg};
    r.air_g_s = 3;
    r.rpm = 750;
    r.x_source = OXL_XSRC_LAMBDA;
    return r;
}

static struct oxl_run_result held_run(double low_s, double low_mg)
{
    struct oxl_run_result r = a_run(NAN, NAN, NAN, NAN);
    r.dropped = false;
    r.delay_s = (struct oxl_span){NAN, low_s, INFINITY};
    r.delay_at_target_s = r.delay_s;
    r.o2_mg = (struct oxl_span){NAN, low_mg, INFINITY};
    r.o2_is_lower_bound = true;
    r.reasons = OXL_REASON_BIT(OXL_R_REAR_HELD);
    return r;
}

static struct oxl_result judged(const struct oxl_run_result *runs, size_t n,
                                const struct oxl_session_facts *facts)
{
    struct oxl_profile p;
    struct oxl_result out;
    test_profile(&p);
    oxl_judge(runs, n, &p, facts, &out);
    return out;
}

static bool has(const struct oxl_result *r, enum oxl_reason reason)
{
    return oxl_reasons_has(r->reasons, reason);
}

/* ---- the table, over every input ---- */
static void test_zones(void **state)
{
    (void)state;
    assert_int_equal(zones_of(0.5, 1.9, 2, 7), ZONE_BAD);
    assert_int_equal(zones_of(1.9, 2.0, 2, 7), ZONE_BAD | ZONE_MIDDLE);
    assert_int_equal(zones_of(2.0, 7.0, 2, 7), ZONE_MIDDLE); /* questionable is 2 to 7 */
    assert_int_equal(zones_of(7.0, 7.1, 2, 7), ZONE_MIDDLE | ZONE_GOOD);
    assert_int_equal(zones_of(7.1, 8.0, 2, 7), ZONE_GOOD);
    assert_int_equal(zones_of(1, 8, 2, 7), 7);
    assert_int_equal(zones_of(7.1, INFINITY, 2, 7), ZONE_GOOD);
    assert_int_equal(zones_of(-INFINITY, 1, 2, 7), ZONE_BAD);
    assert_int_equal(zones_of(NAN, 1, 2, 7), 0);
    assert_int_equal(zones_of(1, 2, NAN, 7), 0);
}

static void test_table_is_safe(void **state)
{
    (void)state;
    for (unsigned delay = 0; delay < 8; delay++)
        for (unsigned oxygen = 0; oxygen < 8; oxygen++)
            for (int open = 0; open < 2; open++) {
                struct judgement j = judge_zones(delay, oxygen, open);
                unsigned both = delay && oxygen ? delay & oxygen : delay | oxygen;
                /* A hard verdict needs all that is known to allow it and nothing else left. */
                assert_true((j.verdict == OXL_VERDICT_GOOD) == (both == ZONE_GOOD));
                assert_true((j.verdict == OXL_VERDICT_BAD) == (both == ZONE_BAD));
                assert_true(j.disagree == (delay && oxygen && !(delay & oxygen)));
                if (both == ZONE_MIDDLE)
                    assert_int_equal(j.verdict, OXL_VERDICT_QUESTIONABLE);
                if (open && both != (both & -both))
                    assert_int_equal(j.verdict, OXL_VERDICT_INCONCLUSIVE);
                if (both == (ZONE_BAD | ZONE_GOOD) || both == 7 || delay + oxygen == 0)
                    assert_int_equal(j.verdict, OXL_VERDICT_INCONCLUSIVE);
            }
}

/* ---- one run of every class under every flaw ---- */
enum { CLASSES = 8 };
static struct oxl_span span_class(int k, double scale, double offset)
{
    static const double spans[CLASSES][3] = {
        {1.0, 0.8, 1.2}, {1.9, 1.7, 2.3},    {4.0, 3.5, 4.5},    {6.9, 6.5, 7.5},
        {9.0, 8.5, 9.5}, {NAN, 4, INFINITY}, {NAN, 9, INFINITY}, {NAN, NAN, NAN}};
    struct oxl_span s = {spans[k][0] * scale + offset, spans[k][1] * scale + offset,
                         spans[k][2] * scale + offset};
    return s;
}

static void check_class(int d, int o, enum oxl_reason flaw, bool lean, bool dropped)
{
    struct oxl_run_result r = a_run(1, 0.1, 100, 10);
    r.dropped = dropped;
    r.delay_s = r.delay_at_target_s = span_class(d, 1, 0);
    /* 2 and 7 s are 132 and 411 mg at 3 g/s: the same place between the limits. */
    r.o2_mg = span_class(o, 55.8, 20.4);
    r.reasons = flaw < OXL_R_COUNT ? OXL_REASON_BIT(flaw) : 0;
    struct oxl_session_facts facts = {true, lean, 0};
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
        assert_true(has(&v, OXL_R_LEAK_CHECK_FIRST) && has(&v, OXL_R_LOW_STORAGE));
        assert_true(oxl_reasons_has(v.next, OXL_R_LEAK_CHECK_FIRST));
    }
    if (v.verdict == OXL_VERDICT_GOOD) {
        assert_true(!unproven && push != OXL_PUSH_VOID && low > 7);
        /* Pushed longer it is good only by the mass, and only for flaws that the mass settles. */
        if (push == OXL_PUSH_LONGER)
            assert_true(r.o2_mg.low > 411 &&
                        (flaw == OXL_R_UNDER_ENRICHED || flaw == OXL_R_FAST_TRIM_RECOVERY ||
                         flaw == OXL_R_SUPPLY_TOO_SMALL || flaw == OXL_R_SLOW_RELEASE ||
                         flaw == OXL_R_DEPTH_UNKNOWN));
        assert_true(has(&v, OXL_R_GOOD_STORAGE) &&
                    (flaw == OXL_R_LEAK_CHECK_FIRST || !has(&v, OXL_R_LEAK_CHECK_FIRST)));
    }
    if (push == OXL_PUSH_NONE && !unproven && d == o) {
        static const enum oxl_verdict plain[CLASSES] = {
            OXL_VERDICT_BAD,          OXL_VERDICT_QUESTIONABLE, OXL_VERDICT_QUESTIONABLE,
            OXL_VERDICT_QUESTIONABLE, OXL_VERDICT_GOOD,         OXL_VERDICT_INCONCLUSIVE,
            OXL_VERDICT_GOOD,         OXL_VERDICT_INCONCLUSIVE};
        assert_int_equal(v.verdict, plain[d]);
    }
    assert_int_equal(v.next & ~v.reasons, 0);
    assert_true(has(&v, OXL_R_REAR_NOT_SEEN_LEAN) ==
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

static void test_held(void **state)
{
    (void)state;
    struct oxl_session_facts unseen = {true, false, 0};
    struct oxl_run_result r = held_run(13, 520);
    struct oxl_result v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_true(v.held && isnan(v.o2_mg.value) && isinf(v.o2_mg.high));
    assert_near(v.o2_mg.low, 520, 0);
    v = judged(&r, 1, &unseen);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(oxl_reasons_has(v.next, OXL_R_REAR_NOT_SEEN_LEAN));
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
    assert_true(oxl_reasons_has(v.next, OXL_R_SUPPLY_TOO_SMALL));
    /* The rear fell in another run of the session: it has been seen lean. */
    struct oxl_run_result two[2] = {held_run(13, 520), a_run(12, 0.2, 600, 40)};
    v = judged(two, 2, &unseen);
    assert_int_equal(v.verdict, OXL_VERDICT_GOOD);
    assert_false(has(&v, OXL_R_REAR_NOT_SEEN_LEAN));
}

static void test_resting_lean_stops_a_bad_verdict(void **state)
{
    (void)state;
    struct oxl_session_facts leak = {true, true, OXL_REASON_BIT(OXL_R_REAR_RESTS_LEAN)};
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

static void test_seconds_and_grams_disagree(void **state)
{
    (void)state;
    struct oxl_run_result r = a_run(1.2, 0.1, 600, 30);
    struct oxl_result v = judged(&r, 1, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(has(&v, OXL_R_SECONDS_AND_GRAMS_DISAGREE));
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
    assert_false(has(&v, OXL_R_RUNS_SCATTER) || has(&v, OXL_R_RUN_SET_ASIDE));
    v = judged(r, 2, &proven);
    assert_near(v.delay_s.value, 4.05, 1e-12);
}

static void test_scatter_takes_the_hull(void **state)
{
    (void)state;
    struct oxl_run_result r[3] = {a_run(1.0, 0.1, 70, 10), a_run(1.5, 0.1, 100, 10),
                                  a_run(2.6, 0.1, 170, 10)};
    struct oxl_result v = judged(r, 3, &proven);
    assert_true(has(&v, OXL_R_RUNS_SCATTER));
    assert_near(v.delay_s.low, 0.9, 1e-12);
    assert_near(v.delay_s.high, 2.7, 1e-12);
    assert_int_equal(v.verdict, OXL_VERDICT_QUESTIONABLE); /* reaches over the limit */
    assert_true(has(&v, OXL_R_STRADDLES_LIMIT));
}

static void test_set_aside_needs_three(void **state)
{
    (void)state;
    struct oxl_run_result r[3] = {a_run(4.0, 0.1, 250, 30), a_run(1.0, 0.1, 60, 10),
                                  a_run(4.1, 0.1, 255, 30)};
    for (int i = 0; i < 3; i++)
        r[i].run = i + 1;
    struct oxl_result v = judged(r, 3, &proven);
    assert_true(has(&v, OXL_R_RUN_SET_ASIDE));
    assert_near(v.delay_s.value, 4.05, 1e-12);
    assert_int_equal(v.valid_runs, 3); /* named, not deleted */
    assert_int_equal(v.aside_run, r[1].run);
    v = judged(r, 2, &proven);
    assert_int_equal(v.aside_run, 0);
    assert_false(has(&v, OXL_R_RUN_SET_ASIDE));
    assert_true(has(&v, OXL_R_RUNS_SCATTER));
}

static void test_unlike_speed_is_not_mixed(void **state)
{
    (void)state;
    struct oxl_run_result r[3] = {a_run(4.0, 0.2, 250, 30), a_run(1.2, 0.1, 240, 30),
                                  a_run(4.1, 0.2, 255, 30)};
    r[1].rpm = 2000;
    struct oxl_result v = judged(r, 3, &proven);
    assert_true(has(&v, OXL_R_RUNS_UNLIKE));
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
        assert_false(has(&v, OXL_R_RUNS_UNLIKE));
        if (what == 0)
            r[1].air_g_s = 1.4 * r[0].air_g_s; /* the same speed with the compressor on */
        else if (what == 1)
            r[1].air_source = OXL_AIRSRC_SPEED_DENSITY;
        else
            r[1].x_source = r[0].x_source == OXL_XSRC_TRIM ? OXL_XSRC_LAMBDA : OXL_XSRC_TRIM;
        v = judged(r, 3, &proven);
        assert_true(has(&v, OXL_R_RUNS_UNLIKE));
        assert_near(v.delay_s.value, 4.05, 1e-12);
        assert_near(v.air_g_s, r[0].air_g_s, 1e-12);
    }
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
    assert_true(has(&v, OXL_R_NO_VALID_RUN) && has(&v, OXL_R_RPM_UNSTEADY));
    assert_true(isnan(v.delay_s.value) && isnan(v.o2_mg.low));
    v = judged(NULL, 0, &proven);
    assert_int_equal(v.verdict, OXL_VERDICT_INCONCLUSIVE);
    assert_true(has(&v, OXL_R_NO_VALID_RUN));
}

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
    assert_near(v.o2_mg.value, 520, 1e-12);
}

/* ---- the deeper run (method.md, section 6) ---- */
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
    r.reasons = OXL_REASON_BIT(OXL_R_OVER_ENRICHED) | OXL_REASON_BIT(OXL_R_TRIM_AT_LIMIT);
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
    assert_near(v.o2_mg.high, 12, 1e-12);
    assert_near(v.delay_s.value, 0.3, 1e-12); /* of the three, not of the deeper one */
    assert_true(has(&v, OXL_R_LEAK_CHECK_FIRST));
    /* The pulses stay part emptied, but nothing is left to do about it. */
    assert_true(has(&v, OXL_R_PART_EMPTIED));
    assert_false(oxl_reasons_has(v.next, OXL_R_PART_EMPTIED));
    /* The same figures of a run that is not a deeper one: too much gas, no verdict. */
    r[3].deeper = false;
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
    struct oxl_session_facts slow = {true, true, OXL_REASON_BIT(OXL_R_REAR_SLOW)};
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

/* At a raised speed only a store that would be a bad one at an ordinary idle of 3 g/s is called
 * bad: 0.8 * 132 = 106 mg, whatever the limit in grams is at that flow. */
static void test_deeper_at_a_high_flow(void **state)
{
    (void)state;
    struct oxl_run_result r = deeper_run(0.3, 60, 20);
    r.air_g_s = 9;
    r.shift_pct = -20;
    r.reasons |= OXL_REASON_BIT(OXL_R_HIGH_AIR_FLOW);
    assert_int_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_BAD);
    r.o2_mg = (struct oxl_span){100, 80, 120}; /* the limit at 9 g/s is 396 mg */
    assert_int_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_INCONCLUSIVE);
    r.deeper = false;
    r.o2_mg = (struct oxl_span){60, 40, 80};
    assert_int_equal(judged(&r, 1, &proven).verdict, OXL_VERDICT_INCONCLUSIVE);
}

static bool may_condemn_in_spite_of(enum oxl_reason flaw)
{
    enum oxl_push push = flaw < OXL_R_COUNT ? oxl_reason_push(flaw) : OXL_PUSH_NONE;
    return (push != OXL_PUSH_SHORTER && push != OXL_PUSH_VOID) || flaw == OXL_R_OVER_ENRICHED ||
           flaw == OXL_R_TRIM_AT_LIMIT || flaw == OXL_R_HIGH_AIR_FLOW ||
           flaw == OXL_R_DEPTH_UNKNOWN;
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
        cmocka_unit_test(test_held),
        cmocka_unit_test(test_resting_lean_stops_a_bad_verdict),
        cmocka_unit_test(test_part_emptied_bound),
        cmocka_unit_test(test_seconds_and_grams_disagree),
        cmocka_unit_test(test_without_grams_or_target),
        cmocka_unit_test(test_limits_in_grams),
        cmocka_unit_test(test_median_of_runs),
        cmocka_unit_test(test_scatter_takes_the_hull),
        cmocka_unit_test(test_set_aside_needs_three),
        cmocka_unit_test(test_unlike_speed_is_not_mixed),
        cmocka_unit_test(test_unlike_air_and_sources_are_not_mixed),
        cmocka_unit_test(test_invalid_runs_do_not_count),
        cmocka_unit_test(test_a_deeper_run_decides),
        cmocka_unit_test(test_deeper_condemns_by_its_mass),
        cmocka_unit_test(test_deeper_contradicted_does_not_condemn),
        cmocka_unit_test(test_deeper_bound_proves_a_sound_store),
        cmocka_unit_test(test_deeper_mass_at_the_target_flux),
        cmocka_unit_test(test_deeper_at_a_high_flow),
        cmocka_unit_test(test_deeper_every_class_and_flaw),
        cmocka_unit_test(test_never_the_wrong_way),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
