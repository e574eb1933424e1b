/* The loop that joins a connection, the core, the recorder and the sinks. One poll(2), and nothing
 * in it waits for anything else: what may have to wait has a thread (docs/architecture.md).
 */
#ifndef OXL_APP_TEST_LOOP_H
#define OXL_APP_TEST_LOOP_H

#include <stdbool.h>
#include <stdint.h>

#include "connection.h"
#include "event_sinks.h"
#include "opts.h"
#include "oxylag/event.h"
#include "oxylag/report.h"
#include "oxylag/status.h"

/* ---- hand_valve.c: the trainee's simulated gas valve, and how well each run was done */
struct oxl_hand_valve {
    double valve;     /* 0 shut .. 1 wide open; NAN: not by hand */
    int64_t call_us;  /* "cut now" of the run at hand; 0: not called yet */
    int64_t shut_us;  /* when the valve was shut for it; 0: not yet */
    bool was_open;    /* gas has flowed in this run */
    int64_t early_us; /* shut before the call; 0: it was not */
    /* Of each run of the record: NAN unknown; negative: before the call. */
    double shut_after_s[OXL_RECORD_MAX_RUNS];
    int runs_n, last_run;
};

void oxl_hand_valve_start(struct oxl_hand_valve *b, bool on);
/* Arrow keys and digits. True when the valve was moved. */
bool oxl_hand_valve_key(struct oxl_hand_valve *b, int key, int64_t now_us);
void oxl_hand_valve_event(struct oxl_hand_valve *b, const struct oxl_event *ev);
/* A line a run: how deep, how quick. The record has taken the same events. */
void oxl_hand_valve_text(const struct oxl_hand_valve *b, const struct oxl_test_record *record,
                         struct oxl_buf *out);

/* ---- the loop */
struct oxl_test_loop {
    const struct oxl_opts *opts;
    struct oxl_sinks sinks;
    struct oxl_connection connection;
    struct oxl_hand_valve hand;
    int64_t round_us;        /* wall clock at the last round */
    int64_t awake_us;        /* the clock that stands still in a sleep, then */
    const char *stopped_why; /* by a signal or for want of a reader; NULL: not so */
    bool asked_deeper;       /* the deeper run, by its option */
    int ask;                 /* a key that an option presses when the time has come; 0: no key */
};

/* Runs the test from acknowledged cautions to its end. Everything is opened before; returns the
 * session's outcome. */
enum oxl_status oxl_test_loop_run(struct oxl_test_loop *d, struct oxl_error *err);

/* The caution page; false when the technician leaves. */
bool oxl_test_loop_cautions(struct oxl_test_loop *d);
/* Keeps the result on the screen until a key says to leave. */
void oxl_test_loop_linger(struct oxl_test_loop *d);

#endif
