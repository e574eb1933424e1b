/* Any bytes in any pieces: the wire must not crash, must keep its promises about messages, and
 * must give the same tokens, counters and times however the bytes are cut.
 *
 * Input: protocol digit, number of piece sizes (modulo 8), the sizes (modulo 32, plus 1; used in
 * turn), then the bytes of the adapter. */
#include <stdbool.h>

#include "help_fuzz.h"
#include "oxylag/wire.h"

/* The token stream, boiled down (FNV-1a): with and without its times. */
struct sink {
    struct oxl_wire *wire;
    uint64_t tokens, timed;
    uint64_t messages, bad;
    int64_t now;
};

static void mix(uint64_t *hash, const void *p, size_t n)
{
    const uint8_t *b = p;
    for (size_t i = 0; i < n; i++)
        *hash = (*hash ^ b[i]) * 1099511628211U;
}

static void note(struct sink *s, char kind, const void *p, size_t n)
{
    mix(&s->tokens, &kind, 1);
    mix(&s->tokens, &n, sizeof n);
    mix(&s->tokens, p, n);
}

static void note_time(struct sink *s, int64_t t_us)
{
    CHECK(t_us >= 0 && t_us <= s->now);
    mix(&s->timed, &t_us, sizeof t_us);
}

static void on_prompt(void *ctx, int64_t t_us)
{
    struct sink *s = ctx;
    note(s, 'P', "", 0);
    note_time(s, t_us);
    CHECK(t_us == s->now);
    oxl_wire_expect_echo(s->wire, "010C1"); /* as a caller does: the next command goes out */
}

static void on_word(void *ctx, enum oxl_word word, int64_t t_us)
{
    struct sink *s = ctx;
    CHECK(word > OXL_WORD_NONE && word <= OXL_WORD_INTERNAL_ERROR);
    note(s, 'W', &word, sizeof word);
    note_time(s, t_us);
    if (word == OXL_WORD_LOW_VOLTAGE_RESET)
        oxl_wire_reset(s->wire);
}

static void on_text(void *ctx, const char *line, int64_t t_us)
{
    struct sink *s = ctx;
    size_t n = strlen(line);
    CHECK(n >= 1 && n <= 1023 && line[0] != ' ' && line[n - 1] != ' ');
    for (size_t i = 0; i < n; i++)
        CHECK(line[i] >= 0x20 && line[i] < 0x7f && line[i] != '>');
    note(s, 'T', line, n);
    note_time(s, t_us);
    if (n == 2 && line[0] == 'A' && line[1] >= '0' && line[1] <= '9')
        oxl_wire_set_protocol(s->wire, (enum oxl_protocol)(line[1] - '0'));
}

static void on_message(void *ctx, const struct oxl_message *m)
{
    struct sink *s = ctx;
    bool can11 = m->ecu >= 0x7E8 && m->ecu <= 0x7EF;
    bool can29 = m->ecu >> 8 == 0x18DAF1;
    CHECK(m->len >= 1 && m->len <= 4095);
    CHECK(can11 || can29 || m->ecu <= 0xFF);
    CHECK(!m->bad_checksum || m->ecu <= 0xFF);
    CHECK(m->ecu > 0xFF || m->len <= 255);
    CHECK(m->first_byte_us <= m->last_byte_us);
    note(s, 'M', m->data, m->len);
    mix(&s->tokens, &m->ecu, sizeof m->ecu);
    mix(&s->tokens, &m->bad_checksum, 1);
    note_time(s, m->first_byte_us);
    note_time(s, m->last_byte_us);
    s->messages++;
    s->bad += m->bad_checksum;
}

struct plan {
    enum oxl_protocol protocol;
    const uint8_t *sizes;
    size_t count;
    const uint8_t *bytes;
    size_t n;
};

enum cut { WHOLE, PIECES, BYTES };

/* PIECES and BYTES bring each byte at the same time: the number of its piece. */
static void feed(struct sink *s, const struct plan *p, enum cut cut)
{
    size_t at = 0;
    for (size_t k = 0; at < p->n; k++) {
        size_t piece = p->count ? p->sizes[k % p->count] % 32U + 1U : p->n;
        if (cut == WHOLE || piece > p->n - at)
            piece = p->n - at;
        s->now = (int64_t)k;
        for (size_t i = 0; cut == BYTES && i < piece; i++)
            oxl_wire_feed(s->wire, p->bytes + at + i, 1, s->now);
        if (cut != BYTES)
            oxl_wire_feed(s->wire, p->bytes + at, piece, s->now);
        at += piece;
    }
}

static void run(struct sink *s, const struct plan *p, enum cut cut)
{
    *s = (struct sink){.tokens = 14695981039346656037U, .timed = 14695981039346656037U};
    struct oxl_wire_out out = {s, on_prompt, on_word, on_text, on_message};
    s->wire = oxl_wire_new(&out);
    CHECK(s->wire);
    oxl_wire_set_protocol(s->wire, p->protocol);
    feed(s, p, cut);
    const struct oxl_wire_stats *st = oxl_wire_stats(s->wire);
    CHECK(st->bytes == p->n);
    CHECK(st->messages == s->messages && st->bad_checksums == s->bad);
    CHECK(st->frames <= st->lines && st->messages <= st->frames);
    CHECK(st->bad_lines + st->overlong_lines + st->frames <= st->lines);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size < 2)
        return 0;
    size_t count = data[1] % 8U;
    if (size < 2 + count)
        return 0;
    struct plan p = {(enum oxl_protocol)((unsigned)(data[0] + 2) % 10U), data + 2, count,
                     data + 2 + count, size - 2 - count};
    struct sink s[3];
    for (int cut = WHOLE; cut <= BYTES; cut++)
        run(&s[cut], &p, (enum cut)cut);
    for (int cut = PIECES; cut <= BYTES; cut++) {
        CHECK(s[cut].tokens == s[WHOLE].tokens);
        CHECK(memcmp(oxl_wire_stats(s[cut].wire), oxl_wire_stats(s[WHOLE].wire),
                     sizeof(struct oxl_wire_stats)) == 0);
    }
    CHECK(s[PIECES].timed == s[BYTES].timed);
    for (int cut = WHOLE; cut <= BYTES; cut++)
        oxl_wire_free(s[cut].wire);
    return 0;
}
