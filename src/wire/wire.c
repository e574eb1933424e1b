#include "oxylag/wire.h"

#include <stdlib.h>
#include <string.h>

#include "wire/frame.h"
#include "wire/hex.h"
#include "wire/isotp.h"
#include "wire/line.h"
#include "wire/words.h"

enum {
    ECHO_MAX = 127,
    LEAD_MAX = 32, /* no leading word is longer, even with spaces strewn in */
    /* Shorter lines of hex digits are answers of the adapter itself, such as the protocol number
     * "A6"; the shortest frame, an 11-bit identifier and one byte, has five digits. */
    SHORT_HEX = 3,
    PADDERS = 8,
    HABIT = 4, /* padded frames that make a habit */
    FULL = 8   /* bytes of a CAN frame */
};

/* An ECU that pads its single frames to eight bytes, ISO 15765-4, mostly does so always. */
struct padder {
    uint32_t ecu;
    unsigned padded; /* single frames seen that were longer than they had to be */
    /* By the bytes that it must have, single and consecutive: frames in a row that had no more. */
    uint8_t bare[2][FULL + 1];
};

struct oxl_wire {
    struct oxl_wire_out out;
    struct oxl_wire_stats stats;
    enum oxl_protocol protocol;
    char echo[ECHO_MAX + 1]; /* compact; "" when none is expected */
    enum oxl_word lead;      /* the leading word taken off the line under way */
    struct oxl_line line;
    char compact[OXL_LINE_MAX + 1];
    struct oxl_frame frame;
    struct oxl_isotp isotp;
    struct padder padders[PADDERS];
};

struct oxl_wire *oxl_wire_new(const struct oxl_wire_out *out)
{
    struct oxl_wire *w = calloc(1, sizeof *w);
    if (w)
        w->out = *out;
    return w;
}

void oxl_wire_free(struct oxl_wire *w)
{
    free(w);
}

static void drop_half_messages(struct oxl_wire *w)
{
    w->stats.broken_messages += oxl_isotp_drop_all(&w->isotp);
}

void oxl_wire_set_protocol(struct oxl_wire *w, enum oxl_protocol p)
{
    if (p != w->protocol)
        drop_half_messages(w);
    w->protocol = p;
}

void oxl_wire_expect_echo(struct oxl_wire *w, const char *command)
{
    w->echo[0] = '\0';
    if (strlen(command) > ECHO_MAX)
        return;
    char compact[OXL_LINE_MAX + 1];
    size_t n = oxl_line_compact(command, compact);
    memcpy(w->echo, compact, n + 1);
}

void oxl_wire_reset(struct oxl_wire *w)
{
    oxl_line_clear(&w->line);
    w->lead = OXL_WORD_NONE;
    w->echo[0] = '\0';
    drop_half_messages(w);
    memset(w->padders, 0, sizeof w->padders);
}

const struct oxl_wire_stats *oxl_wire_stats(const struct oxl_wire *w)
{
    return &w->stats;
}

static void say_word(struct oxl_wire *w, enum oxl_word word, int64_t t_us)
{
    if (word != OXL_WORD_NONE)
        w->out.word(w->out.ctx, word, t_us);
}

static void say_message(struct oxl_wire *w, const uint8_t *data, size_t len, int64_t first_us)
{
    struct oxl_message m = {
        .ecu = w->frame.ecu,
        .data = data,
        .len = len,
        .first_byte_us = first_us,
        .last_byte_us = w->line.last_us,
        .bad_checksum = w->frame.bad_checksum,
    };
    w->stats.messages++;
    if (m.bad_checksum)
        w->stats.bad_checksums++;
    w->out.message(w->out.ctx, &m);
}

static struct padder *padder_of(struct oxl_wire *w, uint32_t ecu)
{
    for (size_t i = 0; i < PADDERS; i++) {
        struct padder *p = &w->padders[i];
        if (p->ecu == 0)
            p->ecu = ecu;
        if (p->ecu == ecu)
            return p;
    }
    return NULL;
}

/* Bytes that the frame must have; FULL also where that is not known. */
static size_t due_bytes(struct oxl_wire *w)
{
    const struct oxl_frame *f = &w->frame;
    unsigned kind = f->bytes[f->at] >> 4; /* 0 single, 1 first, 2 consecutive */
    size_t data = kind == 0   ? f->bytes[f->at]
                  : kind == 2 ? oxl_isotp_missing(&w->isotp, f->ecu)
                              : FULL;
    return data > 0 && data < FULL ? data + 1 : FULL;
}

/* The text of a CAN frame has no checksum. Characters lost on the serial line make it shorter,
 * which shows when the ECU's frames never are. Some pad a part of their answers only: frames of one
 * kind that are always just as long as they must be are sound. */
static bool is_cut(struct oxl_wire *w)
{
    const struct oxl_frame *f = &w->frame;
    struct padder *p = padder_of(w, f->ecu);
    if (!p)
        return false;
    bool single = f->bytes[f->at] < FULL;
    size_t due = due_bytes(w);
    uint8_t *bare = &p->bare[single][due];
    if (f->len >= FULL) {
        if (single && due < FULL && p->padded < HABIT)
            p->padded++;
        if (*bare < HABIT)
            *bare = 0;
        return false;
    }
    if (p->padded < HABIT)
        return false;
    if (f->len == due && *bare < HABIT)
        ++*bare;
    return f->len != due || *bare < HABIT;
}

static void take_can_frame(struct oxl_wire *w)
{
    struct oxl_isotp_done done;
    const struct oxl_frame *f = &w->frame;
    if (is_cut(w)) {
        w->stats.cut_frames++;
        return;
    }
    if (oxl_isotp_push(&w->isotp, f->ecu, f->bytes, f->len, w->line.first_us,
                       &w->stats.broken_messages, &done))
        say_message(w, done.data, done.len, done.first_us);
}

/* A line (or what a glued word left of it) of nothing but hex digits. */
static void take_hex(struct oxl_wire *w, const char *s, size_t digits)
{
    oxl_frame_read(w->protocol, s, digits, &w->frame);
    if (w->frame.kind != OXL_FRAME_NONE)
        w->stats.frames++;
    switch (w->frame.kind) {
    case OXL_FRAME_NONE:
        w->stats.headless +=
            digits % 2 == 0 && (strncmp(s, "41", 2) == 0 || strncmp(s, "7F", 2) == 0);
        if (w->protocol == OXL_PROTO_UNKNOWN || digits <= SHORT_HEX)
            w->out.text(w->out.ctx, w->line.text, w->line.last_us);
        else
            w->stats.bad_lines++;
        return;
    case OXL_FRAME_OTHER:
        return;
    case OXL_FRAME_LENGTH:
        w->stats.broken_messages++;
        return;
    case OXL_FRAME_CAN:
        take_can_frame(w);
        return;
    case OXL_FRAME_WHOLE:
        say_message(w, w->frame.bytes + w->frame.at, w->frame.len, w->line.first_us);
        return;
    }
}

/* Data with a word behind them: never delivered, because they were spoilt or cut off. */
static bool take_spoilt(struct oxl_wire *w, const char *s, size_t len)
{
    size_t prefix = 0;
    enum oxl_word word = oxl_words_behind(s, len, &prefix);
    bool mark = word == OXL_WORD_DATA_ERROR_MARK || word == OXL_WORD_RX_ERROR_MARK;
    if (word == OXL_WORD_NONE || (!mark && !oxl_hex_only(s, prefix)))
        return false;
    w->stats.bad_lines++;
    say_word(w, word, w->line.last_us);
    return true;
}

/* Takes leading words off; returns what is left. */
static const char *take_leads(struct oxl_wire *w, const char *s)
{
    enum oxl_word before = w->lead;
    size_t n;
    enum oxl_word word;
    while ((n = oxl_words_lead(s, before, &word)) > 0) {
        say_word(w, word, w->line.last_us);
        before = OXL_WORD_NONE;
        s += n;
    }
    return s;
}

static bool take_echo(struct oxl_wire *w, const char *compact)
{
    if (!w->echo[0] || strcmp(w->echo, compact) != 0)
        return false;
    w->echo[0] = '\0';
    w->stats.echoes++;
    return true;
}

/* "1:41147FFF..": a part of a long message as shown without headers. */
static bool is_numbered_part(const char *s, size_t len)
{
    return len > 2 && oxl_hex_digit(s[0]) >= 0 && s[1] == ':' && oxl_hex_only(s + 2, len - 2);
}

/* Nearly every line is of hex digits alone: it is compact as it stands, and no word. */
static bool take_digits(struct oxl_wire *w)
{
    struct oxl_line *l = &w->line;
    if (!oxl_hex_only(l->text, l->len))
        return false;
    l->text[l->len] = '\0';
    if (!take_echo(w, l->text))
        take_hex(w, l->text, l->len);
    return true;
}

static void take_line(struct oxl_wire *w)
{
    w->stats.lines++;
    if (w->line.overlong) {
        w->stats.overlong_lines++;
        return;
    }
    if (take_digits(w))
        return;
    if (!oxl_line_finish(&w->line)) {
        w->stats.bad_lines++;
        return;
    }
    oxl_line_compact(w->line.text, w->compact);
    if (take_echo(w, w->compact))
        return;
    const char *s = take_leads(w, w->compact);
    size_t len = strlen(s);
    if (len == 0)
        return;
    w->stats.headless += is_numbered_part(s, len);
    enum oxl_word word = oxl_words_whole(s);
    if (word != OXL_WORD_NONE)
        say_word(w, word, w->line.last_us);
    else if (oxl_hex_only(s, len))
        take_hex(w, s, len);
    else if (!take_spoilt(w, s, len))
        w->out.text(w->out.ctx, w->line.text, w->line.last_us);
}

static void end_line(struct oxl_wire *w)
{
    if (!oxl_line_is_blank(&w->line))
        take_line(w);
    oxl_line_clear(&w->line);
    w->lead = OXL_WORD_NONE;
}

/* SEARCHING... and BUS INIT: ... stand for seconds before the rest of their line comes, so they
 * are told at once and the rest is stamped with its own first byte. */
static void take_progress(struct oxl_wire *w)
{
    if (w->line.len > LEAD_MAX)
        return;
    w->line.text[w->line.len] = '\0';
    oxl_line_compact(w->line.text, w->compact);
    enum oxl_word word = oxl_words_progress(w->compact);
    if (word == OXL_WORD_NONE)
        return;
    oxl_line_cut_lead(&w->line);
    w->lead = word;
    say_word(w, word, w->line.last_us);
}

static void take_byte(struct oxl_wire *w, uint8_t byte, int64_t t_us)
{
    w->stats.bytes++;
    if (byte == 0) {
        w->stats.nul_bytes++;
        return;
    }
    switch (oxl_line_push(&w->line, byte, t_us)) {
    case OXL_LINE_MORE:
        return;
    case OXL_LINE_DOT:
        take_progress(w);
        return;
    case OXL_LINE_END:
        end_line(w);
        return;
    case OXL_LINE_PROMPT:
        end_line(w);
        /* The adapter is done: a message still under way will never be completed, and its
         * remains must not be joined to frames of a later reply. */
        drop_half_messages(w);
        w->out.prompt(w->out.ctx, t_us);
        return;
    }
}

void oxl_wire_feed(struct oxl_wire *w, const void *bytes, size_t n, int64_t t_us)
{
    const uint8_t *b = bytes, *end = b + n;
    while (b < end) {
        size_t plain = oxl_line_go_on(&w->line, b, (size_t)(end - b), t_us);
        w->stats.bytes += plain;
        b += plain;
        if (b < end)
            take_byte(w, *b++, t_us);
    }
}
