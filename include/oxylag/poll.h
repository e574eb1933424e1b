/* Poll: the conversation with the adapter. Wakes it, finds its speed and the protocol, verifies
 * by behaviour what it can do, surveys the vehicle once, then asks without a pause for what the
 * procedure needs now. Pure: time comes in, bytes go out through callbacks.
 */
#ifndef OXYLAG_POLL_H
#define OXYLAG_POLL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/channel.h"
#include "oxylag/onboard.h"
#include "oxylag/vehicle.h"
#include "oxylag/wire.h"

enum oxl_link_state {
    OXL_LINK_CLOSED = 0, /* no port */
    OXL_LINK_WAKING,     /* resetting, finding the adapter's speed */
    OXL_LINK_SEARCHING,  /* the adapter answers; looking for the vehicle */
    OXL_LINK_SURVEY,     /* the vehicle answers; asking once for what it is */
    OXL_LINK_READY,      /* live data */
    OXL_LINK_STALLED,    /* no reply for 1 s; being retried */
    OXL_LINK_LOST,       /* the port went away or the vehicle fell silent; being reopened */
    OXL_LINK_NO_ADAPTER, /* final: nothing that speaks the dialect answers at any speed */
    OXL_LINK_NO_VEHICLE  /* final: the adapter answers, no vehicle does */
};
const char *oxl_link_state_name(enum oxl_link_state s); /* static, lower case, one word or two */

/* What the procedure wants to see most. */
enum oxl_focus {
    OXL_FOCUS_ALL,   /* precheck, baseline, recovery: sensors, trims, air and the slow PIDs */
    OXL_FOCUS_TRIMS, /* enrichment: sensors and trims every round, air and rpm in turn */
    OXL_FOCUS_TIMING /* release and timing: front and rear every round, trims every few rounds,
                        air and rpm seldom */
};

/* Which rounds of live requests. A recording says which one its answers belong to. */
enum oxl_schedule {
    OXL_SCHEDULE_1 = 1, /* replay only: slow links asked for rpm and air every 1.4 s */
    OXL_SCHEDULE = 2    /* today's: every 0.7 s */
};

struct oxl_poll_config {
    unsigned bank;       /* 1 or 2: whose pair is watched */
    unsigned speed_baud; /* 0: find it (115200, 38400, 9600, 57600, 230400, 500000) */
    bool has_speed;      /* false for links without a line speed (TCP): never change it */
    bool no_identity;    /* do not ask for the VIN (service 09) at all */
    bool inspection;     /* ask for all that the ECUs keep, from every ECU (oxl_poll_onboard) */
    bool unproven;       /* replay only: recorded before requests were proven by echo, when all were
                            sent as they were; never on a line */
    enum oxl_schedule schedule; /* 0: today's */
    unsigned give_up_ms; /* how long to look for a vehicle after the adapter answered; 0: 20 s */
};

struct oxl_poll_out {
    void *ctx;
    /* Bytes to be written now. Valid only during the call. */
    void (*send)(void *ctx, const char *bytes, size_t n);
    /* The line speed must change before anything else is sent. */
    void (*set_speed)(void *ctx, unsigned baud);
    /* The port should be closed and opened again (adapter gone); the answer is oxl_poll_link. */
    void (*reopen)(void *ctx);
    void (*sample)(void *ctx, const struct oxl_sample *s);
    /* The link's state changed; text is one line for a person, "" when there is nothing to say. */
    void (*link)(void *ctx, enum oxl_link_state s, const char *text);
    /* Something new is known about the vehicle (read it with oxl_poll_vehicle). */
    void (*vehicle)(void *ctx);
};

struct oxl_poll_stats {
    uint64_t requests, replies, timeouts, negative, late; /* late: replies after their time-out */
    uint64_t unproven;        /* texts whose echo was another; they were not carried out */
    uint64_t other;           /* messages of ECUs that are not listened to */
    double front_hz, rear_hz; /* over the last 2 s; 0 when none */
    double round_ms;          /* front to next front, mean of the last 2 s; NAN when none */
};

struct oxl_poll; /* opaque; no allocation after _new */

struct oxl_poll *oxl_poll_new(const struct oxl_poll_config *config, const struct oxl_poll_out *out);
void oxl_poll_free(struct oxl_poll *p); /* NULL is accepted */

/* Inputs. t_us never runs backwards. An input that changes nothing calls nothing back. */
void oxl_poll_link(struct oxl_poll *p, bool up, int64_t t_us);
void oxl_poll_rx(struct oxl_poll *p, const void *bytes, size_t n, int64_t t_us);
void oxl_poll_tick(struct oxl_poll *p, int64_t t_us);
void oxl_poll_focus(struct oxl_poll *p, enum oxl_focus focus);

/* When the next tick is due; INT64_MAX when never. */
int64_t oxl_poll_due_us(const struct oxl_poll *p);

enum oxl_link_state oxl_poll_state(const struct oxl_poll *p);
const struct oxl_vehicle *oxl_poll_vehicle(const struct oxl_poll *p); /* owned by p */
/* What an inspection has found so far; owned by p. */
const struct oxl_onboard *oxl_poll_onboard(const struct oxl_poll *p);
struct oxl_pair oxl_poll_pair(const struct oxl_poll *p);
void oxl_poll_stats(const struct oxl_poll *p, int64_t now_us, struct oxl_poll_stats *out);
const struct oxl_wire_stats *oxl_poll_wire_stats(const struct oxl_poll *p); /* owned by p */

#endif
