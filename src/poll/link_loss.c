/* Stalls, losses and the way back. */
#include "inside.h"

#include <stdio.h>

enum { STALL_MS = 1000, LOST_MS = 4000, FIRST_RETRY_MS = 500, RECENT_MS = 1500, BANNER_MS = 600 };

static unsigned back_off_ms(unsigned attempt)
{
    static const unsigned waits_ms[] = {500, 1000, 2000, 4000, 5000};
    const unsigned n = sizeof waits_ms / sizeof *waits_ms;
    return waits_ms[attempt < n ? attempt : n - 1];
}

static void no_deadlines(struct oxl_poll *p)
{
    p->stall_us = p->lost_us = p->give_up_us = p->retry_us = OXL_POLL_NEVER;
}

void oxl_poll_alive(struct oxl_poll *p, int64_t t_us)
{
    p->stall_us = t_us + OXL_POLL_MS(STALL_MS);
    p->lost_us = t_us + OXL_POLL_MS(LOST_MS);
    p->attempt = 0;
}

void oxl_poll_stalled(struct oxl_poll *p)
{
    p->stall_us = OXL_POLL_NEVER;
    oxl_poll_set_state(p, OXL_LINK_STALLED, "No reply for 1 s; asking again.");
}

void oxl_poll_lost(struct oxl_poll *p, const char *text, int64_t t_us)
{
    oxl_poll_cancel(p);
    no_deadlines(p);
    p->stage = OXL_STAGE_OFF;
    p->reviving = p->known;
    p->attempt = 0;
    p->search_at = 0;
    p->heard = t_us - p->last_rx_us < OXL_POLL_MS(RECENT_MS);
    p->retry_us = t_us + OXL_POLL_MS(FIRST_RETRY_MS);
    oxl_poll_set_state(p, OXL_LINK_LOST, text);
}

void oxl_poll_fell_silent(struct oxl_poll *p, int64_t t_us)
{
    bool adapter = t_us - p->last_rx_us < OXL_POLL_MS(RECENT_MS);
    oxl_poll_lost(p,
                  adapter ? "The vehicle fell silent, the adapter still answers: ignition on?"
                          : "The adapter fell silent: check its plug and the ignition.",
                  t_us);
}

/* Each attempt is told, even in the same words: a recording keeps the ticks that said something. */
static void say_attempt(struct oxl_poll *p, const char *text)
{
    char line[160];
    if (p->attempt)
        snprintf(line, sizeof line, "%s (attempt %u)", text, p->attempt);
    else
        snprintf(line, sizeof line, "%s", text);
    p->text[0] = '\0';
    oxl_poll_set_state(p, OXL_LINK_LOST, line);
}

void oxl_poll_revive_failed(struct oxl_poll *p, const char *text, int64_t t_us)
{
    bool silent = p->ex.timed_out;
    oxl_poll_cancel(p);
    no_deadlines(p);
    p->stage = OXL_STAGE_OFF;
    if (silent)
        p->awake = false;
    p->retry_us = t_us + OXL_POLL_MS(back_off_ms(p->attempt));
    say_attempt(p, text);
}

void oxl_poll_attempt(struct oxl_poll *p, int64_t t_us)
{
    bool answers = p->port_up && p->heard;
    p->attempt++;
    p->heard = false;
    p->retry_us = OXL_POLL_NEVER;
    if (!answers) {
        p->retry_us = t_us + OXL_POLL_MS(back_off_ms(p->attempt));
        say_attempt(p, "Opening the port again; is the adapter plugged in?");
        p->out.reopen(p->out.ctx);
    } else if (p->awake && p->known) {
        oxl_poll_search_start(p, t_us);
    } else {
        oxl_poll_probe_start(p, t_us);
    }
}

/* The adapter's own banner in the middle of things: it has lost all settings. Its prompt, or a
 * short while, and it is set up again without another reset. */
void oxl_poll_restarted(struct oxl_poll *p, int64_t t_us)
{
    if (p->stage != OXL_STAGE_LIVE && p->stage != OXL_STAGE_SURVEY && p->stage != OXL_STAGE_VERIFY)
        return;
    no_deadlines(p);
    p->reviving = p->known;
    p->ex.phase = OXL_PHASE_WAIT;
    p->ex.service = 0;
    p->ex.restarted = true;
    p->ex.needs_text = false;
    p->ex.sent_us = INT64_MIN;
    p->ex.deadline_us = t_us + OXL_POLL_MS(BANNER_MS);
    if (p->known)
        oxl_poll_set_state(p, OXL_LINK_STALLED, "The adapter restarted; setting it up again.");
}
