#include "sim/adapter.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { BOOT_US = 600000 };

void oxl_ad_defaults(struct oxl_adapter *a)
{
    a->dialect = (struct oxl_ad_dialect){
        .echo = true,
        .linefeeds = true,
        .spaces = true,
        .formatting = true,
        .automatic = true,
        .adaptive = 1,
        .timeout = 0x32,
    };
    a->learned_ms = 0;
}

/* Ten bits a character, start and stop bit included. */
int64_t oxl_ad_char_ns(const struct oxl_adapter *a)
{
    return a->set.baud > 0 ? 10000000000 / a->set.baud : 0;
}

int64_t oxl_ad_half_latency_us(struct oxl_adapter *a)
{
    double ms = a->set.latency_ms + a->set.jitter_ms * (2 * oxl_random_unit(&a->chance) - 1);
    return ms > 0 ? llround(500.0 * ms) : 0;
}

void oxl_ad_queue(struct oxl_ad_queue *q, int64_t ns, uint8_t byte)
{
    q->at[(q->head + q->count++) % q->size] = (struct oxl_ad_char){(ns + 999) / 1000, byte};
}

static bool take(struct oxl_ad_queue *q, struct oxl_ad_char *out)
{
    if (q->count == 0)
        return false;
    *out = q->at[q->head];
    q->head = (q->head + 1) % q->size;
    q->count--;
    return true;
}

static void empty(struct oxl_ad_queue *q)
{
    q->head = q->count = 0;
}

struct oxl_adapter *oxl_adapter_new(const struct oxl_adapter_settings *set,
                                    const struct oxl_ecu_settings *u, uint64_t seed,
                                    const struct oxl_adapter_hooks *hooks)
{
    struct oxl_adapter *a = calloc(1, sizeof *a);
    if (!a)
        return NULL;
    a->set = *set;
    a->ecu = *u;
    a->hooks = *hooks;
    a->rx = (struct oxl_ad_queue){.at = a->rx_store, .size = OXL_AD_RX};
    a->tx = (struct oxl_ad_queue){.at = a->tx_store, .size = OXL_AD_TX};
    oxl_random_seed(&a->chance, seed);
    oxl_random_seed(&a->noise, seed ^ 0x6E6F697365);
    a->bus.quiet_from_us = -1000000;
    oxl_ad_defaults(a);
    oxl_ad_quirk_start(a);
    a->asleep = a->set.wake_ms > 0;
    return a;
}

void oxl_adapter_free(struct oxl_adapter *a)
{
    free(a);
}

/* ---- the character that has arrived ---- */

static void line_over(struct oxl_adapter *a, int64_t t_us)
{
    char text[OXL_AD_LINE];
    bool bad = a->line_bad;
    memcpy(text, a->line, a->line_len);
    text[a->line_len] = '\0';
    a->line_len = 0;
    a->line_bad = false;
    oxl_ad_line_in(a, text, bad, t_us);
}

static void add_to_line(struct oxl_adapter *a, uint8_t byte)
{
    if (byte <= ' ')
        return; /* spaces and control characters do not count */
    if (a->line_len == sizeof a->line - 1)
        a->line_bad = true;
    else
        a->line[a->line_len++] = (char)(byte < 0x80 ? toupper(byte) : '\x7F');
}

/* Each character as it was received, on its way for as long as a command and its answer are. */
static void echo(struct oxl_adapter *a, uint8_t byte, int64_t t_us)
{
    t_us += llround(1000.0 * a->set.latency_ms);
    if (byte == '\r')
        oxl_ad_eol(a, t_us);
    else
        oxl_ad_put(a, t_us, byte);
}

static void char_in(struct oxl_adapter *a, uint8_t byte, int64_t t_us)
{
    if (oxl_ad_misses(a, t_us))
        return;
    if (a->job.phase != OXL_AD_IDLE || t_us < a->busy_until_us) {
        oxl_ad_interrupt(a, t_us);
        return;
    }
    if ((a->dialect.echo || a->set.stuck_echo) && !a->set.no_echo)
        echo(a, byte, t_us);
    if (byte == '\r')
        line_over(a, t_us);
    else
        add_to_line(a, byte);
}

/* ---- order of events ---- */

static int64_t rx_next_us(const struct oxl_adapter *a)
{
    if (a->rx.count == 0)
        return INT64_MAX;
    int64_t t_us = a->rx.at[a->rx.head].t_us;
    if (!oxl_ad_keeps(a, t_us))
        return t_us;
    return a->job.phase != OXL_AD_IDLE ? INT64_MAX : a->busy_until_us;
}

static int64_t job_next_us(const struct oxl_adapter *a)
{
    return a->job.phase != OXL_AD_IDLE ? a->job.due_us : INT64_MAX;
}

static int64_t event_next_us(const struct oxl_adapter *a)
{
    int64_t job = oxl_earlier_us(job_next_us(a), oxl_ad_quirk_next_us(a));
    return oxl_earlier_us(oxl_ad_bus_next_us(a), oxl_earlier_us(job, rx_next_us(a)));
}

/* At the same moment the bus comes before the timer and both before the line. */
static void step(struct oxl_adapter *a, int64_t t_us)
{
    struct oxl_ad_char c;
    if (oxl_ad_bus_next_us(a) == t_us)
        oxl_ad_bus_step(a);
    else if (job_next_us(a) == t_us)
        oxl_ad_phase_over(a, t_us);
    else if (oxl_ad_quirk_next_us(a) == t_us)
        oxl_ad_quirk_step(a, t_us);
    else if (take(&a->rx, &c))
        char_in(a, c.byte, t_us);
}

static void run(struct oxl_adapter *a, int64_t t_us)
{
    for (int64_t next; (next = event_next_us(a)) <= t_us;)
        step(a, next);
    if (t_us > a->now_us)
        a->now_us = t_us;
}

/* ---- the line ---- */

void oxl_adapter_write(struct oxl_adapter *a, const void *bytes, size_t n, unsigned baud,
                       int64_t t_us)
{
    const uint8_t *b = bytes;
    struct oxl_ad_queue *q = &a->rx;
    run(a, t_us);
    a->garbled = baud != 0 && a->set.baud != 0 && baud != a->set.baud;
    int64_t ns = a->now_us * 1000;
    if (a->rx_free_ns > ns)
        ns = a->rx_free_ns;
    for (size_t i = 0; i < n; i++) {
        /* At another speed the bits fall apart: framing errors, never a sound character. */
        uint8_t c = a->garbled ? (uint8_t)(0x80 + 127 * oxl_random_unit(&a->noise)) : b[i];
        ns += oxl_ad_char_ns(a);
        for (int k = oxl_ad_copies(a); k > 0 && q->count < q->size; k--)
            oxl_ad_queue(q, ns, oxl_ad_flipped(a, c));
    }
    a->rx_free_ns = ns;
    if (a->garbled && a->set.resync_ms > 0)
        a->deaf_until_us = ns / 1000 + llround(1000 * a->set.resync_ms);
}

size_t oxl_adapter_read(struct oxl_adapter *a, void *bytes, size_t n, int64_t t_us)
{
    uint8_t *out = bytes;
    size_t got = 0;
    struct oxl_ad_char c;
    run(a, t_us);
    while (got < n && a->tx.count > 0 && a->tx.at[a->tx.head].t_us <= t_us && take(&a->tx, &c))
        out[got++] = a->garbled ? (uint8_t)(0x80 + 127 * oxl_random_unit(&a->noise)) : c.byte;
    return got;
}

int64_t oxl_adapter_due_us(const struct oxl_adapter *a)
{
    int64_t tx = a->tx.count > 0 ? a->tx.at[a->tx.head].t_us : INT64_MAX;
    return oxl_earlier_us(tx, event_next_us(a));
}

void oxl_adapter_power_cycle(struct oxl_adapter *a, int64_t t_us)
{
    empty(&a->rx);
    empty(&a->tx);
    a->rx_free_ns = a->tx_free_ns = 0;
    a->busy_until_us = 0;
    a->line_len = 0;
    a->line_bad = a->garbled = false;
    a->last_len = 0;
    memset(&a->bus, 0, sizeof a->bus);
    a->bus.quiet_from_us = t_us;
    oxl_ad_defaults(a);
    a->now_us = t_us;
    oxl_ad_quirk_start(a);
    a->job = (struct oxl_ad_job){.phase = OXL_AD_RESET, .due_us = t_us + BOOT_US};
    if (a->set.silent)
        a->job.phase = OXL_AD_IDLE;
}

void oxl_adapter_opened(struct oxl_adapter *a, int64_t t_us)
{
    if (a->set.open_boot_ms <= 0)
        return;
    oxl_adapter_power_cycle(a, t_us);
    a->job.due_us = t_us + llround(1000 * a->set.open_boot_ms);
}

/* A K-line session is over with the ECU that held it. */
void oxl_adapter_ignition(struct oxl_adapter *a, bool on)
{
    a->ecu.answers = on;
    a->dialect.bus_ready = a->dialect.bus_ready && on;
}
