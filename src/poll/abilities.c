/* What adapter and ECU can do is found by behaviour: does the expected-reply-count digit end
 * the wait, and are several PIDs in one request answered? */
#include "poll_parts.h"

#include <string.h>

enum {
    PROBE_MS = 1500,
    PROMPT_GAP_MS = 15, /* a prompt this soon behind the answer has not waited for more */
    COUNT_TRIES = 2,
    COUNTED_TRIES = 2, /* with the digit, before it is tried without */
    ALL_TRIES = COUNTED_TRIES + 1,
    CUTS = 3,    /* in a row before the digit is doubted */
    REFUSALS = 6 /* likewise; a damaged request is refused too */
};

void oxl_poll_abilities_forget(struct oxl_poll *p)
{
    p->abilities.count_multi_frame = true;
    p->abilities.most_pids = OXL_POLL_PIDS;
}

/* ---- the digit: the same answers, and the prompt clearly sooner than without it ---- */

static bool count_begin(struct oxl_poll *p, int64_t t_us)
{
    static const uint8_t pid = 0x00;
    if (p->ecus.n > 9)
        return false;
    oxl_poll_request(p, 1, &pid, 1, p->ecus.n, PROBE_MS, t_us);
    return true;
}

/* True: so many times, and not for damage. */
static bool tried(struct oxl_poll *p, unsigned times)
{
    if (oxl_poll_step_spoilt(p))
        return false;
    oxl_poll_step_tried(p, p->survey.tries + 1);
    return p->survey.tries >= times;
}

static bool count_finish(struct oxl_poll *p, int64_t t_us)
{
    bool all = !p->ex.timed_out && p->answer.n >= p->ecus.n;
    int64_t gap_us = t_us - p->answer.at_us;
    if (oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND))
        return true;
    if (all && (gap_us <= OXL_POLL_MS(PROMPT_GAP_MS) || 2 * gap_us <= p->search.plain_gap_us)) {
        oxl_poll_vehicle_can(p, true, p->vehicle.multi_pid);
        return true;
    }
    return tried(p, COUNT_TRIES);
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
        oxl_poll_step_tried(p, COUNTED_TRIES);
    bool counted = p->survey.tries < COUNTED_TRIES;
    unsigned frames = oxl_poll_expected_frames(p, pids, n);
    p->abilities.all_there = false;
    p->abilities.frames = frames;
    oxl_poll_request(p, 1, pids, n, counted ? oxl_poll_digit(p, frames) : 0, PROBE_MS, t_us);
}

static bool several_begin(struct oxl_poll *p, int64_t t_us)
{
    uint8_t pids[2];
    oxl_poll_vehicle_pair(p);
    if (!oxl_protocol_is_can(p->vehicle.protocol) || two_pids(p, pids) < 2)
        return false;
    ask_several(p, pids, 2, t_us);
    return true;
}

static void several_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    size_t len;
    bool all = true;
    for (unsigned i = 0; i < p->request.n; i++)
        all = all && oxl_find_pid(m, &p->vehicle.decoding, p->request.pids[i], &len);
    p->abilities.all_there = all;
}

static bool several_finish(struct oxl_poll *p, int64_t t_us)
{
    (void)t_us;
    if (p->abilities.all_there) {
        oxl_poll_vehicle_can(p, p->vehicle.reply_count, true);
        /* It took the request without the digit: the digit had cut the answer off. */
        if (p->survey.tries >= COUNTED_TRIES &&
            oxl_poll_own_frames(p, p->request.pids, p->request.n) > 1)
            p->abilities.count_multi_frame = false;
        return true;
    }
    return tried(p, ALL_TRIES);
}

/* ---- as many PIDs as a round may ask for ---- */

static unsigned full_pids(struct oxl_poll *p, uint8_t out[OXL_POLL_PIDS])
{
    const struct oxl_poll_schedule *s = &p->schedule;
    unsigned n = 0;
    oxl_poll_schedule_build(p);
    for (unsigned role = OXL_ROLE_FRONT; role <= OXL_ROLE_RARE; role++)
        for (unsigned i = 0; i < s->n && n < p->abilities.most_pids; i++)
            if (s->pids[i].role == role)
                out[n++] = s->pids[i].pid;
    return n;
}

static bool full_begin(struct oxl_poll *p, int64_t t_us)
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

/* Trims were longer than expected, and the digit was wrong for that. */
static bool now_expects_others(const struct oxl_poll *p)
{
    return oxl_poll_expected_frames(p, p->request.pids, p->request.n) != p->abilities.frames;
}

/* With the digit, then without it, then fewer PIDs. */
static bool full_finish(struct oxl_poll *p, int64_t t_us)
{
    (void)t_us;
    if (p->abilities.all_there && now_expects_others(p)) {
        oxl_poll_step_tried(p, 0);
        return false;
    }
    if (p->abilities.all_there) {
        if (p->survey.tries >= COUNTED_TRIES)
            p->abilities.count_multi_frame = false;
        return true;
    }
    if (!tried(p, ALL_TRIES))
        return false;
    oxl_poll_step_tried(p, 0);
    p->abilities.most_pids -= 2;
    return p->abilities.most_pids <= 2;
}

const struct oxl_poll_step oxl_poll_count_step = {count_begin, .finish = count_finish,
                                                  .own_retry = true};
const struct oxl_poll_step oxl_poll_several_step = {several_begin, several_answer, several_finish,
                                                    .own_retry = true};
const struct oxl_poll_step oxl_poll_full_step = {full_begin, several_answer, full_finish,
                                                 .own_retry = true};

/* ---- in live data: once is an accident, several times in a row are a habit ---- */

void oxl_poll_abilities_live(struct oxl_poll *p)
{
    p->abilities.cuts = p->abilities.refusals = 0;
}

void oxl_poll_digit_worked(struct oxl_poll *p)
{
    p->abilities.refusals = 0;
    if (p->live.frames > 1)
        p->abilities.cuts = 0;
}

void oxl_poll_digit_doubted(struct oxl_poll *p, bool refused)
{
    if (refused && ++p->abilities.refusals >= REFUSALS)
        oxl_poll_vehicle_can(p, false, p->vehicle.multi_pid);
    else if (!refused && ++p->abilities.cuts >= CUTS)
        p->abilities.count_multi_frame = false;
}

void oxl_poll_pids_at_most(struct oxl_poll *p, unsigned n)
{
    p->abilities.most_pids = n;
}
