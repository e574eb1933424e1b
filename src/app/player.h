/* Player: feeds a recording's inputs to the same core as the live test, and compares what the
 * core says now with what it said then. */
#ifndef OXL_APP_PLAYER_H
#define OXL_APP_PLAYER_H

#include <stdbool.h>
#include <stdint.h>

#include "core.h"
#include "oxylag/link.h"
#include "oxylag/record.h"
#include "oxylag/status.h"
#include "progress.h"

struct oxl_player {
    struct oxl_recording recording;
    struct oxl_record_header header;
    struct oxl_core core;
    const char *file;
    void *ctx;
    void (*event)(void *ctx, const struct oxl_event *ev);
    /* reading */
    const char *at, *end;
    unsigned lineno;
    char *scratch, *bytes;
    bool have_next, at_end;
    struct oxl_line next;
    struct oxl_record_order order; /* of the lines that were read */
    int64_t now_us;
    char end_why[160]; /* what ended the live test from outside; "" nothing, or not yet read */
    /* comparing */
    const char *said_at;           /* where the next recorded event is looked for */
    const char *passed_at;         /* the last event that reading has passed */
    struct oxl_progress *progress; /* of oxl_player_run; NULL: none is shown */
    uint64_t compared, different;
    bool said_more; /* the core said more than is recorded (a torn file) */
};

/* Loads FILE and makes a core as it was set then. event gets everything, samples too. */
enum oxl_status oxl_player_open(struct oxl_player *p, const char *file, void *ctx,
                                void (*event)(void *ctx, const struct oxl_event *ev),
                                struct oxl_error *err) OXL_MUST_CHECK;
void oxl_player_close(struct oxl_player *p);

/* Back to the start, with a fresh core. */
enum oxl_status oxl_player_rewind(struct oxl_player *p, struct oxl_error *err) OXL_MUST_CHECK;

/* Time of the next input; INT64_MAX at the end. */
int64_t oxl_player_due_us(const struct oxl_player *p);
/* Feeds the next input. An unreadable line is an error that names the line. */
enum oxl_status oxl_player_step(struct oxl_player *p, struct oxl_error *err) OXL_MUST_CHECK;
enum oxl_status oxl_player_run(struct oxl_player *p, struct oxl_error *err) OXL_MUST_CHECK;
/* How the recorded test ended, as a status with its sentence. */
enum oxl_status oxl_player_outcome(const struct oxl_player *p, struct oxl_error *err);

#endif
