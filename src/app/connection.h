/* Where a core meets its link and its recording. What it wants sent goes out, what comes in goes to
 * it, a link that is gone is opened again, and the wait in between is on the clock that the link
 * runs by. */
#ifndef OXL_APP_CONNECTION_H
#define OXL_APP_CONNECTION_H

#include <stdbool.h>
#include <stdint.h>

#include "core.h"
#include "opts.h"
#include "oxylag/link.h"
#include "oxylag/session.h"
#include "oxylag/sim.h"
#include "oxylag/status.h"

struct oxl_connection {
    struct oxl_link *link;       /* NULL while it is closed */
    struct oxl_opening *opening; /* a try to open it again is under way; NULL: no such try */
    struct oxl_sim *sim;         /* in-process simulator, or NULL */
    char port[128], known[128];  /* known: the address that it had, as another name of it */
    unsigned speed_baud, packet_ms;
    struct oxl_core core;
    struct oxl_recorder *recorder; /* NULL: nothing is recorded */
    void *ctx;                     /* of `event` */
    void (*event)(void *ctx, const struct oxl_event *ev);
    bool mask_vin; /* in the recording */
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
    /* What had not left yet, and since when that has become no less; held: for too long. */
    size_t waiting_n;
    int64_t waiting_us;
    bool held;
    /* How many bytes more have come than any adapter has to say, and up to when that is counted. */
    double excess;
    int64_t counted_us;
};

void oxl_connection_start(struct oxl_connection *p,
                          const struct oxl_opts *o); /* nothing is open yet */
/* Opens p->port: a link, or a simulator with a technician of that kind and the link to it. */
enum oxl_status oxl_connection_open(struct oxl_connection *p, const struct oxl_opts *o,
                                    enum oxl_tech_mode tech, struct oxl_error *err) OXL_MUST_CHECK;
void oxl_connection_close(struct oxl_connection *p); /* link, simulator and core */
/* The core as the recording says. Its events are recorded, then go to p->event. */
enum oxl_status oxl_connection_core(struct oxl_connection *p, const struct oxl_record_header *h,
                                    struct oxl_error *err);
/* The clock starts, and the core learns that the link is there. */
void oxl_connection_begin(struct oxl_connection *p);

/* An input for the core, now; a note. */
void oxl_connection_feed(struct oxl_connection *p, struct oxl_input in);
void oxl_connection_note(struct oxl_connection *p, const char *text);

/* A round of the loop. Virtual time jumps to what is due next, real time waits for it; keys_fd:
 * -1 none. */
void oxl_connection_wait(struct oxl_connection *p, int keys_fd);
/* What is known here of why nobody answered takes the place of what the core could say. */
void oxl_connection_explain(const struct oxl_connection *p, struct oxl_error *err);
/* What is unsent goes out, and a bounded portion comes in: what else there is comes in the next
 * round. An adapter that sends without end is named in a note and its port closed; it is opened
 * again after a while, and closed sooner then. */
void oxl_connection_read(struct oxl_connection *p);
/* The round's end: a tick, what is to be opened again, the recording's file. */
void oxl_connection_pass(struct oxl_connection *p);

#endif
