/* A switching front's dither against its release, and the time of a fall. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_bench.h"
#include "measure/parts.h"

enum { N = 600 };

/* A dither whose lean halves last lean_s of each 2.4 s; from 20 s rich, and lean for good a second
 * later. */
static struct oxl_trace dithering(struct oxl_point p[N], double lean_s)
{
    for (int i = 0; i < N; i++) {
        double t = 0.05 * i;
        bool lean = t < 20 ? fmod(t, 2.4) < lean_s : t >= 21;
        p[i] = (struct oxl_point){micros(t), micros(t), lean ? 0.1 : 0.8};
    }
    return (struct oxl_trace){p, N};
}

/* Lean halves that are longer than the time after which a front counts as released (1.2 s) are the
 * dither's own as long as they are no longer than those before. Long rich ones change nothing: the
 * release is certain as soon as ever. */
static void test_long_lean_halves_are_no_release(void **state)
{
    static struct oxl_point p[N];
    static const double halves_s[] = {1.7, 0.5};
    const struct oxl_pair pair = {.front_kind = OXL_SENSOR_SWITCHING};
    struct oxl_profile profile;
    (void)state;
    test_profile(&profile);
    const struct oxl_lean_rule rule = oxl_front_rule(&profile, &pair, NAN, 0.3);
    for (size_t i = 0; i < sizeof halves_s / sizeof halves_s[0]; i++) {
        struct oxl_trace t = dithering(p, halves_s[i]);
        struct crossing c = oxl_find_crossing(t, &rule, 13000000, 29000000);
        assert_true(c.found);
        assert_near(c.t_s, 21, 0.06);
        const int64_t sure_us = micros(21 + 0.2 + fmax(rule.settle_s, 1.2 * halves_s[i]));
        assert_true(oxl_find_crossing(t, &rule, 13000000, sure_us).found);
    }
}

/* From 0.7 V down by 2 V a second, and it stands where the fall ends: at 0.3 V itself. */
static void test_a_fall_that_ends_at_the_level(void **state)
{
    static const double v[] = {0.7, 0.7, 0.5, 0.3, 0.3, 0.3};
    struct oxl_point p[6];
    (void)state;
    for (int i = 0; i < 6; i++)
        p[i] = (struct oxl_point){i * 100000, i * 100000, v[i]};
    const struct crossing c = {.found = true, .before = 2, .after = 3};
    assert_near(oxl_fall_time_s((struct oxl_trace){p, 6}, &c, 0.6, 0.3), 0.15, 1e-9);
    assert_near(oxl_fall_time_s((struct oxl_trace){p, 6}, &c, 0.7, 0.3), 0.2, 1e-9);
    assert_true(isnan(oxl_fall_time_s((struct oxl_trace){p, 6}, &c, 0.7, 0.25)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_long_lean_halves_are_no_release),
        cmocka_unit_test(test_a_fall_that_ends_at_the_level),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
