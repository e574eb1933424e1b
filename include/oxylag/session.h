/* Session: the pure core in one piece. Inputs (bytes, ticks, keys, link changes) with their
 * times go in; bytes to send and events come out. A live link, a recording and the simulator
 * feed the same function, and the same inputs give bit-identical outputs.
 *
 * Rule that makes recordings replayable: an input that causes no output changes nothing that a
 * later output depends on. So a recording needs only those ticks that did something.
 */
#ifndef OXYLAG_SESSION_H
#define OXYLAG_SESSION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/event.h"
#include "oxylag/import.h"
#include "oxylag/poll.h"
#include "oxylag/profile.h"

enum oxl_key {
    OXL_KEY_NONE = 0,
    OXL_KEY_NOW = ' ', /* "now": cut, front-lean by eye, or pass a gate on purpose */
    OXL_KEY_RESTART = 'r',
    OXL_KEY_MARK = 'm',
    OXL_KEY_LEAK = 'l',   /* leak check at the next chance; again after that: repeat */
    OXL_KEY_DEEPER = 'd', /* a deeper run at the end; while one is on offer: not */
    OXL_KEY_NEW = 'n',    /* the converter is new (a second time: it is not) */
    OXL_KEY_ABORT = 'a',  /* during a run it is asked for once more */
    OXL_KEY_END = 'e'     /* no key: a signal, or nobody is there to read; ends the test at once */
};

/* The rules by which a test goes on and ends. */
enum oxl_procedure {
    OXL_PROCEDURE_1 = 1, /* replay only: all runs of the profile are made, waits are longer */
    OXL_PROCEDURE_2 = 2, /* replay only: a rear is watched briefly after its fall */
    OXL_PROCEDURE = 3 /* today's: two runs that agree end it, a snap is asked for behind the last */
};

enum oxl_input_kind {
    OXL_IN_RX,
    OXL_IN_TICK,
    OXL_IN_KEY,
    OXL_IN_LINK_UP,
    OXL_IN_LINK_DOWN,
    OXL_IN_NOTE,
    OXL_IN_SAMPLES, /* imported session: one row of the table */
    OXL_IN_END      /* imported session: the table ends here */
};
struct oxl_input {
    enum oxl_input_kind kind;
    int64_t t_us;      /* never runs backwards */
    const void *bytes; /* RX: the bytes; NOTE: the text; not kept */
    size_t n;
    enum oxl_key key;
    const double *values; /* SAMPLES: n values in the order of the channels; NAN = empty */
};

struct oxl_session_config {
    struct oxl_profile profile;
    bool profile_given;  /* false: choose by what the vehicle supports */
    unsigned bank;       /* 1 or 2 */
    unsigned runs;       /* so many; 0: until it is decided, the profile's at most */
    unsigned speed_baud; /* 0: find it */
    bool no_identity;    /* the VIN is neither asked for nor recorded */
    bool profile_fixed;  /* `profile` is what was chosen then (a recording): do not choose again */
    bool has_speed;      /* the link has a line speed at all */
    bool unproven;       /* replay only, see oxl_poll_config */
    enum oxl_schedule schedule;   /* likewise; 0: today's */
    enum oxl_procedure procedure; /* likewise */
    struct oxl_imported imported; /* .on: samples come from a table, there is no link */
    double live_s; /* an inspection's: how long to look around, before the rate; 0: 4 s */
};

struct oxl_session_out {
    void *ctx;
    void (*send)(void *ctx, const char *bytes, size_t n, int64_t t_us);
    void (*set_speed)(void *ctx, unsigned baud, int64_t t_us);
    void (*reopen)(void *ctx, int64_t t_us);
    void (*event)(void *ctx, const struct oxl_event *ev);
};

struct oxl_session; /* opaque */
struct oxl_session *oxl_session_new(const struct oxl_session_config *config,
                                    const struct oxl_session_out *out);
void oxl_session_free(struct oxl_session *s); /* NULL is accepted */

/* Feeds one input. Returns true when the input mattered: something was sent or said. Receipt of
 * bytes always matters. */
bool oxl_session_step(struct oxl_session *s, const struct oxl_input *in);

/* When the next tick is due; INT64_MAX when never. */
int64_t oxl_session_due_us(const struct oxl_session *s);

/* Done or stopped: nothing more will come. */
bool oxl_session_over(const struct oxl_session *s);
/* Why it stopped; OXL_OK after a result. */
enum oxl_status oxl_session_outcome(const struct oxl_session *s, const char **text);

/* What the screen shows between events: a pure look, changes nothing. NAN = unknown. */
struct oxl_live {
    /* The valve may be open: gas has been asked for, and neither trims nor front sensor have shown
     * since that none comes. True also at the end, when the test was left in the middle of a run.
     */
    bool gas_may_flow;
    enum oxl_state state;
    int run, runs, least_runs; /* least_runs: two that agree are enough; else as runs */
    double total_trim_pct, baseline_pct, shift_pct;
    double target_pct, accept_low_pct, accept_high_pct, back_off_pct, slow_pct;
    bool deeper; /* the present or next run is the deeper one; the depths are its own */
    double removed_mg, needed_mg; /* ... taken out so far, and to be taken out */
    double hold_left_s;           /* while holding in the accepted range */
    double heat_left_s;           /* until the longest enrichment is reached */
    double baseline_left_s;       /* until the window is full */
    double timing_s;              /* front-lean to rear-lean, or to now; NAN outside timing */
    double offer_left_s;          /* until what is offered lapses; NAN: nothing lapses */
    int leak_step;                /* of the leak check, 1 to 3; 0 outside */
    double leak_left_s;           /* of this step at least; NAN: it waits for gas to be gone */
    double front_hz, rear_hz;
    enum oxl_link_state link;
    bool front_rich, rear_rich, front_lean, rear_lean;
    struct oxl_pair pair;
    unsigned bank;
    const struct oxl_profile *profile; /* owned by the session */
};
void oxl_session_live(const struct oxl_session *s, int64_t now_us, struct oxl_live *out);

#endif
