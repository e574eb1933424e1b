/* The parts of the poller and what joins them. Each part's struct is written by one file, the one
 * named beside it here: others read, or call its functions (tests/support/house.sh
 * compiles every file with the others' parts const). One exchange with the adapter is under way at
 * any time; a stage says what is asked and what its end means.
 *
 *   PROBE -> WAKE -> SEARCH -> SURVEY -> LIVE
 *                       `----> VERIFY ---^     (after a loss, with a vehicle that is known)
 *
 * Time only ever acts through stored deadlines, those of the exchange and of the link, so a tick
 * that comes before all of them changes nothing (a recording keeps only ticks that did something).
 */
#ifndef OXYLAG_POLL_PARTS_H
#define OXYLAG_POLL_PARTS_H

#include "connect.h"
#include "exchange.h"
#include "live.h"
#include "oxylag/poll.h"
#include "sensors.h"
#include "survey.h"
#include "survey_steps.h"
#include "vehicle_facts.h"

#define OXL_POLL_NEVER  INT64_MAX
#define OXL_POLL_MS(ms) ((int64_t)(ms)*1000)

enum oxl_poll_stage {
    OXL_STAGE_OFF, /* no port, waiting for the next attempt, or at a final state */
    OXL_STAGE_PROBE,
    OXL_STAGE_WAKE,
    OXL_STAGE_SEARCH,
    OXL_STAGE_SURVEY,
    OXL_STAGE_VERIFY,
    OXL_STAGE_LIVE,
    OXL_STAGE_COUNT
};

struct oxl_poll {
    struct oxl_poll_config config; /* poll.c */
    struct oxl_poll_out out;       /* poll.c */
    struct oxl_wire *wire;         /* poll.c */
    enum oxl_link_state state;     /* poll.c */
    char text[160];                /* poll.c: the state's line for a person */
    enum oxl_focus focus;          /* poll.c */
    enum oxl_poll_stage stage;     /* poll.c */

    struct oxl_poll_request request;           /* request.c */
    struct oxl_poll_exchange ex;               /* exchange.c */
    struct oxl_poll_answer answer;             /* replies.c */
    struct oxl_poll_echo echo;                 /* echo_proof.c */
    struct oxl_poll_speed speed;               /* speed.c */
    struct oxl_poll_wake wake;                 /* wake.c */
    struct oxl_poll_search search;             /* search.c */
    struct oxl_poll_ecus ecus;                 /* ecus.c */
    struct oxl_poll_survey survey;             /* survey.c */
    struct oxl_poll_abilities abilities;       /* abilities.c */
    struct oxl_poll_timing timing;             /* adapter_timing.c */
    struct oxl_vehicle vehicle;                /* vehicle_facts.c */
    struct oxl_pair pair;                      /* vehicle_facts.c */
    struct oxl_poll_facts facts;               /* vehicle_facts.c */
    struct oxl_poll_sensors sensors;           /* sensors.c */
    struct oxl_poll_monitors monitors;         /* monitors.c */
    struct oxl_poll_sensor_tests sensor_tests; /* sensor_tests.c */
    struct oxl_poll_inspect inspect;           /* inspect.c */
    struct oxl_poll_schedule schedule;         /* schedule.c */
    struct oxl_poll_live live;                 /* live.c */
    struct oxl_poll_trouble trouble;           /* trouble.c */
    struct oxl_poll_link link;                 /* link_loss.c */
    struct oxl_poll_counts stats;              /* stats.c */
};

/* What a stage does. Any may be NULL. */
struct oxl_poll_stage_ops {
    /* A positive answer that matches the outstanding request. */
    void (*answer)(struct oxl_poll *p, const struct oxl_message *m);
    /* The prompt came, or the exchange was given up (ex.timed_out). */
    void (*finished)(struct oxl_poll *p, int64_t t_us);
    /* A pause is over. */
    void (*next)(struct oxl_poll *p, int64_t t_us);
    unsigned may_follow; /* stages, one bit each */
};

/* The one place that changes the stage: one that may not follow is a caller's bug. */
void oxl_poll_enter(struct oxl_poll *p, enum oxl_poll_stage next);
bool oxl_poll_stage_may_follow(enum oxl_poll_stage next, enum oxl_poll_stage now);
const struct oxl_poll_stage_ops *oxl_poll_stage_ops(const struct oxl_poll *p);
/* The vehicle has answered: survey, verify, live. */
bool oxl_poll_is_talking(const struct oxl_poll *p);
/* The one place that changes the state. */
void oxl_poll_set_state(struct oxl_poll *p, enum oxl_link_state s, const char *text);
void oxl_poll_say_again(struct oxl_poll *p, enum oxl_link_state s, const char *text);
void oxl_poll_end(struct oxl_poll *p, enum oxl_link_state s, const char *text);

#endif
