#include "oxylag/profile.h"
#include "oxylag/safe.h"

#include <errno.h>
#include <ini.h>
#include <locale.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "keys.h"

enum { LINE_MAX_CHARS = 180 }; /* inih's own buffer holds 200 */

/* State of one reading. inih pulls a line through next_line and calls on_key before it pulls the
 * next one, so `line` is the line of every key exactly. */
struct reading {
    const char *at, *file;
    unsigned line;
    struct oxl_profile profile;
    unsigned set_on[OXL_KEYS]; /* line that set a key, 0 = none */
    struct oxl_error *err;
    bool failed;
};

/* Keeps the first error only. */
static void refuse(struct reading *r, unsigned line, const char *fmt, ...) OXL_PRINTF(3, 4);
static void refuse(struct reading *r, unsigned line, const char *fmt, ...)
{
    char text[320];
    va_list args;
    va_start(args, fmt);
    vsnprintf(text, sizeof text, fmt, args);
    va_end(args);
    if (!r->failed)
        oxl_fail(r->err, OXL_ERR_FORMAT, "%s:%u: %s", r->file, line, text);
    r->failed = true;
}

/* ---- lines ----------------------------------------------------------------------------------- */
static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static bool is_known_section(const char *name, size_t n)
{
    for (size_t i = 0; i < OXL_KEYS; i++)
        if (strlen(oxl_keys[i].section) == n && strncmp(oxl_keys[i].section, name, n) == 0)
            return true;
    return false;
}

/* The sections in their order, "a, b, c". */
static void list_sections(char *out, size_t size)
{
    const char *last = "";
    out[0] = '\0';
    for (size_t i = 0; i < OXL_KEYS; i++) {
        const char *s = oxl_keys[i].section;
        if (strcmp(s, last) != 0)
            oxl_append_word(out, size, ", ", s);
        last = s;
    }
}

static void list_keys(const char *section, char *out, size_t size)
{
    out[0] = '\0';
    for (size_t i = 0; i < OXL_KEYS; i++)
        if (strcmp(oxl_keys[i].section, section) == 0)
            oxl_append_word(out, size, ", ", oxl_keys[i].key);
}

/* "[name]", and nothing behind it but a comment; inih would not look. */
static void check_section(struct reading *r, const char *line)
{
    char names[120];
    const char *end = strchr(line, ']');
    size_t n = end ? (size_t)(end - line - 1) : 0;
    const char *rest = end ? end + 1 : "";
    while (is_blank(*rest))
        rest++;
    list_sections(names, sizeof names);
    if (!end || (*rest && *rest != ';' && *rest != '#'))
        refuse(r, r->line, "found \"%.60s\", expected a section alone, as [baseline]", line);
    else if (!is_known_section(line + 1, n))
        refuse(r, r->line, "found [%.*s], expected one of the sections %s", n < 40 ? (int)n : 40,
               line + 1, names);
}

/* What no line may hold. */
static void check_characters(struct reading *r, const char *line, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        unsigned c = (unsigned char)line[i];
        if ((c < 0x20 && c != '\t') || c == 0x7F)
            refuse(r, r->line, "found the control character %02Xh, expected text", c);
    }
}

/* The line between r->at and the next one, less blanks at both ends; moves r->at. */
static const char *pull_line(struct reading *r, size_t *n)
{
    const char *start = r->at;
    *n = strcspn(start, "\n");
    r->at += *n + (start[*n] == '\n');
    r->line++;
    if (*n && start[*n - 1] == '\r')
        --*n;
    while (*n && is_blank(*start))
        start++, --*n;
    while (*n && is_blank(start[*n - 1]))
        --*n;
    return start;
}

/* The fgets of inih: one line, without the blanks in front (to inih they would mean that the line
 * before goes on) and without comment lines. */
static char *next_line(char *out, int size, void *ctx)
{
    struct reading *r = ctx;
    size_t n, max = size > LINE_MAX_CHARS ? LINE_MAX_CHARS : (size_t)size - 1;
    if (!*r->at || r->failed)
        return NULL;
    const char *line = pull_line(r, &n);
    check_characters(r, line, n);
    if (n && (line[0] == ';' || line[0] == '#'))
        n = 0;
    if (n > max) {
        refuse(r, r->line, "found a line of %zu characters, expected at most %zu", n, max);
        n = 0;
    }
    memcpy(out, line, n);
    out[n] = '\0';
    if (out[0] == '[')
        check_section(r, out);
    else if (n && (!strchr(out, '=') || out[0] == '='))
        refuse(r, r->line, "found \"%.60s\", expected [section] or key = value", out);
    if (r->failed)
        out[0] = '\0';
    return out;
}

/* ---- values ---------------------------------------------------------------------------------- */
/* A decimal number and nothing else: no blanks, no unit, no hexadecimal, nan or inf. */
static bool read_number(const char *value, double *out)
{
    char *end;
    if (!*value || value[strspn(value, "0123456789.eE+-")])
        return false;
    errno = 0;
    *out = strtod(value, &end);
    return !*end && isfinite(*out);
}

static bool set_number(const struct oxl_key *k, const char *value, void *at, char *want, size_t n)
{
    double number;
    snprintf(want, n, "a number from %g to %g%s", k->min, k->max,
             k->kind == OXL_KEY_NUMBER_OR_UNKNOWN ? ", or unknown" : "");
    if (k->kind == OXL_KEY_NUMBER_OR_UNKNOWN && strcmp(value, "unknown") == 0)
        number = NAN;
    else if (!read_number(value, &number) || number < k->min || number > k->max)
        return false;
    memcpy(at, &number, sizeof number);
    return true;
}

static bool set_count(const struct oxl_key *k, const char *value, void *at, char *want, size_t n)
{
    double number;
    unsigned count;
    snprintf(want, n, "a whole number from %g to %g", k->min, k->max);
    if (!read_number(value, &number) || number < k->min || number > k->max ||
        value[strspn(value, "0123456789")])
        return false;
    count = (unsigned)number;
    memcpy(at, &count, sizeof count);
    return true;
}

static bool set_word(const struct oxl_key *k, const char *value, void *at, char *want, size_t n)
{
    const char *word = k->text;
    snprintf(want, n, "one of: %s", k->text);
    for (unsigned i = 0; *word; i++) {
        size_t len = strcspn(word, " ");
        if (strlen(value) == len && strncmp(word, value, len) == 0) {
            /* All words stand for small enum values; the enums of a profile are unsigned int. */
            memcpy(at, &i, sizeof i);
            return true;
        }
        word += len + (word[len] == ' ');
    }
    return false;
}

static bool set_text(const struct oxl_key *k, const char *value, char *at, char *want, size_t n)
{
    bool name = k->kind == OXL_KEY_NAME;
    size_t len = strlen(value);
    snprintf(want, n, "1 to %zu %s", k->size - 1,
             name ? "small letters, digits and -" : "characters of printable ASCII without ;");
    if (len == 0 || len >= k->size)
        return false;
    for (const char *c = value; *c; c++) {
        bool plain = (*c >= 'a' && *c <= 'z') || (*c >= '0' && *c <= '9') || *c == '-';
        if (name ? !plain : (*c < 0x20 || *c > 0x7E || *c == ';'))
            return false;
    }
    memset(at, 0, k->size);
    memcpy(at, value, len + 1);
    return true;
}

static bool set_key(const struct oxl_key *k, const char *value, struct oxl_profile *p, char *want,
                    size_t n)
{
    char *at = (char *)p + k->offset;
    switch (k->kind) {
    case OXL_KEY_NUMBER:
    case OXL_KEY_NUMBER_OR_UNKNOWN:
        return set_number(k, value, at, want, n);
    case OXL_KEY_COUNT:
        return set_count(k, value, at, want, n);
    case OXL_KEY_WORD:
        return set_word(k, value, at, want, n);
    case OXL_KEY_NAME:
    case OXL_KEY_TEXT:
        return set_text(k, value, at, want, n);
    }
    return false;
}

/* inih's handler: 0 is an error. */
static int on_key(void *ctx, const char *section, const char *key, const char *value)
{
    struct reading *r = ctx;
    char want[200];
    size_t i = oxl_key_find(section, key);
    if (r->failed)
        return 0;
    if (!*section) {
        refuse(r, r->line, "found %.40s before any [section], expected [profile] or so", key);
    } else if (i == OXL_KEYS) {
        list_keys(section, want, sizeof want);
        refuse(r, r->line, "[%s] found key %.30s, expected one of %s", section, key, want);
    } else if (r->set_on[i]) {
        refuse(r, r->line, "[%s] %s: found a second time, expected once (see line %u)", section,
               key, r->set_on[i]);
    } else if (!set_key(&oxl_keys[i], value, &r->profile, want, sizeof want)) {
        refuse(r, r->line, "[%s] %s: found \"%.60s\", expected %s", section, key, value, want);
    } else {
        r->set_on[i] = r->line;
    }
    return !r->failed;
}

/* ---- numbers that must stand in order -------------------------------------------------------- */
static void check_order(struct reading *r, const struct oxl_key_order *o)
{
    size_t low_i = oxl_key_find(NULL, o->low), high_i = oxl_key_find(NULL, o->high);
    const struct oxl_key *low = &oxl_keys[low_i], *high = &oxl_keys[high_i];
    double a = oxl_key_number(low, &r->profile), b = oxl_key_number(high, &r->profile);
    const char *equal = o->may_be_equal ? " or equal to" : "";
    if (a < b || (o->may_be_equal && a <= b))
        return;
    /* Blamed is what the file says last. */
    if (r->set_on[low_i] > r->set_on[high_i])
        refuse(r, r->set_on[low_i], "[%s] %s: found \"%g\", expected a number below%s %s (%g)",
               low->section, low->key, a, equal, high->key, b);
    else
        refuse(r, r->set_on[high_i], "[%s] %s: found \"%g\", expected a number above%s %s (%g)",
               high->section, high->key, b, equal, low->key, a);
}

static void read_all(struct reading *r)
{
    _Static_assert(sizeof(enum oxl_front_want) == sizeof(unsigned), "set_word stores an unsigned");
    if (strncmp(r->at, "\xEF\xBB\xBF", 3) == 0) /* a byte order mark */
        r->at += 3;
    int at = ini_parse_stream(next_line, r, on_key, r);
    if (at != 0) /* only when inih is stricter than the checks here */
        refuse(r, at > 0 ? (unsigned)at : r->line, "expected [section] or key = value");
    for (size_t i = 0; i < OXL_KEY_ORDERS && !r->failed; i++)
        check_order(r, &oxl_key_orders[i]);
}

enum oxl_status oxl_profile_parse(const char *text, const char *file, struct oxl_profile *p,
                                  struct oxl_error *err)
{
    struct reading r = {.at = text, .file = file, .err = err};
    oxl_profile_defaults(&r.profile);
    /* Whatever language the program runs in, a profile writes 0.5 and not 0,5. */
    locale_t c = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    locale_t before = uselocale(c);
    read_all(&r);
    uselocale(before);
    if (c != (locale_t)0)
        freelocale(c);
    if (r.failed)
        return OXL_ERR_FORMAT;
    *p = r.profile;
    return OXL_OK;
}
