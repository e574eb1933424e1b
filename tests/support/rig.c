#include "rig.h"

#include <stdio.h>
#include <string.h>

static void record(struct rig *r, const struct oxl_line *line)
{
    static char text[OXL_RECORD_LINE_MAX];
    size_t n = r->line ? oxl_record_encode(line, text, sizeof text) : 0;
    if (n)
        r->line(r->ctx, text, n);
}

static void on_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    struct rig *r = ctx;
    struct oxl_line line = {.kind = OXL_LINE_TX, .t_us = t_us, .bytes = bytes, .n = n};
    record(r, &line);
    r->sends++;
    if (r->reopen_us == INT64_MAX)
        oxl_sim_write(r->sim, bytes, n, r->baud, t_us);
}

static void on_speed(void *ctx, unsigned baud, int64_t t_us)
{
    struct rig *r = ctx;
    struct oxl_line line = {.kind = OXL_LINE_SPEED, .t_us = t_us, .speed_baud = baud};
    record(r, &line);
    r->baud = baud;
}

static void on_reopen(void *ctx, int64_t t_us)
{
    struct rig *r = ctx;
    if (r->reopen_us == INT64_MAX)
        r->reopen_us = t_us;
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    static char text[OXL_RECORD_LINE_MAX];
    struct rig *r = ctx;
    r->samples += ev->kind == OXL_EV_SAMPLE;
    size_t n =
        r->line && ev->kind != OXL_EV_SAMPLE ? oxl_event_json(ev, false, text, sizeof text) : 0;
    if (n) {
        struct oxl_line line = {.kind = OXL_LINE_EVENT, .t_us = ev->t_us, .bytes = text, .n = n};
        record(r, &line);
    }
    if (r->event)
        r->event(r->ctx, ev);
    if (!r->deaf)
        oxl_sim_hear(r->sim, ev);
}

static void feed(struct rig *r, struct oxl_input in)
{
    static const enum oxl_line_kind kinds[] = {
        [OXL_IN_RX] = OXL_LINE_RX,          [OXL_IN_TICK] = OXL_LINE_TICK,
        [OXL_IN_KEY] = OXL_LINE_KEY,        [OXL_IN_LINK_UP] = OXL_LINE_LINK,
        [OXL_IN_LINK_DOWN] = OXL_LINE_LINK, [OXL_IN_NOTE] = OXL_LINE_NOTE};
    in.t_us = r->now_us;
    struct oxl_line line = {.kind = kinds[in.kind],
                            .t_us = in.t_us,
                            .bytes = in.bytes,
                            .n = in.n,
                            .key = in.key,
                            .link_up = in.kind == OXL_IN_LINK_UP};
    if (in.kind != OXL_IN_TICK)
        record(r, &line);
    bool mattered = oxl_session_step(r->session, &in);
    if (in.kind == OXL_IN_TICK && mattered)
        record(r, &line);
}

bool rig_start(struct rig *r, const char *scenario, uint64_t seed, enum oxl_tech_mode mode)
{
    struct oxl_scenario *s = NULL;
    bool text = scenario[0] == '[';
    if ((text ? oxl_scenario_parse(scenario, "text", &s, NULL)
              : oxl_scenario_load(scenario, &s, NULL)) != OXL_OK)
        return false;
    bool ok = rig_start_with(r, s, scenario, seed, mode);
    oxl_scenario_free(s);
    return ok;
}

bool rig_start_with(struct rig *r, const struct oxl_scenario *s, const char *scenario,
                    uint64_t seed, enum oxl_tech_mode mode)
{
    unsigned bank = r->bank ? r->bank : 1;
    r->now_us = 0;
    r->reopen_us = INT64_MAX;
    r->sim = oxl_sim_new(s, seed, mode);
    struct oxl_record_header *h = &r->header;
    *h = (struct oxl_record_header){.version = OXL_RECORD_VERSION,
                                    .simulated = true,
                                    .seed = seed,
                                    .bank = bank,
                                    .has_speed = true};
    snprintf(h->port, sizeof h->port, "sim:%s", scenario);
    snprintf(h->scenario, sizeof h->scenario, "%s", scenario);
    oxl_profile_defaults(&h->profile);
    struct oxl_session_config config = {.profile = h->profile, .bank = bank, .has_speed = true};
    struct oxl_session_out out = {
        .ctx = r, .send = on_send, .set_speed = on_speed, .reopen = on_reopen, .event = on_event};
    r->session = oxl_session_new(&config, &out);
    if (!r->sim || !r->session)
        return false;
    static char first[OXL_RECORD_LINE_MAX];
    size_t n = r->line ? oxl_record_encode_header(h, first, sizeof first) : 0;
    if (n)
        r->line(r->ctx, first, n);
    feed(r, (struct oxl_input){.kind = OXL_IN_LINK_UP});
    return true;
}

static void read_adapter(struct rig *r)
{
    char buf[1024];
    size_t n;
    while (!oxl_session_over(r->session) &&
           (n = oxl_sim_read(r->sim, buf, sizeof buf, r->now_us)) > 0)
        feed(r, (struct oxl_input){.kind = OXL_IN_RX, .bytes = buf, .n = n});
}

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static int64_t adapter_due(const struct rig *r)
{
    int64_t due = oxl_sim_due_us(r->sim);
    if (r->grid_us <= 0 || due == INT64_MAX)
        return due;
    return (due + r->grid_us - 1) / r->grid_us * r->grid_us;
}

void rig_run(struct rig *r, int64_t until_us)
{
    while (r->now_us < until_us && !oxl_session_over(r->session)) {
        bool open = r->reopen_us == INT64_MAX;
        int64_t due = least(oxl_session_due_us(r->session), r->reopen_us);
        int64_t bytes_us = open ? adapter_due(r) : INT64_MAX;
        due = least(least(due, bytes_us), until_us);
        r->now_us = due > r->now_us ? due : r->now_us;
        if (open && r->now_us >= bytes_us)
            read_adapter(r);
        feed(r, (struct oxl_input){.kind = OXL_IN_TICK});
        r->ticks++;
        if (r->now_us >= r->reopen_us) {
            r->reopen_us = INT64_MAX;
            feed(r, (struct oxl_input){.kind = OXL_IN_LINK_DOWN});
            feed(r, (struct oxl_input){.kind = OXL_IN_LINK_UP});
        }
    }
}

void rig_key(struct rig *r, enum oxl_key key)
{
    feed(r, (struct oxl_input){.kind = OXL_IN_KEY, .key = key});
}

void rig_unplug(struct rig *r, int64_t for_us)
{
    feed(r, (struct oxl_input){.kind = OXL_IN_LINK_DOWN});
    r->reopen_us = r->now_us + for_us;
}

void rig_stop(struct rig *r)
{
    struct oxl_line end = {.kind = OXL_LINE_END, .t_us = r->now_us};
    if (r->session)
        record(r, &end);
    oxl_session_free(r->session);
    oxl_sim_free(r->sim);
    r->session = NULL;
    r->sim = NULL;
}
