/* One exchange with the adapter: sending, the prompt, and what to do when it does not come.
 *
 * Nothing is sent while the prompt is awaited, except after a time-out: then a bare CR. Common
 * practice, no source: to a busy adapter any byte is an interruption (it answers STOPPED and a
 * prompt); an idle one, whose prompt was lost, repeats its last request. Either way exactly one
 * prompt comes back, which a space or a command does not warrant. What the repetition brings is
 * late: so is everything until a harmless command behind it has had its OK.
 */
#include "inside.h"

#include <stdio.h>
#include <string.h>

enum { NUDGE_MS = 700, NUDGES = 3 };

static void transmit(struct oxl_poll *p, const char *text, int64_t t_us)
{
    char line[sizeof p->ex.text + 1];
    int n = snprintf(line, sizeof line, "%s\r", text);
    p->ex.sent_us = t_us;
    oxl_wire_expect_echo(p->wire, text);
    p->out.send(p->out.ctx, line, (size_t)n);
}

static void forget_answers(struct oxl_exchange *ex)
{
    ex->words = 0;
    ex->line[0] = '\0';
    ex->answers = 0;
    ex->own_answer = false;
    ex->negative = 0;
    ex->pending = ex->timed_out = ex->silent = ex->restarted = ex->bare_prompt = false;
}

static void send_text(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    forget_answers(ex);
    ex->phase = OXL_PHASE_WAIT;
    ex->deadline_us = t_us + OXL_POLL_MS(ex->timeout_ms);
    if (ex->service)
        p->stats.requests++;
    transmit(p, ex->text, t_us);
}

static void begin(struct oxl_poll *p, unsigned timeout_ms, int64_t t_us)
{
    memset(&p->ex, 0, sizeof p->ex);
    p->ex.timeout_ms = timeout_ms;
    p->ex.asked_us = t_us;
}

void oxl_poll_ask(struct oxl_poll *p, const char *command, unsigned timeout_ms, int64_t t_us)
{
    begin(p, timeout_ms, t_us);
    snprintf(p->ex.text, sizeof p->ex.text, "%s", command);
    send_text(p, t_us);
}

static void compose(struct oxl_exchange *ex, unsigned digit)
{
    int at = snprintf(ex->text, sizeof ex->text, "%02X", ex->service);
    for (unsigned i = 0; i < ex->n; i++)
        at += snprintf(ex->text + at, sizeof ex->text - (size_t)at, "%02X", ex->items[i]);
    if (digit)
        snprintf(ex->text + at, sizeof ex->text - (size_t)at, "%u", digit);
    ex->counted = digit != 0;
}

void oxl_poll_request(struct oxl_poll *p, uint8_t service, const uint8_t *items, unsigned n,
                      unsigned digit, unsigned timeout_ms, int64_t t_us)
{
    begin(p, timeout_ms, t_us);
    p->ex.service = service;
    p->ex.n = n;
    if (n)
        memcpy(p->ex.items, items, n);
    compose(&p->ex, digit);
    send_text(p, t_us);
}

/* The first sending still counts as the moment of asking: a unit that said "pending" may have
 * taken its value since then. */
void oxl_poll_request_again(struct oxl_poll *p, int64_t t_us)
{
    p->ex.tries++;
    compose(&p->ex, 0);
    send_text(p, t_us);
}

void oxl_poll_pause(struct oxl_poll *p, unsigned ms, bool resend, int64_t t_us)
{
    p->ex.phase = OXL_PHASE_PAUSE;
    p->ex.resend = resend;
    p->ex.deadline_us = t_us + OXL_POLL_MS(ms);
}

void oxl_poll_cancel(struct oxl_poll *p)
{
    p->ex.phase = OXL_PHASE_IDLE;
    p->ex.deadline_us = OXL_POLL_NEVER;
}

bool oxl_poll_said(const struct oxl_poll *p, enum oxl_word w)
{
    return (p->ex.words >> w) & 1;
}

static void finish(struct oxl_poll *p, int64_t t_us)
{
    oxl_poll_cancel(p);
    if (p->ex.restarted) {
        oxl_poll_wake_start(p, false, t_us);
        return;
    }
    const struct oxl_poll_stage_ops *ops = oxl_poll_stage_ops(p);
    if (ops->finished)
        ops->finished(p, t_us);
}

static void give_up(struct oxl_poll *p, int64_t t_us)
{
    p->ex.timed_out = p->ex.silent = true;
    finish(p, t_us);
}

static void nudge(struct oxl_poll *p, int64_t t_us)
{
    if (p->ex.tries++ >= NUDGES) {
        give_up(p, t_us);
        return;
    }
    p->ex.phase = OXL_PHASE_NUDGE;
    p->ex.deadline_us = t_us + OXL_POLL_MS(NUDGE_MS);
    transmit(p, "", t_us);
}

static void flush(struct oxl_poll *p, int64_t t_us)
{
    if (p->ex.tries++ >= NUDGES) {
        give_up(p, t_us);
        return;
    }
    p->ex.phase = OXL_PHASE_FLUSH;
    p->ex.deadline_us = t_us + OXL_POLL_MS(NUDGE_MS);
    p->ex.words = 0;
    transmit(p, "ATE0", t_us);
}

static void time_out(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    if (ex->restarted || !ex->service) {
        ex->timed_out = true;
        finish(p, t_us);
        return;
    }
    p->stats.timeouts++;
    ex->tries = 0;
    nudge(p, t_us);
}

static void pause_over(struct oxl_poll *p, int64_t t_us)
{
    if (p->ex.resend) {
        p->ex.asked_us = t_us;
        send_text(p, t_us);
        return;
    }
    oxl_poll_cancel(p);
    const struct oxl_poll_stage_ops *ops = oxl_poll_stage_ops(p);
    if (ops->next)
        ops->next(p, t_us);
}

void oxl_poll_ex_deadline(struct oxl_poll *p, int64_t t_us)
{
    switch (p->ex.phase) {
    case OXL_PHASE_IDLE:
        return;
    case OXL_PHASE_WAIT:
        time_out(p, t_us);
        return;
    case OXL_PHASE_PAUSE:
        pause_over(p, t_us);
        return;
    case OXL_PHASE_NUDGE:
        nudge(p, t_us);
        return;
    case OXL_PHASE_FLUSH:
        flush(p, t_us);
        return;
    }
}

static bool flushed(const struct oxl_poll *p)
{
    return oxl_poll_said(p, OXL_WORD_OK) || oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND);
}

void oxl_poll_ex_prompt(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    /* What arrives together with the prompt that let us send is no answer to what was sent. */
    if (t_us <= ex->sent_us)
        return;
    switch (ex->phase) {
    case OXL_PHASE_IDLE:
    case OXL_PHASE_PAUSE:
        return;
    case OXL_PHASE_WAIT:
        if (ex->needs_text && !ex->line[0] && !oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND)) {
            ex->bare_prompt = true;
            return;
        }
        finish(p, t_us);
        return;
    case OXL_PHASE_NUDGE:
        ex->tries = 0;
        flush(p, t_us);
        return;
    case OXL_PHASE_FLUSH:
        if (!flushed(p)) {
            flush(p, t_us);
            return;
        }
        ex->timed_out = true;
        finish(p, t_us);
        return;
    }
}
