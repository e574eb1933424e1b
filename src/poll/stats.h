/* Counters, and when samples of the two sensors came. */
#ifndef OXYLAG_POLL_STATS_H
#define OXYLAG_POLL_STATS_H

#include "oxylag/poll.h"

enum { OXL_POLL_RING = 512 }; /* arrival times kept for the rates */

struct oxl_poll_ring {
    int64_t at_us[OXL_POLL_RING];
    unsigned head, n;
};

struct oxl_poll_counts {
    struct oxl_poll_stats sums; /* without the rates */
    struct oxl_poll_ring front, rear;
};

enum oxl_poll_counted {
    OXL_COUNT_REQUEST,
    OXL_COUNT_REPLY,
    OXL_COUNT_TIMEOUT,
    OXL_COUNT_NEGATIVE,
    OXL_COUNT_LATE,
    OXL_COUNT_UNPROVEN,
    OXL_COUNT_OTHER
};
void oxl_poll_count(struct oxl_poll *p, enum oxl_poll_counted what);
void oxl_poll_note_sample(struct oxl_poll *p, const struct oxl_sample *s);

#endif
