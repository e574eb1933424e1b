/* Inside replay: the loop's state, shared with its seeking and its quiz. */
#ifndef OXL_APP_REPLAY_H
#define OXL_APP_REPLAY_H

#include "event_sinks.h"
#include "player.h"
#include "quiz.h"

struct replay {
    struct oxl_player player;
    struct oxl_sinks sinks;
    bool paused, leave;
    double rate;
    int64_t now_us;  /* on the recording's clock */
    int64_t wall_us; /* when now_us was last moved on */
    unsigned events; /* said so far, samples aside */
    bool quizzing;
    struct oxl_quiz quiz;
    bool again;    /* the trainee has answered this recording before */
    bool revealed; /* then the instructor may show the answer, and did */
};

/* replay_seek.c: everything up to a moment is computed, not shown. Backwards means again from the
 * start, since the core has no way back. */
enum oxl_status oxl_replay_skip(struct replay *r, int64_t to_us, struct oxl_error *err);
enum oxl_status oxl_replay_seek(struct replay *r, int64_t to_us, struct oxl_error *err);
/* The core's event: to the quiz, or to the show. */
void oxl_replay_event(void *ctx, const struct oxl_event *ev);

/* replay_quiz.c */
/* Plays by the keys of a file, without a screen. */
enum oxl_status oxl_replay_answers(struct replay *r, const struct oxl_opts *o,
                                   struct oxl_error *err);
void oxl_replay_quiz_key(struct replay *r, int key);
/* After every step and frame. */
void oxl_replay_quiz_tick(struct replay *r);
void oxl_replay_quiz_end(const struct replay *r, bool json);

#endif
