#include "plug.h"

#include <string.h>

#include "clock.h"
#include "commands.h"

/* A port that is gone for long is tried less often. */
static const int64_t again_us[] = {500000, 1000000, 2000000, 4000000, 5000000};

void oxl_plug_start(struct oxl_plug *p, const struct oxl_opts *o)
{
    *p = (struct oxl_plug){.speed_baud = o->speed_baud,
                           .packet_ms = o->packet_ms,
                           .virtual_time = o->virtual_time,
                           .rate = o->rate,
                           .again_us = again_us,
                           .again_n = sizeof again_us / sizeof again_us[0],
                           .reopen_us = INT64_MAX};
}

void oxl_plug_feed(struct oxl_plug *p, struct oxl_input in)
{
    in.t_us = p->now_us;
    p->over = !p->hear(p->ctx, &in);
}

/* ---- open and closed ------------------------------------------------------------------------- */
static enum oxl_status open_link(struct oxl_plug *p, struct oxl_error *err)
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

static enum oxl_status new_sim(struct oxl_plug *p, uint64_t seed, enum oxl_tech_mode tech,
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

enum oxl_status oxl_plug_open(struct oxl_plug *p, const struct oxl_opts *o, enum oxl_tech_mode tech,
                              struct oxl_error *err)
{
    enum oxl_status st = OXL_OK;
    if (strncmp(p->port, "sim:", 4) == 0)
        st = new_sim(p, o->seed, tech, err);
    return st == OXL_OK ? open_link(p, err) : st;
}

static void close_link(struct oxl_plug *p)
{
    if (p->link)
        p->link->ops->close(p->link);
    p->link = NULL;
    p->unsent_n = 0;
}

void oxl_plug_close(struct oxl_plug *p)
{
    close_link(p);
    oxl_sim_free(p->sim);
    p->sim = NULL;
}

void oxl_plug_begin(struct oxl_plug *p)
{
    p->start_us = oxl_wall_us();
    p->now_us = 0;
    p->reopen_us = INT64_MAX;
    oxl_plug_feed(p, (struct oxl_input){.kind = OXL_IN_LINK_UP});
}

static void link_down(struct oxl_plug *p)
{
    close_link(p);
    p->tries = 0;
    p->reopen_us = p->now_us + p->again_us[0];
    oxl_plug_feed(p, (struct oxl_input){.kind = OXL_IN_LINK_DOWN});
}

void oxl_plug_mind(struct oxl_plug *p)
{
    if (p->now_us < p->reopen_us)
        return;
    bool was_open = p->link != NULL;
    close_link(p);
    if (was_open)
        oxl_plug_feed(p, (struct oxl_input){.kind = OXL_IN_LINK_DOWN});
    if (open_link(p, NULL) == OXL_OK) {
        p->reopen_us = INT64_MAX;
        p->tries = 0;
        oxl_plug_feed(p, (struct oxl_input){.kind = OXL_IN_LINK_UP});
        return;
    }
    if (p->tries < p->again_n - 1)
        p->tries++;
    p->reopen_us = p->now_us + p->again_us[p->tries];
}

/* ---- what the core wants --------------------------------------------------------------------- */
void oxl_plug_flush(struct oxl_plug *p)
{
    if (!p->link || !p->unsent_n)
        return;
    ssize_t n = p->link->ops->write(p->link, p->unsent, p->unsent_n, p->now_us);
    if (n <= 0)
        return; /* a link that is down shows at the next read */
    p->unsent_n -= (size_t)n;
    memmove(p->unsent, p->unsent + n, p->unsent_n);
}

void oxl_plug_send(struct oxl_plug *p, const char *bytes, size_t n)
{
    if (n <= sizeof p->unsent - p->unsent_n) {
        memcpy(p->unsent + p->unsent_n, bytes, n);
        p->unsent_n += n;
    }
    oxl_plug_flush(p);
}

void oxl_plug_speed(struct oxl_plug *p, unsigned baud)
{
    p->speed_baud = baud;
    if (p->link)
        p->link->ops->set_speed(p->link, baud);
}

void oxl_plug_reopen(struct oxl_plug *p, int64_t t_us)
{
    if (p->reopen_us == INT64_MAX)
        p->reopen_us = t_us;
}

/* ---- a round --------------------------------------------------------------------------------- */
void oxl_plug_read(struct oxl_plug *p)
{
    char buf[1024];
    while (p->link && !p->over) {
        ssize_t n = p->link->ops->read(p->link, buf, sizeof buf, p->now_us);
        if (n == 0)
            return;
        if (n < 0) {
            link_down(p);
            return;
        }
        oxl_plug_feed(p, (struct oxl_input){.kind = OXL_IN_RX, .bytes = buf, .n = (size_t)n});
    }
}

void oxl_plug_wait(struct oxl_plug *p, int64_t core_us, int keys_fd)
{
    int64_t due = oxl_earlier_us(core_us, p->reopen_us);
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
