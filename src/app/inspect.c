/* inspect: the pre-check alone, on a vehicle or on the simulator. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock.h"
#include "commands.h"
#include "inspect_page.h"
#include "oxylag/inspect.h"
#include "oxylag/record.h"
#include "plug.h"

struct inspection {
    const struct oxl_opts *opts;
    struct oxl_inspect *core;
    struct oxl_plug plug;
};

/* ---- what the core wants --------------------------------------------------------------------- */
static void on_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    struct inspection *d = ctx;
    (void)t_us;
    oxl_plug_send(&d->plug, bytes, n);
}

static void on_speed(void *ctx, unsigned baud, int64_t t_us)
{
    struct inspection *d = ctx;
    (void)t_us;
    oxl_plug_speed(&d->plug, baud);
}

static void on_reopen(void *ctx, int64_t t_us)
{
    struct inspection *d = ctx;
    oxl_plug_reopen(&d->plug, t_us);
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

static bool hear(void *ctx, const struct oxl_input *in)
{
    struct inspection *d = ctx;
    oxl_inspect_step(d->core, in);
    return !oxl_inspect_over(d->core);
}

static void run(struct inspection *d)
{
    d->plug.ctx = d;
    d->plug.hear = hear;
    oxl_plug_begin(&d->plug);
    while (!oxl_inspect_over(d->core)) {
        oxl_plug_wait(&d->plug, oxl_inspect_due_us(d->core), -1);
        if (oxl_signal_seen())
            oxl_plug_feed(&d->plug, (struct oxl_input){.kind = OXL_IN_KEY, .key = OXL_KEY_ABORT});
        oxl_plug_flush(&d->plug);
        oxl_plug_read(&d->plug);
        oxl_plug_feed(&d->plug, (struct oxl_input){.kind = OXL_IN_TICK});
        oxl_plug_mind(&d->plug);
    }
}

static enum oxl_status new_core(struct inspection *d, struct oxl_error *err)
{
    struct oxl_inspect_config config = {.bank = d->opts->bank ? d->opts->bank : 1,
                                        .speed_baud = d->opts->speed_baud,
                                        .has_speed = d->plug.link->has_speed,
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
        oxl_inspection_json(found, d->plug.now_us, print_line, NULL);
    if (whole && !d->opts->json) {
        struct oxl_buf page = {0};
        oxl_inspect_page(found, d->plug.port, d->opts->mask_vin, &page);
        fputs(page.data ? page.data : "", stdout);
        oxl_buf_free(&page);
    }
    return st == OXL_OK ? OXL_OK : oxl_fail(err, st, "%s", text);
}

enum oxl_status oxl_cmd_inspect(const struct oxl_opts *o, struct oxl_error *err)
{
    struct inspection d = {.opts = o};
    static const int64_t again_us[] = {1000000}; /* it is short: no back-off */
    oxl_plug_start(&d.plug, o);
    d.plug.again_us = again_us;
    d.plug.again_n = 1;
    enum oxl_status st = oxl_pick_port(o, d.plug.port, sizeof d.plug.port, err);
    if (st == OXL_OK)
        st = oxl_plug_open(&d.plug, o, OXL_TECH_BY_HAND, err);
    if (st == OXL_OK)
        st = new_core(&d, err);
    if (st == OXL_OK) {
        oxl_signals_catch();
        run(&d);
        st = report(&d, err);
    }
    oxl_inspect_free(d.core);
    oxl_plug_close(&d.plug);
    return st;
}
