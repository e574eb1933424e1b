#include "oxylag/profile.h"

#include <locale.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "keys.h"

/* A text that grows to any length but is kept only as far as it fits. */
struct text {
    char *out;
    size_t size, len;
};

static void add(struct text *t, const char *fmt, ...) OXL_PRINTF(2, 3);
static void add(struct text *t, const char *fmt, ...)
{
    bool room = t->len < t->size;
    va_list args;
    va_start(args, fmt);
    int n = vsnprintf(room ? t->out + t->len : NULL, room ? t->size - t->len : 0, fmt, args);
    va_end(args);
    t->len += n > 0 ? (size_t)n : 0;
}

/* The shortest digits that read back as the same double. */
static void add_number(struct text *t, double v)
{
    char digits[40];
    if (isnan(v)) {
        add(t, "unknown");
        return;
    }
    for (int precision = 1; precision <= 17; precision++) {
        snprintf(digits, sizeof digits, "%.*g", precision, v);
        if (strtod(digits, NULL) == v)
            break;
    }
    add(t, "%s", digits);
}

static void add_word(struct text *t, const char *words, unsigned value)
{
    while (value-- && *words)
        words += strcspn(words, " ") + 1;
    add(t, "%.*s", (int)strcspn(words, " "), words);
}

static void add_value(struct text *t, const struct oxl_key *k, const struct oxl_profile *p)
{
    const char *at = (const char *)p + k->offset;
    unsigned value;
    switch (k->kind) {
    case OXL_KEY_NUMBER:
    case OXL_KEY_NUMBER_OR_UNKNOWN:
        add_number(t, oxl_key_number(k, p));
        break;
    case OXL_KEY_COUNT:
    case OXL_KEY_WORD:
        memcpy(&value, at, sizeof value);
        if (k->kind == OXL_KEY_WORD)
            add_word(t, k->text, value);
        else
            add(t, "%u", value);
        break;
    case OXL_KEY_NAME:
    case OXL_KEY_TEXT:
        add(t, "%s", at);
        break;
    }
}

size_t oxl_profile_format(const struct oxl_profile *p, char *out, size_t n)
{
    struct text t = {.out = out, .size = n};
    const char *section = "";
    locale_t c = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    locale_t before = uselocale(c);
    for (size_t i = 0; i < OXL_KEYS; i++) {
        const struct oxl_key *k = &oxl_keys[i];
        if (strcmp(section, k->section) != 0)
            add(&t, "%s[%s]\n", i ? "\n" : "", k->section);
        section = k->section;
        add(&t, "%s = ", k->key);
        add_value(&t, k, p);
        add(&t, "\n");
    }
    uselocale(before);
    if (c != (locale_t)0)
        freelocale(c);
    return t.len;
}
