/* inspect: the pre-check alone, on a vehicle or on the simulator. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock.h"
#include "commands.h"
#include "inspect_page.h"
#include "oxylag/inspect.h"
#include "oxylag/record.h"
#include "oxylag/sim.h"

#define REOPEN_US INT64_C(1000000)

struct inspection {
    const struct oxl_opts *opts;
    struct oxl_inspect *core;
    struct oxl_link *link; /* NULL while it is closed */
    struct oxl_sim *sim;
    char port[128];
    unsigned speed_baud;
    int64_t start_us, now_us;
    int64_t reopen_us; /* INT64_MAX: never */
    char unsent[512];
    size_t unsent_n;
};

/* ---- what the core wants --------------------------------------------------------------------- */
static void flush_unsent(struct inspection *d)
{
    if (!d->link || !d->unsent_n)
        return;
    ssize_t n = d->link->ops->write(d->link, d->unsent, d->unsent_n, d->now_us);
    if (n <= 0)
        return; /* a link that is down shows at the next read */
    d->unsent_n -= (size_t)n;
    memmove(d->unsent, d->unsent + n, d->unsent_n);
}

static void on_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    struct inspection *d = ctx;
    (void)t_us;
    if (n <= sizeof d->unsent - d->unsent_n) {
        memcpy(d->unsent + d->unsent_n, bytes, n);
        d->unsent_n += n;
    }
    flush_unsent(d);
}

static void on_speed(void *ctx, unsigned baud, int64_t t_us)
{
    struct inspection *d = ctx;
    (void)t_us;
    d->speed_baud = baud;
    if (d->link)
        d->link->ops->set_speed(d->link, baud);
}

static void on_reopen(void *ctx, int64_t t_us)
{
    struct inspection *d = ctx;
    if (d->reopen_us == INT64_MAX)
        d->reopen_us = t_us;
}

static void print_line(void *ctx, const char *text, size_t n)
{
    (void)ctx;
    printf("%.*s\n", (int)n, text);
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct inspection *d = ctx;
    static char text[OXL_RECORD_LINE_MAX];
    if (d->opts->json) {
        size_t n = oxl_event_json(ev, d->opts->mask_vin, text, sizeof text);
        if (n)
            print_line(NULL, text, n);
        fflush(stdout);
        return;
    }
    if (ev->kind == OXL_EV_LINK && ev->u.link.text[0] && !d->opts->quiet)
        fprintf(stderr, "%s\n", ev->u.link.text);
}

static void feed(struct inspection *d, struct oxl_input in)
{
    in.t_us = d->now_us;
    oxl_inspect_step(d->core, &in);
}

/* ---- the link -------------------------------------------------------------------------------- */
static void close_link(struct inspection *d)
{
    if (d->link)
        d->link->ops->close(d->link);
    d->link = NULL;
    d->unsent_n = 0;
}

static void read_link(struct inspection *d)
{
    char buf[1024];
    while (d->link && !oxl_inspect_over(d->core)) {
        ssize_t n = d->link->ops->read(d->link, buf, sizeof buf, d->now_us);
        if (n == 0)
            return;
        if (n < 0) {
            close_link(d);
            d->reopen_us = d->now_us + REOPEN_US;
            feed(d, (struct oxl_input){.kind = OXL_IN_LINK_DOWN});
            return;
        }
        feed(d, (struct oxl_input){.kind = OXL_IN_RX, .bytes = buf, .n = (size_t)n});
    }
}

static enum oxl_status open_link(struct inspection *d, struct oxl_error *err)
{
    if (!d->sim)
        return oxl_link_open(d->port, d->speed_baud, &d->link, err);
    if (!oxl_sim_plugged(d->sim, d->now_us))
        return oxl_fail(err, OXL_ERR_PORT_OPEN, "the simulated adapter is not plugged in");
    d->link = oxl_link_sim(d->sim);
    return d->link ? OXL_OK : oxl_fail(err, OXL_ERR_NOMEM, "no memory");
}

static void try_reopen(struct inspection *d)
{
    if (d->now_us < d->reopen_us)
        return;
    if (d->link) {
        close_link(d);
        feed(d, (struct oxl_input){.kind = OXL_IN_LINK_DOWN});
    }
    d->reopen_us = d->now_us + REOPEN_US;
    if (open_link(d, NULL) != OXL_OK)
        return;
    d->reopen_us = INT64_MAX;
    feed(d, (struct oxl_input){.kind = OXL_IN_LINK_UP});
}

/* ---- the loop -------------------------------------------------------------------------------- */
static void wait_next(struct inspection *d)
{
    int64_t due = oxl_earlier_us(oxl_inspect_due_us(d->core), d->reopen_us);
    if (d->link)
        due = oxl_earlier_us(due, d->link->ops->next_due_us(d->link));
    if (d->opts->virtual_time) {
        d->now_us = due == INT64_MAX ? d->now_us + 1000000 : due > d->now_us ? due : d->now_us;
        return;
    }
    int64_t until_us = oxl_wall_us() + 100000; /* signals */
    if (due != INT64_MAX)
        until_us = oxl_earlier_us(until_us, d->start_us + due);
    int fd = d->link ? d->link->ops->fd(d->link) : -1;
    oxl_wait(fd, d->unsent_n > 0, -1, until_us);
    d->now_us = oxl_wall_us() - d->start_us;
}

static void run(struct inspection *d)
{
    d->start_us = oxl_wall_us();
    d->reopen_us = INT64_MAX;
    feed(d, (struct oxl_input){.kind = OXL_IN_LINK_UP});
    while (!oxl_inspect_over(d->core)) {
        wait_next(d);
        if (oxl_signal_seen())
            feed(d, (struct oxl_input){.kind = OXL_IN_KEY, .key = OXL_KEY_ABORT});
        flush_unsent(d);
        read_link(d);
        feed(d, (struct oxl_input){.kind = OXL_IN_TICK});
        try_reopen(d);
    }
}

static enum oxl_status open_sim(struct inspection *d, struct oxl_error *err)
{
    struct oxl_scenario *scenario;
    enum oxl_status st = oxl_load_scenario(d->port + 4, &scenario, err);
    if (st != OXL_OK)
        return st;
    d->sim = oxl_sim_new(scenario, d->opts->seed, OXL_TECH_BY_HAND);
    oxl_scenario_free(scenario);
    return d->sim ? OXL_OK : oxl_fail(err, OXL_ERR_NOMEM, "no memory");
}

static enum oxl_status new_core(struct inspection *d, struct oxl_error *err)
{
    struct oxl_inspect_config config = {.bank = d->opts->bank ? d->opts->bank : 1,
                                        .speed_baud = d->opts->speed_baud,
                                        .has_speed = d->link->has_speed,
                                        .no_identity = d->opts->mask_vin};
    const struct oxl_session_out out = {d, on_send, on_speed, on_reopen, on_event};
    enum oxl_status st = oxl_load_profile(d->opts->profile, &config.profile, err);
    if (st != OXL_OK)
        return st;
    d->core = oxl_inspect_new(&config, &out);
    return d->core ? OXL_OK : oxl_fail(err, OXL_ERR_NOMEM, "no memory");
}

static enum oxl_status report(const struct inspection *d, struct oxl_error *err)
{
    const char *text;
    const struct oxl_inspection *found = oxl_inspect_found(d->core);
    enum oxl_status st = oxl_inspect_outcome(d->core, &text);
    bool whole = st == OXL_OK || st == OXL_ERR_UNSUITABLE;
    if (whole && d->opts->json)
        oxl_inspection_json(found, d->now_us, print_line, NULL);
    if (whole && !d->opts->json) {
        struct oxl_buf page = {0};
        oxl_inspect_page(found, d->port, d->opts->mask_vin, &page);
        fputs(page.data ? page.data : "", stdout);
        oxl_buf_free(&page);
    }
    return st == OXL_OK ? OXL_OK : oxl_fail(err, st, "%s", text);
}

enum oxl_status oxl_cmd_inspect(const struct oxl_opts *o, struct oxl_error *err)
{
    struct inspection d = {.opts = o, .speed_baud = o->speed_baud};
    enum oxl_status st = oxl_pick_port(o, d.port, sizeof d.port, err);
    if (st == OXL_OK && strncmp(d.port, "sim:", 4) == 0)
        st = open_sim(&d, err);
    if (st == OXL_OK)
        st = open_link(&d, err);
    if (st == OXL_OK)
        st = new_core(&d, err);
    if (st == OXL_OK) {
        oxl_signals_catch();
        run(&d);
        st = report(&d, err);
    }
    close_link(&d);
    oxl_inspect_free(d.core);
    oxl_sim_free(d.sim);
    return st;
}
