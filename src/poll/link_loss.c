/* Stalls, losses and the way back. */
#include "poll_parts.h"

#include <stdio.h>

enum { STALL_MS = 1000, LOST_MS = 4000, FIRST_RETRY_MS = 500, RECENT_MS = 1500, BANNER_MS = 600 };

static int64_t back_off_us(unsigned attempt)
{
    enum { DOUBLINGS = 3, LONGEST_MS = 5000 };
    return OXL_POLL_MS(attempt > DOUBLINGS ? LONGEST_MS : FIRST_RETRY_MS << attempt);
}

void oxl_poll_no_deadlines(struct oxl_poll *p)
{
    p->link.stall_us = p->link.lost_us = p->link.give_up_us = p->link.retry_us = OXL_POLL_NEVER;
}

void oxl_poll_port(struct oxl_poll *p, bool up)
{
    p->link.port_up = up;
    if (!up)
        return;
    p->link.reviving = p->link.known;
    p->link.heard = false;
    oxl_poll_no_deadlines(p);
}

void oxl_poll_heard(struct oxl_poll *p, int64_t t_us)
{
    p->link.heard = true;
    p->link.last_rx_us = t_us;
}

void oxl_poll_patient(struct oxl_poll *p, int64_t until_us)
{
    if (p->link.lost_us != OXL_POLL_NEVER && p->link.lost_us < until_us)
        p->link.lost_us = until_us;
}

void oxl_poll_give_up_at(struct oxl_poll *p, int64_t at_us)
{
    p->link.give_up_us = at_us;
}

void oxl_poll_known(struct oxl_poll *p, bool known)
{
    p->link.known = known;
    p->link.reviving = p->link.reviving && known;
}

bool oxl_poll_revived(struct oxl_poll *p)
{
    bool again = p->link.reviving;
    p->link.reviving = false;
    return again;
}

void oxl_poll_alive(struct oxl_poll *p, int64_t t_us)
{
    p->link.alive_us = t_us;
    p->link.stall_us = t_us + OXL_POLL_MS(STALL_MS);
    p->link.lost_us = t_us + OXL_POLL_MS(LOST_MS);
    p->link.attempt = 0;
}

/* A search is waited for, but one that ended without a vehicle is no reason to wait for the next.
 */
bool oxl_poll_overdue(const struct oxl_poll *p, int64_t t_us)
{
    return t_us - p->link.alive_us >= OXL_POLL_MS(LOST_MS);
}

void oxl_poll_stalled(struct oxl_poll *p)
{
    p->link.stall_us = OXL_POLL_NEVER;
    oxl_poll_set_state(p, OXL_LINK_STALLED, "No reply for 1 s; asking again.");
}

void oxl_poll_lost(struct oxl_poll *p, const char *text, int64_t t_us)
{
    oxl_poll_cancel(p);
    oxl_poll_no_deadlines(p);
    oxl_poll_enter(p, OXL_STAGE_OFF);
    p->link.reviving = p->link.known;
    p->link.attempt = 0;
    oxl_poll_search_from_first(p);
    p->link.heard = t_us - p->link.last_rx_us < OXL_POLL_MS(RECENT_MS);
    p->link.retry_us = t_us + OXL_POLL_MS(FIRST_RETRY_MS);
    oxl_poll_set_state(p, OXL_LINK_LOST, text);
}

void oxl_poll_fell_silent(struct oxl_poll *p, int64_t t_us)
{
    bool adapter = t_us - p->link.last_rx_us < OXL_POLL_MS(RECENT_MS);
    oxl_poll_lost(p,
                  adapter ? "The vehicle fell silent, the adapter still answers: ignition on?"
                          : "The adapter fell silent: check its connector and the ignition.",
                  t_us);
}

/* Each attempt is said, even in the same words: a recording keeps the ticks that said something. */
static void say_attempt(struct oxl_poll *p, const char *text)
{
    char line[160];
    snprintf(line, sizeof line, "%s (attempt %u)", text, p->link.attempt);
    oxl_poll_say_again(p, OXL_LINK_LOST, p->link.attempt ? line : text);
}

/* Behind the end of an exchange; since the loss there has been no other deadline. */
void oxl_poll_revive_failed(struct oxl_poll *p, const char *text, int64_t t_us)
{
    bool silent = p->ex.timed_out;
    oxl_poll_enter(p, OXL_STAGE_OFF);
    if (silent)
        oxl_poll_wake_forget(p);
    p->link.retry_us = t_us + back_off_us(p->link.attempt);
    say_attempt(p, text);
}

void oxl_poll_attempt(struct oxl_poll *p, int64_t t_us)
{
    bool answers = p->link.port_up && p->link.heard;
    p->link.attempt++;
    p->link.heard = false;
    p->link.retry_us = OXL_POLL_NEVER;
    if (!answers) {
        p->link.retry_us = t_us + back_off_us(p->link.attempt);
        say_attempt(p, "Opening the port again; is the adapter plugged in?");
        p->out.reopen(p->out.ctx);
    } else if (p->wake.awake && p->link.known) {
        oxl_poll_search_start(p, t_us);
    } else {
        oxl_poll_probe_start(p, t_us);
    }
}

/* The adapter's own banner in the middle of things: it has lost all settings. Its prompt, or a
 * short while, and it is set up again without another reset. */
void oxl_poll_restarted(struct oxl_poll *p, int64_t t_us)
{
    if (!oxl_poll_is_talking(p))
        return;
    oxl_poll_no_deadlines(p);
    p->link.reviving = p->link.known;
    oxl_poll_await_banner(p, t_us + OXL_POLL_MS(BANNER_MS));
    if (p->link.known)
        oxl_poll_set_state(p, OXL_LINK_STALLED, "The adapter restarted; setting it up again.");
}
