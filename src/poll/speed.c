/* Finding the line speed at which the adapter speaks. Each speed gets a CR, which ends whatever
 * the adapter was doing, and the question who it is; only a prompt behind printable text or a
 * word of the dialect counts. The first pass asks only where the CR brought something: within a
 * second and a half every speed has been tried. */
#include "poll_parts.h"

#include <stdio.h>
#include <string.h>

enum { STEP_ABORT, STEP_ASK, SPEEDS = 6 };

/* The extremes first: what comes at another speed can make an adapter deaf for a while. */
static const unsigned speeds[SPEEDS] = {115200, 500000, 38400, 9600, 57600, 230400};

/* Patience grows by pass: for slow wireless links, and for an adapter that is starting, was woken
 * by the first character, or is getting over characters at another speed. */
static const struct {
    unsigned wait_ms[2], asks; /* for the CR, for a question; so many questions */
} passes[] = {{{200, 500}, 1}, {{400, 600}, 2}, {{400, 1500}, 1}};
enum { PASSES = sizeof passes / sizeof *passes, ASKS_AFTER_PROMPT = 3 };

/* After a loss the speed that worked is tried, and now and then all of them: an adapter that
 * lost power may have gone back to another one. */
static bool one_speed_only(const struct oxl_poll *p)
{
    if (!p->config.has_speed || p->config.speed_baud)
        return true;
    return p->speed.baud && (p->search.hung || (p->link.reviving && p->link.attempt % 3 != 2));
}

static unsigned speed_count(const struct oxl_poll *p)
{
    return one_speed_only(p) ? 1 : SPEEDS;
}

static unsigned speed_of(const struct oxl_poll *p)
{
    if (!p->config.has_speed)
        return 0;
    if (p->config.speed_baud)
        return p->config.speed_baud;
    return one_speed_only(p) ? p->speed.baud : speeds[p->speed.at];
}

/* One that fell silent in its search may still be searching: with what was waited before, these
 * passes make more than half a minute. */
static unsigned pass_count(const struct oxl_poll *p)
{
    if (p->link.reviving)
        return 1;
    if (one_speed_only(p))
        return p->search.hung ? 18 : 5;
    return p->speed.bytes_seen ? 3 : 2;
}

static unsigned pass_kind(const struct oxl_poll *p)
{
    if (p->link.reviving)
        return 1;
    return p->speed.pass < PASSES ? p->speed.pass : PASSES - 1;
}

static unsigned wait_ms(const struct oxl_poll *p, unsigned step)
{
    return passes[pass_kind(p)].wait_ms[step];
}

/* A CR ends what may lie in the adapter; not on its own where that is unknown (echo_proof.c). */
static const char *abort_text(const struct oxl_poll *p)
{
    return p->echo.unclear ? oxl_poll_spoiler() : "";
}

/* A CR would make an adapter that hung in its search repeat it. */
static void try_speed(struct oxl_poll *p, int64_t t_us)
{
    oxl_poll_enter(p, OXL_STAGE_PROBE);
    p->speed.step = p->search.hung ? STEP_ASK : STEP_ABORT;
    p->speed.asks = p->search.hung;
    p->speed.bytes_here = false;
    if (p->config.has_speed)
        p->out.set_speed(p->out.ctx, speed_of(p));
    oxl_poll_ask(p, p->search.hung ? "ATI" : abort_text(p), wait_ms(p, p->speed.step), t_us);
}

void oxl_poll_speed_heard(struct oxl_poll *p)
{
    p->speed.bytes_seen = p->speed.bytes_here = true;
}

void oxl_poll_probe_start(struct oxl_poll *p, int64_t t_us)
{
    p->speed.at = p->speed.pass = 0;
    oxl_poll_wake_forget(p);
    p->speed.bytes_seen = false;
    if (!p->link.reviving)
        oxl_poll_set_state(p, OXL_LINK_WAKING,
                           p->search.hung
                               ? "The adapter does not answer: it may still be searching "
                                 "for the vehicle's protocol; some take 30 s."
                               : "Looking for the adapter.");
    try_speed(p, t_us);
}

void oxl_poll_adapter_hung(struct oxl_poll *p)
{
    oxl_poll_end(
        p, OXL_LINK_NO_ADAPTER,
        "The adapter hung while it searched for the vehicle: unplug it, plug it in again.");
}

static void no_adapter(struct oxl_poll *p)
{
    const char *came =
        p->speed.bytes_seen ? "Bytes came but none of an adapter" : "No adapter answered";
    char text[160];
    if (!p->config.has_speed)
        snprintf(text, sizeof text, "%s: is it powered, and is this the right address?", came);
    else if (p->config.speed_baud)
        snprintf(text, sizeof text, "%s at %u baud: is it powered? another port or speed?", came,
                 p->config.speed_baud);
    else
        snprintf(text, sizeof text,
                 "%s at any speed from 9600 to 500000 baud: is it powered? another port?", came);
    oxl_poll_end(p, OXL_LINK_NO_ADAPTER, text);
}

void oxl_poll_probe_next_speed(struct oxl_poll *p, int64_t t_us)
{
    if (++p->speed.at >= speed_count(p)) {
        p->speed.at = 0;
        p->speed.pass++;
    }
    if (p->speed.pass < pass_count(p))
        try_speed(p, t_us);
    else if (p->link.reviving)
        oxl_poll_revive_failed(p, "No adapter answers: is it plugged in and powered?", t_us);
    else if (p->search.hung)
        oxl_poll_adapter_hung(p);
    else
        no_adapter(p);
}

static bool speaks(const struct oxl_poll *p)
{
    enum { SHORTEST = 3 };
    const unsigned words = 1u << OXL_WORD_OK | 1u << OXL_WORD_UNKNOWN_COMMAND |
                           1u << OXL_WORD_STOPPED | 1u << OXL_WORD_UNABLE | 1u << OXL_WORD_NO_DATA;
    return !p->ex.timed_out && (strlen(p->answer.line) >= SHORTEST || (p->answer.words & words));
}

/* A prompt without text is that of the CR. */
static bool asks_again(const struct oxl_poll *p)
{
    if (p->speed.step == STEP_ABORT)
        return p->speed.bytes_here || pass_kind(p) > 0 || one_speed_only(p);
    return p->speed.asks < (p->ex.timed_out ? passes[pass_kind(p)].asks : ASKS_AFTER_PROMPT);
}

void oxl_poll_probe_finished(struct oxl_poll *p, int64_t t_us)
{
    bool found = p->speed.step == STEP_ASK && speaks(p);
    if (!found && asks_again(p)) {
        p->speed.step = STEP_ASK;
        p->speed.asks++;
        oxl_poll_ask(p, "ATI", wait_ms(p, STEP_ASK), t_us);
    } else if (found) {
        p->speed.baud = speed_of(p);
        oxl_poll_echo_clear(p);
        oxl_poll_wake_start(p, true, t_us);
    } else {
        oxl_poll_probe_next_speed(p, t_us);
    }
}
