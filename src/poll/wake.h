/* The wake script: how far it is. */
#ifndef OXYLAG_POLL_WAKE_H
#define OXYLAG_POLL_WAKE_H

#include "exchange.h"
#include "oxylag/poll.h"

struct oxl_poll_wake {
    bool awake;             /* it has gone through since the port came up */
    uint64_t echoes_before; /* the wire's counter when echo had been asked for */
    unsigned row, tries, silent;
    char banner[OXL_POLL_LINE];
};

void oxl_poll_wake_forget(struct oxl_poll *p); /* the adapter may have lost its settings */
void oxl_poll_wake_start(struct oxl_poll *p, bool reset, int64_t t_us);
void oxl_poll_wake_finished(struct oxl_poll *p, int64_t t_us);

#endif
