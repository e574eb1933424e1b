/* What remains of requests that are sent without proof: those of live data on CAN where no damage
 * has been seen. For each line text that a minute of each focus really sends, how many pairs of
 * neighbouring characters are such that losing both makes a request that changes something, and how
 * many pairs of any two damages; and how often an hour that is to be expected at 1 damaged
 * character in 1,000 and in 1,000,000, each by itself. For neighbours all damages are losses; for
 * any two a third are losses, doublings and wrong bits each. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "oxylag/poll.h"
#include "poll/safe_request.h"
#include "sim/parts.h"

static const int64_t focus_us = 60000000;

struct desk {
    struct oxl_adapter *adapter;
    struct oxl_poll *poll;
    int64_t now_us;
    bool counting;
    double plain, proven;      /* requests */
    double neighbours, any[2]; /* expected number of ...: pairs; at either rate, both damages */
};

static const double rates[2] = {1e-3, 1e-6};

/* ---- damage ---- */

enum { KINDS = 10, LOST = 8, DOUBLED = 9 };

static double chance(unsigned kind)
{
    return kind < LOST ? 1.0 / 3 / 8 : 1.0 / 3;
}

/* `text` less or more what happens to its characters at a and b. */
static bool changes(const char *text, size_t n, size_t a, unsigned how_a, size_t b, unsigned how_b)
{
    char made[100];
    size_t at = 0;
    for (size_t i = 0; i < n; i++) {
        unsigned how = i == a ? how_a : i == b ? how_b : KINDS;
        char c = how < LOST ? (char)((unsigned char)text[i] ^ 1U << how) : text[i];
        for (unsigned k = how == LOST ? 0 : how == DOUBLED ? 2 : 1; k > 0; k--)
            made[at++] = c;
    }
    return oxl_request_changes(made, at);
}

static void weigh(struct desk *d, const char *text, size_t n)
{
    for (size_t i = 0; i + 1 < n; i++)
        d->neighbours += changes(text, n, i, LOST, i + 1, LOST);
    double both = 0;
    for (size_t i = 0; i < n; i++)
        for (size_t k = i + 1; k < n; k++)
            for (unsigned a = 0; a < KINDS; a++)
                for (unsigned b = 0; b < KINDS; b++)
                    if (changes(text, n, i, a, k, b))
                        both += chance(a) * chance(b);
    for (int r = 0; r < 2; r++)
        d->any[r] += both * rates[r] * rates[r];
}

/* ---- a link ---- */

static void readout(void *ctx, int64_t t_us, struct oxl_readout *out)
{
    (void)ctx, (void)t_us;
    *out = (struct oxl_readout){.rpm = 750, .air_g_s = 3, .map_kpa = 30, .coolant_c = 80};
    for (int b = 0; b < OXL_SIM_BANKS; b++) {
        out->front_lambda[b] = out->rear_lambda[b] = 1;
        out->front_v[b] = out->rear_v[b] = 0.6;
        out->fuel_system[b] = 2;
    }
}

static void on_send(void *ctx, const char *bytes, size_t n)
{
    struct desk *d = ctx;
    oxl_adapter_write(d->adapter, bytes, n, 0, d->now_us);
    if (!d->counting || bytes[0] != '0')
        return;
    d->proven += bytes[n - 1] != '\r';
    d->plain += bytes[n - 1] == '\r';
    if (bytes[n - 1] == '\r')
        weigh(d, bytes, n - 1);
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
    (void)ctx, (void)s;
}

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static void run(struct desk *d, int64_t for_us)
{
    char buf[256];
    for (int64_t end_us = d->now_us + for_us; d->now_us < end_us;) {
        int64_t due = least(oxl_adapter_due_us(d->adapter), oxl_poll_due_us(d->poll));
        due = least(due, end_us);
        d->now_us = due > d->now_us ? due : d->now_us + 1;
        for (size_t n; (n = oxl_adapter_read(d->adapter, buf, sizeof buf, d->now_us)) > 0;)
            oxl_poll_rx(d->poll, buf, n, d->now_us);
        oxl_poll_tick(d->poll, d->now_us);
    }
}

struct car {
    const char *name, *front;
    unsigned bank;
    bool count;
};

static void one(const struct car *c)
{
    struct oxl_adapter_settings set;
    struct oxl_unit_settings unit;
    struct desk d = {.now_us = 0};
    const struct oxl_adapter_hooks hooks = {.ctx = &d, .readout = readout};
    const struct oxl_poll_config config = {.bank = c->bank};
    const struct oxl_poll_out out = {&d,        on_send, on_speed,  on_nothing,
                                     on_sample, on_link, on_nothing};
    oxl_adapter_defaults(&set);
    oxl_unit_defaults(&unit);
    set.reply_count = c->count;
    snprintf(unit.front, sizeof unit.front, "%s", c->front);
    d.adapter = oxl_adapter_new(&set, &unit, 1, &hooks);
    d.poll = oxl_poll_new(&config, &out);
    if (!d.adapter || !d.poll)
        exit(2);
    oxl_poll_link(d.poll, true, 0);
    run(&d, 10000000);
    d.counting = true;
    for (int focus = OXL_FOCUS_ALL; focus <= OXL_FOCUS_TIMING; focus++) {
        oxl_poll_focus(d.poll, (enum oxl_focus)focus);
        run(&d, focus_us);
    }
    double hours = 3 * (double)focus_us / 3.6e9;
    printf("| %s | %.0f | %.0f | %.2g | %.2g | %.2g | %.2g |\n", c->name, d.plain / hours,
           d.proven / hours, d.neighbours / hours * rates[0] * rates[0],
           d.neighbours / hours * rates[1] * rates[1], d.any[0] / hours, d.any[1] / hours);
    oxl_poll_free(d.poll);
    oxl_adapter_free(d.adapter);
}

int main(void)
{
    static const struct car cars[] = {
        {"wide-range front", "wide-current", 1, true},
        {"- no reply count", "wide-current", 1, false},
        {"- bank 2", "wide-current", 2, true},
        {"switching front", "switching", 1, true},
        {"- no reply count", "switching", 1, false},
        {"- bank 2", "switching", 2, true},
        {"- bank 2, no reply count", "switching", 2, false},
    };
    printf(
        "| CAN | sent plain an hour | proven | two neighbours, 1 in 1,000 | 1 in 1,000,000 | any "
        "two, 1 in 1,000 | 1 in 1,000,000 |\n| --- | --- | --- | --- | --- | --- | --- |\n");
    for (size_t i = 0; i < sizeof cars / sizeof cars[0]; i++)
        one(&cars[i]);
    return 0;
}
