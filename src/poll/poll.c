#include "oxylag/poll.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "poll_parts.h"

#define MAY(stage) (1U << OXL_STAGE_##stage)

static const struct oxl_poll_stage_ops stages[OXL_STAGE_COUNT] = {
    [OXL_STAGE_OFF] = {NULL, NULL, NULL, MAY(PROBE) | MAY(SEARCH)},
    [OXL_STAGE_PROBE] = {NULL, oxl_poll_probe_finished, NULL, MAY(PROBE) | MAY(WAKE)},
    [OXL_STAGE_WAKE] = {NULL, oxl_poll_wake_finished, NULL, MAY(PROBE) | MAY(SEARCH)},
    [OXL_STAGE_SEARCH] = {oxl_poll_search_answer, oxl_poll_search_finished, oxl_poll_search_next,
                          MAY(PROBE) | MAY(WAKE) | MAY(SEARCH) | MAY(SURVEY) | MAY(VERIFY)},
    [OXL_STAGE_SURVEY] = {oxl_poll_survey_answer, oxl_poll_survey_finished, oxl_poll_survey_next,
                          MAY(WAKE) | MAY(LIVE)},
    [OXL_STAGE_VERIFY] = {oxl_poll_verify_answer, oxl_poll_verify_finished, NULL,
                          MAY(WAKE) | MAY(SEARCH) | MAY(LIVE)},
    [OXL_STAGE_LIVE] = {oxl_poll_live_answer, oxl_poll_live_finished, oxl_poll_live_next,
                        MAY(WAKE) | MAY(SURVEY)},
};

const struct oxl_poll_stage_ops *oxl_poll_stage_ops(const struct oxl_poll *p)
{
    return &stages[p->stage];
}

/* A port may go away at any time. */
bool oxl_poll_stage_may_follow(enum oxl_poll_stage next, enum oxl_poll_stage now)
{
    return next == OXL_STAGE_OFF || (stages[now].may_follow >> next & 1);
}

void oxl_poll_enter(struct oxl_poll *p, enum oxl_poll_stage next)
{
    assert(oxl_poll_stage_may_follow(next, p->stage));
    p->stage = next;
}

bool oxl_poll_is_talking(const struct oxl_poll *p)
{
    return p->stage == OXL_STAGE_SURVEY || p->stage == OXL_STAGE_VERIFY ||
           p->stage == OXL_STAGE_LIVE;
}

struct oxl_poll *oxl_poll_new(const struct oxl_poll_config *config, const struct oxl_poll_out *out)
{
    struct oxl_poll *p = calloc(1, sizeof *p);
    if (!p)
        return NULL;
    p->config = *config;
    if (p->config.bank != 2)
        p->config.bank = 1;
    p->out = *out;
    struct oxl_wire_out ears = oxl_poll_ears(p);
    p->wire = oxl_wire_new(&ears);
    if (!p->wire) {
        free(p);
        return NULL;
    }
    oxl_poll_no_deadlines(p);
    oxl_poll_echo_forget(p);
    oxl_poll_cancel(p);
    return p;
}

void oxl_poll_free(struct oxl_poll *p)
{
    if (!p)
        return;
    oxl_wire_free(p->wire);
    free(p);
}

void oxl_poll_set_state(struct oxl_poll *p, enum oxl_link_state s, const char *text)
{
    if (p->state == s && strcmp(p->text, text) == 0)
        return;
    p->state = s;
    snprintf(p->text, sizeof p->text, "%s", text);
    p->out.link(p->out.ctx, s, p->text);
}

void oxl_poll_say_again(struct oxl_poll *p, enum oxl_link_state s, const char *text)
{
    p->text[0] = '\0';
    oxl_poll_set_state(p, s, text);
}

/* Said again, should the port have been opened again. */
void oxl_poll_end(struct oxl_poll *p, enum oxl_link_state s, const char *text)
{
    oxl_poll_cancel(p);
    oxl_poll_enter(p, OXL_STAGE_OFF);
    oxl_poll_no_deadlines(p);
    oxl_poll_say_again(p, s, text);
}

static bool is_final(enum oxl_link_state s)
{
    return s == OXL_LINK_NO_ADAPTER || s == OXL_LINK_NO_VEHICLE;
}

static void link_up(struct oxl_poll *p, int64_t t_us)
{
    if (p->link.port_up && p->stage != OXL_STAGE_OFF)
        return;
    oxl_poll_port(p, true);
    oxl_poll_search_forget(p);
    oxl_wire_reset(p->wire);
    oxl_poll_probe_start(p, t_us);
}

static void link_down(struct oxl_poll *p, int64_t t_us)
{
    if (!p->link.port_up)
        return;
    oxl_poll_port(p, false);
    if (is_final(p->state))
        oxl_poll_end(p, OXL_LINK_CLOSED, "");
    else if (p->state == OXL_LINK_LOST && p->stage == OXL_STAGE_OFF)
        return; /* as was to be expected; the next attempt is set */
    else
        oxl_poll_lost(p, "The port went away: is the adapter plugged in?", t_us);
}

void oxl_poll_link(struct oxl_poll *p, bool up, int64_t t_us)
{
    if (up)
        link_up(p, t_us);
    else
        link_down(p, t_us);
    oxl_poll_settle(p, t_us);
}

/* Echo is looked at character by character; what is waited for changes with a prompt only. */
static size_t portion(const struct oxl_poll *p, const uint8_t *b, size_t n)
{
    if (p->ex.phase == OXL_PHASE_PROVE || p->ex.phase == OXL_PHASE_SPOIL)
        return 1;
    const uint8_t *prompt = memchr(b, '>', n);
    return prompt ? (size_t)(prompt - b) + 1 : n;
}

void oxl_poll_rx(struct oxl_poll *p, const void *bytes, size_t n, int64_t t_us)
{
    if (n == 0)
        return;
    oxl_poll_heard(p, t_us);
    oxl_poll_speed_heard(p);
    const uint8_t *b = bytes, *end = b + n;
    while (b < end) {
        size_t some = portion(p, b, (size_t)(end - b));
        if (some > 1 || !oxl_poll_hear_echo(p, *b, t_us))
            oxl_wire_feed(p->wire, b, some, t_us);
        oxl_poll_settle(p, t_us);
        b += some;
    }
}

void oxl_poll_tick(struct oxl_poll *p, int64_t t_us)
{
    if (t_us >= p->link.give_up_us)
        oxl_poll_search_give_up(p);
    if (t_us >= p->link.lost_us)
        oxl_poll_fell_silent(p, t_us);
    if (t_us >= p->link.stall_us)
        oxl_poll_stalled(p);
    if (t_us >= p->link.retry_us)
        oxl_poll_attempt(p, t_us);
    if (t_us >= p->ex.deadline_us)
        oxl_poll_ex_deadline(p, t_us);
    oxl_poll_settle(p, t_us);
}

void oxl_poll_focus(struct oxl_poll *p, enum oxl_focus focus)
{
    p->focus = focus;
}

int64_t oxl_poll_due_us(const struct oxl_poll *p)
{
    int64_t due = oxl_earlier_us(p->ex.deadline_us, p->link.retry_us);
    due = oxl_earlier_us(due, oxl_earlier_us(p->link.stall_us, p->link.lost_us));
    return oxl_earlier_us(due, p->link.give_up_us);
}

enum oxl_link_state oxl_poll_state(const struct oxl_poll *p)
{
    return p->state;
}

const struct oxl_vehicle *oxl_poll_vehicle(const struct oxl_poll *p)
{
    return &p->vehicle;
}

const struct oxl_onboard *oxl_poll_onboard(const struct oxl_poll *p)
{
    return &p->inspect.onboard;
}

struct oxl_pair oxl_poll_pair(const struct oxl_poll *p)
{
    return p->pair;
}

const struct oxl_wire_stats *oxl_poll_wire_stats(const struct oxl_poll *p)
{
    return oxl_wire_stats(p->wire);
}
