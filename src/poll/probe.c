/* What adapter and ECU can do is found by behaviour: does the expected-reply-count digit end
 * the wait, and are several PIDs in one request answered? */
#include "inside.h"

#include <string.h>

enum {
    PROBE_MS = 1500,
    PROMPT_GAP_MS = 15, /* a prompt this soon behind the answer has not waited for more */
    COUNT_TRIES = 2,
    COUNTED_TRIES = 2, /* with the digit, before it is tried without */
    SPOILT_TRIES = 8   /* what the line spoilt proves nothing */
};

static bool only_spoilt(struct oxl_poll *p)
{
    return oxl_poll_spoilt(p) && p->step_spoilt++ < SPOILT_TRIES;
}

/* ---- the digit: the same answers, and the prompt clearly sooner than without it ---- */

bool oxl_poll_count_begin(struct oxl_poll *p, int64_t t_us)
{
    static const uint8_t pid = 0x00;
    if (p->ecus_n > 9)
        return false;
    oxl_poll_request(p, 1, &pid, 1, p->ecus_n, PROBE_MS, t_us);
    return true;
}

bool oxl_poll_count_finish(struct oxl_poll *p, int64_t t_us)
{
    bool all = !p->ex.timed_out && p->ex.answers >= p->ecus_n;
    int64_t gap_us = t_us - p->ex.answer_us;
    if (oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND))
        return true;
    if (all && (gap_us <= OXL_POLL_MS(PROMPT_GAP_MS) || 2 * gap_us <= p->plain_gap_us)) {
        p->vehicle.reply_count = true;
        return true;
    }
    if (only_spoilt(p))
        return false;
    return ++p->step_tries >= COUNT_TRIES;
}

/* ---- several PIDs: front and rear together, else any two ---- */

static unsigned two_pids(const struct oxl_poll *p, uint8_t out[2])
{
    static const uint8_t common[] = {0x0C, 0x05, 0x0F, 0x0D, 0x11, 0x03};
    unsigned n = 0;
    if (p->pair.front_pid && p->pair.rear_pid) {
        out[0] = p->pair.front_pid;
        out[1] = p->pair.rear_pid;
        return 2;
    }
    for (unsigned i = 0; i < sizeof common && n < 2; i++)
        if (oxl_supports(&p->vehicle.support, common[i]))
            out[n++] = common[i];
    return n;
}

static void ask_several(struct oxl_poll *p, const uint8_t *pids, unsigned n, int64_t t_us)
{
    if (!p->vehicle.reply_count)
        p->step_tries = COUNTED_TRIES;
    bool counted = p->step_tries < COUNTED_TRIES;
    unsigned frames = oxl_poll_expected_frames(p, pids, n);
    p->all_there = false;
    oxl_poll_request(p, 1, pids, n, counted ? oxl_poll_digit(p, frames) : 0, PROBE_MS, t_us);
}

bool oxl_poll_several_begin(struct oxl_poll *p, int64_t t_us)
{
    uint8_t pids[2];
    p->pair = oxl_vehicle_pair(&p->vehicle, p->config.bank);
    if (!oxl_protocol_is_can(p->vehicle.protocol) || two_pids(p, pids) < 2)
        return false;
    ask_several(p, pids, 2, t_us);
    return true;
}

void oxl_poll_several_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    size_t len;
    bool all = true;
    for (unsigned i = 0; i < p->ex.n; i++)
        all = all && oxl_find_pid(m, &p->vehicle.decoding, p->ex.pids[i], &len);
    p->all_there = all;
}

bool oxl_poll_several_finish(struct oxl_poll *p, int64_t t_us)
{
    (void)t_us;
    if (p->all_there) {
        p->vehicle.multi_pid = true;
        /* It took the request without the digit: the digit had cut the answer off. */
        if (p->step_tries >= COUNTED_TRIES && oxl_poll_own_frames(p, p->ex.pids, p->ex.n) > 1)
            p->count_multi_frame = false;
        return true;
    }
    return !only_spoilt(p) && ++p->step_tries > COUNTED_TRIES;
}

/* ---- as many PIDs as a round may ask for ---- */

static unsigned full_pids(struct oxl_poll *p, uint8_t out[OXL_POLL_PIDS])
{
    const struct oxl_poll_schedule *s = &p->schedule;
    unsigned n = 0;
    oxl_poll_schedule_build(p);
    for (unsigned role = OXL_ROLE_FRONT; role <= OXL_ROLE_RARE; role++)
        for (unsigned i = 0; i < s->n && n < p->most_pids; i++)
            if (s->pids[i].role == role)
                out[n++] = s->pids[i].pid;
    return n;
}

bool oxl_poll_full_begin(struct oxl_poll *p, int64_t t_us)
{
    uint8_t pids[OXL_POLL_PIDS];
    if (!p->vehicle.multi_pid)
        return false;
    unsigned n = full_pids(p, pids);
    if (n <= 2)
        return false;
    ask_several(p, pids, n, t_us);
    return true;
}

/* With the digit, then without it, then fewer PIDs. */
bool oxl_poll_full_finish(struct oxl_poll *p, int64_t t_us)
{
    (void)t_us;
    if (p->all_there) {
        if (p->step_tries >= COUNTED_TRIES)
            p->count_multi_frame = false;
        return true;
    }
    if (only_spoilt(p) || ++p->step_tries <= COUNTED_TRIES)
        return false;
    p->step_tries = 0;
    p->most_pids -= 2;
    return p->most_pids <= 2;
}
