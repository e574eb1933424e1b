/* Requests over a line that damages characters: how many of those that would change something in
 * the vehicle reach it? Poller and simulated adapter in virtual time, without plant or procedure;
 * many short sessions, so that start, survey, live data and what comes after a loss all have their
 * share. Usage: bench_damage REQUESTS [DAMAGED_PER_MILLION [unproven]]; ends with 1 when there was
 * any. "unproven" asks as it was done before, to see that the vehicle counts. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "oxylag/poll.h"
#include "sim/parts.h"

static const int64_t session_us = 120000000;

struct line {
    const char *name;
    unsigned protocol;
    bool count, multi, wide;
    unsigned bank;
    bool no_echo;
};

static const struct line lines[] = {
    {"CAN, reply count", 6, true, true, true, 1, false},
    {"CAN, reply count, switching", 7, true, true, false, 1, false},
    {"CAN, no reply count", 6, false, true, true, 1, false},
    {"CAN, no reply count, switching", 8, false, true, false, 2, false},
    {"CAN, single items", 6, true, false, false, 1, false},
    {"CAN, single items, no count", 9, false, false, true, 2, false},
    {"ISO 9141-2", 3, true, false, false, 1, false},
    {"ISO 9141-2, no reply count", 3, false, false, false, 2, false},
    {"ISO 14230-4", 5, true, false, true, 1, false},
    {"SAE J1850 PWM", 1, true, false, false, 1, false},
    {"SAE J1850 VPW, no reply count", 2, false, false, false, 2, false},
    {"CAN, no echo", 6, true, true, true, 1, true},
    {"ISO 9141-2, no echo", 3, true, false, false, 1, true},
};

struct desk {
    struct oxl_adapter *adapter;
    struct oxl_poll *poll;
    int64_t now_us;
    uint64_t samples;
};

static void readout(void *ctx, int64_t t_us, struct oxl_readout *out)
{
    (void)ctx;
    *out = (struct oxl_readout){0};
    for (int b = 0; b < OXL_SIM_BANKS; b++) {
        out->stft_pct[b] = out->ltft_pct[b] = 1;
        out->front_lambda[b] = out->rear_lambda[b] = 1;
        out->front_ma[b] = out->front_wide_v[b] = 0;
        out->front_v[b] = out->rear_v[b] = 0.6;
        out->cat_temp_c[b] = 500;
        out->fuel_system[b] = 2;
    }
    out->air_g_s = 3;
    out->map_kpa = 30;
    out->rpm = 750;
    out->intake_c = out->coolant_c = 80;
    out->throttle_pct = out->load_pct = 15;
    out->run_time_s = 100 + (double)t_us / 1e6;
}

static void on_send(void *ctx, const char *bytes, size_t n)
{
    struct desk *d = ctx;
    oxl_adapter_write(d->adapter, bytes, n, 0, d->now_us);
}

static void on_speed(void *ctx, unsigned baud)
{
    (void)ctx, (void)baud;
}

static void on_nothing(void *ctx)
{
    (void)ctx;
}

static void on_link(void *ctx, enum oxl_link_state s, const char *text)
{
    (void)ctx, (void)s, (void)text;
}

static void on_sample(void *ctx, const struct oxl_sample *s)
{
    (void)s;
    ((struct desk *)ctx)->samples++;
}

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static void run(struct desk *d, int64_t end_us)
{
    char buf[256];
    while (d->now_us < end_us) {
        int64_t due = least(oxl_adapter_due_us(d->adapter), oxl_poll_due_us(d->poll));
        due = least(due, end_us);
        d->now_us = due > d->now_us ? due : d->now_us + 1;
        for (size_t n; (n = oxl_adapter_read(d->adapter, buf, sizeof buf, d->now_us)) > 0;)
            oxl_poll_rx(d->poll, buf, n, d->now_us);
        oxl_poll_tick(d->poll, d->now_us);
    }
}

static double each_pct;
static bool unproven;

static void open_desk(struct desk *d, const struct line *l, uint64_t seed)
{
    struct oxl_adapter_settings set;
    struct oxl_unit_settings unit;
    const struct oxl_adapter_hooks hooks = {.ctx = d, .readout = readout};
    const struct oxl_poll_config config = {
        .bank = l->bank, .inspection = seed % 4 == 3, .unproven = unproven};
    const struct oxl_poll_out out = {d,         on_send, on_speed,  on_nothing,
                                     on_sample, on_link, on_nothing};
    oxl_adapter_defaults(&set);
    oxl_unit_defaults(&unit);
    set.protocol = l->protocol;
    set.reply_count = l->count;
    set.no_echo = l->no_echo;
    set.drop_pct = set.double_pct = set.flip_pct = each_pct;
    unit.multi_item = l->multi;
    unit.second_unit = seed % 3 == 2;
    memcpy(unit.stored, "P0420", sizeof "P0420");
    if (l->wide)
        memcpy(unit.front, "wide-current", sizeof "wide-current");
    memset(d, 0, sizeof *d);
    d->adapter = oxl_adapter_new(&set, &unit, seed, &hooks);
    d->poll = oxl_poll_new(&config, &out);
    if (!d->adapter || !d->poll)
        exit(2);
}

struct count {
    uint64_t sent, heard, changing, unproven, samples;
};

static void session(const struct line *l, uint64_t seed, struct count *c)
{
    static const enum oxl_focus focuses[] = {OXL_FOCUS_ALL, OXL_FOCUS_TRIMS, OXL_FOCUS_TIMING};
    struct desk d;
    struct oxl_poll_stats stats;
    open_desk(&d, l, seed);
    oxl_poll_link(d.poll, true, 0);
    for (unsigned i = 0; i < 3; i++) {
        oxl_poll_focus(d.poll, focuses[i]);
        run(&d, (i + 1) * session_us / 3);
    }
    oxl_poll_stats(d.poll, d.now_us, &stats);
    c->sent += stats.requests;
    c->unproven += stats.unproven;
    c->heard += oxl_adapter_heard(d.adapter, 0);
    c->changing += oxl_adapter_changing(d.adapter, 0);
    for (unsigned s = 1; s < 256; s++)
        if (oxl_adapter_changing(d.adapter, (uint8_t)s))
            printf("%s, seed %" PRIu64 ": service %02X %" PRIu64 " times\n", l->name, seed, s,
                   oxl_adapter_changing(d.adapter, (uint8_t)s));
    c->samples += d.samples;
    oxl_poll_free(d.poll);
    oxl_adapter_free(d.adapter);
}

static void show(const char *name, const struct count *c)
{
    printf("| %s | %" PRIu64 " | %" PRIu64 " | %" PRIu64 " | %" PRIu64 " | %" PRIu64 " |\n", name,
           c->sent, c->heard, c->unproven, c->samples, c->changing);
    fflush(stdout);
}

/* An adapter without echo ends a link that damages anything: it takes no part in the number. */
static uint64_t share(const struct line *l, uint64_t wanted)
{
    size_t with_echo = 0;
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
        with_echo += !lines[i].no_echo;
    return l->no_echo ? 0 : wanted / with_echo + 1;
}

int main(int argc, char **argv)
{
    enum { SESSIONS_WITHOUT_ECHO = 20 };
    uint64_t wanted = argc > 1 ? strtoull(argv[1], NULL, 10) : 1000000;
    unproven = argc > 3;
    each_pct = (argc > 2 ? strtod(argv[2], NULL) : 10000) / 1e4 / 3;
    struct count all = {0};
    printf("| line | requests sent | heard by a unit | echo was another | samples | would change "
           "something |\n| --- | --- | --- | --- | --- | --- |\n");
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        struct count c = {0};
        for (uint64_t seed = 1;
             c.sent < share(&lines[i], wanted) ||
             (lines[i].no_echo && seed <= SESSIONS_WITHOUT_ECHO && wanted > 100000) || seed == 1;
             seed++)
            session(&lines[i], seed, &c);
        show(lines[i].name, &c);
        all.sent += c.sent;
        all.heard += c.heard;
        all.unproven += c.unproven;
        all.samples += c.samples;
        all.changing += c.changing;
    }
    show("together", &all);
    return all.changing != 0;
}
