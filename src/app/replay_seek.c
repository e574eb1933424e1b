#include <math.h>

#include "replay.h"

void oxl_replay_event(void *ctx, const struct oxl_event *ev)
{
    struct replay *r = ctx;
    if (ev->kind == OXL_EV_STATE || ev->kind == OXL_EV_RUN || ev->kind == OXL_EV_RESULT ||
        ev->kind == OXL_EV_MARK)
        r->events++;
    if (r->quizzing) {
        oxl_test_record_event(r->sinks.record, ev);
        oxl_quiz_event(&r->quiz, ev);
        oxl_sinks_sample(&r->sinks, ev);
        return;
    }
    oxl_sinks_event(&r->sinks, ev);
}

static void look(struct replay *r)
{
    const struct oxl_surroundings a = {.now_us = r->player.now_us, .valve = NAN};
    oxl_sinks_look(&r->sinks, r->player.core.session, &a);
}

enum oxl_status oxl_replay_skip(struct replay *r, int64_t to_us, struct oxl_error *err)
{
    const int64_t look_us = 200000;
    enum oxl_status st = OXL_OK;
    bool quiet = r->sinks.quiet;
    int64_t looked_us = 0;
    r->sinks.silent = !r->sinks.term;
    r->sinks.quiet = true; /* no bells for what is only passed over */
    while (st == OXL_OK && oxl_player_due_us(&r->player) < to_us) {
        st = oxl_player_step(&r->player, err);
        /* The screen must know which sensors it watches, else its traces stay empty. */
        if (r->player.now_us >= looked_us + look_us) {
            look(r);
            looked_us = r->player.now_us;
        }
    }
    look(r); /* what was passed over is not called */
    r->sinks.silent = false;
    r->sinks.quiet = quiet;
    r->now_us = to_us;
    return st;
}

enum oxl_status oxl_replay_seek(struct replay *r, int64_t to_us, struct oxl_error *err)
{
    to_us = to_us < 0 ? 0 : to_us;
    if (to_us < r->now_us) {
        enum oxl_status st = oxl_player_rewind(&r->player, err);
        if (st == OXL_OK && !oxl_sinks_restart(&r->sinks, &r->player.header))
            st = oxl_fail(err, OXL_ERR_NOMEM, "no memory to go back");
        if (st != OXL_OK)
            return st;
    } else if (oxl_player_due_us(&r->player) == INT64_MAX) {
        return OXL_OK; /* there is no more to come */
    }
    return oxl_replay_skip(r, to_us, err);
}
