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

enum { NUDGE_MS = 700, NUDGES = 4 };

static void transmit(struct oxl_poll *p, const char *text, int64_t t_us)
{
    char line[sizeof p->ex.text];
    size_t n = strlen(text);
    memcpy(line, text, n + 1);
    line[n] = '\r';
    p->ex.sent_us = t_us;
    oxl_wire_expect_echo(p->wire, text);
    p->out.send(p->out.ctx, line, n + 1);
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

uint64_t oxl_poll_spoilt_so_far(const struct oxl_poll *p)
{
    const struct oxl_wire_stats *s = oxl_wire_stats(p->wire);
    return s->bad_lines + s->overlong_lines + s->cut_frames + s->bad_checksums;
}

bool oxl_poll_spoilt(const struct oxl_poll *p)
{
    return oxl_poll_spoilt_so_far(p) != p->ex.spoilt_before;
}

bool oxl_poll_cut_off(const struct oxl_poll *p)
{
    return oxl_wire_stats(p->wire)->broken_messages != p->ex.broken_before;
}

static void note_counters(struct oxl_poll *p)
{
    p->ex.late_before = p->stats.late;
    p->ex.spoilt_before = oxl_poll_spoilt_so_far(p);
    p->ex.broken_before = oxl_wire_stats(p->wire)->broken_messages;
    p->ex.echoes_before = oxl_wire_stats(p->wire)->echoes;
    p->ex.headless_before = oxl_wire_stats(p->wire)->headless;
}

static void send_text(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    forget_answers(ex);
    ex->phase = OXL_PHASE_WAIT;
    ex->deadline_us = t_us + OXL_POLL_MS(ex->timeout_ms);
    if (ex->service)
        p->stats.requests++;
    note_counters(p);
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

static char *put_hex(char *at, uint8_t byte)
{
    static const char digits[] = "0123456789ABCDEF";
    *at++ = digits[byte >> 4];
    *at++ = digits[byte & 0x0F];
    return at;
}

static void write_text(struct oxl_exchange *ex, unsigned digit)
{
    char *at = put_hex(ex->text, ex->service);
    for (unsigned i = 0; i < ex->n; i++)
        at = put_hex(at, ex->items[i]);
    if (digit)
        *at++ = (char)('0' + digit); /* 9 at most */
    *at = '\0';
    ex->counted = digit != 0;
}

/* A line may lose its first characters (an adapter that wakes up, a byte too early). What is left
 * must not read as the request to clear codes, which begins with the two digits looked for. */
static bool is_harmless(const char *text)
{
    for (const char *c = text + 1; c[0] && c[1]; c++)
        if (c[0] == '0' && c[1] == '4')
            return false;
    return true;
}

static void rotate(struct oxl_exchange *ex)
{
    uint8_t first = ex->items[0];
    memmove(ex->items, ex->items + 1, ex->n - 1);
    ex->items[ex->n - 1] = first;
}

/* Spaces are ignored (common practice, from memory); what is lost from the front is lost of them.
 */
static void guard(struct oxl_exchange *ex)
{
    enum { SPACES = 4 };
    memmove(ex->text + SPACES, ex->text, strlen(ex->text) + 1);
    memset(ex->text, ' ', SPACES);
}

/* Another order of the items, then no digit, then fewer items: one of them is harmless, for item
 * 04 itself is never asked (schedule.c). Other services have no order to choose; their item 04 is
 * asked behind spaces, and only where oxl_poll_may_ask() says so. */
static void compose(struct oxl_exchange *ex, unsigned digit)
{
    bool live = ex->service == 0x01;
    for (;;) {
        for (unsigned i = 0; i < ex->n || i == 0; i++) {
            write_text(ex, digit);
            if (is_harmless(ex->text))
                return;
            if (live && ex->n > 1)
                rotate(ex);
        }
        if (digit) {
            digit = 0;
        } else if (live && ex->n > 1) {
            ex->n--;
        } else {
            guard(ex);
            return;
        }
    }
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

/* Echo from an adapter that had been told to be without: it has lost its settings. */
static bool echoes_again(const struct oxl_poll *p)
{
    bool talking =
        p->stage == OXL_STAGE_SURVEY || p->stage == OXL_STAGE_VERIFY || p->stage == OXL_STAGE_LIVE;
    return talking && !p->echo_habit && oxl_wire_stats(p->wire)->echoes != p->ex.echoes_before;
}

static void finish(struct oxl_poll *p, int64_t t_us)
{
    oxl_poll_cancel(p);
    if (!p->ex.restarted && echoes_again(p))
        oxl_poll_restarted(p, t_us);
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
        /* A prompt without it belongs to something that was waiting before it. */
        if (!flushed(p)) {
            if (oxl_poll_said(p, OXL_WORD_STOPPED))
                flush(p, t_us); /* it was taken for an interruption */
            return;
        }
        ex->timed_out = true;
        finish(p, t_us);
        return;
    }
}
