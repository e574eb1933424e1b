/* How often the ECU refreshes a value, against sequences whose clock is known. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "help_bench.h"
#include "long.h"
#include "measure/parts.h"

enum { MOST = 2000 };
#define ROUNDS (int)long_or(12, 4)

/* What an ECU answers whose clock is known, and when it took that. */
struct answers {
    double period_s, step_s, reply_s, noise_v; /* 5 mV a step */
    double jitter;                             /* of a period, each moment by itself */
    double changes_at_s, factor; /* from then on the period is so many times as long */
    double fall_s;               /* from 0.7 to 0.1 V at 20 s */
    double end_s;                /* 25 s; 0 */
    int short_each; /* one step in so many is 0.45 of the others, a turn without the rest; 0: none
                     */
    struct oxl_point p[MOST];
    double taken_s[MOST];
    size_t n;
};

static double signal_v(const struct answers *a, double t)
{
    double part = a->fall_s > 0 ? fmin(1, fmax(0, (t - 20) / a->fall_s)) : 0;
    return 0.7 - 0.6 * part;
}

static void answer(struct answers *a, uint32_t *seed)
{
    double clock = -a->period_s * random_unit(seed), due = clock, taken = NAN, v = 0;
    a->n = 0;
    double step = a->step_s, end_s = a->end_s > 0 ? a->end_s : 25;
    for (double t = 1; t < end_s && a->n < MOST; t += step * (0.9 + 0.2 * random_unit(seed))) {
        bool is_short = a->short_each > 0 && random_unit(seed) * a->short_each < 1;
        step = a->step_s * (is_short ? 0.45 : 1);
        double reply = a->reply_s * (0.7 + 0.6 * random_unit(seed)),
               read = t + reply * (0.5 + 0.3 * random_unit(seed));
        while (due <= read) {
            taken = due;
            v = round((signal_v(a, due) + a->noise_v * random_normal(seed)) / 0.005) * 0.005;
            clock += a->period_s * (a->factor > 0 && clock > a->changes_at_s ? a->factor : 1);
            due = clock + a->jitter * a->period_s * random_unit(seed);
        }
        a->taken_s[a->n] = taken;
        a->p[a->n++] = (struct oxl_point){micros(t), micros(t + reply), v};
    }
}

static struct oxl_refresh found_in(const struct answers *a)
{
    return oxl_find_refresh((struct oxl_trace){a->p, a->n});
}

static struct answers a;

/* Longer than the step: found to a per cent. Shorter: not known, and no period is excluded that is
 * the true one. The truth is the sequence's own clock. */
static void test_the_period_is_found(void **state)
{
    static const double periods_s[] = {0.01, 0.02, 0.05, 0.1, 0.2, 0.25, 0.5, 1.0},
                        steps_s[] = {0.03, 0.07, 0.15, 0.3};
    uint32_t seed = 4711;
    (void)state;
    for (size_t i = 0; i < sizeof periods_s / sizeof periods_s[0]; i++)
        for (size_t k = 0; k < sizeof steps_s / sizeof steps_s[0]; k++) {
            unsigned known = 0;
            for (int j = 0; j < ROUNDS; j++) {
                a = (struct answers){periods_s[i], steps_s[k], 0.02, 0.02, .fall_s = 0.3};
                answer(&a, &seed);
                struct oxl_refresh r = found_in(&a);
                known += r.known;
                assert_true(r.at_most_s > 0.99 * a.period_s);
                if (r.known)
                    assert_near(r.period_s, a.period_s, 0.01 * a.period_s);
                else
                    assert_true(r.at_most_s < 1.15 * fmax(a.step_s, a.period_s));
            }
            if (periods_s[i] > 1.3 * steps_s[k])
                assert_int_equal(known, ROUNDS);
            if (periods_s[i] < 0.9 * steps_s[k])
                assert_int_equal(known, 0);
        }
}

/* Noise of less than a step of the resolution: most refreshes bring the same number. */
static void test_a_calm_signal_shows_it_by_its_flicker(void **state)
{
    uint32_t seed = 99;
    unsigned known = 0;
    (void)state;
    for (int j = 0; j < ROUNDS; j++) {
        a = (struct answers){0.5, 0.07, 0.02, 0.002, .fall_s = 0.3};
        answer(&a, &seed);
        struct oxl_refresh r = found_in(&a);
        known += r.known;
        if (r.known)
            assert_near(r.period_s, 0.5, 0.005);
    }
    assert_true((int)known >= ROUNDS - 2);
}

static void test_what_does_not_move_tells_nothing(void **state)
{
    uint32_t seed = 5;
    (void)state;
    a = (struct answers){0.1, 0.05, 0.02, .noise_v = 0};
    answer(&a, &seed);
    struct oxl_refresh r = found_in(&a);
    assert_false(r.known);
    assert_true(isinf(r.at_most_s) && isnan(r.period_s) && r.changes == 0);
    assert_near(oxl_refresh_age_s(&r), 0, 0);
    a.n = 0;
    assert_false(found_in(&a).known);
}

/* Steps of 0.6 s, and some of 0.28 s that now and then bring nothing new. A grid of 0.6 s makes
 * something of that, too; where nothing speaks clearly for the true one of 0.5 s, none is known. */
static void test_a_period_under_the_step_is_not_taken_for_it(void **state)
{
    uint32_t seed = 77;
    unsigned known = 0;
    (void)state;
    for (int j = 0; j < 3 * ROUNDS; j++) {
        a = (struct answers){0.5, 0.62, 0.02, 0.02, .end_s = 250, .short_each = 8};
        answer(&a, &seed);
        struct oxl_refresh r = found_in(&a);
        known += r.known;
        if (r.known)
            assert_near(r.period_s, 0.5, 0.01);
        else
            assert_true(r.at_most_s > 0.5);
    }
    assert_in_range(known, 2, 2 * ROUNDS);
}

/* Mean of the ages where no period is known, as a share of their bounds. */
static double mean_age(double period_s, uint32_t seed, double *of_bound)
{
    double sum = 0, share = 0;
    unsigned n = 0;
    for (int j = 0; j < 3 * ROUNDS; j++) {
        a = (struct answers){period_s, 0.62, 0.02, 0.02, .end_s = 250, .short_each = 8};
        answer(&a, &seed);
        struct oxl_refresh r = found_in(&a);
        if (r.known)
            continue;
        sum += oxl_refresh_age_s(&r);
        share += oxl_refresh_age_s(&r) / r.at_most_s;
        n++;
    }
    *of_bound = share / n;
    return sum / n;
}

/* What the short steps say counts though no period stands out: it is nearly the step, or anything.
 */
static void test_an_unknown_period_is_as_old_as_is_likely(void **state)
{
    double of_bound;
    (void)state;
    double age_s = mean_age(0.5, 4, &of_bound);
    if (getenv("OXL_SHOW"))
        print_message("age %.3f s, of bound %.2f\n", age_s, of_bound);
    assert_true(age_s > 0.36 && age_s < 0.5);
    mean_age(0.05, 4, &of_bound);
    if (getenv("OXL_SHOW"))
        print_message("of bound %.2f\n", of_bound);
    assert_true(of_bound > 0.2 && of_bound < 0.5);
}

/* A trim of 100/128 % a step that climbs 2 % a second changes every 0.39 s, and is always fresh. */
static void test_a_staircase_is_no_period(void **state)
{
    (void)state;
    a.n = 0;
    for (double t = 0; t < 25; t += 0.1)
        a.p[a.n++] = (struct oxl_point){micros(t), micros(t + 0.02), floor(2 * t / 0.78125)};
    struct oxl_refresh r = found_in(&a);
    assert_false(r.known);
    assert_near(r.at_most_s, 0.39, 0.13);
}

static void test_a_new_period_is_found_in_its_time(void **state)
{
    uint32_t seed = 17;
    (void)state;
    a = (struct answers){0.1, 0.05, 0.02, 0.02, .changes_at_s = 12, .factor = 5, .fall_s = 0.3};
    answer(&a, &seed);
    size_t later = 0;
    while (a.p[later].sent_us < micros(12.5))
        later++;
    struct oxl_trace before = {a.p, later - 10}, after = {a.p + later, a.n - later};
    assert_near(oxl_find_refresh(before).period_s, 0.1, 0.001);
    assert_near(oxl_find_refresh(after).period_s, 0.5, 0.01);
}

struct placed {
    size_t all, inside;
    double width_s;
};

static void place_all(struct answers *what, int rounds, uint32_t *seed, struct placed *sum)
{
    static struct oxl_point out[MOST];
    *sum = (struct placed){0};
    for (int j = 0; j < rounds; j++) {
        answer(what, seed);
        struct oxl_refresh r = found_in(what);
        size_t n = oxl_taken_moments((struct oxl_trace){what->p, what->n}, &r, out, MOST);
        assert_int_equal(n, what->n);
        for (size_t i = 0; i < n; i++) {
            assert_true(out[i].value == what->p[i].value && out[i].recv_us <= what->p[i].recv_us);
            assert_true(i == 0 || (out[i].sent_us >= out[i - 1].sent_us &&
                                   out[i].recv_us >= out[i - 1].recv_us));
            sum->all++;
            double off_s = 1e-6 + what->jitter * what->period_s;
            sum->inside += what->taken_s[i] >= seconds(out[i].sent_us) - off_s &&
                           what->taken_s[i] <= seconds(out[i].recv_us) + off_s;
            sum->width_s += seconds(out[i].recv_us - out[i].sent_us);
        }
    }
    sum->width_s /= (double)sum->all;
}

/* With the grid found, the moment of a value is known better than by its own two samples, which are
 * 0.09 s apart from request to answer. */
static void test_the_grid_places_values(void **state)
{
    static const double periods_s[] = {0.2, 0.25, 0.5, 1.0};
    uint32_t seed = 31;
    struct placed sum;
    (void)state;
    for (size_t i = 0; i < sizeof periods_s / sizeof periods_s[0]; i++) {
        a = (struct answers){periods_s[i], 0.07, 0.02, 0.02, .fall_s = 0.3};
        place_all(&a, ROUNDS, &seed, &sum);
        assert_true(sum.inside == sum.all);
        assert_true(sum.width_s < 0.07);
    }
}

/* A clock that stumbles by less than the step between samples costs no more than it stumbles. */
static void test_a_clock_that_stumbles(void **state)
{
    static const double jitters[] = {0.02, 0.1, 0.2};
    uint32_t seed = 8;
    struct placed sum;
    (void)state;
    for (size_t i = 0; i < sizeof jitters / sizeof jitters[0]; i++) {
        a = (struct answers){0.25, 0.07, 0.02, 0.02, .jitter = jitters[i], .fall_s = 0.3};
        place_all(&a, ROUNDS, &seed, &sum);
        assert_true((double)sum.inside > 0.99 * (double)sum.all);
        assert_true(sum.width_s < 0.12);
    }
}

/* 200 changes of a clock of 0.25 s that lost half a period so many times: how well they are placed.
 */
static struct placed with_slips(unsigned slips)
{
    enum { CHANGES = 200 };
    static struct oxl_point out[MOST];
    const struct oxl_refresh r = {.known = true, .period_s = 0.25};
    struct placed sum = {0};
    size_t n = 0;
    double taken_s = NAN, due_s = -0.1;
    for (unsigned refreshes = 0; n < MOST; n++) {
        double t = 0.07 * (double)n;
        for (; due_s <= t + 0.01; refreshes++) {
            taken_s = due_s;
            bool slip =
                refreshes > 0 && refreshes < CHANGES && refreshes % (CHANGES / (slips + 1)) == 0;
            due_s += slip ? 0.375 : 0.25;
        }
        if (refreshes > CHANGES + 1)
            break;
        a.taken_s[n] = taken_s;
        a.p[n] = (struct oxl_point){micros(t), micros(t + 0.02), refreshes};
    }
    assert_near(a.p[n - 1].value - a.p[0].value, CHANGES, 0);
    assert_int_equal(oxl_taken_moments((struct oxl_trace){a.p, n}, &r, out, MOST), n);
    for (size_t i = 0; i < n; i++) {
        sum.inside += a.taken_s[i] >= seconds(out[i].sent_us) - 1e-6 &&
                      a.taken_s[i] <= seconds(out[i].recv_us) + 1e-6;
        sum.width_s += seconds(out[i].recv_us - out[i].sent_us) / (double)n;
    }
    sum.all = n;
    return sum;
}

/* One slip in 200 changes is an accident beside a clock that keeps its time: the rest stays as
 * well placed as without it. More than that are a clock's own way, and its moments get more room.
 */
static void test_a_clock_that_slips(void **state)
{
    (void)state;
    struct placed none = with_slips(0), one = with_slips(1), three = with_slips(3);
    assert_int_equal(none.inside, none.all);
    assert_true(none.width_s < 0.05);
    assert_true(one.inside >= one.all - 4); /* what lies beside the slip */
    assert_near(one.width_s, none.width_s, 0.02 * none.width_s);
    assert_true(three.width_s > 1.5 * none.width_s);
}

/* Refreshes at 0.93 s and every 0.5 s after it. That of 1.93 s is seen between two answers that are
 * close together, all the others within 0.12 s. What is known of the third serves the first and the
 * fifth, though others are between them and many follow that are not known as well. */
static void test_a_sharp_change_serves_its_neighbours(void **state)
{
    static struct oxl_point out[MOST];
    const struct oxl_refresh r = {.known = true, .period_s = 0.5};
    (void)state;
    a.n = 0;
    for (int i = 0; i < 120; i++) {
        double t = 0.1 * i, sharp[] = {1.92, 1.935};
        for (size_t k = 0; i == 20 && k < 2; k++)
            a.p[a.n++] = (struct oxl_point){micros(sharp[k]), micros(sharp[k] + 0.01),
                                            floor((sharp[k] - 0.43) / 0.5)};
        a.p[a.n++] = (struct oxl_point){micros(t), micros(t + 0.02), floor((t - 0.43) / 0.5)};
    }
    assert_int_equal(oxl_taken_moments((struct oxl_trace){a.p, a.n}, &r, out, MOST), a.n);
    for (int which = 1; which <= 5; which += 4) {
        const struct oxl_point *p = out;
        while (p->value < which)
            p++;
        int64_t true_us = micros(0.43 + 0.5 * which);
        assert_true(p->sent_us <= true_us && p->recv_us >= true_us);
        assert_true(p->recv_us - p->sent_us <= micros(0.06));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_the_period_is_found),
        cmocka_unit_test(test_a_calm_signal_shows_it_by_its_flicker),
        cmocka_unit_test(test_what_does_not_move_tells_nothing),
        cmocka_unit_test(test_a_period_under_the_step_is_not_taken_for_it),
        cmocka_unit_test(test_an_unknown_period_is_as_old_as_is_likely),
        cmocka_unit_test(test_a_staircase_is_no_period),
        cmocka_unit_test(test_a_new_period_is_found_in_its_time),
        cmocka_unit_test(test_the_grid_places_values),
        cmocka_unit_test(test_a_clock_that_stumbles),
        cmocka_unit_test(test_a_clock_that_slips),
        cmocka_unit_test(test_a_sharp_change_serves_its_neighbours),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
