/* Finding the line speed at which the adapter speaks. Each speed gets a CR, which ends whatever
 * the adapter was doing, and the question who it is; only a prompt behind printable text or a
 * word of the dialect counts. */
#include "inside.h"

#include <stdio.h>
#include <string.h>

enum { STEP_ABORT, STEP_ASK, SPEEDS = 6 };

static const unsigned speeds[SPEEDS] = {115200, 38400, 9600, 57600, 230400, 500000};

/* Waits in ms for the CR and the question, by pass: patience grows for slow wireless links. */
static const unsigned waits_ms[][2] = {{200, 500}, {400, 1200}, {400, 1500}};

/* After a loss the speed that worked is tried, and now and then all of them: an adapter that
 * lost power may have gone back to another one. */
static bool one_speed_only(const struct oxl_poll *p)
{
    if (!p->config.has_speed || p->config.speed_baud)
        return true;
    return p->baud && (p->hung || (p->reviving && p->attempt % 3 != 2));
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
    return one_speed_only(p) ? p->baud : speeds[p->speed_at];
}

static unsigned pass_count(const struct oxl_poll *p)
{
    if (p->reviving)
        return 1;
    return one_speed_only(p) ? 3 : 2;
}

static unsigned wait_ms(const struct oxl_poll *p, unsigned step)
{
    return waits_ms[p->reviving ? 1 : p->speed_pass][step];
}

/* A CR ends what may lie in the adapter; not on its own where that is unknown (prove.c). */
static const char *abort_text(const struct oxl_poll *p)
{
    return p->unclear ? oxl_poll_spoiler() : "";
}

/* A CR would make an adapter that hung in its search repeat it. */
static void try_speed(struct oxl_poll *p, int64_t t_us)
{
    p->stage = OXL_STAGE_PROBE;
    p->speed_step = p->hung ? STEP_ASK : STEP_ABORT;
    if (p->config.has_speed)
        p->out.set_speed(p->out.ctx, speed_of(p));
    oxl_poll_ask(p, p->hung ? "ATI" : abort_text(p), wait_ms(p, p->speed_step), t_us);
}

void oxl_poll_probe_start(struct oxl_poll *p, int64_t t_us)
{
    p->speed_at = p->speed_pass = 0;
    p->awake = false;
    p->bytes_seen = false;
    if (!p->reviving)
        oxl_poll_set_state(p, OXL_LINK_WAKING, "Looking for the adapter.");
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
    const char *came = p->bytes_seen ? "Bytes came but none of an adapter" : "No adapter answered";
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
    if (++p->speed_at >= speed_count(p)) {
        p->speed_at = 0;
        p->speed_pass++;
    }
    if (p->speed_pass < pass_count(p))
        try_speed(p, t_us);
    else if (p->reviving)
        oxl_poll_revive_failed(p, "No adapter answers: is it plugged in and powered?", t_us);
    else if (p->hung)
        oxl_poll_adapter_hung(p);
    else
        no_adapter(p);
}

static bool speaks(const struct oxl_poll *p)
{
    enum { SHORTEST = 3 };
    const unsigned words = 1u << OXL_WORD_OK | 1u << OXL_WORD_UNKNOWN_COMMAND |
                           1u << OXL_WORD_STOPPED | 1u << OXL_WORD_UNABLE | 1u << OXL_WORD_NO_DATA;
    return !p->ex.timed_out && (strlen(p->ex.line) >= SHORTEST || (p->ex.words & words));
}

void oxl_poll_probe_finished(struct oxl_poll *p, int64_t t_us)
{
    if (p->speed_step == STEP_ABORT) {
        p->speed_step = STEP_ASK;
        oxl_poll_ask(p, "ATI", wait_ms(p, STEP_ASK), t_us);
    } else if (speaks(p)) {
        p->baud = speed_of(p);
        p->unclear = false;
        oxl_poll_wake_start(p, true, t_us);
    } else {
        oxl_poll_probe_next_speed(p, t_us);
    }
}
