/* inspect: the pre-check alone, on a vehicle or on the simulator. */
#include <stdio.h>

#include "clock.h"
#include "commands.h"
#include "connection.h"
#include "inspect_run.h"
#include "recording_writer.h"

static void on_watched_event(void *ctx, const struct oxl_event *ev)
{
    struct oxl_inspect_watch *w = ctx;
    if (ev->kind == OXL_EV_LINK && ev->u.link.text[0])
        snprintf(w->now, sizeof w->now, "%s", ev->u.link.text);
    else if (ev->kind == OXL_EV_LINK)
        snprintf(w->now, sizeof w->now, "link %s", oxl_link_state_name(ev->u.link.state));
}

void oxl_inspect_run(struct oxl_connection *p, struct oxl_inspect_watch *w)
{
    if (w) {
        p->ctx = w;
        p->event = on_watched_event;
    }
    oxl_connection_begin(p);
    while (!oxl_core_over(&p->core)) {
        oxl_connection_wait(p, -1);
        if (oxl_signal_seen() || (w && !w->going(w->ctx, w->now)))
            oxl_connection_feed(p, (struct oxl_input){.kind = OXL_IN_KEY, .key = OXL_KEY_END});
        oxl_connection_read(p);
        oxl_connection_pass(p);
    }
    const char *text;
    bool stopped = oxl_core_outcome(&p->core, &text) == OXL_ERR_STOPPED;
    oxl_recording_end(p->recorder, p->now_us, stopped ? oxl_signal_words() : NULL);
}

enum oxl_status oxl_inspect_ready(struct oxl_connection *p, const struct oxl_opts *o,
                                  struct oxl_record_header *header, struct oxl_error *err)
{
    struct oxl_profile profile;
    enum oxl_status st = oxl_connection_open(p, o, OXL_TECH_BY_HAND, err);
    if (st == OXL_OK)
        st = oxl_load_profile(o->profile, &profile, err);
    if (st != OXL_OK)
        return st;
    oxl_recording_fill(header, o, p->port, &profile);
    header->has_speed = p->link->has_speed;
    header->inspection = true;
    st = oxl_connection_core(p, header, err);
    if (st == OXL_OK && o->out)
        st = oxl_recorder_open(o->out, &p->recorder, err);
    oxl_recording_header(p->recorder, header);
    return st;
}

void oxl_inspect_start(struct oxl_connection *p, const struct oxl_opts *o)
{
    static const int64_t again_us[] = {1000000};
    oxl_connection_start(p, o);
    p->again_us = again_us;
    p->again_n = 1;
}

/* What came of it, and its page where it is a command. */
static enum oxl_status tell(struct oxl_connection *p, const struct oxl_opts *o, bool watched,
                            const struct oxl_record_header *header, struct oxl_error *err)
{
    const char *text;
    if (!watched)
        return oxl_inspect_tell(o, p->core.inspect, header, p->now_us, oxl_signal_words(), err);
    enum oxl_status st = oxl_core_outcome(&p->core, &text);
    return st == OXL_OK ? OXL_OK : oxl_fail(err, st, "%s", text);
}

enum oxl_status oxl_inspect(const struct oxl_opts *o, struct oxl_inspect_watch *w,
                            struct oxl_error *err)
{
    struct oxl_opts said = *o;
    struct oxl_connection p;
    struct oxl_record_header header;
    struct oxl_error unsaid;
    said.quiet = o->quiet || w;
    oxl_inspect_start(&p, &said);
    p.ctx = &said;
    p.event = oxl_inspect_say;
    enum oxl_status st = oxl_pick_port(&said, p.port, sizeof p.port, err);
    if (st == OXL_OK)
        st = oxl_inspect_ready(&p, &said, &header, err);
    if (st == OXL_OK) {
        oxl_signals_catch();
        oxl_inspect_run(&p, w);
        st = tell(&p, &said, w, &header, err);
        oxl_connection_explain(&p, err);
        oxl_name_port(p.port, err);
        enum oxl_status rec = oxl_recording_close(p.recorder, o->out, "replay", &said,
                                                  st == OXL_OK ? err
                                                  : w          ? &unsaid
                                                               : NULL);
        st = st == OXL_OK ? rec : st;
    }
    oxl_connection_close(&p);
    return st;
}

enum oxl_status oxl_cmd_inspect(const struct oxl_opts *o, struct oxl_error *err)
{
    return oxl_inspect(o, NULL, err);
}
