/* The quiz in words and as JSON. */
#include <math.h>
#include <stdio.h>

#include "quiz.h"
#include "record/json_out.h"

static void number(struct oxl_buf *out, const char *name, double v)
{
    char text[32];
    oxl_number_text(v, text);
    oxl_buf_add(out, ",\"%s\":%s", name, text);
}

static void mark_json(struct oxl_buf *out, const char *which, const struct oxl_quiz_mark *m)
{
    char name[32];
    const struct {
        const char *tail;
        double v;
    } members[] = {{"lean_t_s", m->answer.found ? (double)m->answer.t_us / 1e6 : NAN},
                   {"mark_t_s", m->given ? (double)m->given_us / 1e6 : NAN},
                   {"error_ms", m->error_ms},
                   {"points", m->points}};
    for (size_t i = 0; i < sizeof members / sizeof members[0]; i++) {
        snprintf(name, sizeof name, "%s_%s", which, members[i].tail);
        number(out, name, members[i].v);
    }
}

void oxl_quiz_run_json(const struct oxl_quiz_run *r, struct oxl_buf *out)
{
    oxl_buf_add(out, "{\"event\":\"quiz-run\",\"run\":%d", r->run);
    mark_json(out, "front", &r->front);
    mark_json(out, "rear", &r->rear);
    oxl_buf_add(out, ",\"rear_held\":%s", r->rear.none ? "true" : "false");
    number(out, "delay_s", r->delay_s.value);
    oxl_buf_add(out, ",\"points\":%d,\"of\":%d}\n", r->front.points + r->rear.points,
                r->front.of + r->rear.of);
}

void oxl_quiz_json(const struct oxl_quiz *q, struct oxl_buf *out)
{
    const struct oxl_quiz_shown *s = &q->shown;
    oxl_buf_add(out, "{\"event\":\"quiz\",\"runs\":%d,\"verdict\":", s->runs_n);
    if (s->has_verdict)
        oxl_buf_add(out, "\"%s\"", oxl_conclusion_name(s->verdict));
    else
        oxl_buf_add(out, "null");
    oxl_buf_add(out, ",\"answer\":");
    if (q->record->has_result && s->phase == OXL_QUIZ_SCORE)
        oxl_buf_add(out, "\"%s\"", oxl_conclusion_name(q->record->result.conclusion));
    else
        oxl_buf_add(out, "null");
    oxl_buf_add(out, ",\"score\":%d,\"of\":%d}\n", s->points, s->of);
}

static void mark_text(struct oxl_buf *out, const char *which, const struct oxl_quiz_mark *m)
{
    if (m->none)
        oxl_buf_add(out, "  %s: held; %s", which, m->given ? "you marked one" : "right, no mark");
    else if (!m->given)
        oxl_buf_add(out, "  %s: missed, it was at %.2f s", which, (double)m->answer.t_us / 1e6);
    else
        oxl_buf_add(out, "  %s: %+.0f ms", which, m->error_ms);
    oxl_buf_add(out, " (%d of %d)", m->points, m->of);
}

void oxl_quiz_run_text(const struct oxl_quiz_run *r, struct oxl_buf *out)
{
    oxl_buf_add(out, "run %d", r->run);
    mark_text(out, "front-lean", &r->front);
    mark_text(out, "rear-lean", &r->rear);
    oxl_buf_add(out, "\n");
}

void oxl_quiz_text(const struct oxl_quiz *q, struct oxl_buf *out)
{
    const struct oxl_quiz_shown *s = &q->shown;
    if (s->has_verdict)
        oxl_buf_add(out, "verdict: yours %s, answer %s\n", oxl_conclusion_name(s->verdict),
                    oxl_conclusion_name(q->record->result.conclusion));
    else if (q->record->has_result)
        oxl_buf_add(out, "verdict: none given\n");
    oxl_buf_add(out, "Score: %d of %d\n", s->points, s->of);
}
