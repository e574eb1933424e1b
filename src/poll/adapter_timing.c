/* An adapter without a working reply count waits after each answer for more. How long is its own
 * affair (adaptive timing) and can be set; both are tried and kept only where the prompt really
 * came sooner and every answer still came. Commands: common practice, no source.
 *
 *   measure, ATAT2, measure, [ATAT1], [ATSThh, measure, [ATST32]]
 */
#include "poll_parts.h"

#include <stdio.h>
#include <string.h>

enum {
    MEASURE_PLAIN,
    SET_AGGRESSIVE,
    MEASURE_AGGRESSIVE,
    TAKE_AGGRESSIVE_BACK,
    SET_TIMEOUT,
    MEASURE_TIMEOUT,
    TAKE_TIMEOUT_BACK,
    OVER
};

enum {
    TRIALS = 6,
    TRIAL_MS = 1500,
    COMMAND_MS = 800,
    COUNT_MS = 4,       /* of ATST: about 4 ms */
    LATEST_MS = 50,     /* P2 of ISO 15765-4 and ISO 14230-4: an ECU may take that long */
    LOSSES = 3,         /* answers lost in live data that take everything back */
    GOOD_RUN = 300,     /* answers in a row that forgive a loss */
    OWN_TIMEOUT = 0x32, /* the usual setting after a reset */
    UNDO_COMMANDS = 2
};

/* Waits that are offered. Should a line lose its first characters, none of these is a request
 * that does anything. */
static const unsigned timeouts[] = {0x18, 0x22, 0x3E, 0x50, 0x70, 0x90, 0xC0};

void oxl_poll_timing_forget(struct oxl_poll *p)
{
    memset(&p->timing, 0, sizeof p->timing);
}

static bool ask_trial(struct oxl_poll *p, int64_t t_us)
{
    uint8_t pids[2] = {p->pair.front_pid, p->pair.rear_pid};
    unsigned n = p->vehicle.multi_pid && pids[0] && pids[1] ? 2 : 1;
    if (!pids[0])
        pids[0] = pids[1] ? pids[1] : 0x0C;
    oxl_poll_request(p, 1, pids, n, 0, TRIAL_MS, t_us);
    return true;
}

static bool ask_setting(struct oxl_poll *p, const char *command, int64_t t_us)
{
    oxl_poll_ask(p, command, COMMAND_MS, t_us);
    return true;
}

static bool ask_timeout(struct oxl_poll *p, unsigned count, int64_t t_us)
{
    char command[16];
    snprintf(command, sizeof command, "ATST%02X", count);
    return ask_setting(p, command, t_us);
}

/* The shortest wait on offer that is half as long again as anything seen or allowed. */
static unsigned timeout_for(const struct oxl_poll *p)
{
    int64_t needed_us = p->timing.longest_us;
    if (needed_us < OXL_POLL_MS(LATEST_MS))
        needed_us = OXL_POLL_MS(LATEST_MS);
    needed_us += needed_us / 2;
    for (size_t i = 0; i < sizeof timeouts / sizeof *timeouts; i++)
        if (OXL_POLL_MS(COUNT_MS * timeouts[i]) >= needed_us)
            return timeouts[i];
    return 0;
}

static void measure_again(struct oxl_poll *p, unsigned stage)
{
    p->timing.stage = stage;
    p->timing.asked = p->timing.answered = 0;
    p->timing.gap_us = 0;
}

static bool timing_begin(struct oxl_poll *p, int64_t t_us)
{
    if (p->vehicle.reply_count || p->timing.stage == OVER)
        return false;
    switch (p->timing.stage) {
    case SET_AGGRESSIVE:
        return ask_setting(p, "ATAT2", t_us);
    case TAKE_AGGRESSIVE_BACK:
        return ask_setting(p, "ATAT1", t_us);
    case SET_TIMEOUT:
        return ask_timeout(p, timeout_for(p), t_us);
    case TAKE_TIMEOUT_BACK:
        return ask_timeout(p, OWN_TIMEOUT, t_us);
    default:
        return ask_trial(p, t_us);
    }
}

/* By a sixth at least. */
static bool is_sooner(const struct oxl_poll_timing *t, int64_t gap_us)
{
    return gap_us * 6 < t->usual_gap_us * 5;
}

static void after_adaptive(struct oxl_poll *p)
{
    struct oxl_poll_timing *t = &p->timing;
    unsigned count = timeout_for(p);
    t->stage = count && is_sooner(t, OXL_POLL_MS(COUNT_MS * count)) ? SET_TIMEOUT : OVER;
}

static void judge(struct oxl_poll *p)
{
    struct oxl_poll_timing *t = &p->timing;
    int64_t gap_us = t->gap_us / TRIALS;
    bool better = t->answered == TRIALS && is_sooner(t, gap_us);
    switch (t->stage) {
    case MEASURE_PLAIN:
        t->usual_gap_us = gap_us;
        t->stage = t->answered == TRIALS ? SET_AGGRESSIVE : OVER;
        return;
    case MEASURE_AGGRESSIVE:
        t->aggressive = better;
        t->stage = TAKE_AGGRESSIVE_BACK;
        if (!better)
            return;
        t->usual_gap_us = gap_us;
        after_adaptive(p);
        return;
    default:
        t->timeout = better ? timeout_for(p) : 0;
        t->stage = better ? OVER : TAKE_TIMEOUT_BACK;
        return;
    }
}

static void note_trial(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_poll_timing *t = &p->timing;
    t->asked++;
    if (p->ex.timed_out || !p->answer.n)
        return;
    t->answered++;
    t->gap_us += t_us - p->answer.at_us;
    if (p->answer.at_us - p->ex.sent_us > t->longest_us)
        t->longest_us = p->answer.at_us - p->ex.sent_us;
}

/* False: begin once more. */
static bool timing_finish(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_poll_timing *t = &p->timing;
    bool taken = !p->ex.timed_out && !oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND);
    switch (t->stage) {
    case SET_AGGRESSIVE:
        measure_again(p, MEASURE_AGGRESSIVE);
        if (!taken)
            after_adaptive(p);
        break;
    case TAKE_AGGRESSIVE_BACK:
        after_adaptive(p);
        break;
    case SET_TIMEOUT:
        measure_again(p, taken ? MEASURE_TIMEOUT : OVER);
        break;
    case TAKE_TIMEOUT_BACK:
        t->stage = OVER;
        break;
    default:
        note_trial(p, t_us);
        if (t->asked == TRIALS)
            judge(p);
        break;
    }
    return t->stage == OVER;
}

const struct oxl_poll_step oxl_poll_timing_step = {timing_begin, .finish = timing_finish,
                                                   .own_retry = true};

/* ---- live data: never at the price of answers ---- */

void oxl_poll_timing_judge(struct oxl_poll *p, bool lost)
{
    struct oxl_poll_timing *t = &p->timing;
    if (!t->aggressive && !t->timeout)
        return;
    if (lost) {
        t->good = 0;
        t->losses++;
    } else if (++t->good >= GOOD_RUN) {
        t->good = t->losses = 0;
    }
    if (t->losses < LOSSES)
        return;
    t->aggressive = false;
    t->timeout = t->losses = 0;
    t->undo = UNDO_COMMANDS;
}

bool oxl_poll_timing_undo(struct oxl_poll *p, int64_t t_us)
{
    if (!p->timing.undo)
        return false;
    return --p->timing.undo ? ask_setting(p, "ATAT1", t_us) : ask_timeout(p, OWN_TIMEOUT, t_us);
}
