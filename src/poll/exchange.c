/* One exchange with the adapter: sending, the prompt, and what to do when it does not come. What
 * does not stand by itself (request.c) is sent in two pieces (echo_proof.c).
 *
 * Nothing is sent while the prompt is awaited, except after a time-out: then a bare CR. Common
 * practice, no source: to a busy adapter any byte is an interruption (it answers STOPPED and a
 * prompt); an idle one, whose prompt was lost, repeats its last request. Either way exactly one
 * prompt comes back, which a space or a command does not warrant. What the repetition brings is
 * late: so is everything until a harmless command behind it has had its OK.
 */
#include "poll_parts.h"

#include <stdio.h>
#include <string.h>

enum { NUDGE_MS = 700, NUDGES = 4 };

static void transmit(struct oxl_poll *p, const char *text, int64_t t_us)
{
    char line[sizeof p->request.text + 1];
    int n = snprintf(line, sizeof line, "%s\r", text);
    p->ex.sent_us = t_us;
    oxl_wire_expect_echo(p->wire, text);
    p->out.send(p->out.ctx, line, (size_t)n);
}

static void new_try(struct oxl_poll *p)
{
    struct oxl_poll_exchange *ex = &p->ex;
    oxl_poll_answer_try(p);
    ex->timed_out = ex->silent = ex->restarted = ex->bare_prompt = false;
}

static uint64_t spoilt_in(const struct oxl_wire_stats *s)
{
    return s->bad_lines + s->overlong_lines + s->cut_frames + s->bad_checksums;
}

uint64_t oxl_poll_spoilt_so_far(const struct oxl_poll *p)
{
    return spoilt_in(oxl_wire_stats(p->wire));
}

bool oxl_poll_spoilt(const struct oxl_poll *p)
{
    return oxl_poll_spoilt_so_far(p) != spoilt_in(&p->ex.before);
}

bool oxl_poll_cut_off(const struct oxl_poll *p)
{
    return oxl_wire_stats(p->wire)->broken_messages != p->ex.before.broken_messages;
}

bool oxl_poll_came_headless(const struct oxl_poll *p)
{
    return oxl_wire_stats(p->wire)->headless != p->ex.before.headless;
}

bool oxl_poll_came_echo(const struct oxl_poll *p)
{
    return oxl_wire_stats(p->wire)->echoes != p->ex.before.echoes;
}

static void begin_wait(struct oxl_poll *p, bool whole, int64_t t_us)
{
    struct oxl_poll_exchange *ex = &p->ex;
    new_try(p);
    oxl_poll_await(p, OXL_PHASE_WAIT, t_us + OXL_POLL_MS(ex->timeout_ms));
    ex->sent_us = t_us;
    if (!ex->asked)
        ex->asked_us = t_us;
    ex->asked = true;
    if (p->request.service)
        oxl_poll_count(p, OXL_COUNT_REQUEST);
    oxl_poll_echo_sent(p, whole);
    p->ex.before = *oxl_wire_stats(p->wire);
}

void oxl_poll_send(struct oxl_poll *p, bool whole, int64_t t_us)
{
    begin_wait(p, whole, t_us);
    transmit(p, whole ? p->request.text : "", t_us);
}

static void send_text(struct oxl_poll *p, int64_t t_us)
{
    new_try(p);
    oxl_poll_echo_request(p);
    p->ex.late_before = p->stats.sums.late; /* also while it waits for its echo */
    /* While its speed is looked for there is no echo to rely on (speed.c). */
    if (p->request.proof || (p->echo.unclear && p->stage != OXL_STAGE_PROBE))
        oxl_poll_prove(p, t_us);
    else
        oxl_poll_send(p, true, t_us);
}

static void begin(struct oxl_poll *p, unsigned timeout_ms, int64_t t_us)
{
    memset(&p->ex, 0, sizeof p->ex);
    oxl_poll_answer_forget(p);
    p->ex.timeout_ms = timeout_ms;
    p->ex.asked_us = t_us;
}

void oxl_poll_ask(struct oxl_poll *p, const char *command, unsigned timeout_ms, int64_t t_us)
{
    begin(p, timeout_ms, t_us);
    oxl_poll_request_command(p, command);
    send_text(p, t_us);
}

void oxl_poll_ask_text(struct oxl_poll *p, const char *command, unsigned timeout_ms, int64_t t_us)
{
    oxl_poll_ask(p, command, timeout_ms, t_us);
    p->ex.needs_text = true;
}

/* It is over when the input at hand has been dealt with (oxl_poll_settle): no caller is surprised
 * by its end, and no tick is needed that would leave no trace. */
static void withhold(struct oxl_poll *p, int64_t t_us)
{
    new_try(p);
    p->ex.before = *oxl_wire_stats(p->wire);
    oxl_poll_await(p, OXL_PHASE_WITHHELD, OXL_POLL_NEVER);
    p->ex.sent_us = t_us;
}

static void compose_and_send(struct oxl_poll *p, unsigned digit, int64_t t_us)
{
    if (oxl_poll_request_write(p, digit))
        send_text(p, t_us);
    else
        withhold(p, t_us);
}

void oxl_poll_request(struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n,
                      unsigned digit, unsigned timeout_ms, int64_t t_us)
{
    begin(p, timeout_ms, t_us);
    oxl_poll_request_pids(p, service, pids, n);
    compose_and_send(p, digit, t_us);
}

/* The first sending still counts as the moment of asking: an ECU that said "pending" may have
 * taken its value since then. */
void oxl_poll_request_again(struct oxl_poll *p, int64_t t_us)
{
    p->ex.tries++;
    compose_and_send(p, 0, t_us);
}

void oxl_poll_await(struct oxl_poll *p, enum oxl_poll_phase phase, int64_t until_us)
{
    p->ex.phase = phase;
    p->ex.deadline_us = until_us;
}

void oxl_poll_pause(struct oxl_poll *p, unsigned ms, bool resend, int64_t t_us)
{
    p->ex.resend = resend;
    oxl_poll_await(p, OXL_PHASE_PAUSE, t_us + OXL_POLL_MS(ms));
}

void oxl_poll_busy(struct oxl_poll *p, unsigned ms, int64_t t_us)
{
    p->ex.tries++;
    oxl_poll_pause(p, ms, true, t_us);
}

void oxl_poll_cancel(struct oxl_poll *p)
{
    oxl_poll_await(p, OXL_PHASE_IDLE, OXL_POLL_NEVER);
}

void oxl_poll_await_banner(struct oxl_poll *p, int64_t until_us)
{
    oxl_poll_request_command(p, "");
    oxl_poll_await(p, OXL_PHASE_WAIT, until_us);
    p->ex.restarted = true;
    p->ex.needs_text = false;
    p->ex.sent_us = INT64_MIN;
}

static void finish(struct oxl_poll *p, int64_t t_us)
{
    oxl_poll_cancel(p);
    /* Echo from an adapter that had been told to be without: it has lost its settings. */
    if (!p->ex.restarted && !oxl_poll_echo_expected(p) && oxl_poll_is_talking(p) &&
        oxl_poll_came_echo(p))
        oxl_poll_restarted(p, t_us);
    oxl_poll_look_for_damage(p);
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
    if (p->echo.damage_seen) {
        oxl_poll_end(p, OXL_LINK_NO_ADAPTER,
                     "The line damages characters, and this adapter cannot prove what it received: "
                     "repair cable and connector, or use another adapter.");
        return;
    }
    oxl_poll_answer_withheld(p);
    p->ex.withheld = true;
    finish(p, t_us);
}

/* Ends: each step is asked once, and what is withheld from live data is not asked again. */
void oxl_poll_settle(struct oxl_poll *p, int64_t t_us)
{
    while (p->ex.phase == OXL_PHASE_WITHHELD)
        withheld(p, t_us);
}

/* Asks once more for the prompt; after too many it counts as silent. */
static void ask_back(struct oxl_poll *p, enum oxl_poll_phase phase, const char *text, int64_t t_us)
{
    if (p->ex.tries++ >= NUDGES) {
        oxl_poll_unsent(p, true, t_us);
        return;
    }
    oxl_poll_await(p, phase, t_us + OXL_POLL_MS(NUDGE_MS));
    transmit(p, text, t_us);
}

static void nudge(struct oxl_poll *p, int64_t t_us)
{
    ask_back(p, OXL_PHASE_NUDGE, "", t_us);
}

static void flush(struct oxl_poll *p, int64_t t_us)
{
    if (p->ex.tries < NUDGES)
        oxl_poll_answer_no_words(p);
    ask_back(p, OXL_PHASE_FLUSH, p->echo.on ? "ATE1" : "ATE0", t_us);
}

static void time_out(struct oxl_poll *p, int64_t t_us)
{
    if (p->request.service && oxl_poll_search_waits(p, t_us))
        return;
    if (p->ex.restarted || !p->request.service) {
        oxl_poll_unsent(p, p->ex.silent, t_us);
        return;
    }
    oxl_poll_count(p, OXL_COUNT_TIMEOUT);
    p->ex.tries = 0;
    nudge(p, t_us);
}

/* Written anew: what the line has shown meanwhile may forbid the text. */
static void resend(struct oxl_poll *p, int64_t t_us)
{
    const struct oxl_poll_request *r = &p->request;
    p->ex.asked = false;
    if (r->service)
        compose_and_send(p, r->counted ? (unsigned)(r->text[strlen(r->text) - 1] - '0') : 0, t_us);
    else
        send_text(p, t_us);
}

static void pause_over(struct oxl_poll *p, int64_t t_us)
{
    if (p->ex.resend) {
        resend(p, t_us);
        return;
    }
    oxl_poll_cancel(p);
    const struct oxl_poll_stage_ops *ops = oxl_poll_stage_ops(p);
    if (ops->next)
        ops->next(p, t_us);
}

static void waited(struct oxl_poll *p, int64_t t_us)
{
    bool unknown = oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND);
    if (p->ex.needs_text && !p->answer.line[0] && !unknown)
        p->ex.bare_prompt = true;
    else
        finish(p, t_us);
}

static void nudged(struct oxl_poll *p, int64_t t_us)
{
    p->ex.tries = 0;
    flush(p, t_us);
}

/* A prompt without OK belongs to something that was waiting before it; behind STOPPED the command
 * was taken for an interruption. */
static void flush_prompt(struct oxl_poll *p, int64_t t_us)
{
    if (oxl_poll_said(p, OXL_WORD_OK) || oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND))
        oxl_poll_unsent(p, false, t_us);
    else if (oxl_poll_said(p, OXL_WORD_STOPPED))
        flush(p, t_us);
}

/* What each phase makes of its deadline and of a prompt. */
static const struct {
    void (*late)(struct oxl_poll *p, int64_t t_us);
    void (*prompt)(struct oxl_poll *p, int64_t t_us);
} phases[] = {
    [OXL_PHASE_WAIT] = {time_out, waited},
    [OXL_PHASE_PAUSE] = {pause_over, NULL},
    [OXL_PHASE_NUDGE] = {nudge, nudged},
    [OXL_PHASE_FLUSH] = {flush, flush_prompt},
    [OXL_PHASE_PROVE] = {oxl_poll_proof_late, NULL},
    [OXL_PHASE_SPOIL] = {oxl_poll_proof_late, NULL},
    [OXL_PHASE_CLEAN] = {oxl_poll_proof_late, oxl_poll_proof_prompt},
    [OXL_PHASE_ECHO_ON] = {oxl_poll_proof_late, oxl_poll_proof_prompt},
    [OXL_PHASE_WITHHELD] = {NULL, NULL}, /* as in IDLE */
};

void oxl_poll_ex_deadline(struct oxl_poll *p, int64_t t_us)
{
    if (phases[p->ex.phase].late)
        phases[p->ex.phase].late(p, t_us);
}

/* What arrives together with the prompt that let us send is no answer to what was sent. */
void oxl_poll_ex_prompt(struct oxl_poll *p, int64_t t_us)
{
    if (t_us > p->ex.sent_us && phases[p->ex.phase].prompt)
        phases[p->ex.phase].prompt(p, t_us);
}
