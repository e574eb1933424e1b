/* The link, as the procedure sees it: a stall is said, a loss voids the run. */
#include "proc.h"

/* How long a lost link may stay lost before the test is given up. */
#define LINK_PATIENCE_US OXL_S_US(60.0)

/* A stall is only said; a lost link voids the run in progress, since what happened in the gap
 * cannot be known. */
static void link_lost(struct oxl_proc *p)
{
    p->link.lost_us = p->now_us;
    if (oxl_state_row(p->state)->in_run) {
        oxl_run_void(p, OXL_R_LINK_LOST);
        oxl_proc_enter(p, OXL_STATE_RECOVERY); /* says what the valve is to do */
    } else if (oxl_state_row(p->state)->lost) {
        oxl_state_row(p->state)->lost(p);
    }
    if (!oxl_proc_over(p)) /* it was the last thing that was wanted */
        oxl_proc_say(p, OXL_ADV_LINK_TROUBLE, "%s", "shut the gas until data come back");
}

/* What the hand has to do is said again. */
static void link_back(struct oxl_proc *p)
{
    p->link.lost_us = 0;
    oxl_proc_note(p, OXL_ADV_LINK_BACK);
    oxl_proc_unsay(p);
    void (*say)(struct oxl_proc *) = oxl_state_row(p->state)->say;
    (say ? say : oxl_gas_say_shut)(p);
}

void oxl_proc_link(struct oxl_proc *p, enum oxl_link_state link, const char *text, int64_t t_us)
{
    oxl_proc_set_now(p, t_us);
    enum oxl_link_state before = p->link.state;
    p->link.state = link;
    if (oxl_proc_over(p))
        return;
    if (link == OXL_LINK_NO_ADAPTER || link == OXL_LINK_NO_VEHICLE) {
        oxl_proc_stop(p, link == OXL_LINK_NO_ADAPTER ? OXL_ERR_NO_ADAPTER : OXL_ERR_NO_VEHICLE,
                      "%s", text);
        return;
    }
    if (!p->surveyed)
        return;
    if (link == OXL_LINK_LOST || link == OXL_LINK_CLOSED) {
        if (!p->link.lost_us)
            link_lost(p);
    } else if (link == OXL_LINK_STALLED) {
        oxl_proc_tell(p, OXL_ADV_LINK_TROUBLE);
    } else if (link == OXL_LINK_READY && (p->link.lost_us || before == OXL_LINK_STALLED)) {
        link_back(p);
    }
}

int64_t oxl_link_watch_due(const struct oxl_proc *p)
{
    return p->link.lost_us ? p->link.lost_us + LINK_PATIENCE_US : INT64_MAX;
}

void oxl_link_watch_time(struct oxl_proc *p)
{
    if (!oxl_deeper_give_up(p))
        oxl_proc_stop(
            p, OXL_ERR_LINK_LOST,
            "The link was lost and did not come back: check connector, adapter and ignition.");
}
