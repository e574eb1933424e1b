/* What session and inspection hear of the poll alike: they pass on what it sends, and say what it
 * says of the link. */
#ifndef OXYLAG_PROC_POLL_EARS_H
#define OXYLAG_PROC_POLL_EARS_H

#include "oxylag/session.h"

/* The first member of the struct that is the poll's ctx. */
struct oxl_ears {
    struct oxl_session_out out;
    int64_t now_us;
    bool acted; /* something was sent or said in this step */
};

void oxl_ears_say(struct oxl_ears *e, const struct oxl_event *ev);
void oxl_ears_say_link(struct oxl_ears *e, enum oxl_link_state state, const char *text);

/* The poll of a session or an inspection; further: the callbacks that are its own, and ctx. */
struct oxl_poll *oxl_ears_poll(const struct oxl_session_config *config, bool inspection,
                               const struct oxl_poll_out *further);

#endif
