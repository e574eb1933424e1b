/* inspect: the pre-check alone, on a vehicle or on the simulator. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock.h"
#include "commands.h"
#include "connection.h"
#include "inspect_output.h"
#include "recording_writer.h"

struct inspection {
    const struct oxl_opts *opts;
    struct oxl_inspect *core;
    struct oxl_recorder *recorder; /* NULL: none is wanted */
    struct oxl_connection connection;
};

/* ---- what the core wants --------------------------------------------------------------------- */
static void on_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    struct inspection *d = ctx;
    oxl_recording_sent(d->recorder, bytes, n, t_us);
    oxl_connection_send(&d->connection, bytes, n);
}

static void on_speed(void *ctx, unsigned baud, int64_t t_us)
{
    struct inspection *d = ctx;
    oxl_recording_speed(d->recorder, baud, t_us);
    oxl_connection_speed(&d->connection, baud);
}

static void on_reopen(void *ctx, int64_t t_us)
{
    struct inspection *d = ctx;
    oxl_connection_reopen(&d->connection, t_us);
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct inspection *d = ctx;
    oxl_recording_event(d->recorder, ev, d->opts->mask_vin);
    oxl_inspect_say(d->opts, ev);
}

static bool take_input(void *ctx, const struct oxl_input *in)
{
    struct inspection *d = ctx;
    /* Raw bytes first; of ticks only those that mattered (inspect.h). */
    if (in->kind != OXL_IN_TICK)
        oxl_recording_input(d->recorder, in);
    bool mattered = oxl_inspect_step(d->core, in);
    if (in->kind == OXL_IN_TICK && mattered)
        oxl_recording_input(d->recorder, in);
    return !oxl_inspect_over(d->core);
}

static void run(struct inspection *d)
{
    d->connection.ctx = d;
    d->connection.input = take_input;
    oxl_connection_begin(&d->connection);
    while (!oxl_inspect_over(d->core)) {
        oxl_connection_wait(&d->connection, oxl_inspect_due_us(d->core), -1);
        if (oxl_signal_seen())
            oxl_connection_feed(&d->connection,
                                (struct oxl_input){.kind = OXL_IN_KEY, .key = OXL_KEY_END});
        oxl_connection_flush(&d->connection);
        oxl_connection_read(&d->connection);
        oxl_connection_feed(&d->connection, (struct oxl_input){.kind = OXL_IN_TICK});
        oxl_connection_mind(&d->connection);
        if (d->recorder)
            oxl_recorder_tick(d->recorder, oxl_wall_us()); /* the disk knows no virtual time */
    }
    const char *text;
    bool stopped = oxl_inspect_outcome(d->core, &text) == OXL_ERR_STOPPED;
    oxl_recording_end(d->recorder, d->connection.now_us, stopped ? oxl_signal_words() : NULL);
}

static enum oxl_status new_core(struct inspection *d, const struct oxl_record_header *h,
                                struct oxl_error *err)
{
    const struct oxl_inspect_config config = oxl_inspect_as_recorded(h);
    const struct oxl_session_out out = {d, on_send, on_speed, on_reopen, on_event};
    d->core = oxl_inspect_new(&config, &out);
    return d->core ? OXL_OK : oxl_fail(err, OXL_ERR_NOMEM, "no memory");
}

/* All that can be refused is, before anything is sent. */
static enum oxl_status get_ready(struct inspection *d, struct oxl_error *err)
{
    const struct oxl_opts *o = d->opts;
    struct oxl_record_header header;
    struct oxl_profile profile;
    enum oxl_status st = oxl_connection_open(&d->connection, o, OXL_TECH_BY_HAND, err);
    if (st == OXL_OK)
        st = oxl_load_profile(o->profile, &profile, err);
    if (st != OXL_OK)
        return st;
    oxl_recording_fill(&header, o, d->connection.port, &profile);
    header.has_speed = d->connection.link->has_speed;
    header.inspection = true;
    st = new_core(d, &header, err);
    if (st == OXL_OK && o->out)
        st = oxl_recorder_open(o->out, &d->recorder, err);
    oxl_recording_header(d->recorder, &header);
    return st;
}

enum oxl_status oxl_cmd_inspect(const struct oxl_opts *o, struct oxl_error *err)
{
    struct inspection d = {.opts = o};
    static const int64_t again_us[] = {1000000}; /* it is short: no back-off */
    oxl_connection_start(&d.connection, o);
    d.connection.again_us = again_us;
    d.connection.again_n = 1;
    enum oxl_status st = oxl_pick_port(o, d.connection.port, sizeof d.connection.port, err);
    if (st == OXL_OK)
        st = get_ready(&d, err);
    if (st == OXL_OK) {
        oxl_signals_catch();
        run(&d);
        st = oxl_inspect_tell(o, d.core, d.connection.port, d.connection.now_us, oxl_signal_words(),
                              err);
        oxl_connection_explain(&d.connection, err);
        oxl_name_port(d.connection.port, err);
        enum oxl_status rec =
            oxl_recording_close(d.recorder, o->out, "replay", o, st == OXL_OK ? err : NULL);
        st = st == OXL_OK ? rec : st;
    }
    oxl_inspect_free(d.core);
    oxl_connection_close(&d.connection);
    return st;
}
