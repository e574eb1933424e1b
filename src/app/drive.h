/* Drive: the loop that joins a link, the core, the recorder and the show. One thread, one
 * poll(2): at 30 samples a second there is nothing to do in parallel. */
#ifndef OXL_APP_DRIVE_H
#define OXL_APP_DRIVE_H

#include <stdbool.h>
#include <stdint.h>

#include "byhand.h"
#include "opts.h"
#include "oxylag/link.h"
#include "oxylag/session.h"
#include "oxylag/sim.h"
#include "oxylag/status.h"
#include "show.h"

struct oxl_drive {
    const struct oxl_opts *opts;
    struct oxl_show show;
    struct oxl_session *session;
    struct oxl_link *link; /* NULL while it is closed */
    struct oxl_sim *sim;   /* in-process simulator, or NULL */
    struct oxl_recorder *recorder;
    char port[128];
    unsigned speed_baud;
    bool virtual_time;
    double rate;
    struct oxl_byhand hand;
    int64_t start_us, now_us;
    int64_t reopen_us; /* when to try to open the port again; INT64_MAX never */
    unsigned reopen_tries;
    char unsent[512];
    size_t unsent_n;
    bool sound;
    int64_t round_us;        /* wall clock at the last round */
    const char *stopped_why; /* by a signal or for want of a listener; NULL: not so */
    int ask;                 /* a key that an option presses when the time has come; 0 none */
};

/* Runs the test from acknowledged cautions to its end. Everything is opened before; returns the
 * session's outcome. */
enum oxl_status oxl_drive_run(struct oxl_drive *d, struct oxl_error *err);

/* The simulator's link as the options want it; NULL: no memory. */
struct oxl_link *oxl_drive_sim_link(const struct oxl_drive *d);

/* The caution page; false when the technician leaves. */
bool oxl_drive_cautions(struct oxl_drive *d);
/* Keeps the result on the screen until a key says to leave. */
void oxl_drive_linger(struct oxl_drive *d);

#endif
