/* Rows among each other: which is newer, which belongs before which, which are wanted. */
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "oxylag/catalogue.h"

/* "+01:30", "+0130"; anything else is no offset. */
static int64_t offset_s(const char *at)
{
    const size_t n = strspn(at + (at[0] != '\0'), "0123456789:");
    char *end = NULL;
    long hhmm = n >= 4 && strchr("+-", at[0]) ? strtol(at + 1, &end, 10) : 0;
    if (end && *end == ':')
        hhmm = 100 * hhmm + strtol(end + 1, NULL, 10);
    return (int64_t)(at[0] == '-' ? -60 : 60) * (60 * (hhmm / 100) + hhmm % 100);
}

/* Seconds of "2026-11-30T07:35:00+01:00" on one clock; 0: it is no such text. */
static int64_t instant(const char *iso)
{
    struct tm t = {.tm_year = 0};
    const char *offset = strptime(iso, "%Y-%m-%dT%H:%M:%S", &t);
    return offset ? timegm(&t) - offset_s(offset) : 0;
}

static int newest_first(const void *a, const void *b)
{
    const struct oxl_past *x = a, *y = b;
    const int64_t tx = instant(x->started), ty = instant(y->started);
    return tx != ty ? (tx < ty) - (tx > ty) : strcmp(x->file, y->file);
}

/* A VIN that is masked or not known belongs to nobody. */
static bool same_vehicle(const struct oxl_past *a, const struct oxl_past *b)
{
    return a->vin[0] && !strchr(a->vin, '*') && strcmp(a->vin, b->vin) == 0 && a->bank == b->bank &&
           a->simulated == b->simulated;
}

static bool is_half(const struct oxl_past *r)
{
    return r->verdict[0] && strcmp(r->kind, "test") == 0;
}

void oxl_past_sort(struct oxl_past *rows, size_t n)
{
    if (n)
        qsort(rows, n, sizeof *rows, newest_first);
    for (size_t i = 0; i < n; i++) {
        rows[i].before[0] = '\0';
        for (size_t k = i + 1; is_half(&rows[i]) && k < n && !rows[i].before[0]; k++)
            if (is_half(&rows[k]) && same_vehicle(&rows[i], &rows[k]))
                memcpy(rows[i].before, rows[k].file, sizeof rows[i].before);
    }
}

static bool wants(const char *wanted, const char *text)
{
    return !wanted || strcasestr(text, wanted);
}

bool oxl_past_matches(const struct oxl_past *row, const struct oxl_past_filter *f)
{
    return wants(f->vin, row->vin) && wants(f->order, row->order) &&
           (!f->verdict || strcmp(f->verdict, row->verdict) == 0) &&
           (!f->since || strcmp(row->started, f->since) >= 0);
}

bool oxl_past_is_date(const char *text)
{
    struct tm t;
    const char *end = strptime(text, "%Y-%m-%d", &t);
    return end && !*end && strspn(text, "0123456789-") == 10;
}
