/* Wire: from the adapter's bytes to whole diagnostic messages.
 *
 *   bytes -> lines -> frames -> messages
 *
 * A push parser that keeps all its state between calls: any split of the bytes gives the same
 * tokens. It never fails; noise becomes counters. It drops NULs, survives echo, spaces and
 * linefeeds left on, a status word glued to data, several ECUs' interleaved answers, and
 * over-long lines (counted and dropped).
 */
#ifndef OXYLAG_WIRE_H
#define OXYLAG_WIRE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The protocol numbers of the generic AT dialect (docs/adapter-dialect.md). X(id, number, name for
 * programs, plain words). */
#define OXL_PROTOCOLS(X)                                                                           \
    X(J1850_PWM, 1, "j1850-pwm", "SAE J1850 PWM, 41.6 kbit/s")                                     \
    X(J1850_VPW, 2, "j1850-vpw", "SAE J1850 VPW, 10.4 kbit/s")                                     \
    X(ISO9141, 3, "iso9141", "ISO 9141-2 (K-line)")                                                \
    X(KWP_SLOW, 4, "kwp-slow", "ISO 14230-4 (K-line), slow start")                                 \
    X(KWP_FAST, 5, "kwp-fast", "ISO 14230-4 (K-line), fast start")                                 \
    X(CAN11_500, 6, "can11-500", "ISO 15765-4 CAN, 11 bit, 500 kbit/s")                            \
    X(CAN29_500, 7, "can29-500", "ISO 15765-4 CAN, 29 bit, 500 kbit/s")                            \
    X(CAN11_250, 8, "can11-250", "ISO 15765-4 CAN, 11 bit, 250 kbit/s")                            \
    X(CAN29_250, 9, "can29-250", "ISO 15765-4 CAN, 29 bit, 250 kbit/s")

enum oxl_protocol {
    OXL_PROTO_UNKNOWN = 0,
#define X(id, number, code, words) OXL_PROTO_##id = (number),
    OXL_PROTOCOLS(X)
#undef X
};

bool oxl_protocol_is_can(enum oxl_protocol p);
bool oxl_protocol_is_can29(enum oxl_protocol p);
const char *oxl_protocol_name(enum oxl_protocol p); /* plain words, static */

/* Words that an adapter says instead of data. X(id, what it means, for messages). */
#define OXL_WORDS(X)                                                                               \
    X(NONE, "nothing")                                                                             \
    X(OK, "accepted")                                                                              \
    X(UNKNOWN_COMMAND, "the adapter does not know the command") /* ? */                            \
    X(NO_DATA, "no answer from the vehicle")                                                       \
    X(SEARCHING, "the adapter is searching for the protocol")                                      \
    /* BUS INIT: ... (without a result yet, or ...OK) */                                           \
    X(BUS_INIT, "the adapter is opening the bus")                                                  \
    X(BUS_INIT_ERROR, "the bus could not be opened")                    /* BUS INIT: ...ERROR */   \
    X(UNABLE, "the adapter found no protocol that the vehicle answers") /* UNABLE TO CONNECT */    \
    X(CAN_ERROR, "CAN error")                                                                      \
    X(BUS_BUSY, "the bus is busy")                                                                 \
    X(BUS_ERROR, "bus error")                                                                      \
    X(FB_ERROR, "the bus does not follow the adapter's output")                                    \
    X(DATA_ERROR, "data error") /* a whole line DATA ERROR */                                      \
    /* <DATA ERROR behind data: that data is not to be trusted */                                  \
    X(DATA_ERROR_MARK, "an answer was spoilt (data error)")                                        \
    /* <RX ERROR behind data: likewise */                                                          \
    X(RX_ERROR_MARK, "an answer was spoilt (receive error)")                                       \
    X(BUFFER_FULL, "the adapter's buffer overflowed")                                              \
    X(STOPPED, "the adapter was interrupted")                                                      \
    X(ACTIVITY_ALERT, "the adapter saw no activity and is about to sleep")                         \
    X(LOW_VOLTAGE_RESET, "the adapter reset itself for low voltage")                               \
    X(LOW_POWER_ALERT, "the adapter is about to save power")                                       \
    X(INTERNAL_ERROR, "internal error of the adapter") /* ERRxx */

enum oxl_word {
#define X(id, meaning) OXL_WORD_##id,
    OXL_WORDS(X)
#undef X
};
const char *oxl_word_text(enum oxl_word w); /* static, for messages */

/* One whole diagnostic message from one ECU. `data` holds the service byte and what follows
 * (41 14 5A 80 ...), without transport bytes and without padding; it is valid only during the
 * callback. */
struct oxl_message {
    uint32_t ecu;        /* 7E8.. or 18DAF1xx; on K-line and J1850 the source address */
    const uint8_t *data; /* 1..4095 bytes */
    size_t len;
    int64_t first_byte_us; /* when the first byte of its first line arrived */
    int64_t last_byte_us;  /* when its last byte arrived */
    bool bad_checksum;     /* always false for CAN; such a message is for the record only */
};

/* Times of words and texts are those of their last byte. A callback may call set_protocol,
 * expect_echo and reset, but neither feed nor free. */
struct oxl_wire_out {
    void *ctx;
    /* The '>' that says that the adapter is ready again. A message still under way is given up:
     * its remains must not be joined to frames of a later reply. */
    void (*prompt)(void *ctx, int64_t t_us);
    /* SEARCHING... and BUS INIT: ... are told at their third dot, not at the end of their line;
     * what follows them on that line has its own first byte. BUS_INIT_ERROR may so follow
     * BUS_INIT. */
    void (*word)(void *ctx, enum oxl_word word, int64_t t_us);
    /* A printable line that is neither a word nor data (banner, "A6", "12.6V"). Valid only
     * during the call. */
    void (*text)(void *ctx, const char *line, int64_t t_us);
    void (*message)(void *ctx, const struct oxl_message *m);
};

/* Counters of noise; never reset by the wire itself. */
struct oxl_wire_stats {
    uint64_t bytes, lines, frames, messages;
    uint64_t nul_bytes;      /* dropped */
    uint64_t overlong_lines; /* dropped */
    uint64_t bad_lines;      /* neither text, word nor a valid frame; data spoilt by a mark */
    uint64_t bad_checksums;
    uint64_t
        broken_messages; /* wrong consecutive number, first frame replaced, impossible length */
    uint64_t echoes;     /* lines that were the expected echo */
    uint64_t headless;   /* lines that look like an answer without its header */
    uint64_t cut_frames; /* shorter than this ECU's padded frames always are; dropped */
};

struct oxl_wire; /* opaque; no allocation after _new */

/* Returns NULL when there is no memory. `out` is copied; its members must all be set. */
struct oxl_wire *oxl_wire_new(const struct oxl_wire_out *out);
void oxl_wire_free(struct oxl_wire *w); /* NULL is accepted */

/* Which protocol data lines are to be read as; UNKNOWN (after _new) means: take a line of hex
 * digits by its own shape where that is unambiguous (11-bit or 29-bit CAN id as first digits,
 * K-line or J1850 header with a right checksum), else as text. */
void oxl_wire_set_protocol(struct oxl_wire *w, enum oxl_protocol p);

/* The text of the command just sent (without CR), so that its echo can be told from an answer;
 * "" when none. Copied. */
void oxl_wire_expect_echo(struct oxl_wire *w, const char *command);

/* Forgets half lines and half messages (after a reconnect). */
void oxl_wire_reset(struct oxl_wire *w);

/* Pushes bytes that were read at t_us. Calls back zero or more times. */
void oxl_wire_feed(struct oxl_wire *w, const void *bytes, size_t n, int64_t t_us);

const struct oxl_wire_stats *oxl_wire_stats(const struct oxl_wire *w);

#endif
