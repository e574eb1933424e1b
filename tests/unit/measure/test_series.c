/* Histories, windows, joined trims. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <gsl/gsl_fit.h>
#include <gsl/gsl_statistics_double.h>

#include "help_bench.h"
#include "measure/parts.h"

static struct oxl_sample sample(struct oxl_channel c, int64_t t, double v)
{
    struct oxl_sample s = {c, v, t - 10, t, 0x7E8};
    return s;
}

static void test_series_keeps_the_newest(void **state)
{
    (void)state;
    struct oxl_channel rpm = oxl_channel(OXL_Q_RPM, 0, 0), map = oxl_channel(OXL_Q_MAP_KPA, 0, 0);
    struct oxl_series *s = oxl_series_new(100);
    assert_non_null(s);
    assert_int_equal(oxl_series_trace(s, rpm).count, 0);
    for (int i = 0; i < 5000; i++) {
        struct oxl_sample p = sample(rpm, 1000 * i, i);
        assert_true(oxl_series_push(s, &p));
        struct oxl_trace t = oxl_series_trace(s, rpm);
        size_t least = i + 1 < 100 ? (size_t)i + 1 : 100;
        assert_true(t.count >= least && t.count <= 200);
        for (size_t k = 0; k < least; k++)
            assert_near(t.points[t.count - 1 - k].value, i - (double)k, 0);
    }
    assert_int_equal(oxl_series_trace(s, map).count, 0);
    oxl_series_free(s);
    s = oxl_series_new(0); /* it keeps the newest one all the same, in room for two */
    assert_non_null(s);
    for (int i = 0; i < 9; i++) {
        struct oxl_sample p = sample(rpm, 1000 * i, i);
        assert_true(oxl_series_push(s, &p));
        struct oxl_trace t = oxl_series_trace(s, rpm);
        assert_true(t.count >= 1 && t.count <= 2);
        assert_near(t.points[t.count - 1].value, i, 0);
    }
    oxl_series_free(s);
    oxl_series_free(NULL);
    assert_null(oxl_series_new(SIZE_MAX / 8));
}

#if defined __GLIBC__ && defined __GLIBC_PREREQ
#if __GLIBC_PREREQ(2, 33)
#include <malloc.h>
#define HAS_MALLINFO2
#endif
#endif

/* What a series took it gives back: a day of tests takes the room of one. Counted by the C library;
 * elsewhere, and under a sanitizer, which has an eye on that itself, this sees nothing. */
static void test_series_gives_its_room_back(void **state)
{
    (void)state;
#ifdef HAS_MALLINFO2
    struct mallinfo2 before = mallinfo2();
    for (int i = 0; i < 3; i++)
        oxl_series_free(oxl_series_new(4096));
    struct mallinfo2 after = mallinfo2();
    assert_true(after.uordblks + after.hblkhd == before.uordblks + before.hblkhd);
#else
    skip();
#endif
}

static void test_series_refuses_what_is_no_sample(void **state)
{
    (void)state;
    struct oxl_channel c = oxl_channel(OXL_Q_LAMBDA, 1, 1);
    struct oxl_series *s = oxl_series_new(4);
    struct oxl_sample p = sample(c, 1000, NAN);
    assert_true(oxl_series_push(s, &p));
    assert_int_equal(oxl_series_trace(s, c).count, 0); /* unknown is not a number */
    p = sample(c, 1000, 1.0);
    oxl_series_push(s, &p);
    p = sample(c, 999, 2.0);
    oxl_series_push(s, &p); /* older than the newest: would break the order */
    assert_int_equal(oxl_series_trace(s, c).count, 1);
    p = sample(oxl_channel(OXL_Q_COUNT, 0, 0), 1000, 1.0);
    assert_true(oxl_series_push(s, &p));
    assert_int_equal(oxl_series_trace(s, p.channel).count, 0);
    oxl_series_free(s);
}

static void test_series_latest(void **state)
{
    (void)state;
    struct oxl_channel c = oxl_channel(OXL_Q_RPM, 0, 0);
    struct oxl_series *s = oxl_series_new(4);
    assert_true(isnan(oxl_series_latest(s, c, 100, 100)));
    struct oxl_sample p = sample(c, 1000, 700);
    oxl_series_push(s, &p);
    assert_near(oxl_series_latest(s, c, 1500, 500), 700, 0);
    assert_true(isnan(oxl_series_latest(s, c, 1501, 500)));
    assert_true(isnan(oxl_series_latest(s, c, 999, 500))); /* not yet there */
    oxl_series_free(s);
}

static void test_window_against_gsl(void **state)
{
    (void)state;
    enum { N = 400 };
    struct oxl_point p[N];
    double v[N], at[N];
    uint32_t seed = 9;
    int64_t t = 5000000;
    for (int i = 0; i < N; i++) {
        t += (int64_t)(20000 + 200000 * random_unit(&seed));
        v[i] = 800 + 30 * random_normal(&seed) + 1e-6 * (double)t;
        at[i] = 1e-6 * (double)t;
        p[i] = (struct oxl_point){t - 10000, t, v[i]};
    }
    struct oxl_trace trace = {p, N};
    struct oxl_window_stats w = oxl_trace_window(trace, p[50].recv_us, p[299].recv_us);
    double c0, c1, c00, c01, c11, sum, min, max;
    gsl_fit_linear(at + 50, 1, v + 50, 1, 250, &c0, &c1, &c00, &c01, &c11, &sum);
    gsl_stats_minmax(&min, &max, v + 50, 1, 250);
    assert_int_equal(w.count, 250);
    assert_near(w.mean, gsl_stats_mean(v + 50, 1, 250), 1e-9);
    assert_near(w.sd, gsl_stats_sd(v + 50, 1, 250), 1e-9);
    assert_near(w.slope_per_s, c1, 1e-6);
    assert_near(w.min, min, 0);
    assert_near(w.max, max, 0);
    assert_true(w.span_us == p[299].recv_us - p[50].recv_us);
    int64_t gap = 0;
    for (int i = 51; i < 300; i++)
        gap = p[i].recv_us - p[i - 1].recv_us > gap ? p[i].recv_us - p[i - 1].recv_us : gap;
    assert_true(w.longest_gap_us == gap);
}

static void test_window_of_little(void **state)
{
    (void)state;
    struct oxl_point p[2] = {{0, 10, 1.5}, {10, 20, 2.5}};
    struct oxl_trace t = {p, 2}, none = {NULL, 0};
    struct oxl_window_stats w = oxl_trace_window(none, 0, 100);
    assert_true(w.count == 0 && isnan(w.mean) && isnan(w.sd) && isnan(w.max));
    w = oxl_trace_window(t, 15, 100);
    assert_true(w.count == 1 && isnan(w.sd) && isnan(w.slope_per_s));
    assert_near(w.mean, 2.5, 0);
    assert_int_equal(oxl_trace_window(t, 21, 100).count, 0);
    assert_int_equal(oxl_trace_window(t, 100, 0).count, 0);
    assert_int_equal(oxl_trace_slice(t, 10, 20).count, 2); /* both ends belong to it */
    assert_int_equal(oxl_trace_slice(t, 11, 19).count, 0);
    assert_int_equal(oxl_trace_slice(t, INT64_MIN, INT64_MAX).count, 2);
}

/* However long the trace, and wherever in it the window lies: as by counting. */
static void test_window_by_counting(void **state)
{
    (void)state;
    enum { MOST = 70 };
    struct oxl_point p[MOST];
    for (size_t i = 0; i < MOST; i++)
        p[i] = (struct oxl_point){0, (int64_t)(i / 3 * 2), (double)(i * i % 17)};
    for (size_t n = 0; n <= MOST; n++)
        for (int64_t from_us = -2; from_us < 50; from_us++) {
            struct oxl_trace t = {p, n};
            size_t before = 0, in = 0;
            double sum = 0;
            for (size_t i = 0; i < n; i++) {
                before += p[i].recv_us < from_us;
                in += p[i].recv_us >= from_us && p[i].recv_us <= from_us + 9;
            }
            for (size_t i = before; i < before + in; i++)
                sum += p[i].value;
            struct oxl_trace s = oxl_trace_slice(t, from_us, from_us + 9);
            double mean = oxl_trace_mean(t, from_us, from_us + 9);
            assert_int_equal(s.count, in);
            if (in == 0) {
                assert_true(isnan(mean));
                continue;
            }
            assert_ptr_equal(s.points, p + before);
            assert_true(mean == sum / (double)in);
            assert_true(mean == oxl_trace_window(t, from_us, from_us + 9).mean);
        }
}

static void test_trace_at(void **state)
{
    (void)state;
    struct oxl_point p[2] = {{0, 2000000, 1}, {3000000, 5000000, 4}}; /* middles at 1 s and 4 s */
    struct oxl_trace t = {p, 2}, none = {NULL, 0};
    assert_near(oxl_trace_at(t, 2), 2, 1e-12);
    assert_near(oxl_trace_at(t, 0), 1, 0);
    assert_near(oxl_trace_at(t, 9), 4, 0);
    assert_true(isnan(oxl_trace_at(none, 1)));
    assert_near(oxl_trace_mean_s(t, 1, 4), 2.5, 1e-9);
    assert_true(isnan(oxl_trace_mean_s(t, 20, 21))); /* a value that old says nothing */
}

static void test_total_trim(void **state)
{
    (void)state;
    struct oxl_point st[3] = {{0, 10, -12}, {20, 30, -10}, {40, 50, -8}};
    struct oxl_point lt[3] = {{12, 20, -8}, {20, 30, -6}, {52, 60, -4}}, out[8];
    struct oxl_trace s = {st, 3}, l = {lt, 3}, none = {NULL, 0};
    size_t n = oxl_total_trim(s, l, true, out, 8);
    /* science_checks.csv total_trim_additive: -12 and -8 make -20. */
    static const double want[] = {-20, -16, -14, -12};
    static const int64_t when[] = {20, 30, 50, 60};
    assert_int_equal(n, 4);
    for (size_t i = 0; i < n; i++) {
        assert_near(out[i].value, want[i], 0);
        assert_true(out[i].recv_us == when[i]);
    }
    assert_int_equal(oxl_total_trim(s, none, true, out, 8), 0); /* long-term exists, is unknown */
    assert_int_equal(oxl_total_trim(s, none, false, out, 8), 3);
    assert_near(out[2].value, -8, 0);
    assert_int_equal(oxl_total_trim(s, l, true, out, 2), 2); /* the newest */
    assert_near(out[1].value, -12, 0);
    assert_near(out[0].value, -14, 0);
    assert_int_equal(oxl_total_trim(none, l, true, out, 8), 0);
    /* The course has points at the short-term samples only, each with the newest long-term one. */
    assert_int_equal(oxl_total_trim_course(s, l, true, out, 8), 2);
    assert_near(out[0].value, -16, 0);
    assert_near(out[1].value, -14, 0);
    assert_int_equal(oxl_total_trim_course(s, none, false, out, 8), 3);
    assert_int_equal(oxl_total_trim_course(s, l, true, out, 1), 1);
    assert_near(out[0].value, -14, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_series_keeps_the_newest),
        cmocka_unit_test(test_series_gives_its_room_back),
        cmocka_unit_test(test_series_refuses_what_is_no_sample),
        cmocka_unit_test(test_series_latest),
        cmocka_unit_test(test_window_against_gsl),
        cmocka_unit_test(test_window_of_little),
        cmocka_unit_test(test_window_by_counting),
        cmocka_unit_test(test_trace_at),
        cmocka_unit_test(test_total_trim),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
