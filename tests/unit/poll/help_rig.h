/* A poll and a scripted adapter tied together in virtual time. Keeps what the poll called back
 * as text and as samples, and its inputs, so that they can be fed once more. */
#ifndef HELP_RIG_H
#define HELP_RIG_H

#include "help_adapter.h"
#include "oxylag/poll.h"

enum { RIG_SAMPLES = 20000, RIG_INPUTS = 40000, RIG_STATES = 200 };

enum rig_kind { RIG_RX, RIG_TICK, RIG_LINK, RIG_FOCUS };

struct rig_input {
    enum rig_kind kind;
    int64_t t_us;
    char bytes[80];
    size_t n;
    int value;
};

struct rig {
    struct fake fake;
    struct oxl_poll *poll;
    int64_t now_us;
    /* Options. */
    bool split;           /* rx byte by byte */
    unsigned extra_ticks; /* random ticks between the due ones */
    bool no_reopen;       /* the port does not come back */
    uint32_t random;
    /* What came out. */
    char *out; /* one line for each callback */
    size_t out_n, out_max;
    unsigned callbacks;
    struct oxl_sample *samples;
    unsigned samples_n;
    enum oxl_link_state states[RIG_STATES];
    char texts[RIG_STATES][160];
    int64_t states_us[RIG_STATES];
    unsigned states_n, reopens, vehicles;
    /* What went in (only ticks that called back). */
    struct rig_input *inputs;
    unsigned inputs_n;
    bool unplugged, replaying;
    unsigned dishonest; /* sensor samples that were not taken between their two times */
};

struct rig *rig_new(void);
void rig_start(struct rig *r, const struct oxl_poll_config *config); /* NULL: bank 1, speeds */
void rig_run(struct rig *r, double seconds);
/* Runs until the state is reached; false when it is not within `seconds`. */
bool rig_until(struct rig *r, enum oxl_link_state state, double seconds);
/* Starts, waits for live data, and a second more; aborts when it does not come. */
void rig_ready(struct rig *r);
/* Half a second more: do samples come, and is the state READY? */
bool rig_flows(struct rig *r);
struct oxl_poll_stats rig_stats(const struct rig *r);
/* The longest time between asking and answer of the samples since `from`. */
int64_t rig_widest_us(const struct rig *r, unsigned from);
void rig_focus(struct rig *r, enum oxl_focus focus);
void rig_unplug(struct rig *r);
void rig_plug(struct rig *r);
void rig_free(struct rig *r);
/* Of cmocka, *state is the rig. The end fails when anything said was not so. */
int rig_setup(void **state);
int rig_teardown(void **state);
const char *rig_text(const struct rig *r); /* the last state's text */
/* Samples of a channel since `from`. */
unsigned rig_count(const struct rig *r, struct oxl_channel c, unsigned from);
/* Data requests that went out with their CR at once, by no proof, since `from` of what came out. */
unsigned rig_sent_whole(const struct rig *r, size_t from);
bool rig_saw_state(const struct rig *r, enum oxl_link_state s);
/* Feeds the kept inputs of `r` to a new poll; the rig returned holds what came out. */
struct rig *rig_replay(const struct rig *r, const struct oxl_poll_config *config);

#endif
