#include "connection.h"

#include <string.h>

#include "clock.h"
#include "commands.h"
#include "recording_writer.h"

/* A port that is gone for long is tried less often. */
static const int64_t again_us[] = {500000, 1000000, 2000000, 4000000, 5000000};

/* An adapter answers requests, some hundred bytes each, and needs a few milliseconds between them:
 * 30 values a second are 2 kB/s, the most that was seen is 4 kB/s, and no serial line below 320,000
 * baud carries 32 kB/s. What exceeds that by FLOOD_BYTES is no answer to anything. A port that has
 * flooded has AGAIN_BYTES of that left when it is opened again. */
enum { HELD_US = 2000000 };
enum { PORTION_BYTES = 16384, SANE_BYTES_S = 32000, FLOOD_BYTES = 131072, AGAIN_BYTES = 8192 };

void oxl_connection_start(struct oxl_connection *p, const struct oxl_opts *o)
{
    *p = (struct oxl_connection){.speed_baud = o->speed_baud,
                                 .packet_ms = o->packet_ms,
                                 .virtual_time = o->virtual_time,
                                 .rate = o->rate,
                                 .mask_vin = o->mask_vin,
                                 .again_us = again_us,
                                 .again_n = sizeof again_us / sizeof again_us[0],
                                 .reopen_us = INT64_MAX};
}

void oxl_connection_feed(struct oxl_connection *p, struct oxl_input in)
{
    in.t_us = p->now_us;
    /* Raw bytes first; of ticks only those that mattered (session.h). */
    if (in.kind != OXL_IN_TICK)
        oxl_recording_input(p->recorder, &in);
    bool mattered = oxl_core_step(&p->core, &in);
    if (in.kind == OXL_IN_TICK && mattered)
        oxl_recording_input(p->recorder, &in);
}

void oxl_connection_note(struct oxl_connection *p, const char *text)
{
    oxl_connection_feed(p,
                        (struct oxl_input){.kind = OXL_IN_NOTE, .bytes = text, .n = strlen(text)});
}

/* ---- open and closed ------------------------------------------------------------------------- */
static enum oxl_status open_link(struct oxl_connection *p, struct oxl_error *err)
{
    if (!p->sim)
        return oxl_link_open(p->port, p->speed_baud, &p->link, err);
    if (!oxl_sim_plugged(p->sim, p->now_us))
        return oxl_fail(err, OXL_ERR_PORT_OPEN, "the simulated adapter is not plugged in");
    p->link = oxl_link_sim(p->sim);
    if (!p->link)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory");
    oxl_link_sim_packets(p->link, p->packet_ms * INT64_C(1000));
    return OXL_OK;
}

static enum oxl_status new_sim(struct oxl_connection *p, uint64_t seed, enum oxl_tech_mode tech,
                               struct oxl_error *err)
{
    struct oxl_scenario *scenario;
    enum oxl_status st = oxl_load_scenario(p->port + 4, &scenario, err);
    if (st != OXL_OK)
        return st;
    p->sim = oxl_sim_new(scenario, seed, tech);
    oxl_scenario_free(scenario);
    return p->sim ? OXL_OK : oxl_fail(err, OXL_ERR_NOMEM, "no memory");
}

enum oxl_status oxl_connection_open(struct oxl_connection *p, const struct oxl_opts *o,
                                    enum oxl_tech_mode tech, struct oxl_error *err)
{
    enum oxl_status st = OXL_OK;
    if (strncmp(p->port, "sim:", 4) == 0)
        st = new_sim(p, o->seed, tech, err);
    if (st == OXL_OK)
        st = open_link(p, err);
    if (st == OXL_OK)
        oxl_link_known(p->link, p->known, sizeof p->known);
    return st;
}

static void close_link(struct oxl_connection *p)
{
    if (p->link)
        p->link->ops->close(p->link);
    p->link = NULL;
    p->unsent_n = 0;
}

void oxl_connection_close(struct oxl_connection *p)
{
    close_link(p);
    oxl_opening_leave(p->opening);
    p->opening = NULL;
    oxl_sim_free(p->sim);
    p->sim = NULL;
    oxl_core_close(&p->core);
}

void oxl_connection_begin(struct oxl_connection *p)
{
    p->start_us = oxl_wall_us();
    p->now_us = 0;
    p->reopen_us = INT64_MAX;
    oxl_connection_feed(p, (struct oxl_input){.kind = OXL_IN_LINK_UP});
}

static void link_down(struct oxl_connection *p, size_t tries)
{
    close_link(p);
    p->tries = tries;
    p->reopen_us = p->now_us + p->again_us[tries];
    oxl_connection_feed(p, (struct oxl_input){.kind = OXL_IN_LINK_DOWN});
}

static void tried(struct oxl_connection *p, struct oxl_link *link)
{
    p->link = link;
    if (link) {
        p->reopen_us = INT64_MAX;
        p->tries = 0;
        p->counted_us = p->now_us;
        if (p->speed_baud && link->has_speed) /* it may have changed meanwhile */
            link->ops->set_speed(link, p->speed_baud);
        oxl_connection_feed(p, (struct oxl_input){.kind = OXL_IN_LINK_UP});
        return;
    }
    if (p->tries < p->again_n - 1)
        p->tries++;
    p->reopen_us = p->now_us + p->again_us[p->tries];
}

/* The simulator is at hand; for anything else nobody can say how long it takes. */
static void try_again(struct oxl_connection *p)
{
    p->reopen_us = INT64_MAX;
    if (p->sim) {
        tried(p, open_link(p, NULL) == OXL_OK ? p->link : NULL);
        return;
    }
    p->opening = oxl_opening_start(p->port, p->known, p->speed_baud);
    if (!p->opening)
        tried(p, NULL);
}

static const char held_text[] =
    "No byte leaves the port, flow control holds it: unplug the adapter, plug it in again.";

/* No line is so slow that nothing at all leaves it for two seconds. */
static void mind_the_held(struct oxl_connection *p)
{
    size_t n = p->unsent_n;
    if (p->link && p->link->ops->unsent)
        n += p->link->ops->unsent(p->link);
    if (n == 0 || n < p->waiting_n || p->waiting_n == 0) {
        p->waiting_us = p->now_us;
        p->held = p->held && n > 0;
    }
    p->waiting_n = n;
    if (p->held || p->now_us - p->waiting_us < HELD_US)
        return;
    p->held = true;
    oxl_connection_note(p, held_text);
}

void oxl_connection_explain(const struct oxl_connection *p, struct oxl_error *err)
{
    if (p->held && err->status == OXL_ERR_NO_ADAPTER)
        (void)oxl_fail(err, err->status, "%s", held_text);
}

static void mind(struct oxl_connection *p)
{
    struct oxl_link *link = NULL;
    mind_the_held(p);
    if (p->opening && oxl_opening_over(p->opening, &link)) {
        p->opening = NULL;
        tried(p, link);
    }
    if (p->opening || p->now_us < p->reopen_us)
        return;
    bool was_open = p->link != NULL;
    close_link(p);
    if (was_open)
        oxl_connection_feed(p, (struct oxl_input){.kind = OXL_IN_LINK_DOWN});
    try_again(p);
}

/* ---- what the core wants --------------------------------------------------------------------- */
static void flush(struct oxl_connection *p)
{
    if (!p->link || !p->unsent_n)
        return;
    ssize_t n = p->link->ops->write(p->link, p->unsent, p->unsent_n, p->now_us);
    if (n <= 0)
        return; /* a link that is down shows at the next read */
    p->unsent_n -= (size_t)n;
    memmove(p->unsent, p->unsent + n, p->unsent_n);
}

static void on_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    struct oxl_connection *p = ctx;
    oxl_recording_sent(p->recorder, bytes, n, t_us);
    if (n <= sizeof p->unsent - p->unsent_n) {
        memcpy(p->unsent + p->unsent_n, bytes, n);
        p->unsent_n += n;
    }
    flush(p);
}

static void on_speed(void *ctx, unsigned baud, int64_t t_us)
{
    struct oxl_connection *p = ctx;
    oxl_recording_speed(p->recorder, baud, t_us);
    p->speed_baud = baud;
    if (p->link)
        p->link->ops->set_speed(p->link, baud);
}

static void on_reopen(void *ctx, int64_t t_us)
{
    struct oxl_connection *p = ctx;
    if (p->reopen_us == INT64_MAX && !p->opening)
        p->reopen_us = t_us;
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct oxl_connection *p = ctx;
    oxl_recording_event(p->recorder, ev, p->mask_vin);
    p->event(p->ctx, ev);
}

enum oxl_status oxl_connection_core(struct oxl_connection *p, const struct oxl_record_header *h,
                                    struct oxl_error *err)
{
    const struct oxl_session_config config = oxl_core_as_recorded(h);
    const struct oxl_session_out out = {p, on_send, on_speed, on_reopen, on_event};
    return oxl_core_open(&p->core, h->inspection, &config, &out, err);
}

/* ---- a round --------------------------------------------------------------------------------- */
/* True when these n bytes are more than an adapter can have to say. */
static bool floods(struct oxl_connection *p, size_t n)
{
    double since_s = (double)(p->now_us - p->counted_us) / 1e6;
    p->counted_us = p->now_us;
    p->excess -= since_s * SANE_BYTES_S;
    p->excess = (p->excess > 0 ? p->excess : 0) + (double)n;
    return p->excess > FLOOD_BYTES;
}

static void flooded(struct oxl_connection *p)
{
    oxl_connection_note(
        p, "The adapter sends without end: its port is closed, and opened again later.");
    p->excess = FLOOD_BYTES - AGAIN_BYTES;
    link_down(p, p->again_n - 1);
}

void oxl_connection_read(struct oxl_connection *p)
{
    char buf[1024];
    size_t portion = 0;
    ssize_t n = 0;
    flush(p);
    while (p->link && !oxl_core_over(&p->core) && portion < PORTION_BYTES) {
        n = p->link->ops->read(p->link, buf, sizeof buf, p->now_us);
        if (n <= 0)
            break;
        oxl_connection_feed(p, (struct oxl_input){.kind = OXL_IN_RX, .bytes = buf, .n = (size_t)n});
        portion += (size_t)n;
    }
    if (n < 0)
        link_down(p, 0);
    else if (portion && floods(p, portion) && p->link && !oxl_core_over(&p->core))
        flooded(p);
}

void oxl_connection_pass(struct oxl_connection *p)
{
    oxl_connection_feed(p, (struct oxl_input){.kind = OXL_IN_TICK});
    mind(p);
    if (p->recorder)
        oxl_recorder_tick(p->recorder, oxl_wall_us()); /* the disk knows no virtual time */
}

void oxl_connection_wait(struct oxl_connection *p, int keys_fd)
{
    int64_t due = oxl_earlier_us(oxl_core_due_us(&p->core), p->reopen_us);
    if (p->link)
        due = oxl_earlier_us(due, p->link->ops->next_due_us(p->link));
    if (p->virtual_time) {
        /* Nothing due cannot happen while a core lives; step on rather than hang. */
        p->now_us = due == INT64_MAX ? p->now_us + 1000000 : due > p->now_us ? due : p->now_us;
        return;
    }
    int64_t until_us = oxl_wall_us() + 100000; /* redraw, fsync, signals */
    if (due != INT64_MAX)
        until_us = oxl_earlier_us(until_us, p->start_us + (int64_t)((double)due / p->rate) + 1);
    int fd = p->link ? p->link->ops->fd(p->link) : -1;
    oxl_wait(fd, p->unsent_n > 0, keys_fd, until_us);
    p->now_us = (int64_t)((double)(oxl_wall_us() - p->start_us) * p->rate);
}
