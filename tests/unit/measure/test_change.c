/* The leak check's statistic: steady signals, noisy, slow, drifting, must not trigger it; a change
 * that comes and goes must. Rates are measured on a thousand seeded series each, four thousand with
 * OXL_LONG. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdio.h>

#include "long.h"
#include "oxylag/measure.h"

enum { HZ = 5, POINTS = 60 * HZ };
/* As the procedure takes them (src/proc/leak_check.c): the last 10 s of 14, 20 and 20 s. */
static const int64_t before_us = 4000000, during_us = 24000000, after_us = 44000000,
                     length_us = 10000000;

struct noise {
    double white, slow, slow_tau_s, drift_per_s, wander; /* wander: a random walk, per root s */
};

/* A first-order autoregressive series is the exact sampled form of an Ornstein-Uhlenbeck process;
 * GSL's Gaussian generator is the outside hand. */
static void make(struct oxl_point *p, gsl_rng *r, const struct noise *n, double step)
{
    double keep = n->slow > 0 ? exp(-1.0 / HZ / n->slow_tau_s) : 0;
    double slow = gsl_ran_gaussian(r, n->slow > 0 ? n->slow : 0), walk = 0;
    for (int i = 0; i < POINTS; i++) {
        double t = (double)i / HZ;
        bool covered = t >= 15 && t < 35;
        if (n->slow > 0)
            slow = keep * slow + gsl_ran_gaussian(r, n->slow * sqrt(1 - keep * keep));
        walk += gsl_ran_gaussian(r, n->wander > 0 ? n->wander / sqrt(HZ) : 0);
        p[i].recv_us = (int64_t)(t * 1e6);
        p[i].sent_us = p[i].recv_us - 15000;
        p[i].value = 0.6 + slow + walk + n->drift_per_s * t +
                     gsl_ran_gaussian(r, n->white > 0 ? n->white : 0) + (covered ? step : 0);
    }
}

static double rate(const struct noise *n, double step, unsigned long seed)
{
    static struct oxl_point p[POINTS];
    gsl_rng *r = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(r, seed);
    const unsigned series = long_or(4000, 1000);
    unsigned found = 0;
    for (unsigned i = 0; i < series; i++) {
        make(p, r, n, step);
        struct oxl_trace t = {p, POINTS};
        struct oxl_change c = oxl_find_change(t, before_us, during_us, after_us, length_us, 0.08);
        assert_true(c.known);
        found += c.changed;
    }
    gsl_rng_free(r);
    return (double)found / series;
}

static void steady_signals_do_not_trigger(void **state)
{
    (void)state;
    static const struct {
        const char *what;
        struct noise noise;
        double most;
    } rows[] = {
        {"white 6 mV", {.white = 0.006}, 0},
        {"white 60 mV", {.white = 0.06}, 0.0005},
        {"slow 50 mV, 1 s", {.white = 0.006, .slow = 0.05, .slow_tau_s = 1}, 0.0005},
        {"slow 100 mV, 2 s", {.white = 0.006, .slow = 0.10, .slow_tau_s = 2}, 0.001},
        {"slow 100 mV, 5 s", {.white = 0.006, .slow = 0.10, .slow_tau_s = 5}, 0.003},
        {"slow 200 mV, 5 s", {.white = 0.006, .slow = 0.20, .slow_tau_s = 5}, 0.005},
        {"drift 5 mV/s", {.white = 0.006, .drift_per_s = 0.005}, 0},
        {"drift 20 mV/s", {.white = 0.006, .drift_per_s = -0.02}, 0},
        {"random walk 20 mV", {.white = 0.006, .wander = 0.02}, 0.02},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double found = rate(&rows[i].noise, 0, 1000 + i);
        printf("%-20s false alarms %.4f\n", rows[i].what, found);
        assert_true(found <= rows[i].most);
    }
}

static void a_change_that_comes_and_goes_is_seen(void **state)
{
    (void)state;
    static const struct {
        struct noise noise;
        double step, least;
    } rows[] = {
        {{.white = 0.006}, 0.10, 0.999},
        {{.white = 0.006}, -0.10, 0.999},
        {{.white = 0.006, .drift_per_s = 0.002}, 0.3, 0.999},
        {{.white = 0.006, .slow = 0.05, .slow_tau_s = 2}, 0.5, 0.99},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double found = rate(&rows[i].noise, rows[i].step, 77 + i);
        printf("step %+.2f seen %.4f\n", rows[i].step, found);
        assert_true(found >= rows[i].least);
    }
}

static void the_figure_is_the_step(void **state)
{
    (void)state;
    static struct oxl_point p[POINTS];
    gsl_rng *r = gsl_rng_alloc(gsl_rng_mt19937);
    make(p, r, &(struct noise){.drift_per_s = 0.004}, 0.25);
    gsl_rng_free(r);
    struct oxl_change c = oxl_find_change((struct oxl_trace){p, POINTS}, before_us, during_us,
                                          after_us, length_us, 0.08);
    /* A straight drift cancels exactly: during lies midway between before and after. */
    assert_true(c.changed && fabs(c.by - 0.25) < 1e-9);
}

static void a_change_that_stays_is_no_leak(void **state)
{
    (void)state;
    static struct oxl_point p[POINTS];
    gsl_rng *r = gsl_rng_alloc(gsl_rng_mt19937);
    make(p, r, &(struct noise){.white = 0.006}, 0);
    gsl_rng_free(r);
    for (int i = 0; i < POINTS; i++)
        p[i].value += p[i].recv_us > 15000000 ? 0.4 : 0; /* rises once and does not come back */
    struct oxl_change c = oxl_find_change((struct oxl_trace){p, POINTS}, before_us, during_us,
                                          after_us, length_us, 0.08);
    assert_true(c.known && !c.changed);
}

static void too_little_data_is_unknown(void **state)
{
    (void)state;
    static struct oxl_point p[POINTS];
    gsl_rng *r = gsl_rng_alloc(gsl_rng_mt19937);
    make(p, r, &(struct noise){.white = 0.006}, 0.4);
    gsl_rng_free(r);
    struct oxl_trace t = {p, (size_t)(47 * HZ)}; /* ends within the last window */
    struct oxl_change c = oxl_find_change(t, before_us, during_us, after_us, length_us, 0.08);
    assert_true(!c.known && !c.changed && isnan(c.by));
    c = oxl_find_change((struct oxl_trace){NULL, 0}, before_us, during_us, after_us, length_us,
                        0.08);
    assert_true(!c.known && !c.changed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steady_signals_do_not_trigger),
        cmocka_unit_test(a_change_that_comes_and_goes_is_seen),
        cmocka_unit_test(the_figure_is_the_step),
        cmocka_unit_test(a_change_that_stays_is_no_leak),
        cmocka_unit_test(too_little_data_is_unknown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
