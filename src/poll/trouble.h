/* What a bad line, a late vehicle or a forgetful adapter did to live data. */
#ifndef OXYLAG_POLL_TROUBLE_H
#define OXYLAG_POLL_TROUBLE_H

#include "oxylag/poll.h"

struct oxl_poll_trouble {
    unsigned damaged, tardy; /* leaky counts of spoilt and of late answers */
    unsigned bad_line;       /* requests until a line that damaged many answers is trusted again */
    unsigned shifted;        /* answers come for the request before: up 2, down 1 */
    bool owed;               /* an answer to an earlier request may still come: see live.c */
    unsigned headless;       /* in a row: unanswered, and a line without its header came */
};

void oxl_poll_trouble_live(struct oxl_poll *p); /* live data begin */
void oxl_poll_tell_of_trouble(struct oxl_poll *p);
bool oxl_poll_lost_its_settings(struct oxl_poll *p);
bool oxl_poll_out_of_step(struct oxl_poll *p);
void oxl_poll_note_owed(struct oxl_poll *p); /* may the finished request's answer still come? */
void oxl_poll_separated(struct oxl_poll *p); /* a separator is over */

#endif
