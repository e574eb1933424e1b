/* The deeper run: what has been taken out, what is enough. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "help_bench.h"
#include "measure/parts.h"

static void test_needed(void **state)
{
    (void)state;
    struct oxl_profile p;
    test_profile(&p);
    /* Twice 0.137 g for each g/s: 822 mg at an idle of 3 g/s. */
    assert_near(oxl_deeper_needed_mg(&p, 3, 0), 822, 1e-9);
    /* docs/method.md, (5): 1.2 (M + M), and a tenth to spare. */
    assert_near(oxl_deeper_needed_mg(&p, 3, 400), 1056, 1e-9);
    assert_near(oxl_deeper_needed_mg(&p, 3, 300), 822, 1e-9);
    assert_true(isnan(oxl_deeper_needed_mg(&p, NAN, 400)));
}

static void test_rate_by_lambda(void **state)
{
    (void)state;
    struct oxl_profile p;
    test_profile(&p);
    p.humidity_ratio = 0;
    /* science: 0.2314 * 3 g/s * (1/0.9 - 1) = 77.13 mg/s; at rest nothing */
    assert_near(oxl_removal_mg_s(&p, 1, 0.9, 3), 77.133, 0.01);
    assert_near(oxl_removal_mg_s(&p, 1, 1, 3), 0, 1e-12);
    /* A rest of 1.01 is the sensor's offset, one of 1.1 is not. */
    assert_near(oxl_removal_mg_s(&p, 1.01, 1.01, 3), 0, 1e-12);
    assert_near(oxl_removal_mg_s(&p, 1.1, 0.9, 3), 77.133, 0.01);
}

static void test_by_trim(void **state)
{
    (void)state;
    struct oxl_profile p;
    test_profile(&p);
    p.humidity_ratio = 0;
    /* A ramp of 1.5 %/s to 30 % takes 20 s: half of 0.3 * 20 is 3 s of excess, 0.2314 * 3 * 3 g. */
    assert_near(oxl_removal_by_trim_mg(&p, 0, 300, 3), 2082.6, 0.1);
    /* T0 of +10 %: a tenth less, since x = S / (1 + T0). */
    assert_near(oxl_removal_by_trim_mg(&p, 10, 300, 3), 1893.3, 0.1);
    assert_true(isnan(oxl_removal_by_trim_mg(&p, 0, 300, NAN)));
}

/* Gas that comes ahead of the trims by 5 % for 10 s while a hand opens the valve, then stands; the
 * trims take the rest away in 2.5 s. Its 10 mV are a factor of 0.6 in the gas (Nernst), met at
 * 0.03: by hand 0.03 * 11 + 0.03 * 1.5 / 2. A front that stood lower in the first half says nothing
 * of that half. */
static double dose_of(double first_half_v)
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
        front[i] = (struct oxl_point){.sent_us = us, .recv_us = us, .value = t > 12.5 ? 0.1 : v};
        trim[i] = (struct oxl_point){.sent_us = us, .recv_us = us, .value = fmax(-25, -2 * t)};
    }
    const struct oxl_run_input in = {
        .profile = &p, .front = {front, N}, .trim = {trim, N}, .shift_start_us = 10000000};
    const struct run_work w = {.in = &in, .front = {.t_s = 22.6}};
    return oxl_dose_by_trim(&w, 0);
}

static void test_the_gas_before_the_hand_stood_still_counts(void **state)
{
    (void)state;
    assert_near(dose_of(0.85), 0.35, 0.03);
    assert_near(dose_of(0.80), 0.20, 0.03);
}

/* The bench's own store and loop; a small store that a long rich time empties all the same. */
static struct oxl_run_result measured(double on_s, double rate, double depth, double store_g,
                                      bool deeper)
{
    struct bench b = bench_usual();
    struct bench_run *run = malloc(sizeof *run);
    struct oxl_profile p;
    struct oxl_run_input in;
    struct oxl_run_result r;
    b.rate = rate;
    b.depth = depth;
    b.store_g = store_g;
    b.off_s = b.on_s + on_s;
    b.end_s = b.off_s + 40;
    bench_go(&b, run);
    bench_input(&b, run, &p, &in);
    in.deeper = deeper;
    oxl_measure_run(&in, &r);
    free(run);
    return r;
}

static void test_a_small_dose_is_a_bound(void **state)
{
    (void)state;
    /* A loop of 1/s takes out 0.2 s of excess: 0.14 g at 3 g/s, of 0.62 that are needed. */
    struct oxl_run_result r = measured(20, 1.0, 0.20, 0.06, false);
    assert_true(r.dropped && oxl_reasons_has(r.reasons, OXL_R_PART_EMPTIED));
    assert_true(isinf(r.o2_mg.high) && isnan(r.o2_needed_mg));
    /* 0.1/s takes out five times as much. */
    r = measured(40, 0.1, 0.28, 0.06, true);
    assert_true(r.dropped && r.deeper && !oxl_reasons_has(r.reasons, OXL_R_PART_EMPTIED));
    assert_true(isfinite(r.o2_mg.high));
    assert_near(r.o2_needed_mg, 1000 * 2 * 0.137 * r.air_g_s, 1e-6);
    assert_true(r.o2_removed_mg > 0.75 * r.o2_needed_mg);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_needed),
        cmocka_unit_test(test_rate_by_lambda),
        cmocka_unit_test(test_by_trim),
        cmocka_unit_test(test_the_gas_before_the_hand_stood_still_counts),
        cmocka_unit_test(test_a_small_dose_is_a_bound),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
