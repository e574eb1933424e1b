/* Proof by echo. A request that damage on its way could turn into one that changes something is
 * sent without its CR; the adapter's echo says what arrived, and only a true one is ended by CR.
 *
 *   PROVE --echo is the text--> CR, WAIT
 *     `---it is not, or none--> SPOIL --a spoiler has come back--> CR, CLEAN --?--> PROVE
 *
 * What an adapter holds of a text that was not proven is unknown, and CR would carry it out. It is
 * made invalid first, by characters that no single wrong bit turns into a digit, a control or CR.
 */
#include "inside.h"

#include <stdio.h>
#include <string.h>

#define SPOILER "zzzz"

enum {
    PROOFS = 12,     /* of one request, before it counts as not answered */
    SPOILS = 6,      /* in a row, before the adapter counts as silent */
    BLIND_AFTER = 3, /* spoilers without any echo */
    FIRST_ECHO_MS = 1500,
    ECHO_MS = 150, /* beyond three times the latest */
    REST_MS = 120, /* the echo has begun: a gap in it is a lost character */
    CLEAN_MS = 700,
    SWITCH_MS = 800,
    SWITCHES = 3,
    STANDING = 8 /* requests in a row without proof, before echo is switched off */
};

void oxl_poll_echo_forget(struct oxl_poll *p)
{
    p->echo_us = OXL_POLL_MS(FIRST_ECHO_MS) / 3;
    p->echo_on = p->echo_asked_off = false;
    p->stood = 0;
}

static int64_t echo_wait_us(const struct oxl_poll *p)
{
    int64_t us = OXL_POLL_MS(ECHO_MS) + 3 * p->echo_us;
    return us < OXL_POLL_MS(FIRST_ECHO_MS) ? us : OXL_POLL_MS(FIRST_ECHO_MS);
}

/* Up at once, down slowly. */
static void note_echo(struct oxl_poll *p, int64_t t_us)
{
    int64_t took_us = t_us - p->ex.text_us;
    p->proved = true;
    if (took_us > p->echo_us)
        p->echo_us = took_us;
    else
        p->echo_us -= (p->echo_us - took_us) / 8;
}

static void enter(struct oxl_poll *p, enum oxl_poll_phase phase, int64_t wait_us, int64_t t_us)
{
    p->ex.phase = phase;
    p->ex.deadline_us = t_us + wait_us;
}

/* ---- sending ---- */

static void send_characters(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    if (ex->proofs++ >= PROOFS) {
        oxl_poll_unsent(p, false, t_us);
        return;
    }
    ex->echoed = 0;
    ex->spoils = 0;
    ex->text_us = t_us;
    p->unclear = true;
    enter(p, OXL_PHASE_PROVE, echo_wait_us(p), t_us);
    oxl_wire_expect_echo(p->wire, "");
    p->out.send(p->out.ctx, ex->text, strlen(ex->text));
}

static void switch_on(struct oxl_poll *p, int64_t t_us)
{
    if (p->ex.switches++ >= SWITCHES) {
        oxl_poll_unsent(p, true, t_us);
        return;
    }
    p->ex.words = 0;
    p->ex.text_us = t_us;
    enter(p, OXL_PHASE_ECHO_ON, OXL_POLL_MS(SWITCH_MS), t_us);
    oxl_wire_expect_echo(p->wire, "ATE1");
    p->out.send(p->out.ctx, "ATE1\r", sizeof "ATE1\r" - 1);
}

/* Without any echo of them there are so many that CR behind them cannot end a request: all of
 * them would have to be lost, and CR not. */
static void spoil(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    if (ex->spoils++ >= SPOILS) {
        oxl_poll_unsent(p, true, t_us);
        return;
    }
    ex->words = 0;
    ex->text_us = t_us;
    oxl_wire_expect_echo(p->wire, "");
    ex->blind = ex->spoils > BLIND_AFTER;
    enter(p, ex->blind ? OXL_PHASE_CLEAN : OXL_PHASE_SPOIL,
          ex->blind ? OXL_POLL_MS(CLEAN_MS) : echo_wait_us(p), t_us);
    if (ex->blind)
        p->out.send(p->out.ctx, SPOILER SPOILER "\r", sizeof SPOILER SPOILER "\r" - 1);
    else
        p->out.send(p->out.ctx, SPOILER, sizeof SPOILER - 1);
}

const char *oxl_poll_spoiler(void)
{
    return SPOILER SPOILER;
}

void oxl_poll_prove(struct oxl_poll *p, int64_t t_us)
{
    if (p->unclear)
        spoil(p, t_us);
    else if (!p->ex.proof)
        oxl_poll_send_line(p, t_us);
    else if (!p->echo_on)
        switch_on(p, t_us);
    else
        send_characters(p, t_us);
}

/* ---- what comes back ---- */

void oxl_poll_note_damage(struct oxl_poll *p)
{
    enum { REMEMBERED = 1000 }; /* requests */
    p->damage_seen = true;
    p->prove_all = REMEMBERED;
}

static void mismatch(struct oxl_poll *p, int64_t t_us)
{
    oxl_poll_note_damage(p);
    p->stats.unproven++;
    spoil(p, t_us);
}

static void true_echo(struct oxl_poll *p, int64_t t_us)
{
    note_echo(p, t_us);
    p->unclear = false;
    p->stood = p->blind = 0;
    oxl_poll_send_end(p, t_us);
}

/* Controls and blanks are no part of it; each character of the text must be there, in order. */
static bool take_echo(struct oxl_poll *p, uint8_t byte, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    if (byte <= ' ')
        return true;
    if (byte != (uint8_t)ex->text[ex->echoed]) {
        oxl_wire_feed(p->wire, ex->text, ex->echoed, t_us);
        mismatch(p, t_us);
        return false;
    }
    ex->echoed++;
    if (ex->text[ex->echoed] == '\0')
        true_echo(p, t_us);
    else
        ex->deadline_us = t_us + OXL_POLL_MS(REST_MS);
    return true;
}

bool oxl_poll_hear_echo(struct oxl_poll *p, uint8_t byte, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    if (t_us <= ex->text_us)
        return false;
    if (ex->phase == OXL_PHASE_PROVE)
        return take_echo(p, byte, t_us);
    if (ex->phase == OXL_PHASE_SPOIL && byte == SPOILER[0]) {
        ex->words = 0;
        enter(p, OXL_PHASE_CLEAN, OXL_POLL_MS(CLEAN_MS), t_us);
        p->out.send(p->out.ctx, "\r", 1);
    }
    return false;
}

/* It answers, and yet nothing came back of what it took: it shows a line only when that has
 * ended, or not at all. */
static void note_blind(struct oxl_poll *p)
{
    enum { ENOUGH = 2, PATIENCE = 6 };
    if (++p->blind >= (p->proved ? PATIENCE : ENOUGH))
        p->echoes = false;
    p->echo_on = false;
}

static void cleaned(struct oxl_poll *p, int64_t t_us)
{
    p->unclear = false;
    if (p->ex.blind)
        note_blind(p);
    p->ex.blind = false;
    if (p->ex.proof && !p->echoes)
        oxl_poll_unsent(p, false, t_us);
    else
        oxl_poll_prove(p, t_us);
}

void oxl_poll_proof_prompt(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    bool refused = oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND);
    if (t_us <= ex->text_us)
        return;
    if (ex->phase == OXL_PHASE_CLEAN) {
        /* Another prompt than that of its refusal belongs to something before it; an adapter
         * that refuses in other words is believed at last, as the line holds spoilers. */
        if (refused || ex->spoils > 2)
            cleaned(p, t_us);
    } else if (ex->phase == OXL_PHASE_ECHO_ON) {
        p->echo_on = refused || oxl_poll_said(p, OXL_WORD_OK);
        p->echo_asked_off = p->echo_asked_off && !p->echo_on; /* the later wish counts */
        oxl_poll_prove(p, t_us);
    }
}

void oxl_poll_proof_late(struct oxl_poll *p, int64_t t_us)
{
    switch (p->ex.phase) {
    case OXL_PHASE_PROVE:
        if (p->proved)
            oxl_poll_note_damage(p);
        p->stats.unproven++;
        spoil(p, t_us);
        return;
    case OXL_PHASE_ECHO_ON:
        switch_on(p, t_us);
        return;
    default:
        spoil(p, t_us);
        return;
    }
}

/* ---- echo costs characters: it is off where every request stands without it ---- */

bool oxl_poll_echo_off(struct oxl_poll *p, int64_t t_us)
{
    if (!p->echo_on || p->echo_habit || p->stood < STANDING)
        return false;
    p->stood = 0;
    p->echo_on = false;
    p->echo_asked_off = true;
    oxl_poll_ask(p, "ATE0", SWITCH_MS, t_us);
    return true;
}

/* True: echo that came now is no sign of a restart. */
bool oxl_poll_echo_expected(struct oxl_poll *p)
{
    const struct oxl_exchange *ex = &p->ex;
    bool echo = oxl_wire_stats(p->wire)->echoes != ex->echoes_before;
    if (!p->echo_asked_off)
        return p->echo_on || p->echo_habit;
    if (!ex->service) { /* ATE0 itself */
        p->echo_habit = !oxl_poll_said(p, OXL_WORD_OK);
        p->echo_on = p->echo_habit;
        p->echo_asked_off = !p->echo_habit;
        return true;
    }
    p->echo_asked_off = false;
    p->echo_habit = p->echo_on = echo; /* it stays although it said OK */
    return true;
}
