#include "json_out.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "oxylag/safe.h"

void oxl_json_start(struct oxl_json *j, char *out, size_t cap)
{
    *j = (struct oxl_json){.out = out, .cap = cap};
}

size_t oxl_json_done(struct oxl_json *j)
{
    if (j->full || j->len >= j->cap)
        return 0;
    j->out[j->len] = '\0';
    return j->len;
}

void oxl_json_raw(struct oxl_json *j, const char *text, size_t n)
{
    if (j->full || n > j->cap - j->len) {
        j->full = true;
        return;
    }
    memcpy(j->out + j->len, text, n);
    j->len += n;
}

static void put(struct oxl_json *j, char c)
{
    oxl_json_raw(j, &c, 1);
}

static void before_value(struct oxl_json *j)
{
    if (j->comma)
        put(j, ',');
    j->comma = true;
}

void oxl_json_open(struct oxl_json *j, char bracket)
{
    before_value(j);
    put(j, bracket);
    j->comma = false;
}

void oxl_json_close(struct oxl_json *j, char bracket)
{
    put(j, bracket);
    j->comma = true;
}

void oxl_json_key(struct oxl_json *j, const char *name)
{
    before_value(j);
    put(j, '"');
    oxl_json_raw(j, name, strlen(name));
    oxl_json_raw(j, "\":", 2);
    j->comma = false;
}

/* RFC 8259 clause 7: quotation mark, reverse solidus and controls must be escaped; DEL and above
 * are escaped as well, so that a recording is plain ASCII for every editor. */
static void escape(struct oxl_json *j, unsigned char c)
{
    static const char hex[] = "0123456789ABCDEF";
    static const char letters[] = "\bb\tt\nn\ff\rr\"\"\\\\";
    for (size_t i = 0; i + 1 < sizeof letters; i += 2) {
        if (c == (unsigned char)letters[i]) {
            put(j, '\\');
            put(j, letters[i + 1]);
            return;
        }
    }
    char u[6] = {'\\', 'u', '0', '0', hex[c >> 4], hex[c & 15]};
    oxl_json_raw(j, u, sizeof u);
}

static bool plain(unsigned char c)
{
    return c >= 0x20 && c < 0x7f && c != '"' && c != '\\';
}

void oxl_json_bytes(struct oxl_json *j, const char *bytes, size_t n)
{
    before_value(j);
    put(j, '"');
    for (size_t i = 0; i < n;) {
        size_t run = i;
        while (run < n && plain((unsigned char)bytes[run]))
            run++;
        oxl_json_raw(j, bytes + i, run - i);
        if (run < n)
            escape(j, (unsigned char)bytes[run++]);
        i = run;
    }
    put(j, '"');
}

/* What is not safe beyond ASCII (safe.h): the same text to a program, no danger to a terminal and
 * nothing hidden from a reader. Above U+FFFF as two surrogates (RFC 8259 clause 7). */
static void escape_wide(struct oxl_json *j, const char *utf8, size_t len)
{
    unsigned ch = oxl_code_point(utf8, len);
    char text[16];
    int n = ch < 0x10000 ? snprintf(text, sizeof text, "\\u%04X", ch)
                         : snprintf(text, sizeof text, "\\u%04X\\u%04X",
                                    0xD800 + ((ch - 0x10000) >> 10), 0xDC00 + (ch & 0x3FF));
    oxl_json_raw(j, text, (size_t)n);
}

void oxl_json_text_n(struct oxl_json *j, const char *utf8, size_t n)
{
    before_value(j);
    put(j, '"');
    for (size_t i = 0; i < n;) {
        size_t len = oxl_utf8_length(utf8 + i, n - i);
        if (len == 0) /* one for one, so that a later cut falls at the same byte */
            put(j, '?');
        else if (len > 1 && oxl_safe_length(utf8 + i, len) == 0)
            escape_wide(j, utf8 + i, len);
        else if (len > 1 || plain((unsigned char)utf8[i]))
            oxl_json_raw(j, utf8 + i, len);
        else
            escape(j, (unsigned char)utf8[i]);
        i += len ? len : 1;
    }
    put(j, '"');
}

void oxl_json_text(struct oxl_json *j, const char *utf8)
{
    oxl_json_text_n(j, utf8, strlen(utf8));
}

/* printf writes the locale's decimal separator, which may be more than one byte. */
static size_t point_for_separator(char *text)
{
    size_t n = 0;
    bool in_separator = false;
    for (const char *c = text; *c; c++) {
        bool ours = strchr("0123456789+-eE", *c) != NULL;
        if (ours)
            text[n++] = *c;
        else if (!in_separator)
            text[n++] = '.';
        in_separator = !ours;
    }
    text[n] = '\0';
    return n;
}

size_t oxl_number_text(double v, char *out)
{
    if (!isfinite(v)) {
        memcpy(out, "null", 5);
        return 4;
    }
    for (int digits = 15; digits <= 17; digits++) {
        snprintf(out, 32, "%.*g", digits, v);
        if (strtod(out, NULL) == v)
            break;
    }
    return point_for_separator(out);
}

size_t oxl_seconds_text(int64_t us, char *out)
{
    uint64_t u = us < 0 ? 0 - (uint64_t)us : (uint64_t)us;
    int n = snprintf(out, 32, "%s%llu.%06llu", us < 0 ? "-" : "", (unsigned long long)(u / 1000000),
                     (unsigned long long)(u % 1000000));
    return (size_t)n;
}

void oxl_json_number(struct oxl_json *j, double v)
{
    char text[32];
    before_value(j);
    oxl_json_raw(j, text, oxl_number_text(v, text));
}

void oxl_json_seconds(struct oxl_json *j, int64_t us)
{
    char text[32];
    before_value(j);
    oxl_json_raw(j, text, oxl_seconds_text(us, text));
}

void oxl_json_integer(struct oxl_json *j, int64_t v)
{
    char text[32];
    before_value(j);
    int n = snprintf(text, sizeof text, "%lld", (long long)v);
    oxl_json_raw(j, text, (size_t)n);
}

void oxl_json_bool(struct oxl_json *j, bool v)
{
    before_value(j);
    oxl_json_raw(j, v ? "true" : "false", v ? 4 : 5);
}

void oxl_json_null(struct oxl_json *j)
{
    before_value(j);
    oxl_json_raw(j, "null", 4);
}
