#include "desk.h"

#include <stdlib.h>

static void readout(void *ctx, int64_t t_us, struct oxl_readout *out)
{
    (void)ctx;
    *out = (struct oxl_readout){.rpm = 750, .air_g_s = 3, .map_kpa = 30, .coolant_c = 80};
    for (int b = 0; b < OXL_SIM_BANKS; b++) {
        out->front_lambda[b] = out->rear_lambda[b] = 1;
        out->front_v[b] = out->rear_v[b] = 0.6;
        out->cat_temp_c[b] = 500;
        out->fuel_system[b] = 2;
    }
    out->run_time_s = 100 + (double)t_us / 1e6;
}

static void on_send(void *ctx, const char *bytes, size_t n)
{
    struct desk *d = ctx;
    oxl_adapter_write(d->adapter, bytes, n, 0, d->now_us);
    if (d->sent)
        d->sent(d->ctx, bytes, n);
}

static void on_sample(void *ctx, const struct oxl_sample *s)
{
    (void)s;
    ((struct desk *)ctx)->samples++;
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

void desk_open(struct desk *d, const struct oxl_adapter_settings *set,
               const struct oxl_ecu_settings *ecu, const struct oxl_poll_config *config,
               uint64_t seed)
{
    const struct oxl_adapter_hooks hooks = {.ctx = d, .readout = readout};
    const struct oxl_poll_out out = {d,         on_send, on_speed,  on_nothing,
                                     on_sample, on_link, on_nothing};
    d->now_us = 0;
    d->samples = 0;
    d->adapter = oxl_adapter_new(set, ecu, seed, &hooks);
    d->poll = oxl_poll_new(config, &out);
    if (!d->adapter || !d->poll)
        exit(2);
    oxl_poll_link(d->poll, true, 0);
}

void desk_run(struct desk *d, int64_t for_us)
{
    const int64_t end_us = d->now_us + for_us;
    char buf[256];
    while (d->now_us < end_us) {
        int64_t next_us = end_us, adapter_us = oxl_adapter_due_us(d->adapter);
        int64_t poll_us = oxl_poll_due_us(d->poll);
        next_us = adapter_us < next_us ? adapter_us : next_us;
        next_us = poll_us < next_us ? poll_us : next_us;
        d->now_us = next_us > d->now_us ? next_us : d->now_us + 1;
        for (size_t n; (n = oxl_adapter_read(d->adapter, buf, sizeof buf, d->now_us)) > 0;)
            oxl_poll_rx(d->poll, buf, n, d->now_us);
        oxl_poll_tick(d->poll, d->now_us);
    }
}

void desk_close(struct desk *d)
{
    oxl_poll_free(d->poll);
    oxl_adapter_free(d->adapter);
}
