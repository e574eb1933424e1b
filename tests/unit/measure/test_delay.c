/* Events against a known truth: coverage of the intervals, size of the errors. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>
#include <gsl/gsl_statistics_double.h>

#include "help_bench.h"
#include "long.h"
#include "measure/parts.h"

static struct bench_run run;

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* P(|S| <= q) by Monte Carlo is the outside check: nothing of the closed form is used. */
static void test_quantile_against_monte_carlo(void **state)
{
    (void)state;
    static const double half[][6] = {{0.05, 0.05, 0.02, 0.02, 0.001, 0.003},
                                     {0.1, 0.02, 0, 0, 0, 0},
                                     {0.05, 0, 0, 0, 0, 0},
                                     {0.03, 0.03, 0.03, 0.03, 0.03, 0.03}};
    uint32_t seed = 7;
    for (size_t k = 0; k < sizeof half / sizeof half[0]; k++) {
        double q = oxl_uniform_sum_quantile(half[k], 6, 0.98);
        int inside = 0, n = 200000;
        for (int i = 0; i < n; i++) {
            double s = 0;
            for (int j = 0; j < 6; j++)
                s += half[k][j] * (2 * random_unit(&seed) - 1);
            inside += fabs(s) <= q;
        }
        double share = (double)inside / n;
        assert_true(share > 0.977 && share < 0.986);
    }
}

/* Two uniform latencies of 1/f give a triangle: sd 1/(f sqrt 6), 95 % inside (1 - sqrt 0.05)/f.
 * science_checks.csv poll_delay_sd, here as the quantile of the triangle. */
static void test_quantile_of_triangle(void **state)
{
    (void)state;
    const double half[2] = {0.05, 0.05};
    assert_near(oxl_uniform_sum_quantile(half, 2, 0.95), 0.1 * (1 - sqrt(0.05)), 1e-9);
    assert_near(oxl_uniform_sum_quantile(half, 1, 0.95), 0.0475, 1e-9);
    const double none[2] = {0, 0};
    assert_near(oxl_uniform_sum_quantile(none, 2, 0.95), 0, 0);
}

struct tally {
    int runs, found, inside, front_inside, rear_inside;
    double err[2000], width[2000], bias;
};

static void measure_many(const struct bench *base, int n, struct tally *t)
{
    struct bench b = *base;
    uint32_t seed = base->seed * 977 + 5;
    *t = (struct tally){0};
    for (int i = 0; i < n; i++) {
        struct oxl_profile p;
        struct oxl_run_input in;
        struct oxl_run_result r;
        b.seed = (uint32_t)(i * 7919) + base->seed;
        b.store_g = 0.02 + 0.3 * random_unit(&seed);
        b.depth = 0.17 + 0.08 * random_unit(&seed);
        b.off_s = 20 + random_unit(&seed);
        b.tail_s = 0.3 + 0.2 * random_unit(&seed);
        b.end_s = 40;
        bench_go(&b, &run);
        bench_input(&b, &run, &p, &in);
        oxl_measure_run(&in, &r);
        if (isnan(run.rear_lean_s))
            continue;
        t->runs++;
        if (!r.dropped)
            continue;
        double truth = run.rear_lean_s - run.front_lean_s;
        t->inside += truth >= r.delay_s.low && truth <= r.delay_s.high;
        t->front_inside += run.front_lean_s >= 1e-6 * (double)r.front_lean.low_us &&
                           run.front_lean_s <= 1e-6 * (double)r.front_lean.high_us;
        t->rear_inside += run.rear_lean_s >= 1e-6 * (double)r.rear_lean.low_us &&
                          run.rear_lean_s <= 1e-6 * (double)r.rear_lean.high_us;
        t->err[t->found] = fabs(r.delay_s.value - truth);
        t->bias += r.delay_s.value - truth;
        t->width[t->found++] = r.delay_s.high - r.delay_s.low;
    }
    t->bias /= t->found;
    qsort(t->err, (size_t)t->found, sizeof t->err[0], by_size);
    qsort(t->width, (size_t)t->found, sizeof t->width[0], by_size);
}

static void check_rate(const char *what, struct bench *b, int n, double median_most)
{
    static struct tally t;
    measure_many(b, n, &t);
    double median = gsl_stats_quantile_from_sorted_data(t.err, 1, (size_t)t.found, 0.5);
    double p95 = gsl_stats_quantile_from_sorted_data(t.err, 1, (size_t)t.found, 0.95);
    double width = gsl_stats_quantile_from_sorted_data(t.width, 1, (size_t)t.found, 0.5);
    print_message(
        "%-22s %4.0f Hz %s m%d: runs %d found %d cover %.3f f %.3f r %.3f  median %.0f ms "
        "p95 %.0f ms bias %+.0f ms width %.0f ms\n",
        what, b->rate_hz, b->same_reply ? "same" : "turn", b->moment, t.runs, t.found,
        (double)t.inside / t.found, (double)t.front_inside / t.found,
        (double)t.rear_inside / t.found, 1e3 * median, 1e3 * p95, 1e3 * t.bias, 1e3 * width);
    assert_true(t.runs > n / 2);
    assert_true(t.found >= t.runs - (t.runs + 50) / 100);
    assert_true(t.inside >= 0.95 * t.found);
    assert_true(median <= median_most);
    assert_true(b->rate_hz < 10 || p95 <= 0.1);
    /* Narrow: at most two rounds in all plus what the replies leave open. */
    assert_true(width <= 2.0 / b->rate_hz + 2 * b->reply_s);
}

static void test_delay_at_every_rate(void **state)
{
    (void)state;
    static const double rates[] = {3, 5, 10, 20}, most[] = {0.11, 0.065, 0.035, 0.02};
    for (size_t i = 0; i < 4; i++)
        for (int turn = 0; turn < 2; turn++)
            for (int moment = 0; moment < 2; moment++) {
                struct bench b = bench_usual();
                b.rate_hz = rates[i];
                b.reply_s = turn ? 0.45 / rates[i] : 0.9 / rates[i];
                if (b.reply_s > 0.12)
                    b.reply_s = 0.12;
                b.same_reply = !turn;
                b.moment = moment;
                b.seed = 11 + (uint32_t)i;
                check_rate("wide, PI", &b, (int)long_or(250, 50),
                           most[i] + (moment ? 0.25 * b.reply_s : 0));
            }
}

static void test_delay_relay_and_switching(void **state)
{
    (void)state;
    for (int kind = 0; kind < 3; kind++) {
        struct bench b = bench_usual();
        b.loop = kind > 0 ? BENCH_RELAY : BENCH_PI;
        b.switching_front = kind == 2;
        b.rate = kind > 0 ? 0.025 : 0.5;
        b.seed = 100 + (uint32_t)kind;
        check_rate(kind == 2   ? "switching, relay"
                   : kind == 1 ? "wide, relay"
                               : "wide, fast PI",
                   &b, (int)long_or(250, 50), 0.035);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_quantile_against_monte_carlo),
                                       cmocka_unit_test(test_quantile_of_triangle),
                                       cmocka_unit_test(test_delay_at_every_rate),
                                       cmocka_unit_test(test_delay_relay_and_switching)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
