#include "oxylag/record.h"

#include <jansson.h>
#include <limits.h>
#include <math.h>
#include <string.h>

#include "event_parts.h"
#include "oxylag/hex.h"

/* ---- the fast way: rx, tx and tick lines exactly as oxl_record_encode writes them ----------- */

struct cursor {
    const char *at, *end;
};

static bool skip(struct cursor *c, const char *literal)
{
    size_t n = strlen(literal);
    if ((size_t)(c->end - c->at) < n || memcmp(c->at, literal, n) != 0)
        return false;
    c->at += n;
    return true;
}

static bool digits(struct cursor *c, int64_t *out)
{
    int64_t v = 0;
    const char *from = c->at;
    while (c->at < c->end && *c->at >= '0' && *c->at <= '9' && c->at - from < 18)
        v = v * 10 + (*c->at++ - '0');
    *out = v;
    return c->at > from && (*from != '0' || c->at - from == 1);
}

/* One escape after its backslash; -1 when it is none of ours. */
static int unescape(struct cursor *c)
{
    static const char letters[] = "\"\"\\\\b\bt\tn\nf\fr\r";
    if (c->at >= c->end)
        return -1;
    char e = *c->at++;
    for (size_t i = 0; i + 1 < sizeof letters; i += 2)
        if (e == letters[i])
            return (unsigned char)letters[i + 1];
    if (e != 'u' || c->end - c->at < 4 || c->at[0] != '0' || c->at[1] != '0')
        return -1;
    int high = oxl_hex_digit(c->at[2]), low = oxl_hex_digit(c->at[3]);
    c->at += 4;
    return high < 0 || low < 0 ? -1 : high * 16 + low;
}

/* The rest of a string after its opening quote. */
static bool string_rest(struct cursor *c, char *scratch, size_t *n)
{
    size_t k = 0;
    while (c->at < c->end) {
        unsigned char b = (unsigned char)*c->at++;
        if (b == '"') {
            scratch[k] = '\0';
            *n = k;
            return true;
        }
        int v = b == '\\' ? unescape(c) : b;
        if (v < 0 || (b != '\\' && (b < 0x20 || b >= 0x7f)))
            return false;
        scratch[k++] = (char)v;
    }
    return false;
}

static bool decode_fast(const char *text, size_t len, char *scratch, struct oxl_line *line)
{
    struct cursor c = {text, text + len};
    if (!skip(&c, "{\"t\":") || !digits(&c, &line->t_us) || line->t_us > OXL_RECORD_T_MAX_US)
        return false;
    if (skip(&c, ",\"tick\":true}")) {
        line->kind = OXL_LINE_TICK;
        return c.at == c.end;
    }
    if (skip(&c, ",\"rx\":\""))
        line->kind = OXL_LINE_RX;
    else if (skip(&c, ",\"tx\":\""))
        line->kind = OXL_LINE_TX;
    else
        return false;
    if (!string_rest(&c, scratch, &line->n) || !skip(&c, "}") || c.at != c.end)
        return false;
    line->bytes = scratch;
    return true;
}

/* ---- the thorough way: any line, in any legal JSON spelling --------------------------------- */

struct slow {
    const char *text;
    size_t len;
    char *scratch;
    struct oxl_line *line;
};

/* Each reads the value of its member; NULL when fine, else what was expected. */
static const char *read_bytes(struct slow *s, const json_t *v)
{
    const unsigned char *u = (const unsigned char *)json_string_value(v);
    size_t n = json_string_length(v), k = 0;
    if (!u)
        return "a text";
    for (size_t i = 0; i < n; i++) {
        unsigned b = u[i];
        if (b >= 0x80) { /* jansson gives valid UTF-8: U+0080..U+00FF start with C2 or C3 */
            if (b > 0xc3)
                return "a text of characters up to U+00FF";
            b = ((b & 3u) << 6) | (u[++i] & 0x3fu);
        }
        s->scratch[k++] = (char)b;
    }
    s->scratch[k] = '\0';
    s->line->bytes = s->scratch;
    s->line->n = k;
    return NULL;
}

static const char *read_note(struct slow *s, const json_t *v)
{
    const char *text = json_string_value(v);
    size_t n = json_string_length(v);
    if (!text || strlen(text) != n)
        return "a text without NUL";
    memcpy(s->scratch, text, n + 1);
    s->line->bytes = s->scratch;
    s->line->n = n;
    return NULL;
}

static const char *read_samples(struct slow *s, const json_t *v)
{
    static const char expected[] = "a list of at most 12 numbers within 1e9, or null";
    size_t n = json_array_size(v);
    if (!json_is_array(v) || n < 1 || n > OXL_IMPORT_CHANNELS)
        return expected;
    for (size_t i = 0; i < n; i++) {
        const json_t *item = json_array_get(v, i);
        if (!json_is_number(item) && !json_is_null(item))
            return expected;
        s->line->values[i] = json_is_null(item) ? (double)NAN : json_number_value(item);
        if (fabs(s->line->values[i]) > OXL_RECORD_VALUE_MAX)
            return expected;
    }
    s->line->n = n;
    return NULL;
}

static const char *read_true(struct slow *s, const json_t *v)
{
    (void)s;
    return json_is_true(v) ? NULL : "true";
}

static const char *read_end(struct slow *s, const json_t *v)
{
    if (json_is_true(v))
        return NULL;
    return json_string_length(v) > 0 && !read_note(s, v) ? NULL : "true, or a text that says why";
}

const char oxl_recorded_keys[] = {OXL_KEY_NOW,    OXL_KEY_RESTART, OXL_KEY_MARK,
                                  OXL_KEY_ABORT,  OXL_KEY_LEAK,    OXL_KEY_NEW,
                                  OXL_KEY_DEEPER, OXL_KEY_END,     '\0'};

static const char *read_key(struct slow *s, const json_t *v)
{
    const char *text = json_string_value(v);
    if (!text || json_string_length(v) != 1 || !text[0] || !strchr(oxl_recorded_keys, text[0]))
        return "one of \" \", \"r\", \"m\", \"a\", \"l\", \"n\", \"d\", \"e\"";
    s->line->key = (enum oxl_key)text[0];
    return NULL;
}

static const char *read_port(struct slow *s, const json_t *v)
{
    const char *text = json_string_value(v);
    if (!text || (strcmp(text, "up") != 0 && strcmp(text, "down") != 0))
        return "\"up\" or \"down\"";
    s->line->link_up = text[0] == 'u';
    return NULL;
}

static const char *read_speed(struct slow *s, const json_t *v)
{
    if (!json_is_integer(v) || json_integer_value(v) < 1 || json_integer_value(v) > INT_MAX)
        return "a line speed in baud";
    s->line->speed_baud = (unsigned)json_integer_value(v);
    return NULL;
}

static size_t string_end(const char *text, size_t len, size_t at)
{
    for (at++; at < len && text[at] != '"'; at++)
        if (text[at] == '\\')
            at++;
    return at + 1;
}

/* The end of the object that begins at `at`, in text known to be valid JSON. */
static size_t object_end(const char *text, size_t len, size_t at)
{
    size_t depth = 0;
    while (at < len) {
        if (text[at] == '"') {
            at = string_end(text, len, at);
            continue;
        }
        depth += text[at] == '{';
        depth -= text[at] == '}';
        at++;
        if (depth == 0)
            break;
    }
    return at;
}

/* The event is handed on as it stands, so it is found in the text: the only object in the line's
 * own object. */
static const char *read_event(struct slow *s, const json_t *v)
{
    size_t at = 0;
    if (!json_is_object(v))
        return "an object";
    while (s->text[at] != '{')
        at++;
    for (at++; at < s->len && s->text[at] != '{';)
        at = s->text[at] == '"' ? string_end(s->text, s->len, at) : at + 1;
    s->line->bytes = s->text + at;
    s->line->n = object_end(s->text, s->len, at) - at;
    return NULL;
}

static const struct kind {
    const char *member;
    enum oxl_line_kind kind;
    const char *(*read)(struct slow *s, const json_t *v);
} kinds[] = {
    {"rx", OXL_LINE_RX, read_bytes},    {"tx", OXL_LINE_TX, read_bytes},
    {"tick", OXL_LINE_TICK, read_true}, {"key", OXL_LINE_KEY, read_key},
    {"port", OXL_LINE_LINK, read_port}, {"speed", OXL_LINE_SPEED, read_speed},
    {"note", OXL_LINE_NOTE, read_note}, {"event", OXL_LINE_EVENT, read_event},
    {"end", OXL_LINE_END, read_end},    {"samples", OXL_LINE_SAMPLES, read_samples},
};

static const struct kind *find_kind(const json_t *root, const json_t **value)
{
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        *value = json_object_get(root, kinds[i].member);
        if (*value)
            return &kinds[i];
    }
    return NULL;
}

static enum oxl_status read_line(struct slow *s, const json_t *root, const char *file,
                                 unsigned lineno, struct oxl_error *err)
{
    const json_t *t = json_object_get(root, "t"), *value = NULL;
    const struct kind *kind = find_kind(root, &value);
    if (json_is_string(json_object_get(root, "format")))
        return oxl_fail(err, OXL_ERR_FORMAT,
                        "%s line %u: a second recording begins here: give each a file of its own, "
                        "cut before this line",
                        file, lineno);
    if (!json_is_integer(t) || json_integer_value(t) < 0 ||
        json_integer_value(t) > OXL_RECORD_T_MAX_US)
        return oxl_fail(err, OXL_ERR_FORMAT,
                        "%s line %u: \"t\" should be a time in whole microseconds, at most 31 days",
                        file, lineno);
    if (!kind || json_object_size(root) != 2)
        return oxl_fail(err, OXL_ERR_FORMAT,
                        "%s line %u: expected \"t\" and one of rx, tx, tick, key, port, speed, "
                        "note, event, samples, end",
                        file, lineno);
    s->line->t_us = json_integer_value(t);
    s->line->kind = kind->kind;
    const char *expected = kind->read(s, value);
    if (expected)
        return oxl_fail(err, OXL_ERR_FORMAT, "%s line %u: \"%s\" should be %s", file, lineno,
                        kind->member, expected);
    return OXL_OK;
}

enum oxl_status oxl_record_decode(const char *text, size_t len, char *scratch,
                                  struct oxl_line *line, const char *file, unsigned lineno,
                                  struct oxl_error *err)
{
    json_error_t e;
    *line = (struct oxl_line){0};
    if (len > OXL_RECORD_LINE_MAX)
        return oxl_fail(err, OXL_ERR_FORMAT, "%s line %u: longer than %d bytes", file, lineno,
                        OXL_RECORD_LINE_MAX);
    if (decode_fast(text, len, scratch, line))
        return OXL_OK;
    *line = (struct oxl_line){0};
    json_t *root = json_loadb(text, len, JSON_ALLOW_NUL | JSON_REJECT_DUPLICATES, &e);
    if (!root && json_error_code(&e) == json_error_out_of_memory)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory for %s", file);
    if (!root)
        return oxl_fail(err, OXL_ERR_FORMAT, "%s line %u: not one JSON object (%s)", file, lineno,
                        e.text);
    struct slow s = {text, len, scratch, line};
    enum oxl_status status = read_line(&s, root, file, lineno, err);
    json_decref(root);
    return status;
}
