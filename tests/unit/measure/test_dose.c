/* How much oxygen a switching front's trims say was taken out. Truth by hand: the gas that is fed,
 * less what the trims have taken away. The front follows Nernst's equation (19.4 mV for each factor
 * of e at 900 K, CODATA 2018). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "help_bench.h"
#include "measure/parts.h"

/* The gas as a fraction of the fuel: at first, and from again_s on; trims that follow at a ramp. */
struct fed {
    double gas, again_s, gas_again, ramp_per_s, base_pct, noise_v;
};

static double excess_at(const struct fed *f, double t)
{
    return (t < f->again_s ? f->gas : f->gas_again) - f->ramp_per_s * t;
}

static struct oxl_trim_dose seen_of(const struct fed *f, const struct oxl_profile *p)
{
    enum { N = 800 };
    static struct oxl_point front[N], trim[N];
    uint32_t seed = 3;
    for (size_t i = 0; i < N; i++) {
        const double t = 0.05 * (double)i, e = excess_at(f, t);
        const int64_t us = (int64_t)(1e6 * t) + 10000000;
        const double v = e > 0 ? fmax(0.1, 0.85 + 0.0194 * log(e / 0.3)) : 0.1;
        const double gas = t < f->again_s ? f->gas : f->gas_again;
        front[i] = (struct oxl_point){us, us, v + f->noise_v * random_normal(&seed)};
        trim[i] = (struct oxl_point){us, us, f->base_pct - 100 * fmin(gas, f->ramp_per_s * t)};
    }
    return (struct oxl_trim_dose){.profile = p,
                                  .front = {front, N},
                                  .trim = {trim, N},
                                  .baseline_pct = f->base_pct,
                                  .shift_start_us = 10000000,
                                  .to_us = 50000000};
}

static double told_s(const struct fed *f)
{
    struct oxl_profile p;
    test_profile(&p);
    const struct oxl_trim_dose seen = seen_of(f, &p);
    return oxl_dose_by_trim_s(&seen);
}

/* A ramp of 1.5 %/s to 30 % takes 20 s: 3 s of excess are fed. The front has fallen by 10 mV, a
 * factor of 0.6, after 8 s; that much is sure of the time before: 0.18 * 8 + 0.18 * 12 / 2 are
 * told. */
static void test_one_opening(void **state)
{
    (void)state;
    struct fed f = {.gas = 0.3, .again_s = 99, .ramp_per_s = 0.015};
    assert_near(told_s(&f), 2.52, 0.1);
    f.noise_v = 0.004; /* of a sensor: it seems to fall sooner and less is sure, never more */
    assert_true(told_s(&f) > 1.6 && told_s(&f) < 2.6);
}

/* T0 of +10 %: a tenth less, since x = S / (1 + T0). In mg: 0.2314 * 3 g/s. */
static void test_of_a_lean_baseline_in_mg(void **state)
{
    (void)state;
    const struct fed f = {.gas = 0.3, .again_s = 99, .ramp_per_s = 0.015, .base_pct = 10};
    struct oxl_profile p;
    test_profile(&p);
    p.humidity_ratio = 0;
    const struct oxl_trim_dose seen = seen_of(&f, &p);
    assert_near(oxl_removal_by_trim_mg(&seen, 3), 1000 * 0.2314 * 3 * 2.52 / 1.1, 60);
    assert_true(isnan(oxl_removal_by_trim_mg(&seen, NAN)));
}

/* 0.15, and 0.3 from 8 s on, behind trims of 1 %/s: 0.88 s until then, of which the trims show
 * 0.32; then 0.22 that goes in 22 s, 2.42 s. */
static void test_a_hand_that_opens_twice(void **state)
{
    (void)state;
    struct fed f = {.gas = 0.15, .again_s = 8, .gas_again = 0.3, .ramp_per_s = 0.01};
    assert_near(told_s(&f), 2.02 + 0.14, 0.1);
    f.noise_v = 0.004;
    assert_true(told_s(&f) > 1.5 && told_s(&f) < 2.25);
}

/* Nothing is told of gas that the trims keep up with while the hand opens: 5 % of it for 10 s, then
 * it stands and goes in 2.5 s. By hand: 10 mV are a factor of 0.6, met at 0.03, so 0.03 * 1.5 / 2
 * after it, and 0.03 for as long as the front stood as high before. */
static double opening_s(double first_half_v)
{
    enum { N = 131 };
    static struct oxl_point front[N], trim[N];
    struct oxl_profile p;
    test_profile(&p);
    for (size_t i = 0; i < N; i++) {
        const double t = 0.1 * (double)i, still = fmax(0, t - 10);
        const int64_t us = (int64_t)(1e6 * t) + 10000000;
        const double v =
            t < 5    ? first_half_v
            : t < 10 ? 0.85
                     : fmax(0.1, 0.85 - 0.0194 * log(0.05 / fmax(1e-9, 0.05 - 0.02 * still)));
        front[i] = (struct oxl_point){us, us, t > 12.5 ? 0.1 : v};
        trim[i] = (struct oxl_point){us, us, fmax(-25, -2 * t)};
    }
    const struct oxl_trim_dose seen = {.profile = &p,
                                       .front = {front, N},
                                       .trim = {trim, N},
                                       .shift_start_us = 10000000,
                                       .to_us = 22600000};
    return oxl_dose_by_trim_s(&seen);
}

static void test_the_gas_before_the_hand_stood_still_counts(void **state)
{
    (void)state;
    assert_near(opening_s(0.85), 0.35, 0.03);
    assert_near(opening_s(0.83), 0.20, 0.03);
}

/* Nothing was rich, or nothing is known of the trims. */
static void test_nothing_to_tell(void **state)
{
    (void)state;
    struct oxl_profile p;
    test_profile(&p);
    const struct fed lean = {.gas = -0.1, .again_s = 99, .ramp_per_s = 0.01};
    assert_near(told_s(&lean), 0, 1e-12);
    const struct fed f = {.gas = 0.3, .again_s = 99, .ramp_per_s = 0.015};
    struct oxl_trim_dose seen = seen_of(&f, &p);
    seen.front.count = 2;
    assert_near(oxl_dose_by_trim_s(&seen), 0, 1e-12);
    seen = seen_of(&f, &p);
    seen.trim.count = 0;
    assert_near(oxl_dose_by_trim_s(&seen), 0, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_opening),
        cmocka_unit_test(test_of_a_lean_baseline_in_mg),
        cmocka_unit_test(test_a_hand_that_opens_twice),
        cmocka_unit_test(test_the_gas_before_the_hand_stood_still_counts),
        cmocka_unit_test(test_nothing_to_tell),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
