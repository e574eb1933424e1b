/* The loop that joins a connection, the core, the recorder and the sinks. One poll(2), and nothing
 * in it waits for anything else: what may have to wait has a thread (docs/architecture.md).
 */
#ifndef OXL_APP_TEST_LOOP_H
#define OXL_APP_TEST_LOOP_H

#include <stdbool.h>
#include <stdint.h>

#include "connection.h"
#include "event_sinks.h"
#include "hand_valve.h"
#include "opts.h"
#include "oxylag/status.h"

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
