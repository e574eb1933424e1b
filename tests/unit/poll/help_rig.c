#include "help_rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const struct oxl_poll_config usual = {.bank = 1, .has_speed = true};

static void __attribute__((format(printf, 2, 3))) note(struct rig *r, const char *format, ...)
{
    va_list args;
    if (r->out_n + 300 > r->out_max) {
        r->out_max = 2 * r->out_max + 4096;
        r->out = realloc(r->out, r->out_max);
        if (!r->out)
            abort();
    }
    r->callbacks++;
    va_start(args, format);
    r->out_n += (size_t)vsnprintf(r->out + r->out_n, r->out_max - r->out_n, format, args);
    va_end(args);
}

static void keep_input(struct rig *r, enum rig_kind kind, const char *bytes, size_t n, int value)
{
    if (r->inputs_n == RIG_INPUTS)
        abort();
    struct rig_input *in = &r->inputs[r->inputs_n++];
    in->kind = kind;
    in->t_us = r->now_us;
    in->n = n;
    in->value = value;
    if (n)
        memcpy(in->bytes, bytes, n);
}

/* ---- callbacks ---- */

static void on_send(void *ctx, const char *bytes, size_t n)
{
    struct rig *r = ctx;
    bool whole = bytes[n - 1] == '\r';
    note(r, "%lld %s %.*s\n", (long long)r->now_us, whole ? "send" : "part", (int)(n - whole),
         bytes);
    if (!r->unplugged)
        fake_write(&r->fake, bytes, n, r->now_us);
}

static void on_speed(void *ctx, unsigned baud)
{
    struct rig *r = ctx;
    note(r, "%lld speed %u\n", (long long)r->now_us, baud);
    r->fake.line_baud = baud;
}

static void on_reopen(void *ctx)
{
    struct rig *r = ctx;
    note(r, "%lld reopen\n", (long long)r->now_us);
    r->reopens++;
}

/* A sample must have been taken between its two times: the first rule of this room. */
static void check_honest(struct rig *r, const struct oxl_sample *s)
{
    if (s->channel.quantity != OXL_Q_O2_V || r->replaying)
        return;
    int64_t taken_us = r->fake.taken_us[(unsigned)(s->value * 200 + 0.5) % 200];
    if (taken_us < s->sent_us || taken_us > s->recv_us)
        r->dishonest++;
}

static void on_sample(void *ctx, const struct oxl_sample *s)
{
    struct rig *r = ctx;
    char name[40];
    oxl_channel_name(s->channel, name, sizeof name);
    note(r, "%lld sample %s %.17g %lld %lld %X\n", (long long)r->now_us, name, s->value,
         (long long)s->sent_us, (long long)s->recv_us, (unsigned)s->ecu);
    if (r->samples_n == RIG_SAMPLES)
        abort();
    r->samples[r->samples_n++] = *s;
    check_honest(r, s);
}

static void on_link(void *ctx, enum oxl_link_state s, const char *text)
{
    struct rig *r = ctx;
    note(r, "%lld link %s %s\n", (long long)r->now_us, oxl_link_state_name(s), text);
    if (r->states_n == RIG_STATES)
        abort();
    r->states[r->states_n] = s;
    r->states_us[r->states_n] = r->now_us;
    snprintf(r->texts[r->states_n++], sizeof r->texts[0], "%s", text);
}

static void on_vehicle(void *ctx)
{
    struct rig *r = ctx;
    note(r, "%lld vehicle\n", (long long)r->now_us);
    r->vehicles++;
}

static void make_poll(struct rig *r, const struct oxl_poll_config *config)
{
    const struct oxl_poll_out out = {r,         on_send, on_speed,  on_reopen,
                                     on_sample, on_link, on_vehicle};
    r->poll = oxl_poll_new(config ? config : &usual, &out);
    if (!r->poll)
        abort();
}

/* ---- inputs ---- */

static void feed(struct rig *r, const char *bytes, size_t n)
{
    keep_input(r, RIG_RX, bytes, n, 0);
    for (size_t i = 0; r->split && i < n; i++)
        oxl_poll_rx(r->poll, bytes + i, 1, r->now_us);
    if (!r->split)
        oxl_poll_rx(r->poll, bytes, n, r->now_us);
}

static void link_is(struct rig *r, bool up)
{
    keep_input(r, RIG_LINK, NULL, 0, up);
    oxl_poll_link(r->poll, up, r->now_us);
}

static void tick(struct rig *r)
{
    unsigned before = r->callbacks;
    oxl_poll_tick(r->poll, r->now_us);
    if (r->callbacks != before)
        keep_input(r, RIG_TICK, NULL, 0, 0);
}

static unsigned random_below(struct rig *r, unsigned n)
{
    r->random = r->random * 1664525u + 1013904223u;
    return (r->random >> 8) % n;
}

static void random_ticks(struct rig *r, int64_t until_us)
{
    for (unsigned i = 0; i < r->extra_ticks && until_us > r->now_us + 1; i++) {
        int64_t left_us = until_us - r->now_us;
        unsigned range = (unsigned)(2 * left_us / (r->extra_ticks - i)) + 1;
        int64_t at = r->now_us + random_below(r, range);
        r->now_us = at < until_us && i + 1 < r->extra_ticks ? at : until_us - 1;
        tick(r);
    }
}

struct rig *rig_new(void)
{
    struct rig *r = calloc(1, sizeof *r);
    if (!r)
        abort();
    r->samples = calloc(RIG_SAMPLES, sizeof *r->samples);
    r->inputs = calloc(RIG_INPUTS, sizeof *r->inputs);
    if (!r->samples || !r->inputs)
        abort();
    r->now_us = 1000;
    r->random = 1;
    fake_car(&r->fake);
    return r;
}

void rig_free(struct rig *r)
{
    oxl_poll_free(r->poll);
    free(r->out);
    free(r->samples);
    free(r->inputs);
    free(r);
}

void rig_start(struct rig *r, const struct oxl_poll_config *config)
{
    make_poll(r, config);
    link_is(r, true);
}

/* The next thing that happens; false when nothing does before `end_us`. */
static bool advance(struct rig *r, int64_t end_us)
{
    int64_t rx = r->unplugged ? INT64_MAX : fake_due_us(&r->fake);
    int64_t due = oxl_poll_due_us(r->poll);
    int64_t next = rx < due ? rx : due;
    if (next > end_us)
        return false;
    random_ticks(r, next);
    if (next > r->now_us)
        r->now_us = next;
    unsigned reopens = r->reopens;
    struct fake_chunk c;
    if (rx <= due && fake_read(&r->fake, &c, r->now_us))
        feed(r, c.bytes, c.n);
    else
        tick(r);
    if (r->reopens != reopens && !r->no_reopen)
        link_is(r, !r->unplugged);
    return true;
}

void rig_run(struct rig *r, double seconds)
{
    int64_t end_us = r->now_us + (int64_t)(seconds * 1e6);
    while (advance(r, end_us))
        ;
    r->now_us = end_us;
}

bool rig_until(struct rig *r, enum oxl_link_state state, double seconds)
{
    int64_t end_us = r->now_us + (int64_t)(seconds * 1e6);
    while (oxl_poll_state(r->poll) != state)
        if (!advance(r, end_us))
            return false;
    return true;
}

void rig_ready(struct rig *r)
{
    rig_start(r, NULL);
    if (!rig_until(r, OXL_LINK_READY, 20))
        abort();
    rig_run(r, 1);
}

bool rig_flows(struct rig *r)
{
    unsigned from = r->samples_n;
    rig_run(r, 0.5);
    return rig_count(r, oxl_channel(OXL_Q_O2_V, 1, 1), from) > 3 &&
           oxl_poll_state(r->poll) == OXL_LINK_READY;
}

struct oxl_poll_stats rig_stats(const struct rig *r)
{
    struct oxl_poll_stats s;
    oxl_poll_stats(r->poll, r->now_us, &s);
    return s;
}

int64_t rig_widest_us(const struct rig *r, unsigned from)
{
    int64_t widest = 0;
    for (unsigned i = from; i < r->samples_n; i++)
        if (r->samples[i].recv_us - r->samples[i].sent_us > widest)
            widest = r->samples[i].recv_us - r->samples[i].sent_us;
    return widest;
}

void rig_focus(struct rig *r, enum oxl_focus focus)
{
    keep_input(r, RIG_FOCUS, NULL, 0, (int)focus);
    oxl_poll_focus(r->poll, focus);
}

void rig_unplug(struct rig *r)
{
    r->unplugged = true;
    fake_power(&r->fake);
    link_is(r, false);
}

void rig_plug(struct rig *r)
{
    r->unplugged = false;
}

const char *rig_text(const struct rig *r)
{
    return r->states_n ? r->texts[r->states_n - 1] : "";
}

unsigned rig_count(const struct rig *r, struct oxl_channel c, unsigned from)
{
    unsigned n = 0;
    for (unsigned i = from; i < r->samples_n; i++)
        n += oxl_channel_same(r->samples[i].channel, c);
    return n;
}

unsigned rig_sent_whole(const struct rig *r, size_t from)
{
    unsigned n = 0;
    for (const char *at = r->out + from; (at = strstr(at, " send 01")) != NULL; at++)
        n++;
    return n;
}

bool rig_saw_state(const struct rig *r, enum oxl_link_state s)
{
    for (unsigned i = 0; i < r->states_n; i++)
        if (r->states[i] == s)
            return true;
    return false;
}

struct rig *rig_replay(const struct rig *r, const struct oxl_poll_config *config)
{
    struct rig *again = rig_new();
    again->fake.silent = again->replaying = true;
    make_poll(again, config);
    for (unsigned i = 0; i < r->inputs_n; i++) {
        const struct rig_input *in = &r->inputs[i];
        again->now_us = in->t_us;
        switch (in->kind) {
        case RIG_RX:
            oxl_poll_rx(again->poll, in->bytes, in->n, in->t_us);
            break;
        case RIG_TICK:
            oxl_poll_tick(again->poll, in->t_us);
            break;
        case RIG_LINK:
            oxl_poll_link(again->poll, in->value != 0, in->t_us);
            break;
        case RIG_FOCUS:
            oxl_poll_focus(again->poll, (enum oxl_focus)in->value);
            break;
        }
    }
    return again;
}

int rig_setup(void **state)
{
    *state = rig_new();
    return 0;
}

int rig_teardown(void **state)
{
    struct rig *r = *state;
    assert_int_equal(r->dishonest, 0);
    rig_free(r);
    return 0;
}
