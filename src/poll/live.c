/* Live data: ask, pass the samples on, ask again in the same breath.
 *
 * An adapter hands over whatever comes from the bus while it waits: also the late answer to an
 * earlier request, which is older than it seems, and with the expected-reply count every answer
 * may then be that of the request before. A ECU answers its requests in turn. So as long as an
 * answer may be owed, PID 00 alone is asked, without a count: once that has been answered, all
 * before it has been answered or never will be. */
#include "inside.h"

#include <string.h>

enum {
    LIVE_MS = 1200, /* at most; less where prompts usually come sooner */
    PATIENCE_MS = 300,
    MOST_SAMPLES = 24,
    REASKS = 10,
    BUSY_MS = 50,   /* ISO 15031-5 / ISO 14230-4: busy, repeat */
    ERROR_MS = 100, /* do not hammer a bus that is in trouble */
    DOUBTS = 3,     /* failures in a row before an ability is doubted */
    REFUSALS = 6,   /* likewise; a damaged request is refused too */
    OUT_OF_STEP = 8,
    CATCH_UP_MS = 400,
    HEADLESS = 2 /* answers in a row without a header before the adapter is set up again */
};

/* Negative response codes, ISO 15031-5. */
enum { CODE_NO_SERVICE = 0x11, CODE_NO_SUCH = 0x12, CODE_BUSY = 0x21 };

void oxl_poll_live_start(struct oxl_poll *p, int64_t t_us)
{
    bool again = p->reviving;
    p->stage = OXL_STAGE_LIVE;
    p->reviving = false;
    p->pair = oxl_vehicle_pair(&p->vehicle, p->config.bank);
    oxl_poll_schedule_build(p);
    p->cuts = p->refusals = p->headless = 0;
    p->owed = !p->ex.answers;
    p->slowest_us = OXL_POLL_MS(LIVE_MS);
    oxl_poll_alive(p, t_us);
    oxl_poll_set_state(p, OXL_LINK_READY, again ? "Data again." : "Live data.");
    oxl_poll_live_next(p, t_us);
}

/* A prompt that is three times later than the latest is lost, or the request was. */
static unsigned live_ms(const struct oxl_poll *p)
{
    int64_t ms = PATIENCE_MS + 3 * p->slowest_us / 1000;
    return ms < LIVE_MS ? (unsigned)ms : LIVE_MS;
}

static void note_prompt(struct oxl_poll *p, int64_t t_us)
{
    int64_t took_us = t_us - p->ex.sent_us;
    if (p->ex.timed_out)
        p->slowest_us += p->slowest_us / 2; /* it may just be slow */
    else if (took_us > p->slowest_us)
        p->slowest_us = took_us;
    else
        p->slowest_us -= (p->slowest_us - took_us) / 16;
    if (p->slowest_us > OXL_POLL_MS(LIVE_MS))
        p->slowest_us = OXL_POLL_MS(LIVE_MS);
}

/* Alone, unless only several PIDs stand on a line that damages what cannot be proven. */
static void ask_separator(struct oxl_poll *p, int64_t t_us)
{
    const uint8_t pids[] = {0x00, p->pair.rear_pid ? p->pair.rear_pid : p->pair.front_pid};
    bool alone = p->schedule.max_pids < 2 || !pids[1] || oxl_poll_may_send(p, 1, pids, 1);
    oxl_poll_request(p, 1, pids, alone ? 1 : 2, 0, live_ms(p), t_us);
    p->ex.separator = true;
}

/* Without proof `0114 15` does not stand where no count follows: a third PID costs less than
 * waiting for the echo, and is worth something. */
static unsigned with_another(struct oxl_poll *p, uint8_t pids[OXL_POLL_PIDS], unsigned n)
{
    const struct oxl_poll_schedule *s = &p->schedule;
    unsigned digit = oxl_poll_digit(p, oxl_poll_expected_frames(p, pids, n));
    if (!p->echoes || digit || n < 2 || n >= s->max_pids || oxl_poll_stands(p, pids, n, digit))
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
    struct oxl_poll_schedule *s = &p->schedule;
    if (oxl_poll_tune_undo(p, t_us) || oxl_poll_echo_off(p, t_us))
        return;
    if (p->owed) {
        ask_separator(p, t_us);
        return;
    }
    uint8_t pids[OXL_POLL_PIDS];
    unsigned n = oxl_poll_schedule_next(p, t_us, pids);
    /* Is it the number of PIDs that is not answered? One of them alone will tell. */
    if (n > 1 && s->multi_fails >= DOUBTS) {
        s->single_try = !s->single_try;
        if (s->single_try)
            n = 1;
    }
    if (!p->config.unproven)
        n = with_another(p, pids, n);
    unsigned frames = oxl_poll_expected_frames(p, pids, n);
    oxl_poll_request(p, 1, pids, n, oxl_poll_digit(p, frames), live_ms(p), t_us);
    p->ex.frames = frames;
}

static void mark_pids(struct oxl_poll *p)
{
    for (unsigned i = 0; i < p->ex.n; i++) {
        if (p->ex.found >> i & 1)
            oxl_poll_schedule_hit(p, p->ex.pids[i]);
        else
            oxl_poll_schedule_miss(p, p->ex.pids[i]);
    }
}

static void judge_request(struct oxl_poll *p)
{
    struct oxl_poll_schedule *s = &p->schedule;
    if (p->ex.n == 1 && s->multi_fails >= DOUBTS)
        oxl_poll_schedule_shrink(p, false, p->ex.sent_us);
    s->multi_fails = 0;
    if (p->ex.counted)
        p->refusals = 0;
    if (p->ex.counted && p->ex.frames > 1)
        p->cuts = 0;
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
            p->out.sample(p->out.ctx, &samples[i]);
        }
}

void oxl_poll_live_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    struct oxl_sample samples[MOST_SAMPLES];
    bool clean;
    if (p->ex.separator)
        return;
    if (p->ex.answers > 1) { /* one of them is not the answer to this request */
        p->stats.late++;
        return;
    }
    size_t n =
        oxl_decode_live(m, &p->vehicle.decoding, p->ex.asked_us, samples, MOST_SAMPLES, &clean);
    oxl_poll_alive(p, m->last_byte_us);
    judge_request(p);
    mark_pids(p);
    if (p->state != OXL_LINK_READY)
        oxl_poll_set_state(p, OXL_LINK_READY, "Data again.");
    hand_on(p, samples, n);
}

static void miss_all(struct oxl_poll *p)
{
    if (p->ex.n > 1) {
        p->schedule.multi_fails++;
        return;
    }
    oxl_poll_schedule_miss(p, p->ex.pids[0]);
}

static bool take_negative(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    if (ex->negative == CODE_BUSY && ex->tries < REASKS) {
        ex->tries++;
        oxl_poll_pause(p, BUSY_MS, true, t_us);
        return true;
    }
    bool never = ex->negative == CODE_NO_SERVICE || ex->negative == CODE_NO_SUCH;
    if (never && ex->n == 1)
        oxl_poll_schedule_drop(p, ex->pids[0]);
    else if (never)
        oxl_poll_schedule_shrink(p, true, t_us);
    else
        miss_all(p);
    return false;
}

static bool bus_trouble(const struct oxl_poll *p)
{
    const uint32_t words = 1u << OXL_WORD_UNABLE | 1u << OXL_WORD_BUS_INIT_ERROR |
                           1u << OXL_WORD_CAN_ERROR | 1u << OXL_WORD_BUS_BUSY |
                           1u << OXL_WORD_BUS_ERROR | 1u << OXL_WORD_FB_ERROR |
                           1u << OXL_WORD_INTERNAL_ERROR;
    return p->ex.words & words;
}

/* Once is an accident, several times in a row are a habit. */
static void doubt_digit(unsigned *times, unsigned most, bool *works)
{
    if (++*times >= most)
        *works = false;
}

/* The request was not answered. True when something is already under way. */
static bool unanswered(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    if (ex->negative)
        return take_negative(p, t_us);
    if (ex->pending && ex->tries < REASKS) {
        /* The digit took "pending" for the answer. */
        oxl_poll_request_again(p, t_us);
        return true;
    }
    if (bus_trouble(p)) {
        oxl_poll_pause(p, ERROR_MS, false, t_us);
        return true;
    }
    if (oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND) && ex->counted)
        doubt_digit(&p->refusals, REFUSALS, &p->vehicle.reply_count);
    else if (oxl_poll_said(p, OXL_WORD_NO_DATA) || oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND))
        miss_all(p);
    else if (ex->words == 0 && ex->counted && ex->frames > 1 && !oxl_poll_spoilt(p))
        doubt_digit(&p->cuts, DOUBTS, &p->count_multi_frame); /* cut off */
    return false;
}

/* Of the request that is over: may an answer still come? What was spoilt or refused has come. */
static bool may_be_owed(const struct oxl_poll *p)
{
    const struct oxl_exchange *ex = &p->ex;
    bool damaged = oxl_poll_spoilt(p) || oxl_poll_cut_off(p) ||
                   oxl_poll_said(p, OXL_WORD_BUFFER_FULL) ||
                   oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND) || ex->negative;
    if (ex->timed_out || ex->answers > 1 || (ex->pending && ex->answers == 0))
        return true;
    return ex->answers == 0 && !damaged;
}

/* Answers without a header: the adapter has lost its settings and says nothing of it. */
static bool lost_its_settings(struct oxl_poll *p)
{
    bool headless = oxl_wire_stats(p->wire)->headless != p->ex.headless_before;
    p->headless = headless && !p->ex.answers ? p->headless + 1 : 0;
    return p->headless >= HEADLESS;
}

/* An adapter that buffered our attempts to wake it gives one prompt too many; each request is
 * then sent while the one before is still being answered. Silence lets it catch up. */
static bool out_of_step(struct oxl_poll *p, int64_t t_us)
{
    bool others = !p->ex.answers && p->stats.late != p->ex.late_before;
    if (others)
        p->shifted += 2;
    else if (p->shifted)
        p->shifted--;
    if (p->shifted < OUT_OF_STEP)
        return false;
    p->shifted = 0;
    p->owed = true;
    oxl_poll_pause(p, CATCH_UP_MS, false, t_us);
    return true;
}

/* Up at once, down slowly; true when it happens at more than about 2 of 100 requests. */
static bool often(unsigned *count, bool now)
{
    enum { UP = 50, MANY = 400 };
    if (now)
        *count += UP;
    else if (*count)
        --*count;
    if (*count < MANY)
        return false;
    *count = 0;
    return true;
}

/* The test goes on, with what can be read; the technician may want to know why it is slow. */
static void tell_of_trouble(struct oxl_poll *p)
{
    bool damaged = often(&p->damaged, oxl_poll_spoilt(p) || p->ex.proofs > 1);
    enum { REMEMBERED = 1000 }; /* requests */
    p->bad_line = damaged ? REMEMBERED : p->bad_line - (p->bad_line > 0);
    bool tardy = often(&p->tardy, p->stats.late != p->ex.late_before || p->ex.pending);
    if (p->state != OXL_LINK_READY)
        return;
    if (damaged)
        oxl_poll_set_state(p, OXL_LINK_READY,
                           "Answers come damaged and are left out: check plug, cable and speed.");
    else if (tardy)
        oxl_poll_set_state(p, OXL_LINK_READY,
                           "The vehicle answers late at times; those answers are left out.");
}

static void separated(struct oxl_poll *p, int64_t t_us)
{
    p->owed = !p->ex.answers || p->ex.timed_out;
    if (p->owed && !p->ex.timed_out && bus_trouble(p))
        oxl_poll_pause(p, ERROR_MS, false, t_us);
    else
        oxl_poll_live_next(p, t_us);
}

void oxl_poll_live_finished(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_exchange *ex = &p->ex;
    note_prompt(p, t_us);
    if (ex->silent) {
        oxl_poll_fell_silent(p, t_us);
        return;
    }
    if (lost_its_settings(p)) {
        oxl_poll_restarted(p, t_us);
        oxl_poll_wake_start(p, false, t_us);
        return;
    }
    if (!ex->service) { /* a setting was taken back */
        oxl_poll_live_next(p, t_us);
        return;
    }
    if (ex->withheld) {
        oxl_poll_schedule_drop(p, ex->pids[0]);
        oxl_poll_live_next(p, t_us);
        return;
    }
    tell_of_trouble(p);
    if (out_of_step(p, t_us))
        return;
    if (ex->separator) {
        separated(p, t_us);
        return;
    }
    p->owed = p->owed || may_be_owed(p);
    oxl_poll_tune_judge(p, !ex->timed_out && !ex->answers && oxl_poll_said(p, OXL_WORD_NO_DATA));
    if (!ex->timed_out && oxl_poll_said(p, OXL_WORD_BUFFER_FULL))
        oxl_poll_schedule_shrink(p, true, t_us);
    else if (!ex->timed_out && !ex->answers && unanswered(p, t_us))
        return;
    oxl_poll_live_next(p, t_us);
}
