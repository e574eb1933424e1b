#include "quiz.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A hand answers a sight in 0.2 to 0.3 s (common knowledge, no source): within this of the
 * interval all points are given, then two, then one. */
static const double near_ms[] = {300, 600, 1200};
enum { MARK_POINTS = 3, VERDICT_POINTS = 6 };
/* The core knows the rear's fall a sample or two after it; the trainee gets this long for it. */
static const int64_t patience_us = 3000000;

void oxl_quiz_start(struct oxl_quiz *q, const struct oxl_test_record *record)
{
    memset(q, 0, sizeof *q);
    q->record = record;
}

bool oxl_quiz_stops(const struct oxl_quiz *q)
{
    return q->shown.phase >= OXL_QUIZ_ANSWER;
}

void oxl_quiz_event(struct oxl_quiz *q, const struct oxl_event *ev)
{
    struct oxl_quiz_shown *s = &q->shown;
    if (ev->kind == OXL_EV_RUN) {
        if (ev->u.run.run == q->answer_run || !ev->u.run.front_lean.found)
            return; /* taken back: it was asked for before */
        q->have_answer = true;
        q->answer_run = ev->u.run.run;
        q->answer_us = ev->t_us;
    } else if (ev->kind == OXL_EV_STATE && ev->u.state.state == OXL_STATE_BASELINE &&
               !q->have_answer) {
        /* A run without a release is not asked for; its marks are void with it. */
        s->front_marked = s->rear_marked = false;
        if (s->phase < OXL_QUIZ_ANSWER)
            s->phase = OXL_QUIZ_FRONT;
    }
}

/* How far outside the interval, in ms; 0 inside. */
static double outside_ms(const struct oxl_moment *m, int64_t t_us)
{
    int64_t off = t_us < m->low_us ? m->low_us - t_us : t_us > m->high_us ? t_us - m->high_us : 0;
    return (double)off / 1e3;
}

static struct oxl_quiz_mark judge(bool given, int64_t given_us, const struct oxl_moment *answer)
{
    struct oxl_quiz_mark m = {.given = given,
                              .none = !answer->found,
                              .given_us = given_us,
                              .answer = *answer,
                              .error_ms = NAN,
                              .of = MARK_POINTS};
    if (m.none) {
        m.points = given ? 0 : MARK_POINTS;
        return m;
    }
    if (!given)
        return m;
    m.error_ms = (double)(given_us - answer->t_us) / 1e3;
    for (int i = 0; i < MARK_POINTS && m.points == 0; i++)
        if (outside_ms(answer, given_us) <= near_ms[i])
            m.points = MARK_POINTS - i;
    return m;
}

static const struct oxl_run_result *answer_of(const struct oxl_quiz *q)
{
    size_t i = q->record->runs_n - 1;
    while (i > 0 && q->record->runs[i].run != q->answer_run)
        i--;
    return &q->record->runs[i];
}

static void show_answer(struct oxl_quiz *q)
{
    struct oxl_quiz_shown *s = &q->shown;
    const struct oxl_run_result *answer = answer_of(q);
    struct oxl_quiz_run r = {.run = answer->run, .delay_s = answer->delay_s};
    r.front = judge(s->front_marked, s->front_us, &answer->front_lean);
    r.rear = judge(s->rear_marked, s->rear_us, &answer->rear_lean);
    if (s->runs_n < OXL_RECORD_MAX_RUNS)
        s->runs[s->runs_n++] = r;
    s->points += r.front.points + r.rear.points;
    s->of += r.front.of + r.rear.of;
    s->phase = OXL_QUIZ_ANSWER;
    q->have_answer = false;
    q->marks_due = true;
}

static void next_question(struct oxl_quiz *q)
{
    struct oxl_quiz_shown *s = &q->shown;
    s->front_marked = s->rear_marked = false;
    s->phase = q->record->has_result ? OXL_QUIZ_VERDICT : OXL_QUIZ_FRONT;
}

void oxl_quiz_tick(struct oxl_quiz *q, int64_t now_us, bool at_end)
{
    struct oxl_quiz_shown *s = &q->shown;
    if (oxl_quiz_stops(q))
        return;
    if (q->have_answer && (s->phase == OXL_QUIZ_MARKED || now_us >= q->answer_us + patience_us))
        show_answer(q);
    else if (q->record->has_result && !q->have_answer)
        s->phase = OXL_QUIZ_VERDICT;
    else if (at_end && !q->have_answer)
        s->phase = OXL_QUIZ_SCORE;
}

static bool mark(struct oxl_quiz *q, int64_t now_us)
{
    struct oxl_quiz_shown *s = &q->shown;
    if (s->phase == OXL_QUIZ_FRONT) {
        s->front_marked = true;
        s->front_us = now_us;
        s->phase = OXL_QUIZ_REAR;
    } else if (s->phase == OXL_QUIZ_REAR) {
        s->rear_marked = true;
        s->rear_us = now_us;
        s->phase = OXL_QUIZ_MARKED;
    } else if (s->phase == OXL_QUIZ_ANSWER) {
        next_question(q);
    } else {
        return false;
    }
    return true;
}

static bool undo(struct oxl_quiz_shown *s)
{
    if (s->phase == OXL_QUIZ_MARKED) {
        s->rear_marked = false;
        s->phase = OXL_QUIZ_REAR;
    } else if (s->phase == OXL_QUIZ_REAR) {
        s->front_marked = false;
        s->phase = OXL_QUIZ_FRONT;
    } else {
        return false;
    }
    return true;
}

const char oxl_quiz_verdict_keys[] = "ibGqBg";

static void take_verdict(struct oxl_quiz *q, enum oxl_conclusion v)
{
    struct oxl_quiz_shown *s = &q->shown;
    s->has_verdict = true;
    s->verdict = v;
    s->of += VERDICT_POINTS;
    s->points += v == q->record->result.conclusion ? VERDICT_POINTS : 0;
    s->phase = OXL_QUIZ_SCORE;
}

bool oxl_quiz_key(struct oxl_quiz *q, int key, int64_t now_us)
{
    struct oxl_quiz_shown *s = &q->shown;
    if (s->phase == OXL_QUIZ_VERDICT) {
        const char *at = key > 0 && key < 128 ? strchr(oxl_quiz_verdict_keys, key) : NULL;
        if (at)
            take_verdict(q, (enum oxl_conclusion)(at - oxl_quiz_verdict_keys));
        return at != NULL;
    }
    if (key == ' ')
        return mark(q, now_us);
    return key == 'u' && undo(s);
}
