/* The request that is outstanding, as it is written. */
#ifndef OXYLAG_POLL_REQUEST_H
#define OXYLAG_POLL_REQUEST_H

#include "oxylag/poll.h"

enum { OXL_POLL_PIDS = 6 }; /* most PIDs in one request, ISO 15031-5 on CAN */

struct oxl_poll_request {
    uint8_t service; /* 0: a command to the adapter itself */
    uint8_t pids[OXL_POLL_PIDS];
    unsigned n;
    char text[24]; /* without CR */
    bool counted;  /* text ends with the expected-reply-count digit */
    bool proof;    /* it does not stand on its own: its echo has to prove it */
};

void oxl_poll_request_command(struct oxl_poll *p, const char *command);
void oxl_poll_request_pids(struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n);
/* digit: the expected-reply-count digit; 0: none is sent. False: it may not be sent at all. */
bool oxl_poll_request_write(struct oxl_poll *p, unsigned digit);

/* Writes the text in an order that stands, or says in r->proof that echo has to prove it. False:
 * it may not be sent at all. */
bool oxl_poll_compose(const struct oxl_poll *p, struct oxl_poll_request *r, unsigned digit);
/* A request for these PIDs of service 01 stands in some order, without proof. */
bool oxl_poll_stands(const struct oxl_poll *p, const uint8_t *pids, unsigned n, unsigned digit);
/* False: this adapter cannot prove it, and it does not stand without. */
bool oxl_poll_may_send(const struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n);

#endif
