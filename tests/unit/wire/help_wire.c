#include "help_wire.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

static void put(struct tap *t, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    int n = vsnprintf(t->log + t->n, sizeof t->log - t->n, fmt, args);
    va_end(args);
    assert_true(n >= 0 && (size_t)n < sizeof t->log - t->n);
    t->n += (size_t)n;
}

static void end_token(struct tap *t, int64_t t_us)
{
    if (t->times)
        put(t, " @%lld", (long long)t_us);
    put(t, "\n");
}

static void on_prompt(void *ctx, int64_t t_us)
{
    put(ctx, "P");
    end_token(ctx, t_us);
}

static const char *word_name(enum oxl_word w)
{
    static const char *const names[] = {
        [OXL_WORD_NONE] = "-",
        [OXL_WORD_OK] = "OK",
        [OXL_WORD_UNKNOWN_COMMAND] = "?",
        [OXL_WORD_NO_DATA] = "NO DATA",
        [OXL_WORD_SEARCHING] = "SEARCHING",
        [OXL_WORD_BUS_INIT] = "BUS INIT",
        [OXL_WORD_BUS_INIT_ERROR] = "BUS INIT ERROR",
        [OXL_WORD_UNABLE] = "UNABLE TO CONNECT",
        [OXL_WORD_CAN_ERROR] = "CAN ERROR",
        [OXL_WORD_BUS_BUSY] = "BUS BUSY",
        [OXL_WORD_BUS_ERROR] = "BUS ERROR",
        [OXL_WORD_FB_ERROR] = "FB ERROR",
        [OXL_WORD_DATA_ERROR] = "DATA ERROR",
        [OXL_WORD_DATA_ERROR_MARK] = "<DATA ERROR",
        [OXL_WORD_RX_ERROR_MARK] = "<RX ERROR",
        [OXL_WORD_BUFFER_FULL] = "BUFFER FULL",
        [OXL_WORD_STOPPED] = "STOPPED",
        [OXL_WORD_ACTIVITY_ALERT] = "ACT ALERT",
        [OXL_WORD_LOW_VOLTAGE_RESET] = "LV RESET",
        [OXL_WORD_LOW_POWER_ALERT] = "LP ALERT",
        [OXL_WORD_INTERNAL_ERROR] = "ERR",
    };
    assert_true((size_t)w < sizeof names / sizeof *names);
    return names[w];
}

static void on_word(void *ctx, enum oxl_word word, int64_t t_us)
{
    put(ctx, "W %s", word_name(word));
    end_token(ctx, t_us);
}

static void on_text(void *ctx, const char *line, int64_t t_us)
{
    put(ctx, "T %s", line);
    end_token(ctx, t_us);
}

static void on_message(void *ctx, const struct oxl_message *m)
{
    struct tap *t = ctx;
    assert_true(m->len >= 1 && m->len <= 4095);
    assert_true(m->first_byte_us <= m->last_byte_us);
    put(t, "M %X ", m->ecu);
    for (size_t i = 0; i < m->len; i++)
        put(t, "%02X", m->data[i]);
    put(t, m->bad_checksum ? " BAD" : "");
    if (t->times)
        put(t, " @%lld-%lld", (long long)m->first_byte_us, (long long)m->last_byte_us);
    put(t, "\n");
}

struct tap *tap_new(enum oxl_protocol p)
{
    struct tap *t = calloc(1, sizeof *t);
    assert_non_null(t);
    struct oxl_wire_out out = {t, on_prompt, on_word, on_text, on_message};
    t->wire = oxl_wire_new(&out);
    assert_non_null(t->wire);
    oxl_wire_set_protocol(t->wire, p);
    return t;
}

void tap_free(struct tap *t)
{
    oxl_wire_free(t->wire);
    free(t);
}

void tap_clear(struct tap *t)
{
    t->n = 0;
    t->log[0] = '\0';
}

void tap_feed(struct tap *t, const char *text, int64_t t_us)
{
    oxl_wire_feed(t->wire, text, strlen(text), t_us);
}

void tap_check(enum oxl_protocol p, const char *text, const char *tokens)
{
    struct tap *t = tap_new(p);
    tap_feed(t, text, 1);
    assert_string_equal(t->log, tokens);
    tap_free(t);
}

size_t tap_can_line(char *out, uint32_t id, bool wide, const uint8_t *data, size_t n, bool spaces)
{
    size_t at = 0;
    if (!wide)
        at += (size_t)sprintf(out, "%03X", id);
    else
        for (int shift = 24; shift >= 0; shift -= 8)
            at += (size_t)sprintf(out + at, "%s%02X", spaces && at ? " " : "", id >> shift & 0xFF);
    for (size_t i = 0; i < n; i++)
        at += (size_t)sprintf(out + at, "%s%02X", spaces ? " " : "", data[i]);
    return at + (size_t)sprintf(out + at, "%s\r", spaces ? " " : "");
}

size_t tap_segment(const uint8_t *payload, size_t len, uint8_t pad, uint8_t frames[][9], size_t max)
{
    size_t count = 0;
    size_t at = 0;
    do {
        assert_true(count < max);
        uint8_t *f = frames[count];
        size_t pci = 1;
        memset(f, pad, 9);
        f[0] = 8;
        if (len <= 7) {
            f[1] = (uint8_t)len;
        } else if (count == 0) {
            f[1] = (uint8_t)(0x10 | len >> 8);
            f[2] = (uint8_t)(len & 0xFF);
            pci = 2;
        } else {
            f[1] = (uint8_t)(0x20 | (count & 0x0F));
        }
        size_t part = len - at < 8 - pci ? len - at : 8 - pci;
        memcpy(f + 1 + pci, payload + at, part);
        at += part;
        count++;
    } while (at < len);
    return count;
}

uint32_t tap_random(uint32_t *state)
{
    *state = (uint32_t)((uint64_t)*state * 16807U % 2147483647U);
    return *state;
}
