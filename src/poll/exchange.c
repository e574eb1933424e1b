/* One exchange with the adapter: sending, the prompt, and what to do when it does not come. What
 * does not stand by itself (compose.c) is sent in two pieces (prove.c).
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
    p->ex.spoilt_before = oxl_poll_spoilt_so_far(p);
    p->ex.broken_before = oxl_wire_stats(p->wire)->broken_messages;
    p->ex.echoes_before = oxl_wire_stats(p->wire)->echoes;
    p->ex.headless_before = oxl_wire_stats(p->wire)->headless;
}

static void begin_wait(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    forget_answers(ex);
    ex->phase = OXL_PHASE_WAIT;
    ex->deadline_us = t_us + OXL_POLL_MS(ex->timeout_ms);
    ex->sent_us = t_us;
    if (!ex->asked)
        ex->asked_us = t_us;
    ex->asked = true;
    p->stats.requests += ex->service != 0;
    p->prove_all -= ex->service != 0 && p->prove_all > 0;
    note_counters(p);
}

void oxl_poll_send_line(struct oxl_poll *p, int64_t t_us)
{
    begin_wait(p, t_us);
    p->stood += p->ex.service != 0;
    transmit(p, p->ex.text, t_us);
}

void oxl_poll_send_end(struct oxl_poll *p, int64_t t_us)
{
    begin_wait(p, t_us);
    transmit(p, "", t_us);
}

static void send_text(struct oxl_poll *p, int64_t t_us)
{
    forget_answers(&p->ex);
    p->ex.proofs = p->ex.spoils = p->ex.switches = 0;
    p->ex.late_before = p->stats.late; /* also while it waits for its echo */
    /* While its speed is looked for there is no echo to rely on (speed.c). */
    if (p->ex.proof || (p->unclear && p->stage != OXL_STAGE_PROBE))
        oxl_poll_prove(p, t_us);
    else
        oxl_poll_send_line(p, t_us);
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

/* It is over when the input at hand has been dealt with (oxl_poll_settle): no caller is surprised
 * by its end, and no tick is needed that would leave no trace. */
static void withhold(struct oxl_poll *p, int64_t t_us)
{
    forget_answers(&p->ex);
    note_counters(p);
    p->ex.phase = OXL_PHASE_WITHHELD;
    p->ex.sent_us = t_us;
    p->ex.deadline_us = OXL_POLL_NEVER;
}

static void compose_and_send(struct oxl_poll *p, unsigned digit, int64_t t_us)
{
    if (oxl_poll_compose(p, &p->ex, digit))
        send_text(p, t_us);
    else
        withhold(p, t_us);
}

void oxl_poll_request(struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n,
                      unsigned digit, unsigned timeout_ms, int64_t t_us)
{
    begin(p, timeout_ms, t_us);
    p->ex.service = service;
    p->ex.n = n;
    if (n)
        memcpy(p->ex.pids, pids, n);
    compose_and_send(p, digit, t_us);
}

/* The first sending still counts as the moment of asking: a ECU that said "pending" may have
 * taken its value since then. */
void oxl_poll_request_again(struct oxl_poll *p, int64_t t_us)
{
    p->ex.tries++;
    compose_and_send(p, 0, t_us);
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

static bool is_talking(const struct oxl_poll *p)
{
    return p->stage == OXL_STAGE_SURVEY || p->stage == OXL_STAGE_VERIFY ||
           p->stage == OXL_STAGE_LIVE;
}

/* Echo from an adapter that had been told to be without: it has lost its settings. */
static bool echoes_again(struct oxl_poll *p)
{
    return !oxl_poll_echo_expected(p) && is_talking(p) &&
           oxl_wire_stats(p->wire)->echoes != p->ex.echoes_before;
}

/* What came at a wrong speed or in another form, before or after a reset, says nothing of the
 * line. A request with a count
 * may be refused for its count. */
static void look_for_damage(struct oxl_poll *p)
{
    const struct oxl_exchange *ex = &p->ex;
    uint64_t spoilt = oxl_poll_spoilt_so_far(p);
    bool refused = ex->service && oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND) &&
                   (!ex->counted || p->vehicle.reply_count);
    bool settings_lost = ex->restarted || oxl_wire_stats(p->wire)->headless != ex->headless_before;
    if (refused || (spoilt != p->spoilt_base && is_talking(p) && !settings_lost))
        oxl_poll_note_damage(p);
    p->spoilt_base = spoilt;
}

static void finish(struct oxl_poll *p, int64_t t_us)
{
    oxl_poll_cancel(p);
    if (!p->ex.restarted && echoes_again(p))
        oxl_poll_restarted(p, t_us);
    look_for_damage(p);
    if (p->ex.restarted) {
        oxl_poll_wake_start(p, false, t_us);
        return;
    }
    const struct oxl_poll_stage_ops *ops = oxl_poll_stage_ops(p);
    if (ops->finished)
        ops->finished(p, t_us);
}

void oxl_poll_unsent(struct oxl_poll *p, bool silent, int64_t t_us)
{
    p->ex.timed_out = true;
    p->ex.silent = silent;
    finish(p, t_us);
}

/* Not sent, so not answered; but not in silence where the line has shown what it does. */
static void withheld(struct oxl_poll *p, int64_t t_us)
{
    if (p->damage_seen) {
        p->text[0] = '\0'; /* said again, should the port have been opened again */
        oxl_poll_end(p, OXL_LINK_NO_ADAPTER,
                     "The line damages characters, and this adapter cannot prove what it received: "
                     "repair cable and plug, or use another adapter.");
        return;
    }
    p->ex.words |= UINT32_C(1) << OXL_WORD_NO_DATA;
    p->ex.withheld = true;
    finish(p, t_us);
}

/* Ends: each step is asked once, and what is withheld from live data is not asked again. */
void oxl_poll_settle(struct oxl_poll *p, int64_t t_us)
{
    while (p->ex.phase == OXL_PHASE_WITHHELD)
        withheld(p, t_us);
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
    transmit(p, p->echo_on ? "ATE1" : "ATE0", t_us);
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
        p->ex.asked = false;
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
    case OXL_PHASE_WITHHELD:
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
    case OXL_PHASE_PROVE:
    case OXL_PHASE_SPOIL:
    case OXL_PHASE_CLEAN:
    case OXL_PHASE_ECHO_ON:
        oxl_poll_proof_late(p, t_us);
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
    case OXL_PHASE_PROVE:
    case OXL_PHASE_SPOIL:
    case OXL_PHASE_WITHHELD:
        return;
    case OXL_PHASE_CLEAN:
    case OXL_PHASE_ECHO_ON:
        oxl_poll_proof_prompt(p, t_us);
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
