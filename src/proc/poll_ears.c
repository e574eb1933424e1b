#include "poll_ears.h"

#include <stdio.h>

static void on_send(void *ctx, const char *bytes, size_t n)
{
    struct oxl_ears *e = ctx;
    e->acted = true;
    e->out.send(e->out.ctx, bytes, n, e->now_us);
}

static void on_speed(void *ctx, unsigned baud)
{
    struct oxl_ears *e = ctx;
    e->acted = true;
    e->out.set_speed(e->out.ctx, baud, e->now_us);
}

static void on_reopen(void *ctx)
{
    struct oxl_ears *e = ctx;
    e->acted = true;
    e->out.reopen(e->out.ctx, e->now_us);
}

void oxl_ears_say(struct oxl_ears *e, const struct oxl_event *ev)
{
    e->acted = true;
    e->out.event(e->out.ctx, ev);
}

void oxl_ears_say_link(struct oxl_ears *e, enum oxl_link_state state, const char *text)
{
    struct oxl_event ev = {.kind = OXL_EV_LINK, .t_us = e->now_us};
    ev.u.link.state = state;
    snprintf(ev.u.link.text, sizeof ev.u.link.text, "%s", text);
    oxl_ears_say(e, &ev);
}

struct oxl_poll *oxl_ears_poll(const struct oxl_session_config *config, bool inspection,
                               const struct oxl_poll_out *further)
{
    const struct oxl_poll_config poll = {.bank = config->bank ? config->bank : 1,
                                         .speed_baud = config->speed_baud,
                                         .has_speed = config->has_speed,
                                         .no_identity = config->no_identity,
                                         .unproven = config->unproven,
                                         .schedule = config->schedule,
                                         .inspection = inspection};
    struct oxl_poll_out out = *further;
    out.send = on_send;
    out.set_speed = on_speed;
    out.reopen = on_reopen;
    return oxl_poll_new(&poll, &out);
}
