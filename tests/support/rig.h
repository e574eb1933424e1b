/* Rig: the core and the simulated vehicle in virtual time, without the program around them, for
 * long runs and for recordings made in memory. */
#ifndef RIG_H
#define RIG_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/record.h"
#include "oxylag/session.h"
#include "oxylag/sim.h"

struct rig {
    struct oxl_session *session;
    struct oxl_sim *sim;
    int64_t now_us;
    int64_t reopen_us; /* INT64_MAX: the port is open */
    unsigned baud;
    int64_t grid_us; /* received bytes are handed over on this grid, as by USB; 0: one by one */
    unsigned bank;   /* 0: 1 */
    bool deaf;       /* the technician does not hear the tool */
    void *ctx;
    void (*event)(void *ctx, const struct oxl_event *ev); /* may be NULL */
    void (*line)(void *ctx, const char *text, size_t n);  /* recording; may be NULL */
    struct oxl_record_header header;
    uint64_t samples, sends, ticks;
};

/* scenario: the name of a built-in one, or its text, which begins with a section. False: no memory,
 * no such scenario. */
bool rig_start(struct rig *r, const char *scenario, uint64_t seed, enum oxl_tech_mode mode);
/* Likewise with a scenario of the test's own, under that name. */
bool rig_start_with(struct rig *r, const struct oxl_scenario *s, const char *scenario,
                    uint64_t seed, enum oxl_tech_mode mode);
/* Runs to until_us, or until the session is over. */
void rig_run(struct rig *r, int64_t until_us);
void rig_key(struct rig *r, enum oxl_key key);
/* Pulls the plug; it is put in again after `for_us`. */
void rig_unplug(struct rig *r, int64_t for_us);
void rig_stop(struct rig *r);

#endif
