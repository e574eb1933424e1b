/* Any characters at any times to the simulated adapter, read in any pieces: it must not crash,
 * must never ask the vehicle for an earlier moment than before, must give each byte at its time,
 * must fall silent in the end, and must still answer after a power cycle.
 *
 * Input: protocol, quirk bits, then chunks: length (modulo 16), pause in units of 0.5 ms, the
 * characters. */
#include <stdbool.h>

#include "help_fuzz.h"
#include "sim/parts.h"

struct clock {
    int64_t asked_us, t_us;
};

static void readout(void *ctx, int64_t t_us, struct oxl_readout *out)
{
    struct clock *c = ctx;
    CHECK(t_us >= c->asked_us && t_us <= c->t_us);
    c->asked_us = t_us;
    memset(out, 0, sizeof *out);
}

static void settings(uint8_t protocol, uint8_t quirks, struct oxl_adapter_settings *set,
                     struct oxl_ecu_settings *unit)
{
    oxl_adapter_defaults(set);
    oxl_ecu_defaults(unit);
    set->protocol = 1 + protocol % 9U;
    set->stuck_echo = quirks & 1;
    set->stuck_spaces = quirks & 2;
    set->stuck_linefeeds = quirks & 4;
    set->garbage = quirks & 8;
    set->reply_count = quirks & 16;
    set->adaptive = quirks & 32;
    unit->second_ecu = quirks & 64;
    unit->answers = !(quirks & 128);
    memcpy(unit->stored, "P0420 P0136 P0300 P0171", 24);
}

/* Reads what has come by t_us, in pieces of seven; keeps the last byte. */
static void run_to(struct oxl_adapter *a, struct clock *c, int64_t t_us, char *tail)
{
    uint8_t bytes[7];
    c->t_us = t_us;
    for (size_t n; (n = oxl_adapter_read(a, bytes, sizeof bytes, t_us)) > 0;)
        *tail = (char)bytes[n - 1];
    CHECK(oxl_adapter_due_us(a) > t_us);
}

/* From event to event until nothing is due. */
static void run_out(struct oxl_adapter *a, struct clock *c, char *tail)
{
    int64_t due_us;
    for (unsigned steps = 0; (due_us = oxl_adapter_due_us(a)) != INT64_MAX; steps++) {
        CHECK(steps < 100000);
        run_to(a, c, due_us > c->t_us ? due_us : c->t_us, tail);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size < 2)
        return 0;
    struct oxl_adapter_settings set;
    struct oxl_ecu_settings unit;
    struct clock clock = {INT64_MIN, 0};
    const struct oxl_adapter_hooks hooks = {&clock, readout};
    settings(data[0], data[1], &set, &unit);
    struct oxl_adapter *a = oxl_adapter_new(&set, &unit, 1, &hooks);
    CHECK(a);
    char tail = 0;
    for (size_t at = 2; at + 2 <= size;) {
        size_t n = data[at] % 16U;
        int64_t t_us = clock.t_us + data[at + 1] * 500;
        at += 2;
        n = n < size - at ? n : size - at;
        run_to(a, &clock, t_us, &tail);
        oxl_adapter_write(a, data + at, n, at % 32 == 31 ? 9600 : 115200, t_us);
        at += n;
    }
    run_out(a, &clock, &tail);
    oxl_adapter_power_cycle(a, clock.t_us);
    oxl_adapter_write(a, "", 0, 115200, clock.t_us);
    run_out(a, &clock, &tail);
    CHECK(tail == '>'); /* the prompt under the banner */
    oxl_adapter_write(a, "ATI\r", 4, 115200, clock.t_us);
    tail = 0;
    run_out(a, &clock, &tail);
    CHECK(tail == '>');
    oxl_adapter_free(a);
    return 0;
}
