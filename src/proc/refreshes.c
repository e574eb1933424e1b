#include <stdlib.h>

#include "proc.h"

enum { ROOM = 2 * OXL_SERIES_KEEP }; /* no trace is longer */

bool oxl_refreshes_start(struct oxl_refreshes *r)
{
    r->front = r->rear = r->trim = oxl_refresh_unknown();
    bool room = true;
    for (size_t i = 0; i < OXL_TAKEN_SENSORS; i++) {
        r->taken[i] = calloc(ROOM, sizeof *r->taken[i]);
        room = room && r->taken[i];
    }
    return room;
}

void oxl_refreshes_end(struct oxl_refreshes *r)
{
    for (size_t i = 0; i < OXL_TAKEN_SENSORS; i++) {
        free(r->taken[i]);
        r->taken[i] = NULL;
    }
}

void oxl_refreshes_find(struct oxl_refreshes *r, const struct oxl_proc *p)
{
    if (p->imported) /* a table's values carry their age (oxl_imported.step_us) */
        return;
    r->front = oxl_find_refresh(oxl_proc_front(p));
    r->rear = oxl_find_refresh(oxl_proc_rear(p));
    r->trim = oxl_find_refresh(oxl_proc_trace(p, OXL_Q_STFT_PCT));
}

struct oxl_trace oxl_refreshes_taken(const struct oxl_refreshes *r, struct oxl_trace t,
                                     enum oxl_taken which)
{
    const struct oxl_refresh *of = which == OXL_TAKEN_FRONT ? &r->front : &r->rear;
    return (struct oxl_trace){r->taken[which], oxl_taken_moments(t, of, r->taken[which], ROOM)};
}
