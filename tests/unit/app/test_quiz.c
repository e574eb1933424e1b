/* The quiz: marks against answers, points by closed rules, nothing told before it is asked. */
#include "app/quiz.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static struct oxl_test_record record;

static void hear(struct oxl_quiz *q, const struct oxl_event *ev)
{
    oxl_test_record_event(&record, ev);
    oxl_quiz_event(q, ev);
}

static void state_event(struct oxl_quiz *q, enum oxl_state s)
{
    struct oxl_event ev = {.kind = OXL_EV_STATE};
    ev.u.state.state = s;
    hear(q, &ev);
}

static struct oxl_moment moment(double s)
{
    struct oxl_moment m = {s > 0, (int64_t)(s * 1e6), (int64_t)(s * 1e6) - 50000,
                           (int64_t)(s * 1e6) + 50000};
    return m;
}

/* A run that the core finished at t_s; rear_s 0: held. */
static void run_event(struct oxl_quiz *q, int run, double t_s, double front_s, double rear_s)
{
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = (int64_t)(t_s * 1e6)};
    memset(&ev.u.run, 0, sizeof ev.u.run);
    ev.u.run.run = run;
    ev.u.run.dropped = rear_s > 0;
    ev.u.run.front_lean = moment(front_s);
    ev.u.run.rear_lean = moment(rear_s);
    hear(q, &ev);
}

static void press(struct oxl_quiz *q, int key, double t_s)
{
    oxl_quiz_tick(q, (int64_t)(t_s * 1e6), false);
    oxl_quiz_key(q, key, (int64_t)(t_s * 1e6));
    oxl_quiz_tick(q, (int64_t)(t_s * 1e6), false);
}

static struct oxl_quiz started(void)
{
    struct oxl_quiz q;
    oxl_test_record_init(&record, NULL);
    oxl_quiz_start(&q, &record);
    state_event(&q, OXL_STATE_BASELINE);
    return q;
}

static void both_marked(void **state)
{
    (void)state;
    struct oxl_quiz q = started();
    press(&q, ' ', 10.25); /* 0.25 s late, 0.20 s outside the interval: 3 */
    assert_int_equal(q.shown.phase, OXL_QUIZ_REAR);
    press(&q, 'u', 10.5);
    assert_int_equal(q.shown.phase, OXL_QUIZ_FRONT);
    press(&q, ' ', 10.25);
    /* The core knows before the trainee has answered: nothing may show. */
    run_event(&q, 1, 14.1, 10, 14);
    oxl_quiz_tick(&q, 14200000, false);
    assert_int_equal(q.shown.phase, OXL_QUIZ_REAR);
    assert_int_equal(q.shown.runs_n, 0);
    press(&q, ' ', 14.5); /* 0.45 s outside: 2 */
    assert_int_equal(q.shown.phase, OXL_QUIZ_ANSWER);
    assert_true(oxl_quiz_stops(&q));
    const struct oxl_quiz_run *r = &q.shown.runs[0];
    assert_true(fabs(r->front.error_ms - 250) < 1e-6 && fabs(r->rear.error_ms - 500) < 1e-6);
    assert_int_equal(r->front.points, 3);
    assert_int_equal(r->rear.points, 2);
    assert_int_equal(q.shown.of, 6);
    press(&q, ' ', 14.6);
    assert_int_equal(q.shown.phase, OXL_QUIZ_FRONT);
    assert_false(q.shown.front_marked);
}

static void points_by_distance(void **state)
{
    (void)state;
    static const struct {
        double late_s;
        int points;
    } cases[] = {{0, 3},   {0.04, 3}, {0.34, 3},  {0.36, 2}, {0.64, 2}, {0.66, 1},
                 {1.2, 1}, {1.3, 0},  {-0.34, 3}, {-1.3, 0}, {-0.5, 2}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct oxl_quiz q = started();
        press(&q, ' ', 10 + cases[i].late_s);
        press(&q, ' ', 14);
        run_event(&q, 1, 14.1, 10, 14);
        oxl_quiz_tick(&q, 14200000, false);
        assert_int_equal(q.shown.phase, OXL_QUIZ_ANSWER);
        assert_int_equal(q.shown.runs[0].front.points, cases[i].points);
    }
}

static void held_and_missed(void **state)
{
    (void)state;
    struct oxl_quiz q = started();
    press(&q, ' ', 10);
    run_event(&q, 1, 30, 10, 0);
    oxl_quiz_tick(&q, 32900000, false);
    assert_int_equal(q.shown.phase, OXL_QUIZ_REAR);
    oxl_quiz_tick(&q, 33000000, false); /* three seconds of patience */
    assert_int_equal(q.shown.phase, OXL_QUIZ_ANSWER);
    assert_true(q.shown.runs[0].rear.none);
    assert_int_equal(q.shown.runs[0].rear.points, 3);
    press(&q, ' ', 33);
    /* The next one is missed altogether, the third void: it is not asked for. */
    run_event(&q, 2, 60, 55, 59);
    oxl_quiz_tick(&q, 63000000, false);
    assert_int_equal(q.shown.runs[1].front.points + q.shown.runs[1].rear.points, 0);
    assert_true(isnan(q.shown.runs[1].rear.error_ms));
    assert_int_equal(q.shown.of, 12);
    press(&q, ' ', 64);
    press(&q, ' ', 80);
    run_event(&q, 3, 90, 0, 0);
    state_event(&q, OXL_STATE_BASELINE);
    assert_int_equal(q.shown.phase, OXL_QUIZ_FRONT);
    assert_int_equal(q.shown.runs_n, 2);
}

static void verdict_and_score(void **state)
{
    (void)state;
    static const char keys[] = "igbqGB"; /* what is right, and two that a slip of the shift gives */
    for (int i = 0; keys[i]; i++) {
        const bool right = keys[i] == 'G';
        struct oxl_quiz q = started();
        press(&q, ' ', 10);
        press(&q, ' ', 14);
        run_event(&q, 1, 14.1, 10, 14);
        struct oxl_event ev = {.kind = OXL_EV_RESULT};
        ev.u.result.conclusion = OXL_CONCLUSION_NOT_GOOD;
        hear(&q, &ev);
        oxl_quiz_tick(&q, 14200000, true);
        assert_int_equal(q.shown.phase, OXL_QUIZ_ANSWER); /* first the run, then the question */
        struct oxl_buf b = {0};
        oxl_quiz_json(&q, &b);
        assert_non_null(strstr(b.data, "\"answer\":null"));
        oxl_buf_free(&b);
        press(&q, ' ', 14.3);
        assert_int_equal(q.shown.phase, OXL_QUIZ_VERDICT);
        assert_false(oxl_quiz_key(&q, 'z', 0));
        press(&q, keys[i], 14.3);
        assert_int_equal(q.shown.phase, OXL_QUIZ_SCORE);
        assert_int_equal(q.shown.points, right ? 12 : 6);
        assert_int_equal(q.shown.of, 12);
    }
}

static void no_result(void **state)
{
    (void)state;
    struct oxl_quiz q = started();
    oxl_quiz_tick(&q, 1000000, true);
    assert_int_equal(q.shown.phase, OXL_QUIZ_SCORE);
    assert_int_equal(q.shown.of, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(both_marked),     cmocka_unit_test(points_by_distance),
        cmocka_unit_test(held_and_missed), cmocka_unit_test(verdict_and_score),
        cmocka_unit_test(no_result),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
