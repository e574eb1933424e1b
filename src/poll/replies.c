/* What the wire says, sorted into what belongs to the outstanding request and what does not. */
#include "inside.h"

#include <stdio.h>
#include <string.h>

enum {
    PENDING_MS = 5000, /* P2*CAN, ISO 15765-4 */
    SEARCH_MS = 12000, /* common practice, no source: a search may try ten protocols */
    NEGATIVE = 0x7F,   /* ISO 15031-5, negative response */
    PROMPT_MS = 300,   /* behind a complete answer, when the adapter knows that it is complete */
    LONG_PROMPT_MS = 700,
    ODD_HABIT = 5,      /* inexact answers in a row that are a habit of the vehicle, not damage */
    CODE_PENDING = 0x78 /* request received, response pending */
};

static void extend(struct oxl_poll *p, unsigned ms, int64_t t_us)
{
    int64_t until = t_us + OXL_POLL_MS(ms);
    if (p->ex.deadline_us < until)
        p->ex.deadline_us = until;
    /* A loss is not declared before the time that the adapter or the ECU asked for is over. */
    if (p->lost_us != OXL_POLL_NEVER && p->lost_us < until + OXL_POLL_MS(1000))
        p->lost_us = until + OXL_POLL_MS(1000);
}

static void on_prompt(void *ctx, int64_t t_us)
{
    oxl_poll_ex_prompt(ctx, t_us);
}

static void on_word(void *ctx, enum oxl_word word, int64_t t_us)
{
    struct oxl_poll *p = ctx;
    if (word == OXL_WORD_LOW_VOLTAGE_RESET) {
        oxl_poll_restarted(p, t_us);
        return;
    }
    p->ex.words |= UINT32_C(1) << word;
    if (p->ex.phase == OXL_PHASE_WAIT && p->ex.service &&
        (word == OXL_WORD_SEARCHING || word == OXL_WORD_BUS_INIT))
        extend(p, SEARCH_MS, t_us);
}

static bool is_banner(const struct oxl_poll *p, const char *line)
{
    enum { SHORTEST = 4 };
    return (strlen(p->banner) >= SHORTEST && strstr(line, p->banner)) ||
           (strlen(p->vehicle.adapter) >= SHORTEST && strstr(line, p->vehicle.adapter));
}

static void on_text(void *ctx, const char *line, int64_t t_us)
{
    struct oxl_poll *p = ctx;
    bool talking =
        p->stage == OXL_STAGE_SURVEY || p->stage == OXL_STAGE_VERIFY || p->stage == OXL_STAGE_LIVE;
    if (talking && is_banner(p, line)) {
        oxl_poll_restarted(p, t_us);
        return;
    }
    if (p->ex.phase == OXL_PHASE_WAIT && !p->ex.line[0])
        snprintf(p->ex.line, sizeof p->ex.line, "%s", line);
}

/* Asked together with another PID, PID 00 must be there: of the other an older answer may come.
 */
static bool separates(const struct oxl_poll *p, const struct oxl_message *m)
{
    size_t len;
    return !p->ex.separator || oxl_find_pid(m, &p->vehicle.decoding, 0x00, &len);
}

static bool asked_for(const struct oxl_exchange *ex, const struct oxl_message *m)
{
    if (m->data[0] != ex->service + 0x40)
        return false;
    if (!ex->n)
        return true;
    /* In service 02 a frame number stands behind each PID, in service 05 a sensor. */
    for (unsigned i = 0; i < ex->n; i += ex->service == 0x02 || ex->service == 0x05 ? 2 : 1)
        if (m->len >= 2 && m->data[1] == ex->pids[i])
            return true;
    return false;
}

/* In the answer to service 01: the asked PIDs and nothing else? */
static bool is_exact(struct oxl_poll *p, const struct oxl_message *m)
{
    size_t bytes;
    p->ex.found = oxl_find_pids(m, &p->vehicle.decoding, p->ex.pids, p->ex.n, &bytes);
    return m->len == 1 + bytes;
}

/* PIDs that were not asked for, or bytes that belong to none, mean another request's answer or
 * characters that were lost or doubled on the line. Unless the vehicle is like that. */
static bool is_sound(struct oxl_poll *p, const struct oxl_message *m)
{
    if (p->ex.service != 1 || !p->ex.n)
        return true;
    if (is_exact(p, m)) {
        p->exact = true;
        p->inexact = 0;
        return true;
    }
    if (p->exact && ++p->inexact >= ODD_HABIT)
        p->exact = false;
    return !p->exact;
}

/* A prompt that is missing is missed early: no second is waited for it. */
static void expect_prompt(struct oxl_poll *p, int64_t t_us)
{
    int64_t wait_us = OXL_POLL_MS(p->ex.counted ? PROMPT_MS : LONG_PROMPT_MS);
    if (!p->ex.counted && wait_us < 2 * p->plain_gap_us)
        wait_us = 2 * p->plain_gap_us;
    if (p->stage == OXL_STAGE_LIVE && t_us + wait_us < p->ex.deadline_us)
        p->ex.deadline_us = t_us + wait_us;
}

unsigned oxl_poll_ecu_bit(const struct oxl_poll *p, uint32_t ecu)
{
    for (unsigned i = 0; i < p->ecus_n; i++)
        if (p->ecus[i].id == ecu)
            return 1U << i;
    return 0;
}

/* The code is the last byte: the third in the short form, and behind the repeated request bytes
 * in the long form of ISO 9141-2 and SAE J1850. */
static void take_negative(struct oxl_poll *p, const struct oxl_message *m)
{
    uint8_t code = m->data[m->len - 1];
    p->stats.negative++;
    if (code != CODE_PENDING) {
        p->ex.negative = code;
        p->ex.settled |= oxl_poll_ecu_bit(p, m->ecu);
        return;
    }
    p->ex.pending = true;
    p->ex.promised |= oxl_poll_ecu_bit(p, m->ecu);
    extend(p, PENDING_MS, m->last_byte_us);
}

static void on_message(void *ctx, const struct oxl_message *m)
{
    struct oxl_poll *p = ctx;
    struct oxl_exchange *ex = &p->ex;
    if (m->bad_checksum)
        return;
    if (p->vehicle.ecu && m->ecu != p->vehicle.ecu && !oxl_poll_hears_all(p)) {
        p->stats.other++;
        return;
    }
    bool current = ex->phase == OXL_PHASE_WAIT && ex->service && m->first_byte_us > ex->sent_us;
    if (current && m->len >= 3 && m->data[0] == NEGATIVE && m->data[1] == ex->service) {
        take_negative(p, m);
        return;
    }
    if (!current || !asked_for(ex, m) || !separates(p, m) || !is_sound(p, m)) {
        p->stats.late++;
        return;
    }
    p->stats.replies++;
    ex->answers++;
    ex->settled |= oxl_poll_ecu_bit(p, m->ecu);
    ex->own_answer = ex->own_answer || m->ecu == p->vehicle.ecu;
    ex->answer_us = m->last_byte_us;
    expect_prompt(p, m->last_byte_us);
    const struct oxl_poll_stage_ops *ops = oxl_poll_stage_ops(p);
    if (ops->answer)
        ops->answer(p, m);
}

struct oxl_wire_out oxl_poll_ears(struct oxl_poll *p)
{
    return (struct oxl_wire_out){p, on_prompt, on_word, on_text, on_message};
}
