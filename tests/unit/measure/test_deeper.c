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
    struct oxl_run_result r[3] = {{.valid = true, .dropped = true, .o2_needed_mg = NAN},
                                  {.valid = true, .dropped = true, .o2_needed_mg = NAN},
                                  {.valid = false, .dropped = true, .o2_needed_mg = 5000}};
    /* Nothing shown: twice 0.137 g for each g/s, 822 mg at an idle of 3 g/s. */
    assert_near(oxl_deeper_needed_mg(&p, 3, NULL, 0), 822, 1e-9);
    assert_near(oxl_deeper_needed_mg(&p, 3, r, 3), 822, 1e-9);
    /* What was stored, and a store that gives 1.3 times as much with a reserve as large. */
    r[1].o2_mg.value = 400;
    assert_near(oxl_deeper_needed_mg(&p, 3, r, 3), 1040, 1e-9);
    /* The levels say how much: the larger of both, a tenth to spare, of runs that count. */
    r[0].o2_needed_mg = 500;
    r[1].o2_needed_mg = 600;
    assert_near(oxl_deeper_needed_mg(&p, 3, r, 3), 660, 1e-9);
    assert_near(oxl_deeper_needed_mg(&p, 3, r, 1), 550, 1e-9);
    /* Out of reach: 4 good limits in grams are 1644 mg. */
    r[0].o2_needed_mg = 1490;
    assert_near(oxl_deeper_needed_mg(&p, 3, r, 3), 1639, 1e-9);
    r[0].o2_needed_mg = 1500;
    assert_near(oxl_deeper_needed_mg(&p, 3, r, 3), 1040, 1e-9);
    assert_true(isnan(oxl_deeper_needed_mg(&p, NAN, NULL, 0)));
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
    /* A loop of 1/s takes out 0.2 s of excess: 0.14 g at 3 g/s. */
    struct oxl_run_result r = measured(20, 1.0, 0.20, 0.06, false);
    assert_true(r.dropped && oxl_reasons_has(r.reasons, OXL_R_PART_EMPTIED));
    assert_true(isinf(r.o2_mg.high) && r.o2_removed_mg < r.o2_needed_mg);
    /* 0.1/s takes out five times as much. */
    r = measured(40, 0.1, 0.28, 0.06, true);
    assert_true(r.dropped && r.deeper && !oxl_reasons_has(r.reasons, OXL_R_PART_EMPTIED));
    assert_true(isfinite(r.o2_mg.high) && r.o2_removed_mg > r.o2_needed_mg);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_needed),
        cmocka_unit_test(test_rate_by_lambda),
        cmocka_unit_test(test_a_small_dose_is_a_bound),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
