/* The delay of whole runs behind an ECU that refreshes its values seldom, against the truth of the
 * bench, and against the width that no method could do without. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "help_bench.h"
#include "long.h"
#include "measure/parts.h"

enum { RUNS = 24 };

struct tally {
    int runs, inside, slow, early;
    double width_s, off_s;
};

static void measure_one(struct bench *b, struct tally *t)
{
    static struct bench_run run;
    struct oxl_profile p;
    struct oxl_run_input in;
    struct oxl_run_result r;
    bench_go(b, &run);
    if (isnan(run.rear_lean_s))
        return;
    bench_input(b, &run, &p, &in);
    in.end_us += micros(fmax(b->refresh_front_s, b->refresh_rear_s)); /* as the live test would */
    bench_take_moments(&in);
    oxl_measure_run(&in, &r);
    double truth = run.rear_lean_s - run.front_lean_s;
    t->runs++;
    assert_true(r.dropped);
    t->inside += r.delay_s.low <= truth && truth <= r.delay_s.high;
    t->slow += (r.reasons & (OXL_REASON_BIT(OXL_R_REAR_SLOW) | OXL_REASON_BIT(OXL_R_FRONT_SLOW) |
                             OXL_REASON_BIT(OXL_R_SLOW_RELEASE))) != 0;
    t->early += oxl_reasons_has(r.reasons, OXL_R_REAR_LEAN_FIRST);
    t->width_s += r.delay_s.high - r.delay_s.low;
    t->off_s += r.delay_s.value - truth;
}

static void measure_many(struct bench b, uint32_t seed, struct tally *t)
{
    *t = (struct tally){0};
    for (int i = 0; i < RUNS; i++) {
        b.seed = seed + (uint32_t)(i * 7919);
        b.store_g = 0.05 + 0.25 * random_unit(&seed);
        b.depth = 0.17 + 0.08 * random_unit(&seed);
        b.off_s = 20 + random_unit(&seed);
        b.tail_s = 0.3 + 0.2 * random_unit(&seed);
        b.end_s = 40;
        measure_one(&b, t);
    }
    t->width_s /= t->runs;
    t->off_s /= t->runs;
}

/* Two refreshes, or two samples, lie around each crossing, whoever looks: 99 of 100 differences of
 * two places anywhere in them, by Monte Carlo. */
static double least_width_s(double front_s, double rear_s)
{
    enum { DRAWS = 20000 };
    static double off[DRAWS];
    uint32_t seed = 3;
    size_t out = 0;
    double half = 0.5 * (front_s + rear_s), q = half;
    for (size_t i = 0; i < DRAWS; i++)
        off[i] = fabs(front_s * (random_unit(&seed) - 0.5) + rear_s * (random_unit(&seed) - 0.5));
    for (; out * 100 < DRAWS && q > 0; q -= half / 500) {
        out = 0;
        for (size_t i = 0; i < DRAWS; i++)
            out += off[i] > q;
    }
    return 2 * q;
}

static const double periods_s[] = {0.01, 0.02, 0.05, 0.1, 0.2, 0.25, 0.5, 1.0};
enum { PERIODS = sizeof periods_s / sizeof periods_s[0] };

/* Periods that do not show at this rate are taken to be half as long as the step: only the
 * others' widths are those of their refreshes. */
static void check_row(const struct bench *b, const struct tally *t)
{
    double step_s = 1 / b->rate_hz, period_s = fmax(b->refresh_front_s, b->refresh_rear_s);
    double least_s =
        least_width_s(fmax(step_s, b->refresh_front_s), fmax(step_s, b->refresh_rear_s));
    double share = (double)t->inside / t->runs;
    if (getenv("OXL_SHOW"))
        print_message("%4.0f Hz, front %.2f s, rear %.2f s: %d runs, inside %.3f, width %.3f s, "
                      "least %.3f s, ratio %.2f, off %+.3f s, slow %d\n",
                      b->rate_hz, b->refresh_front_s, b->refresh_rear_s, t->runs, share, t->width_s,
                      least_s, t->width_s / least_s, t->off_s, t->slow);
    assert_true(share >= 0.83); /* 3 sd under 0.95 */
    /* From 0.2 s on a dithering front may have been rich for a moment that no refresh shows. */
    double unseen = b->switching_front && b->refresh_front_s >= 0.2 ? 1.5 : 1.3;
    if (period_s > 2.5 * step_s)
        assert_true(t->width_s < unseen * least_s);
    assert_true(t->slow * 20 <= t->runs);
    assert_int_equal(t->early, 0);
}

/* Equal periods, and each sensor its own. */
static void rows(struct bench b, double rate_hz, size_t periods, uint32_t seed)
{
    struct tally t;
    int runs = 0, inside = 0;
    b.rate_hz = rate_hz;
    for (size_t i = 0; i < 2 * periods; i += long_or(1, 3)) {
        b.refresh_front_s = b.refresh_rear_s = b.refresh_trim_s = periods_s[i / 2];
        if (i % 2)
            b.refresh_front_s = periods_s[(i / 2 + 3) % periods];
        measure_many(b, seed + 100 * (uint32_t)i, &t);
        check_row(&b, &t);
        runs += t.runs;
        inside += t.inside;
    }
    assert_true(inside >= 0.95 * runs);
}

static void test_a_quick_link(void **state)
{
    (void)state;
    rows(bench_usual(), 14, PERIODS, 11);
}

static void test_a_slow_link(void **state)
{
    struct bench b = bench_usual();
    (void)state;
    b.same_reply = false;
    rows(b, 4, PERIODS, 22);
}

/* Its dither is a second long here, and its lean halves as deep as the release: a refresh that is
 * as slow shows neither. */
static void test_a_switching_front(void **state)
{
    struct bench b = bench_usual();
    (void)state;
    b.switching_front = true;
    b.loop = BENCH_RELAY;
    b.rate = 0.02;
    rows(b, 14, 5, 33);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_quick_link),
        cmocka_unit_test(test_a_slow_link),
        cmocka_unit_test(test_a_switching_front),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
