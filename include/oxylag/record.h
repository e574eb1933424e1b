/* Record: the lines of a recording (JSON Lines), to and from structs. Pure; files are the
 * business of src/link/file_*. Format: docs/recording.md.
 */
#ifndef OXYLAG_RECORD_H
#define OXYLAG_RECORD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/event.h"
#include "oxylag/inspect.h"
#include "oxylag/session.h"
#include "oxylag/status.h"

#define OXL_RECORD_FORMAT "oxylag-recording"
enum { OXL_RECORD_VERSION = 1, OXL_RECORD_LINE_MAX = 16384 };
/* Times of a recording, microseconds from its start: 31 days at most. No test is so long, and sums
 * and differences of such times are far from any limit. */
#define OXL_RECORD_T_MAX_US INT64_C(2678400000000)
/* Values of an imported table's rows lie within this, whatever they are. */
#define OXL_RECORD_VALUE_MAX 1e9

enum oxl_line_kind {
    OXL_LINE_HEADER, /* first line                                    */
    OXL_LINE_RX,     /* raw bytes received                            */
    OXL_LINE_TX,     /* raw bytes sent; replay ticks the core here    */
    OXL_LINE_TICK,   /* a tick that made the core say something       */
    OXL_LINE_KEY,
    OXL_LINE_LINK,   /* port up / down                                */
    OXL_LINE_SPEED,  /* line speed set; for the reader only           */
    OXL_LINE_NOTE,   /* text typed or given                           */
    OXL_LINE_EVENT,  /* state, advice, check, run, result, vehicle..: what was said live; replay
                        compares with it and never feeds it            */
    OXL_LINE_END,    /* orderly end; of an imported table its last line. With a text: what ended
                        it from outside (a signal, nobody that reads)   */
    OXL_LINE_SAMPLES /* a row of an imported table                      */
};

struct oxl_record_header {
    int version;
    char program[32]; /* program version */
    char started[32]; /* local time, ISO 8601 with offset, as given by the caller */
    char port[128];   /* as opened; "sim:good" says that it is simulated */
    bool simulated;
    char scenario[128]; /* simulated only */
    uint64_t seed;
    char order[128], inlet[128], note[256], technician[64];
    char plate[32], odometer[32], vehicle[128]; /* of the customer's; vehicle: a free text */
    bool mask_vin;
    unsigned bank, runs, speed_baud;
    bool has_speed, profile_given;
    enum oxl_schedule schedule;   /* its requests'; 0 is written as today's */
    enum oxl_procedure procedure; /* likewise */
    bool inspection;              /* of inspect: it holds no test */
    struct oxl_imported imported; /* .on: made from a table */
    struct oxl_profile profile;   /* in full */
};

struct oxl_line {
    enum oxl_line_kind kind;
    int64_t t_us;
    /* RX, TX: bytes; NOTE: text; END: text, none with n = 0; EVENT: the event's JSON text as in
     * --json. Points into the caller's buffer (decode) or at the caller's data (encode). */
    const char *bytes;
    size_t n;
    enum oxl_key key;
    bool link_up;
    unsigned speed_baud;
    double values[OXL_IMPORT_CHANNELS]; /* SAMPLES: n of them, NAN = empty */
};

/* Writes one line with its newline. Returns the length, 0 when it does not fit in n. Every byte
 * value 0..255 in RX/TX survives the round trip: bytes above 7E and controls are escaped as
 * \u00XX of the same number. */
size_t oxl_record_encode(const struct oxl_line *line, char *out, size_t n);
size_t oxl_record_encode_header(const struct oxl_record_header *h, char *out, size_t n);

/* Reads one line (without newline). scratch (at least len + 1 bytes) receives unescaped bytes
 * that line->bytes points at. lineno and file are for the message. */
enum oxl_status oxl_record_decode(const char *text, size_t len, char *scratch,
                                  struct oxl_line *line, const char *file, unsigned lineno,
                                  struct oxl_error *err) OXL_MUST_CHECK;

/* What a recording's lines must be together: their times never run backwards, there is one test,
 * and nothing follows its end. Zeroed at the start; the caller hands over every line after the
 * header. OXL_ERR_FORMAT names the line that breaks it. */
struct oxl_record_order {
    int64_t last_us;
    unsigned tests;
    bool ended;
};
enum oxl_status oxl_record_in_order(struct oxl_record_order *o, const struct oxl_line *line,
                                    const char *file, unsigned lineno,
                                    struct oxl_error *err) OXL_MUST_CHECK;
enum oxl_status oxl_record_decode_header(const char *text, size_t len, struct oxl_record_header *h,
                                         const char *file, struct oxl_error *err) OXL_MUST_CHECK;

/* An event as one JSON object without newline, as `--json` prints it and as recordings keep it
 * (docs/events.md). Unknown numbers are null. Numbers are written so that they read back
 * bit-identical where a double matters. Returns the length, 0 when it does not fit. */
size_t oxl_event_json(const struct oxl_event *ev, bool mask_vin, char *out, size_t n);

/* What an inspection found, as JSON objects like the above: one for each ECU, trouble code,
 * monitor result, the freeze frame, the readings, and one that sums up. Calls `line` for each,
 * without newline. Checks and the vehicle are events of their own. */
void oxl_inspection_json(const struct oxl_inspection *v, int64_t t_us,
                         void (*line)(void *ctx, const char *text, size_t n), void *ctx);

#endif
