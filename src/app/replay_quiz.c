/* The quiz's side of a replay: keys typed or read from a file. */
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "replay.h"

enum { ANSWERS_MAX = 256, FILE_MAX_BYTES = 1 << 20 };

struct answers {
    struct {
        int64_t t_us;
        int key;
    } list[ANSWERS_MAX];
    size_t n, next;
    int verdict; /* 0: this answer is no verdict */
};

void oxl_replay_quiz_tick(struct replay *r)
{
    struct oxl_quiz *q = &r->quiz;
    oxl_quiz_tick(q, r->now_us, oxl_player_due_us(&r->player) == INT64_MAX);
    if (q->marks_due && r->sinks.model) {
        const struct oxl_quiz_run *run = &q->shown.runs[q->shown.runs_n - 1];
        oxl_model_mark(r->sinks.model, run->front.answer.t_us, 'F');
        if (run->rear.answer.found)
            oxl_model_mark(r->sinks.model, run->rear.answer.t_us, 'R');
    }
    q->marks_due = false;
    if (r->sinks.model)
        oxl_model_quiz(r->sinks.model, &q->shown);
}

void oxl_replay_quiz_key(struct replay *r, int key)
{
    enum oxl_quiz_phase before = r->quiz.shown.phase;
    if (!oxl_quiz_key(&r->quiz, key, r->now_us))
        return;
    if (key == ' ' && r->sinks.model && before < OXL_QUIZ_MARKED)
        oxl_model_mark(r->sinks.model, r->now_us, 'M');
    oxl_replay_quiz_tick(r);
}

/* ---- the keys of a file ---------------------------------------------------------------------- */
static bool add_mark(struct answers *a, const char *time, const char *word)
{
    char *end;
    double t = strtod(time, &end);
    if (end == time || *end || !(t >= 0 && t < 1e9) || a->n == ANSWERS_MAX)
        return false;
    int64_t t_us = (int64_t)(t * 1e6 + 0.5);
    if (a->n && t_us < a->list[a->n - 1].t_us)
        return false;
    a->list[a->n].t_us = t_us;
    a->list[a->n++].key = strcmp(word, "space") == 0 ? ' ' : strcmp(word, "u") == 0 ? 'u' : 0;
    return a->list[a->n - 1].key != 0;
}

static bool take_answer(struct answers *a, const char *line, size_t n)
{
    char text[80], *rest;
    if (n >= sizeof text)
        return false;
    memcpy(text, line, n);
    text[n] = '\0';
    text[strcspn(text, "#\r")] = '\0';
    const char *first = strtok_r(text, " \t", &rest), *second = strtok_r(NULL, " \t", &rest);
    if (!first)
        return true;
    if (!second || strtok_r(NULL, " \t", &rest))
        return false;
    if (strcmp(first, "verdict") != 0)
        return add_mark(a, first, second);
    a->verdict = (unsigned char)second[0];
    return strlen(second) == 1 && strchr(oxl_quiz_verdict_keys, second[0]) != NULL;
}

static enum oxl_status read_answers(const char *file, struct answers *a, struct oxl_error *err)
{
    char *text;
    unsigned lineno = 0;
    enum oxl_status st = oxl_read_text(file, FILE_MAX_BYTES, &text, err);
    if (st != OXL_OK)
        return st;
    for (const char *at = text; *at && st == OXL_OK;) {
        size_t n = strcspn(at, "\n");
        lineno++;
        if (!take_answer(a, at, n))
            st = oxl_fail(
                err, OXL_ERR_FORMAT,
                "%s line %u: expected \"SECONDS space\", \"SECONDS u\" (times in order) or "
                "\"verdict g|B|q|G|b|i\"",
                file, lineno);
        at += n + (at[n] == '\n');
    }
    free(text);
    return st;
}

static void say_run(const struct replay *r, bool json)
{
    const struct oxl_quiz_shown *s = &r->quiz.shown;
    struct oxl_buf b = {0};
    if (json)
        oxl_quiz_run_json(&s->runs[s->runs_n - 1], &b);
    else
        oxl_quiz_run_text(&s->runs[s->runs_n - 1], &b);
    oxl_print(&b);
}

void oxl_replay_quiz_end(const struct replay *r, bool json)
{
    struct oxl_buf b = {0};
    if (json)
        oxl_quiz_json(&r->quiz, &b);
    else
        oxl_quiz_text(&r->quiz, &b);
    oxl_print(&b);
}

/* The clock goes to now_us; an answer that comes up is said and left at once. */
static void pass(struct replay *r, int64_t now_us, bool json)
{
    r->now_us = now_us;
    oxl_replay_quiz_tick(r);
    if (r->quiz.shown.phase == OXL_QUIZ_ANSWER) {
        say_run(r, json);
        oxl_replay_quiz_key(r, ' ');
    }
}

static void press_until(struct replay *r, struct answers *a, int64_t until_us, bool json)
{
    while (a->next < a->n && a->list[a->next].t_us <= until_us) {
        pass(r, a->list[a->next].t_us, json);
        oxl_replay_quiz_key(r, a->list[a->next++].key);
    }
}

enum oxl_status oxl_replay_answers(struct replay *r, const struct oxl_opts *o,
                                   struct oxl_error *err)
{
    struct answers *a = calloc(1, sizeof *a);
    if (!a)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory");
    enum oxl_status st = read_answers(o->answers, a, err);
    int64_t due_us;
    while (st == OXL_OK && (due_us = oxl_player_due_us(&r->player)) != INT64_MAX) {
        press_until(r, a, due_us, o->json);
        st = oxl_player_step(&r->player, err);
        pass(r, due_us, o->json);
    }
    if (st == OXL_OK) {
        press_until(r, a, INT64_MAX, o->json);
        pass(r, r->now_us + 10000000, o->json); /* nothing more will be marked */
        pass(r, r->now_us, o->json);
        if (a->verdict)
            oxl_replay_quiz_key(r, a->verdict);
    }
    free(a);
    return st;
}
