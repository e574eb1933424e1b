/* replay: a recording on the same screen, with pause, step and speed. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "class.h"
#include "clock.h"
#include "commands.h"
#include "inspect_run.h"
#include "oxylag/safe.h"
#include "replay.h"

static void set_rate(struct replay *r, double factor)
{
    r->rate = fmin(1000, fmax(0.05, r->rate * factor));
}

static enum oxl_status step_to_event(struct replay *r, struct oxl_error *err)
{
    unsigned before = r->events;
    enum oxl_status st = OXL_OK;
    while (st == OXL_OK && r->events == before && oxl_player_due_us(&r->player) != INT64_MAX)
        st = oxl_player_step(&r->player, err);
    r->now_us = r->player.now_us;
    return st;
}

/* Keys that would show the answer do nothing in a quiz. */
static enum oxl_status move(struct replay *r, int key, struct oxl_error *err)
{
    const int64_t jump_us = 10000000;
    if (r->quizzing)
        return OXL_OK;
    enum oxl_status st = OXL_OK;
    switch (key) {
    case OXL_TERM_LEFT:
        return oxl_replay_seek(r, r->now_us - jump_us, err);
    case OXL_TERM_RIGHT:
        return oxl_replay_seek(r, r->now_us + jump_us, err);
    case 'n':
        return step_to_event(r, err);
    default:
        r->paused = true;
        if (oxl_player_due_us(&r->player) != INT64_MAX)
            st = oxl_player_step(&r->player, err);
        r->now_us = r->player.now_us;
        return st;
    }
}

static bool is_quiz_key(int key)
{
    return key > 0 && key < 0x80 && (strchr(" u", key) || strchr(oxl_quiz_verdict_keys, key));
}

/* The instructor's key: the quiz is over, and everything up to here is shown with its answers. */
static enum oxl_status reveal(struct replay *r, struct oxl_error *err)
{
    const int64_t now_us = r->now_us;
    r->revealed = true;
    r->quizzing = r->sinks.masked = false;
    oxl_model_page(r->sinks.model, OXL_PAGE_TEST); /* the one that the fresh model gets */
    enum oxl_status st = oxl_player_rewind(&r->player, err);
    if (st == OXL_OK && !oxl_sinks_restart(&r->sinks, &r->player.header))
        st = oxl_fail(err, OXL_ERR_NOMEM, "no memory to show the answer");
    if (st != OXL_OK)
        return st;
    return oxl_replay_skip(r, now_us, err);
}

static enum oxl_status handle_key(struct replay *r, int key, struct oxl_error *err)
{
    enum oxl_status st = OXL_OK;
    if (r->quizzing && r->again && key == 'A')
        return reveal(r, err);
    if (r->quizzing && is_quiz_key(key)) {
        bool over = r->quiz.shown.phase == OXL_QUIZ_SCORE;
        r->leave = over && (key == 'q' || key == ' ');
        oxl_replay_quiz_key(r, key);
        return OXL_OK;
    }
    if (oxl_model_page_key(r->sinks.model, key))
        return OXL_OK;
    switch (key) {
    case 'p':
    case ' ':
        r->paused = !r->paused;
        break;
    case '.':
    case 'n':
    case OXL_TERM_LEFT:
    case OXL_TERM_RIGHT:
        st = move(r, key, err);
        break;
    case '+':
    case '=':
        set_rate(r, 2);
        break;
    case '-':
        set_rate(r, 0.5);
        break;
    case 's':
        r->sinks.quiet = !r->sinks.quiet;
        break;
    case 'q':
    case 'x':
        r->leave = true;
        break;
    default:
        break;
    }
    return st;
}

static void draw(struct replay *r, bool force)
{
    struct oxl_surroundings a = {.now_us = r->now_us,
                                 .replay_rate = r->rate,
                                 .paused = r->paused,
                                 .sound = !r->sinks.quiet,
                                 .valve = NAN};
    oxl_sinks_frame(&r->sinks, r->player.core.session, &a, oxl_wall_us(), force);
}

static enum oxl_status read_keys(struct replay *r, struct oxl_error *err)
{
    enum oxl_status st = OXL_OK;
    bool any = false;
    for (int key; st == OXL_OK && (key = oxl_term_key(r->sinks.term)) != OXL_TERM_NONE; any = true)
        if (key != OXL_TERM_RESIZED)
            st = handle_key(r, key, err);
    draw(r, any);
    return st;
}

/* Moves the recording's clock on with the wall clock, and feeds what has become due. */
static enum oxl_status advance(struct replay *r, struct oxl_error *err)
{
    int64_t wall_us = oxl_wall_us();
    if (r->quizzing)
        oxl_replay_quiz_tick(r);
    if (!r->paused && !(r->quizzing && oxl_quiz_stops(&r->quiz)))
        r->now_us += (int64_t)((double)(wall_us - r->wall_us) * r->rate);
    r->wall_us = wall_us;
    enum oxl_status st = OXL_OK;
    while (st == OXL_OK && oxl_player_due_us(&r->player) <= r->now_us)
        st = oxl_player_step(&r->player, err);
    if (!r->quizzing && oxl_player_due_us(&r->player) == INT64_MAX)
        r->now_us = r->player.now_us; /* the clock stands at the end of the recording */
    if (r->quizzing)
        oxl_replay_quiz_tick(r);
    return st;
}

static enum oxl_status play(struct replay *r, struct oxl_error *err)
{
    enum oxl_status st = OXL_OK;
    r->wall_us = oxl_wall_us();
    /* On a screen the end stays in sight until the viewer leaves. */
    while (st == OXL_OK && !r->leave && !oxl_signal_seen() && !oxl_sinks_deserted(&r->sinks) &&
           (r->sinks.term || oxl_player_due_us(&r->player) != INT64_MAX)) {
        int64_t due_us = oxl_player_due_us(&r->player);
        int64_t until_us = r->wall_us + 100000;
        if (due_us != INT64_MAX && !r->paused) {
            int64_t at_us = r->wall_us + (int64_t)((double)(due_us - r->now_us) / r->rate) + 1;
            until_us = at_us < until_us ? at_us : until_us;
        }
        oxl_wait(-1, 0, r->sinks.term ? STDIN_FILENO : -1, until_us);
        if (oxl_was_stopped())
            oxl_term_again(r->sinks.term);
        st = advance(r, err);
        if (st == OXL_OK)
            st = read_keys(r, err);
    }
    return st;
}

static void say_comparison(const struct replay *r, const struct oxl_opts *o)
{
    const struct oxl_player *p = &r->player;
    char name[256];
    oxl_safe_copy(name, sizeof name, p->file);
    if (p->recording.torn)
        fprintf(stderr, "oxylag: %s: the last line is cut off and was left out\n", name);
    if (o->quiet || o->quiz || p->compared == 0 || r->leave)
        return;
    if (p->different)
        fprintf(stderr,
                "oxylag: %llu of %llu events differ from the live run (recorded by version %s)\n",
                (unsigned long long)p->different, (unsigned long long)p->compared,
                p->header.program);
    else if (!o->json)
        printf("Replay gives the same as the live run: %llu events identical.\n",
               (unsigned long long)p->compared);
}

/* ---- of an inspection: at once, as there is nothing to watch ---- */
static enum oxl_status show_inspection(struct replay *r, const struct oxl_opts *o,
                                       struct oxl_error *err)
{
    struct oxl_player *p = &r->player;
    struct oxl_opts shown = *o;
    if (o->quiz)
        return oxl_fail(err, OXL_ERR_USAGE, "%s is an inspection: there is no run to ask about",
                        p->file);
    p->header.mask_vin = shown.mask_vin = o->mask_vin || p->header.mask_vin;
    p->ctx = &shown;
    p->event = oxl_inspect_say;
    enum oxl_status st = oxl_player_run(p, err);
    if (st != OXL_OK)
        return st;
    st = oxl_inspect_over(p->core.inspect)
             ? oxl_inspect_tell(&shown, p->core.inspect, &p->header, p->now_us, p->end_why, err)
             : oxl_player_outcome(p, err);
    say_comparison(r, o);
    return st;
}

static enum oxl_status start_quiz(struct replay *r, const struct oxl_opts *o, struct oxl_error *err)
{
    if (!r->sinks.term && !o->answers)
        return oxl_fail(err, OXL_ERR_USAGE, "--quiz needs the dashboard, or --answers FILE");
    r->quizzing = r->sinks.masked = true;
    r->sinks.quiet = true; /* a bell would give it away */
    oxl_quiz_start(&r->quiz, r->sinks.record);
    if (!o->trainee)
        return OXL_OK;
    struct oxl_class c;
    enum oxl_status st = oxl_class_read(&c, err);
    r->again = st == OXL_OK && oxl_class_best(&c, o->trainee, r->player.recording.sha256);
    oxl_class_free(&c);
    return st;
}

/* What was answered to its end is kept for the class. */
static enum oxl_status end_quiz(const struct replay *r, const struct oxl_opts *o,
                                struct oxl_error *err)
{
    struct oxl_class_result result = {.score = 0};
    if (r->revealed)
        printf("The answer was shown: this try is not kept.\n");
    else
        oxl_replay_quiz_end(r, o->json);
    if (!o->trainee || r->revealed)
        return OXL_OK;
    if (r->quiz.shown.phase != OXL_QUIZ_SCORE) {
        fprintf(stderr, "oxylag: not answered to its end: this try is not kept\n");
        return OXL_OK;
    }
    oxl_class_take(&r->quiz, &result);
    oxl_wall_iso(result.when);
    snprintf(result.trainee, sizeof result.trainee, "%s", o->trainee);
    snprintf(result.lesson, sizeof result.lesson, "%.255s", oxl_base_name(o->files[0]));
    snprintf(result.sha256, sizeof result.sha256, "%s", r->player.recording.sha256);
    return oxl_class_add(&result, err);
}

enum oxl_status oxl_cmd_replay(const struct oxl_opts *o, struct oxl_error *err)
{
    struct replay r = {.rate = o->rate};
    enum oxl_status st = oxl_player_open(&r.player, o->files[0], &r, oxl_replay_event, err);
    if (st != OXL_OK)
        return st;
    if (r.player.header.inspection) {
        st = show_inspection(&r, o, err);
        oxl_player_close(&r.player);
        return st;
    }
    struct oxl_opts shown = *o;
    shown.mask_vin = o->mask_vin || r.player.header.mask_vin;
    shown.plain = o->plain || o->virtual_time || o->answers;
    st = oxl_sinks_open(&r.sinks, &shown, OXL_UI_REPLAY, o->files[0], &r.player.header, err);
    if (st == OXL_OK && o->quiz)
        st = start_quiz(&r, o, err);
    if (st == OXL_OK && r.sinks.term)
        oxl_model_page(r.sinks.model, o->quiz ? OXL_PAGE_QUIZ : OXL_PAGE_TEST);
    oxl_signals_catch();
    if (st == OXL_OK)
        st = oxl_replay_skip(&r, (int64_t)(o->from_s * 1e6), err);
    if (st == OXL_OK && o->answers)
        st = oxl_replay_answers(&r, o, err);
    else if (st == OXL_OK)
        st = o->virtual_time ? oxl_player_run(&r.player, err) : play(&r, err);
    const bool screen = r.sinks.term != NULL;
    oxl_sinks_close(&r.sinks);
    if (st == OXL_OK) {
        if (screen && !o->quiz && r.sinks.record->has_result)
            oxl_sinks_last_lines(&r.sinks, o->files[0]);
        say_comparison(&r, o);
        if (o->quiz)
            st = end_quiz(&r, o, err);
        if (!r.leave && !o->quiz)
            st = oxl_player_outcome(&r.player, err);
    }
    oxl_sinks_free(&r.sinks);
    oxl_player_close(&r.player);
    return st;
}
