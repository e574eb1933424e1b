#include "sim/adapter.h"

#include <stdio.h>
#include <string.h>

static void put_char(struct oxl_adapter *a, int64_t t_us, uint8_t byte)
{
    struct oxl_ad_queue *q = &a->tx;
    int64_t from_ns = t_us * 1000;
    if (a->tx_free_ns > from_ns)
        from_ns = a->tx_free_ns;
    if (q->count == q->size)
        return; /* nobody reads */
    a->tx_free_ns = from_ns + oxl_ad_char_ns(a);
    oxl_ad_queue(q, a->tx_free_ns, byte);
}

void oxl_ad_put(struct oxl_adapter *a, int64_t t_us, uint8_t byte)
{
    if (oxl_ad_chance(a, a->set.nul_pct))
        put_char(a, t_us, 0x00);
    for (int k = oxl_ad_copies(a); k > 0; k--)
        put_char(a, t_us, oxl_ad_flipped(a, byte));
}

void oxl_ad_say(struct oxl_adapter *a, int64_t t_us, const char *text)
{
    for (; *text; text++)
        oxl_ad_put(a, t_us, (uint8_t)*text);
}

void oxl_ad_eol(struct oxl_adapter *a, int64_t t_us)
{
    oxl_ad_put(a, t_us, '\r');
    if (a->dialect.linefeeds || a->set.stuck_linefeeds)
        oxl_ad_put(a, t_us, '\n');
}

void oxl_ad_line(struct oxl_adapter *a, int64_t t_us, const char *text)
{
    oxl_ad_say(a, t_us, text);
    oxl_ad_eol(a, t_us);
}

void oxl_ad_prompt(struct oxl_adapter *a, int64_t t_us)
{
    oxl_ad_eol(a, t_us);
    if (!oxl_ad_chance(a, a->set.prompt_lost_pct))
        oxl_ad_put(a, t_us, '>');
    a->busy_until_us = (a->tx_free_ns + 999) / 1000;
}

/* A character sent to a busy adapter stops its talking too. */
void oxl_ad_drop_unsent(struct oxl_adapter *a, int64_t t_us)
{
    struct oxl_ad_queue *q = &a->tx;
    while (q->count > 0 && q->at[(q->head + q->count - 1) % q->size].t_us > t_us)
        q->count--;
    if (a->tx_free_ns > t_us * 1000)
        a->tx_free_ns = t_us * 1000;
}

struct text {
    char chars[80];
    size_t len;
};

static void add_byte(struct text *t, uint8_t byte, bool space)
{
    t->len += (size_t)snprintf(t->chars + t->len, sizeof t->chars - t->len,
                               space ? "%02X " : "%02X", byte);
}

static void add_bytes(struct text *t, const uint8_t *bytes, size_t n, bool space)
{
    for (size_t i = 0; i < n; i++)
        add_byte(t, bytes[i], space);
}

/* Headers off: the PCI is taken away; a long message gets a line with its length and numbers
 * in front of its parts. */
static void can_payload(struct text *t, const struct oxl_ad_frame *f, bool space)
{
    const uint8_t pci = f->data[0];
    switch (pci >> 4) {
    case 0:
        add_bytes(t, f->data + 1, pci & 15, space);
        break;
    case 1:
        t->len = (size_t)snprintf(t->chars, sizeof t->chars, "%X%02X\r0:%s", pci & 15U, f->data[1],
                                  space ? " " : "");
        add_bytes(t, f->data + 2, 6, space);
        break;
    default:
        t->len = (size_t)snprintf(t->chars, sizeof t->chars, "%X:%s", pci & 15U, space ? " " : "");
        add_bytes(t, f->data + 1, 7, space);
    }
}

static void can_line(const struct oxl_adapter *a, struct text *t, const struct oxl_ad_frame *f,
                     bool space)
{
    if (a->dialect.headers) {
        const char *form = oxl_ad_is_can29(a->set.protocol) ? "%08X" : "%03X";
        if (space && oxl_ad_is_can29(a->set.protocol)) {
            for (int shift = 24; shift >= 0; shift -= 8)
                add_byte(t, (uint8_t)(f->id >> shift), true);
        } else {
            t->len = (size_t)snprintf(t->chars, sizeof t->chars, form, (unsigned)f->id);
            if (space)
                t->chars[t->len++] = ' ';
        }
    } else if (a->dialect.formatting) {
        can_payload(t, f, space);
        return;
    }
    add_bytes(t, f->data, f->len, space);
}

/* Noise never turns a frame into another valid one: the text of a CAN frame has no checksum, so
 * no tester could tell. */
static void noise_before(struct oxl_adapter *a, int64_t t_us)
{
    static const char *const lines[] = {"#", "~*~ 7E", "\x01\x7F?", "<<"};
    double x = oxl_random_unit(&a->noise);
    if (x < 0.02)
        oxl_ad_put(a, t_us, 0x00);
    else if (x < 0.04)
        oxl_ad_line(a, t_us, lines[(size_t)(oxl_random_unit(&a->noise) * 4)]);
    else if (x < 0.05)
        oxl_ad_put(a, t_us, 0xFF);
}

static void noise_within(struct oxl_adapter *a, struct text *t)
{
    size_t at = (size_t)(oxl_random_unit(&a->noise) * (double)t->len);
    double x = oxl_random_unit(&a->noise);
    if (x < 0.015 && t->len > 0)
        t->chars[at] = x < 0.01 ? '%' : (char)0xB5;
}

void oxl_ad_frame_line(struct oxl_adapter *a, int64_t t_us, const struct oxl_ad_frame *f)
{
    struct text t = {.len = 0};
    bool space = a->dialect.spaces || a->set.stuck_spaces;
    if (oxl_ad_is_can(a->set.protocol))
        can_line(a, &t, f, space);
    else if (a->dialect.headers)
        add_bytes(&t, f->data, f->len, space);
    else
        add_bytes(&t, f->data + 3, f->len - 4U, space);
    if (a->set.garbage) {
        noise_before(a, t_us);
        noise_within(a, &t);
    }
    for (size_t i = 0; i < t.len; i++) {
        if (t.chars[i] == '\r')
            oxl_ad_eol(a, t_us);
        else
            oxl_ad_put(a, t_us, (uint8_t)t.chars[i]);
    }
    oxl_ad_eol(a, t_us);
}
