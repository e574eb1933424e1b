/* The port, the deadlines of the conversation, and the way back after a loss. */
#ifndef OXYLAG_POLL_LINK_LOSS_H
#define OXYLAG_POLL_LINK_LOSS_H

#include "oxylag/poll.h"

struct oxl_poll_link {
    bool port_up;
    bool known;    /* the survey was done once: losses lead to retries, never to an end */
    bool reviving; /* known, and being found again: the state stays as it is until READY */
    bool heard;    /* a byte came since the last attempt */
    int64_t last_rx_us, alive_us; /* the last byte, and the last answer to a live request */
    int64_t stall_us, lost_us, give_up_us, retry_us; /* deadlines */
    unsigned attempt;                                /* of back-off */
};

void oxl_poll_port(struct oxl_poll *p, bool up);
void oxl_poll_no_deadlines(struct oxl_poll *p);
void oxl_poll_heard(struct oxl_poll *p, int64_t t_us);
void oxl_poll_alive(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_overdue(const struct oxl_poll *p, int64_t t_us); /* no live data for 4 s */
void oxl_poll_patient(struct oxl_poll *p, int64_t until_us);   /* no loss is declared before */
void oxl_poll_give_up_at(struct oxl_poll *p, int64_t at_us);
void oxl_poll_known(struct oxl_poll *p, bool known); /* false: another vehicle answers */
bool oxl_poll_revived(struct oxl_poll *p);           /* true: after a loss */
void oxl_poll_stalled(struct oxl_poll *p);
void oxl_poll_fell_silent(struct oxl_poll *p, int64_t t_us);
void oxl_poll_lost(struct oxl_poll *p, const char *text, int64_t t_us);
void oxl_poll_revive_failed(struct oxl_poll *p, const char *text, int64_t t_us);
void oxl_poll_attempt(struct oxl_poll *p, int64_t t_us);
void oxl_poll_restarted(struct oxl_poll *p, int64_t t_us);

#endif
