/* Refreshes and the moments of values, by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_bench.h"
#include "measure/parts.h"

/* Asked every step_s, answered 0.02 s later. */
static struct oxl_refresh found_in(const double *v, size_t n, double step_s)
{
    static struct oxl_point p[32];
    assert_true(n <= sizeof p / sizeof p[0]);
    for (size_t i = 0; i < n; i++) {
        int64_t t_us = micros(step_s * (double)i);
        p[i] = (struct oxl_point){t_us, t_us + 20000, v[i]};
    }
    return oxl_find_refresh((struct oxl_trace){p, n});
}

/* Two changes are a period apart, or more: a bound by hand. Asked every 0.1 s, changes in the 3rd
 * and the 5th answer: from the 2nd request to the end of the 5th answer, 0.32 s at most. */
static void test_a_bound_by_hand(void **state)
{
    static const double v[] = {1, 1, 2, 2, 3, 3, 3};
    (void)state;
    struct oxl_refresh r = found_in(v, sizeof v / sizeof v[0], 0.1);
    assert_false(r.known);
    assert_near(r.at_most_s, 0.32, 1e-9);
    assert_near(oxl_refresh_age_s(&r), 0, 0); /* two changes are too few to go by */
    r.changes = 8;
    assert_near(oxl_refresh_age_s(&r), 0.16, 1e-9);
}

/* Values 17.9 s apart, which change at each: no refresh of up to 6 s can be told from another, and
 * it is anything up to the bound. */
static void test_far_apart_values_tell_nothing(void **state)
{
    static const double v[] = {0, 5, 1, 7, 2, 6, 1, 8, 3, 9, 2, 7};
    (void)state;
    struct oxl_refresh r = found_in(v, sizeof v / sizeof v[0], 17.9);
    assert_false(r.known);
    assert_true(r.at_most_s > 17.9);
    assert_near(r.likely_s, 0.5 * r.at_most_s, 1e-9);
}

/* By hand: asked every 0.1 s, answered 0.02 s later; refreshes of 0.5 s lie between 0.00 and 0.12 s
 * and between 0.50 and 0.62 s. The first answer already is of the one before these, which was over
 * at -0.375 s (0.495 s back from 0.12 s). What lies behind the trace is nobody's. */
static void test_a_change_at_the_second_value(void **state)
{
    enum { N = 7 };
    struct oxl_point p[N], out[N + 1];
    const struct oxl_refresh r = {.known = true, .period_s = 0.5};
    const struct oxl_point beyond = {-1, -2, -3};
    (void)state;
    for (int i = 0; i < N; i++)
        p[i] = (struct oxl_point){100000 * i, 100000 * i + 20000, i == 0 ? 0 : i < 6 ? 1 : 2};
    out[N] = beyond;
    assert_int_equal(oxl_taken_moments((struct oxl_trace){p, N}, &r, out, N), N);
    assert_near(seconds(out[0].recv_us), -0.375, 1e-5);
    assert_near(seconds(out[1].sent_us), 0, 1e-5);
    assert_near(seconds(out[1].recv_us), 0.12, 1e-5);
    assert_near(seconds(out[6].sent_us), 0.5, 1e-5);
    assert_near(seconds(out[6].recv_us), 0.615, 0.01);
    assert_memory_equal(&out[N], &beyond, sizeof beyond);
}

/* Where nothing is known of the period a value is as old as its answer; where only a bound is, it
 * may be as old as half of that. */
static void test_moments_without_a_grid(void **state)
{
    struct oxl_point p[2] = {{1000000, 1020000, 1}, {1100000, 1120000, 2}}, out[2];
    struct oxl_refresh r = oxl_refresh_unknown();
    (void)state;
    assert_int_equal(oxl_taken_moments((struct oxl_trace){p, 2}, &r, out, 2), 2);
    assert_true(out[0].sent_us == 1000000 && out[1].recv_us == 1120000);
    r.at_most_s = 0.1;
    r.changes = 8;
    assert_int_equal(oxl_taken_moments((struct oxl_trace){p, 2}, &r, out, 1), 1);
    assert_true(out[0].sent_us == 1050000 && out[0].recv_us == 1120000 && out[0].value == 2);
    assert_int_equal(oxl_taken_moments((struct oxl_trace){p, 0}, &r, out, 2), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_bound_by_hand),
        cmocka_unit_test(test_far_apart_values_tell_nothing),
        cmocka_unit_test(test_a_change_at_the_second_value),
        cmocka_unit_test(test_moments_without_a_grid),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
