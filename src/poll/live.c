/* Live data: ask, pass the samples on, ask again in the same breath.
 *
 * An adapter hands over whatever comes from the bus while it waits: also the late answer to an
 * earlier request, which is older than it seems, and with the expected-reply count every answer
 * may then be that of the request before. An ECU answers its requests in turn. So as long as an
 * answer may be owed, PID 00 alone is asked, without a count: once that has been answered, all
 * before it has been answered or never will be. */
#include "poll_parts.h"

#include <string.h>

enum {
    LIVE_MS = 1200, /* at most; less where prompts usually come sooner */
    PATIENCE_MS = 300,
    MOST_SAMPLES = 24,
    REASKS = 10,
    BUSY_MS = 50,   /* ISO 15031-5 / ISO 14230-4: busy, repeat */
    ERROR_MS = 100, /* do not hammer a bus that is in trouble */
    CATCH_UP_MS = 400
};

/* Negative response codes, ISO 15031-5. */
enum { CODE_NO_SERVICE = 0x11, CODE_NO_SUCH = 0x12, CODE_BUSY = 0x21 };

void oxl_poll_live_start(struct oxl_poll *p, int64_t t_us)
{
    bool again = oxl_poll_revived(p);
    oxl_poll_enter(p, OXL_STAGE_LIVE);
    oxl_poll_vehicle_pair(p);
    oxl_poll_schedule_build(p);
    oxl_poll_abilities_live(p);
    oxl_poll_trouble_live(p);
    p->live.slowest_us = OXL_POLL_MS(LIVE_MS);
    oxl_poll_alive(p, t_us);
    oxl_poll_set_state(p, OXL_LINK_READY, again ? "Data again." : "Live data.");
    oxl_poll_live_next(p, t_us);
}

/* A prompt that is three times later than the latest is lost, or the request was. */
static unsigned live_ms(const struct oxl_poll *p)
{
    int64_t ms = PATIENCE_MS + 3 * p->live.slowest_us / 1000;
    return ms < LIVE_MS ? (unsigned)ms : LIVE_MS;
}

static void note_prompt(struct oxl_poll *p, int64_t t_us)
{
    int64_t took_us = t_us - p->ex.sent_us;
    if (p->ex.timed_out)
        p->live.slowest_us += p->live.slowest_us / 2; /* it may just be slow */
    else if (took_us > p->live.slowest_us)
        p->live.slowest_us = took_us;
    else
        p->live.slowest_us -= (p->live.slowest_us - took_us) / 16;
    if (p->live.slowest_us > OXL_POLL_MS(LIVE_MS))
        p->live.slowest_us = OXL_POLL_MS(LIVE_MS);
}

/* Alone, unless only several PIDs stand on a line that damages what cannot be proven. */
static void ask_separator(struct oxl_poll *p, int64_t t_us)
{
    const uint8_t pids[] = {0x00, p->pair.rear_pid ? p->pair.rear_pid : p->pair.front_pid};
    bool alone = p->schedule.max_pids < 2 || !pids[1] || oxl_poll_may_send(p, 1, pids, 1);
    p->live.separator = true;
    oxl_poll_request(p, 1, pids, alone ? 1 : 2, 0, live_ms(p), t_us);
}

/* Asked together with another PID, PID 00 must be there: of the other an older answer may come. */
bool oxl_poll_live_separates(const struct oxl_poll *p, const struct oxl_message *m)
{
    size_t len;
    return p->stage != OXL_STAGE_LIVE || !p->live.separator ||
           oxl_find_pid(m, &p->vehicle.decoding, 0x00, &len);
}

/* Without proof `0114 15` does not stand where no count follows: a third PID costs less than
 * waiting for the echo, and is worth something. */
static unsigned with_another(struct oxl_poll *p, uint8_t pids[OXL_POLL_PIDS], unsigned n)
{
    const struct oxl_poll_schedule *s = &p->schedule;
    unsigned digit = oxl_poll_digit(p, oxl_poll_expected_frames(p, pids, n));
    if (!p->echo.able || digit || n < 2 || n >= s->max_pids || oxl_poll_stands(p, pids, n, digit))
        return n;
    for (unsigned i = 0; i < s->n; i++) {
        pids[n] = s->pids[i].pid;
        digit = oxl_poll_digit(p, oxl_poll_expected_frames(p, pids, n + 1));
        if (!s->pids[i].dropped && !memchr(pids, pids[n], n) &&
            oxl_poll_stands(p, pids, n + 1, digit))
            return n + 1;
    }
    return n;
}

void oxl_poll_live_next(struct oxl_poll *p, int64_t t_us)
{
    if (oxl_poll_timing_undo(p, t_us) || oxl_poll_echo_off(p, t_us) ||
        (!p->trouble.owed && oxl_poll_sensors_again(p, t_us)))
        return;
    if (p->trouble.owed) {
        ask_separator(p, t_us);
        return;
    }
    uint8_t pids[OXL_POLL_PIDS];
    unsigned n = oxl_poll_schedule_next(p, t_us, pids);
    if (!p->config.unproven)
        n = with_another(p, pids, n);
    p->live.separator = false;
    p->live.frames = oxl_poll_expected_frames(p, pids, n);
    oxl_poll_request(p, 1, pids, n, oxl_poll_digit(p, p->live.frames), live_ms(p), t_us);
}

/* The front sensor first, in whatever order a request may be asked: what has the same times is
 * judged in the order of the gas. */
static void hand_on(struct oxl_poll *p, const struct oxl_sample *samples, size_t n)
{
    for (int front = 1; front >= 0; front--)
        for (size_t i = 0; i < n; i++) {
            bool is_front = oxl_channel_same(samples[i].channel, p->pair.front);
            if (p->config.unproven ? !front : is_front != (front == 1))
                continue;
            oxl_poll_note_sample(p, &samples[i]);
            oxl_poll_sensors_sample(p, &samples[i]);
            oxl_poll_schedule_sample(p, &samples[i]);
            p->out.sample(p->out.ctx, &samples[i]);
        }
}

void oxl_poll_live_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    struct oxl_sample samples[MOST_SAMPLES];
    bool clean;
    if (p->live.separator)
        return;
    if (p->answer.n > 1) { /* one of them is not the answer to this request */
        oxl_poll_count(p, OXL_COUNT_LATE);
        return;
    }
    size_t n =
        oxl_decode_live(m, &p->vehicle.decoding, p->ex.asked_us, samples, MOST_SAMPLES, &clean);
    oxl_poll_alive(p, m->last_byte_us);
    oxl_poll_schedule_answered(p);
    if (p->request.counted)
        oxl_poll_digit_worked(p);
    if (p->state != OXL_LINK_READY)
        oxl_poll_set_state(p, OXL_LINK_READY, "Data again.");
    hand_on(p, samples, n);
}

static bool take_negative(struct oxl_poll *p, int64_t t_us)
{
    if (p->answer.negative == CODE_BUSY && p->ex.tries < REASKS) {
        oxl_poll_busy(p, BUSY_MS, t_us);
        return true;
    }
    bool never = p->answer.negative == CODE_NO_SERVICE || p->answer.negative == CODE_NO_SUCH;
    if (never && p->request.n == 1)
        oxl_poll_schedule_refused(p);
    else if (never)
        oxl_poll_schedule_shrink(p, true, t_us);
    else
        oxl_poll_schedule_unanswered(p);
    return false;
}

static bool bus_trouble(const struct oxl_poll *p)
{
    const uint32_t words = 1u << OXL_WORD_UNABLE | 1u << OXL_WORD_BUS_INIT_ERROR |
                           1u << OXL_WORD_CAN_ERROR | 1u << OXL_WORD_BUS_BUSY |
                           1u << OXL_WORD_BUS_ERROR | 1u << OXL_WORD_FB_ERROR |
                           1u << OXL_WORD_INTERNAL_ERROR;
    return p->answer.words & words;
}

/* The request was not answered. True when something is already under way. */
static bool unanswered(struct oxl_poll *p, int64_t t_us)
{
    if (p->answer.negative)
        return take_negative(p, t_us);
    if (p->answer.pending && p->ex.tries < REASKS) {
        /* The digit took "pending" for the answer. */
        oxl_poll_request_again(p, t_us);
        return true;
    }
    if (bus_trouble(p)) {
        oxl_poll_pause(p, ERROR_MS, false, t_us);
        return true;
    }
    if (oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND) && p->request.counted)
        oxl_poll_digit_doubted(p, true);
    else if (oxl_poll_said(p, OXL_WORD_NO_DATA) || oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND))
        oxl_poll_schedule_unanswered(p);
    else if (p->answer.words == 0 && p->request.counted && p->live.frames > 1 &&
             !oxl_poll_spoilt(p))
        oxl_poll_digit_doubted(p, false); /* it cut the answer off */
    return false;
}

static void separated(struct oxl_poll *p, int64_t t_us)
{
    oxl_poll_separated(p);
    if (p->trouble.owed && !p->ex.timed_out && bus_trouble(p))
        oxl_poll_pause(p, ERROR_MS, false, t_us);
    else
        oxl_poll_live_next(p, t_us);
}

void oxl_poll_live_finished(struct oxl_poll *p, int64_t t_us)
{
    note_prompt(p, t_us);
    if (p->ex.silent || (oxl_poll_said(p, OXL_WORD_UNABLE) && oxl_poll_overdue(p, t_us))) {
        oxl_poll_fell_silent(p, t_us);
        return;
    }
    if (oxl_poll_lost_its_settings(p)) {
        oxl_poll_restarted(p, t_us);
        oxl_poll_wake_start(p, false, t_us);
        return;
    }
    if (p->ex.withheld)
        oxl_poll_schedule_refused(p);
    if (p->ex.withheld || !p->request.service) { /* or a setting was taken back */
        oxl_poll_live_next(p, t_us);
        return;
    }
    oxl_poll_tell_of_trouble(p);
    if (oxl_poll_out_of_step(p)) {
        oxl_poll_pause(p, CATCH_UP_MS, false, t_us);
        return;
    }
    if (p->live.separator) {
        separated(p, t_us);
        return;
    }
    oxl_poll_note_owed(p);
    oxl_poll_timing_judge(p,
                          !p->ex.timed_out && !p->answer.n && oxl_poll_said(p, OXL_WORD_NO_DATA));
    if (!p->ex.timed_out && oxl_poll_said(p, OXL_WORD_BUFFER_FULL))
        oxl_poll_schedule_shrink(p, true, t_us);
    else if (!p->ex.timed_out && !p->answer.n && unanswered(p, t_us))
        return;
    oxl_poll_live_next(p, t_us);
}
