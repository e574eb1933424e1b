/* A bounded writer of JSON text: no allocation, no locale, numbers that read back bit-identical.
 * When the text does not fit, oxl_json_done returns 0 and the buffer is not to be used.
 */
#ifndef OXYLAG_RECORD_JSON_OUT_H
#define OXYLAG_RECORD_JSON_OUT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct oxl_json {
    char *out; /* not owned */
    size_t cap, len;
    bool full;  /* something did not fit */
    bool comma; /* the next member or item needs a comma before it */
};

void oxl_json_start(struct oxl_json *j, char *out, size_t cap);
/* NUL-terminates. Returns the length without the NUL, 0 when it did not fit. */
size_t oxl_json_done(struct oxl_json *j);

void oxl_json_raw(struct oxl_json *j, const char *text, size_t n);
void oxl_json_open(struct oxl_json *j, char bracket);  /* '{' or '[' */
void oxl_json_close(struct oxl_json *j, char bracket); /* '}' or ']' */
/* The name of a member; a value must follow. `name` needs no escaping. */
void oxl_json_key(struct oxl_json *j, const char *name);

/* Values: after a key, or as an item of an array. */
void oxl_json_text(struct oxl_json *j, const char *utf8); /* bytes that are not UTF-8 become ? */
void oxl_json_text_n(struct oxl_json *j, const char *utf8, size_t n);
void oxl_json_bytes(struct oxl_json *j, const char *bytes, size_t n); /* byte 80..FF = U+0080.. */
void oxl_json_number(struct oxl_json *j, double v); /* NAN and infinities are null */
void oxl_json_integer(struct oxl_json *j, int64_t v);
void oxl_json_seconds(struct oxl_json *j, int64_t us); /* seconds with six decimals, exact */
void oxl_json_bool(struct oxl_json *j, bool v);
void oxl_json_null(struct oxl_json *j);

/* The shortest of 15, 16 or 17 digits that reads back as v, with a point in every locale; "null"
 * when v is not finite. Returns the length. out holds at least 32 bytes. */
size_t oxl_number_text(double v, char *out);
/* Microseconds as seconds with six decimals. out holds at least 32 bytes. */
size_t oxl_seconds_text(int64_t us, char *out);

#endif
