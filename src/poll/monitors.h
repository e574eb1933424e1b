/* Service 06: which monitor's results are being asked for. */
#ifndef OXYLAG_POLL_MONITORS_H
#define OXYLAG_POLL_MONITORS_H

#include "oxylag/poll.h"
#include "survey.h"

struct oxl_poll_monitors {
    struct oxl_support listed; /* numbers that service 06 answers to */
    unsigned at;
    bool masks_answered;
};

void oxl_poll_monitors_forget(struct oxl_poll *p);
/* A request that was repeated brings the same once more. False: no room. */
bool oxl_poll_list_result(struct oxl_monitor_result *list, size_t *n, size_t max,
                          const struct oxl_monitor_result *r);
/* For the vehicle and for an inspection. */
void oxl_poll_keep_result(struct oxl_poll *p, const struct oxl_monitor_result *r);
extern const struct oxl_poll_step oxl_poll_monitor_masks_step, oxl_poll_monitors_step;

#endif
