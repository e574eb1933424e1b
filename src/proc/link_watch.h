/* The link, as the procedure sees it. */
#ifndef OXL_PROC_LINK_WATCH_H
#define OXL_PROC_LINK_WATCH_H

#include "oxylag/event.h"

struct oxl_proc;

struct oxl_link_watch {
    enum oxl_link_state state;
    int64_t lost_us; /* 0: not lost */
};

/* When a lost link has been waited for long enough; INT64_MAX: not lost. */
int64_t oxl_link_watch_due(const struct oxl_proc *p);
void oxl_link_watch_time(struct oxl_proc *p);

#endif
