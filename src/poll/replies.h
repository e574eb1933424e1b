/* What came since a request was sent, and what of it belongs to the request. */
#ifndef OXYLAG_POLL_REPLIES_H
#define OXYLAG_POLL_REPLIES_H

#include "oxylag/poll.h"

enum { OXL_POLL_LINE = 64 }; /* longest adapter line kept */

struct oxl_poll_answer {
    uint32_t words; /* bit set of enum oxl_word */
    char line[OXL_POLL_LINE];
    unsigned n;       /* answers */
    bool own;         /* one of them from the ECU that is listened to */
    int64_t at_us;    /* last byte of the last matching answer */
    uint32_t found;   /* of the PIDs, by place, one bit each: those in the latest answer */
    uint8_t negative; /* response code; 0: no negative response */
    bool pending;
    unsigned promised, settled; /* by ECU, one bit each, of all tries: answer pending; answered */
};

struct oxl_wire_out oxl_poll_ears(struct oxl_poll *p); /* the wire's callbacks */
void oxl_poll_answer_forget(struct oxl_poll *p);       /* another request */
void oxl_poll_answer_try(struct oxl_poll *p);          /* the same request once more */
void oxl_poll_answer_no_words(struct oxl_poll *p);
void oxl_poll_answer_withheld(struct oxl_poll *p); /* as if the vehicle had said nothing */
bool oxl_poll_said(const struct oxl_poll *p, enum oxl_word w);
/* The PID's data in an answer to a request for it alone; NULL when there are fewer bytes. */
const uint8_t *oxl_poll_pid_data(const struct oxl_poll *p, const struct oxl_message *m, size_t len);

#endif
