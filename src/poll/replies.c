/* What the wire says, sorted into what belongs to the outstanding request and what does not. */
#include "poll_parts.h"

#include <stdio.h>
#include <string.h>

enum {
    PENDING_MS = 5000, /* P2*CAN, ISO 15765-4 */
    SEARCH_MS = 12000, /* in live data; common practice, no source: a search tries ten protocols */
    NEGATIVE = 0x7F,   /* ISO 15031-5, negative response */
    PROMPT_MS = 300,   /* behind a complete answer, when the adapter knows that it is complete */
    LONG_PROMPT_MS = 700,
    CODE_PENDING = 0x78 /* request received, response pending */
};

void oxl_poll_answer_forget(struct oxl_poll *p)
{
    memset(&p->answer, 0, sizeof p->answer);
}

void oxl_poll_answer_try(struct oxl_poll *p)
{
    struct oxl_poll_answer *a = &p->answer;
    a->words = 0;
    a->line[0] = '\0';
    a->n = 0;
    a->negative = 0;
    a->own = a->pending = false;
}

void oxl_poll_answer_no_words(struct oxl_poll *p)
{
    p->answer.words = 0;
}

void oxl_poll_answer_withheld(struct oxl_poll *p)
{
    p->answer.words |= UINT32_C(1) << OXL_WORD_NO_DATA;
}

bool oxl_poll_said(const struct oxl_poll *p, enum oxl_word w)
{
    return (p->answer.words >> w) & 1;
}

/* A loss is not declared before the time that the adapter or the ECU asked for is over. */
static void extend(struct oxl_poll *p, unsigned ms, int64_t t_us)
{
    int64_t until_us = t_us + OXL_POLL_MS(ms);
    if (p->ex.deadline_us < until_us)
        oxl_poll_await(p, p->ex.phase, until_us);
    oxl_poll_patient(p, until_us + OXL_POLL_MS(1000));
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
    p->answer.words |= UINT32_C(1) << word;
    if (p->ex.phase == OXL_PHASE_WAIT && p->request.service &&
        (word == OXL_WORD_SEARCHING || word == OXL_WORD_BUS_INIT) &&
        !oxl_poll_search_waits(p, t_us))
        extend(p, SEARCH_MS, t_us);
}

static bool is_banner(const struct oxl_poll *p, const char *line)
{
    enum { SHORTEST = 4 };
    return (strlen(p->wake.banner) >= SHORTEST && strstr(line, p->wake.banner)) ||
           (strlen(p->vehicle.adapter) >= SHORTEST && strstr(line, p->vehicle.adapter));
}

static void on_text(void *ctx, const char *line, int64_t t_us)
{
    struct oxl_poll *p = ctx;
    if (oxl_poll_is_talking(p) && is_banner(p, line)) {
        oxl_poll_restarted(p, t_us);
        return;
    }
    if (p->ex.phase == OXL_PHASE_WAIT && !p->answer.line[0])
        snprintf(p->answer.line, sizeof p->answer.line, "%s", line);
}

static bool asked_for(const struct oxl_poll *p, const struct oxl_message *m)
{
    if (m->data[0] != p->request.service + 0x40)
        return false;
    if (!p->request.n)
        return true;
    /* In service 02 a frame number stands behind each PID, in service 05 a sensor. */
    for (unsigned i = 0; i < p->request.n;
         i += p->request.service == 0x02 || p->request.service == 0x05 ? 2 : 1)
        if (m->len >= 2 && m->data[1] == p->request.pids[i])
            return true;
    return false;
}

/* In the answer to service 01: the asked PIDs and nothing else? Other PIDs, or bytes that belong to
 * none, mean another request's answer or characters that were lost or doubled on the line. */
static bool is_sound(struct oxl_poll *p, const struct oxl_message *m)
{
    size_t bytes;
    if (p->request.service != 1 || !p->request.n)
        return true;
    p->answer.found = oxl_find_pids(m, &p->vehicle.decoding, p->request.pids, p->request.n, &bytes);
    return oxl_poll_vehicle_is_sound(p, m, m->len == 1 + bytes);
}

/* A prompt that is missing is missed early: no second is waited for it. */
static void expect_prompt(struct oxl_poll *p, int64_t t_us)
{
    int64_t wait_us = OXL_POLL_MS(p->request.counted ? PROMPT_MS : LONG_PROMPT_MS);
    if (!p->request.counted && wait_us < 2 * p->search.plain_gap_us)
        wait_us = 2 * p->search.plain_gap_us;
    if (p->stage == OXL_STAGE_LIVE && t_us + wait_us < p->ex.deadline_us)
        oxl_poll_await(p, p->ex.phase, t_us + wait_us);
}

/* The code is the last byte: the third in the short form, and behind the repeated request bytes
 * in the long form of ISO 9141-2 and SAE J1850. */
static void take_negative(struct oxl_poll *p, const struct oxl_message *m)
{
    uint8_t code = m->data[m->len - 1];
    oxl_poll_count(p, OXL_COUNT_NEGATIVE);
    if (code != CODE_PENDING) {
        p->answer.negative = code;
        p->answer.settled |= oxl_poll_ecu_bit(p, m->ecu);
        return;
    }
    p->answer.pending = true;
    p->answer.promised |= oxl_poll_ecu_bit(p, m->ecu);
    extend(p, PENDING_MS, m->last_byte_us);
}

static void on_message(void *ctx, const struct oxl_message *m)
{
    struct oxl_poll *p = ctx;
    if (m->bad_checksum)
        return;
    bool current =
        p->ex.phase == OXL_PHASE_WAIT && p->request.service && m->first_byte_us > p->ex.sent_us;
    if (p->vehicle.ecu && m->ecu != p->vehicle.ecu && !oxl_poll_hears_all(p)) {
        oxl_poll_count(p, OXL_COUNT_OTHER);
        if (current && asked_for(p, m))
            oxl_poll_vehicle_other(p, m);
        return;
    }
    if (current && m->len >= 3 && m->data[0] == NEGATIVE && m->data[1] == p->request.service) {
        take_negative(p, m);
        return;
    }
    if (!current || !asked_for(p, m) || !oxl_poll_live_separates(p, m) || !is_sound(p, m)) {
        oxl_poll_count(p, OXL_COUNT_LATE);
        return;
    }
    oxl_poll_count(p, OXL_COUNT_REPLY);
    p->answer.n++;
    p->answer.settled |= oxl_poll_ecu_bit(p, m->ecu);
    p->answer.own = p->answer.own || m->ecu == p->vehicle.ecu;
    p->answer.at_us = m->last_byte_us;
    expect_prompt(p, m->last_byte_us);
    const struct oxl_poll_stage_ops *ops = oxl_poll_stage_ops(p);
    if (ops->answer)
        ops->answer(p, m);
}

const uint8_t *oxl_poll_pid_data(const struct oxl_poll *p, const struct oxl_message *m, size_t len)
{
    size_t have = 0;
    const uint8_t *data = oxl_find_pid(m, &p->vehicle.decoding, p->request.pids[0], &have);
    return data && have >= len ? data : NULL;
}

struct oxl_wire_out oxl_poll_ears(struct oxl_poll *p)
{
    return (struct oxl_wire_out){p, on_prompt, on_word, on_text, on_message};
}
