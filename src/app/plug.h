/* Plug: where a core meets its link. What it wants sent goes out, what comes in goes to it, a link
 * that is gone is opened again, and the wait in between is on the clock that the link runs by. */
#ifndef OXL_APP_PLUG_H
#define OXL_APP_PLUG_H

#include <stdbool.h>
#include <stdint.h>

#include "opts.h"
#include "oxylag/link.h"
#include "oxylag/session.h"
#include "oxylag/sim.h"
#include "oxylag/status.h"

struct oxl_plug {
    struct oxl_link *link;       /* NULL while it is closed */
    struct oxl_opening *opening; /* a try to open it again is under way; NULL none */
    struct oxl_sim *sim;         /* in-process simulator, or NULL */
    char port[128], known[128];  /* known: the address that it had, as another name of it */
    unsigned speed_baud, packet_ms;
    /* the core */
    void *ctx;
    bool (*hear)(void *ctx, const struct oxl_input *in); /* false: it is over */
    bool over;
    /* time */
    bool virtual_time;
    double rate;
    int64_t start_us, now_us;
    /* opening again */
    const int64_t *again_us; /* waits between attempts; the last one stays */
    size_t again_n, tries;
    int64_t reopen_us; /* when to try; INT64_MAX never */
    char unsent[512];
    size_t unsent_n;
    /* How many bytes more have come than any adapter has to say, and up to when that is counted. */
    double excess;
    int64_t counted_us;
};

void oxl_plug_start(struct oxl_plug *p, const struct oxl_opts *o); /* nothing is open yet */
/* Opens plug->port: a link, or a simulator with a technician of that kind and the link to it. */
enum oxl_status oxl_plug_open(struct oxl_plug *p, const struct oxl_opts *o, enum oxl_tech_mode tech,
                              struct oxl_error *err) OXL_MUST_CHECK;
void oxl_plug_close(struct oxl_plug *p); /* link and simulator */
/* The clock starts, and the core hears that the link is there. */
void oxl_plug_begin(struct oxl_plug *p);

/* An input for the core, now. */
void oxl_plug_feed(struct oxl_plug *p, struct oxl_input in);

/* What the core wants. */
void oxl_plug_send(struct oxl_plug *p, const char *bytes, size_t n);
void oxl_plug_speed(struct oxl_plug *p, unsigned baud);
void oxl_plug_reopen(struct oxl_plug *p, int64_t t_us);

/* A round of the loop. Virtual time jumps to what is due next, real time waits for it; core_us:
 * when the core wants a tick, keys_fd: -1 none. */
void oxl_plug_wait(struct oxl_plug *p, int64_t core_us, int keys_fd);
void oxl_plug_flush(struct oxl_plug *p);
/* A bounded portion: what else there is comes in the next round. An adapter that sends without end
 * is named in a note and its port closed; it is opened again after a while, and closed sooner then.
 */
void oxl_plug_read(struct oxl_plug *p);
void oxl_plug_mind(struct oxl_plug *p); /* opens again what is to be opened again */

#endif
