/* Proof by echo. A request that damage on its way could turn into one that changes something is
 * sent without its CR; the adapter's echo says what arrived, and only a true one is ended by CR.
 *
 *   PROVE --echo is the text--> CR, WAIT
 *     `---it is not, or none--> SPOIL --a spoiler has come back--> CR, CLEAN --?--> PROVE
 *
 * What an adapter holds of a text that was not proven is unknown, and CR would carry it out. It is
 * made invalid first, by characters that no single wrong bit turns into a digit, a control or CR.
 */
#include "poll_parts.h"

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
    p->echo.longest_us = OXL_POLL_MS(FIRST_ECHO_MS) / 3;
    p->echo.on = p->echo.asked_off = false;
    p->echo.stood = 0;
}

static int64_t echo_wait_us(const struct oxl_poll *p)
{
    int64_t us = OXL_POLL_MS(ECHO_MS) + 3 * p->echo.longest_us;
    return us < OXL_POLL_MS(FIRST_ECHO_MS) ? us : OXL_POLL_MS(FIRST_ECHO_MS);
}

/* Up at once, down slowly. */
static void note_echo(struct oxl_poll *p, int64_t t_us)
{
    int64_t took_us = t_us - p->echo.text_us;
    p->echo.proved = true;
    if (took_us > p->echo.longest_us)
        p->echo.longest_us = took_us;
    else
        p->echo.longest_us -= (p->echo.longest_us - took_us) / 8;
}

void oxl_poll_echo_clear(struct oxl_poll *p)
{
    p->echo.unclear = false;
}

void oxl_poll_echo_request(struct oxl_poll *p)
{
    p->echo.proofs = p->echo.spoils = p->echo.switches = 0;
}

void oxl_poll_echo_sent(struct oxl_poll *p, bool whole)
{
    if (!p->request.service)
        return;
    p->echo.prove_all -= p->echo.prove_all > 0;
    p->echo.stood += whole;
}

/* Once an adapter has echoed, it can. */
void oxl_poll_echo_learn(struct oxl_poll *p, uint64_t echoes_before)
{
    if (p->config.unproven) {
        p->echo.habit = oxl_poll_came_echo(p);
        return;
    }
    p->echo.able = p->echo.able || oxl_wire_stats(p->wire)->echoes != echoes_before;
    p->echo.on = p->echo.able;
    p->echo.asked_off = false;
    p->echo.stood = 0;
}

/* ---- sending ---- */

static void send_echoed(struct oxl_poll *p, const char *text, const char *echo, int64_t t_us)
{
    p->echo.text_us = t_us;
    oxl_wire_expect_echo(p->wire, echo);
    p->out.send(p->out.ctx, text, strlen(text));
}

static void send_characters(struct oxl_poll *p, int64_t t_us)
{
    if (p->echo.proofs++ >= PROOFS) {
        oxl_poll_unsent(p, false, t_us);
        return;
    }
    p->echo.came = 0;
    p->echo.spoils = 0;
    p->echo.unclear = true;
    oxl_poll_await(p, OXL_PHASE_PROVE, t_us + echo_wait_us(p));
    send_echoed(p, p->request.text, "", t_us);
}

static void switch_on(struct oxl_poll *p, int64_t t_us)
{
    if (p->echo.switches++ >= SWITCHES) {
        oxl_poll_unsent(p, true, t_us);
        return;
    }
    oxl_poll_answer_no_words(p);
    oxl_poll_await(p, OXL_PHASE_ECHO_ON, t_us + OXL_POLL_MS(SWITCH_MS));
    send_echoed(p, "ATE1\r", "ATE1", t_us);
}

/* Without any echo of them there are so many that CR behind them cannot end a request: all of
 * them would have to be lost, and CR not. */
static void spoil(struct oxl_poll *p, int64_t t_us)
{
    if (p->echo.spoils++ >= SPOILS) {
        oxl_poll_unsent(p, true, t_us);
        return;
    }
    oxl_poll_answer_no_words(p);
    p->echo.blind = p->echo.spoils > BLIND_AFTER;
    oxl_poll_await(p, p->echo.blind ? OXL_PHASE_CLEAN : OXL_PHASE_SPOIL,
                   t_us + (p->echo.blind ? OXL_POLL_MS(CLEAN_MS) : echo_wait_us(p)));
    send_echoed(p, p->echo.blind ? SPOILER SPOILER "\r" : SPOILER, "", t_us);
}

const char *oxl_poll_spoiler(void)
{
    return SPOILER SPOILER;
}

void oxl_poll_prove(struct oxl_poll *p, int64_t t_us)
{
    if (p->echo.unclear)
        spoil(p, t_us);
    else if (!p->request.proof)
        oxl_poll_send(p, true, t_us);
    else if (!p->echo.on)
        switch_on(p, t_us);
    else
        send_characters(p, t_us);
}

/* ---- what comes back ---- */

static void note_damage(struct oxl_poll *p)
{
    enum { REMEMBERED = 1000 }; /* requests */
    p->echo.damage_seen = true;
    p->echo.prove_all = REMEMBERED;
}

/* What came at a wrong speed or in another form, before or after a reset, says nothing of the
 * line. A request with a count may be refused for its count. */
void oxl_poll_look_for_damage(struct oxl_poll *p)
{
    uint64_t spoilt = oxl_poll_spoilt_so_far(p);
    bool refused = p->request.service && oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND) &&
                   (!p->request.counted || p->vehicle.reply_count);
    bool settings_lost = p->ex.restarted || oxl_poll_came_headless(p);
    if (refused || (spoilt != p->echo.spoilt_base && oxl_poll_is_talking(p) && !settings_lost))
        note_damage(p);
    p->echo.spoilt_base = spoilt;
}

static void unproven(struct oxl_poll *p, bool damaged, int64_t t_us)
{
    if (damaged)
        note_damage(p);
    oxl_poll_count(p, OXL_COUNT_UNPROVEN);
    spoil(p, t_us);
}

static void true_echo(struct oxl_poll *p, int64_t t_us)
{
    note_echo(p, t_us);
    p->echo.unclear = false;
    p->echo.stood = p->echo.blind_times = 0;
    oxl_poll_send(p, false, t_us);
}

/* Controls and blanks are no part of it; each character of the text must be there, in order. */
static bool take_echo(struct oxl_poll *p, uint8_t byte, int64_t t_us)
{
    if (byte <= ' ')
        return true;
    if (byte != (uint8_t)p->request.text[p->echo.came]) {
        oxl_wire_feed(p->wire, p->request.text, p->echo.came, t_us);
        unproven(p, true, t_us);
        return false;
    }
    p->echo.came++;
    if (p->request.text[p->echo.came] == '\0')
        true_echo(p, t_us);
    else
        oxl_poll_await(p, OXL_PHASE_PROVE, t_us + OXL_POLL_MS(REST_MS));
    return true;
}

bool oxl_poll_hear_echo(struct oxl_poll *p, uint8_t byte, int64_t t_us)
{
    if (t_us <= p->echo.text_us)
        return false;
    if (p->ex.phase == OXL_PHASE_PROVE)
        return take_echo(p, byte, t_us);
    if (p->ex.phase == OXL_PHASE_SPOIL && byte == SPOILER[0]) {
        oxl_poll_answer_no_words(p);
        oxl_poll_await(p, OXL_PHASE_CLEAN, t_us + OXL_POLL_MS(CLEAN_MS));
        p->out.send(p->out.ctx, "\r", 1);
    }
    return false;
}

/* It answers, and yet nothing came back of what it took: it shows a line only when that has
 * ended, or not at all. */
static void note_blind(struct oxl_poll *p)
{
    enum { ENOUGH = 2, PATIENCE = 6 };
    if (++p->echo.blind_times >= (p->echo.proved ? PATIENCE : ENOUGH))
        p->echo.able = false;
    p->echo.on = false;
}

static void cleaned(struct oxl_poll *p, int64_t t_us)
{
    p->echo.unclear = false;
    if (p->echo.blind)
        note_blind(p);
    p->echo.blind = false;
    if (p->request.proof && !p->echo.able)
        oxl_poll_unsent(p, false, t_us);
    else
        oxl_poll_prove(p, t_us);
}

void oxl_poll_proof_prompt(struct oxl_poll *p, int64_t t_us)
{
    bool refused = oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND);
    if (t_us <= p->echo.text_us)
        return;
    if (p->ex.phase == OXL_PHASE_CLEAN) {
        /* Another prompt than that of its refusal belongs to something before it; an adapter
         * that refuses in other words is believed at last, as the line holds spoilers. */
        if (refused || p->echo.spoils > 2)
            cleaned(p, t_us);
    } else if (p->ex.phase == OXL_PHASE_ECHO_ON) {
        p->echo.on = refused || oxl_poll_said(p, OXL_WORD_OK);
        p->echo.asked_off = p->echo.asked_off && !p->echo.on; /* the later wish counts */
        oxl_poll_prove(p, t_us);
    }
}

void oxl_poll_proof_late(struct oxl_poll *p, int64_t t_us)
{
    if (p->ex.phase == OXL_PHASE_PROVE)
        unproven(p, p->echo.proved, t_us);
    else if (p->ex.phase == OXL_PHASE_ECHO_ON)
        switch_on(p, t_us);
    else
        spoil(p, t_us);
}

/* ---- echo costs characters: it is off where every request stands without it ---- */

bool oxl_poll_echo_off(struct oxl_poll *p, int64_t t_us)
{
    if (!p->echo.on || p->echo.habit || p->echo.stood < STANDING)
        return false;
    p->echo.stood = 0;
    p->echo.on = false;
    p->echo.asked_off = true;
    oxl_poll_ask(p, "ATE0", SWITCH_MS, t_us);
    return true;
}

bool oxl_poll_echo_expected(struct oxl_poll *p)
{
    if (!p->echo.asked_off)
        return p->echo.on || p->echo.habit;
    if (!p->request.service) { /* ATE0 itself */
        p->echo.habit = !oxl_poll_said(p, OXL_WORD_OK);
        p->echo.on = p->echo.habit;
        p->echo.asked_off = !p->echo.habit;
        return true;
    }
    p->echo.asked_off = false;
    p->echo.habit = p->echo.on = oxl_poll_came_echo(p); /* it stays although it said OK */
    return true;
}
