/* Rows among each other: which is newer, which belongs before which, which are wanted. */
#include <ctype.h>
#include <stdlib.h>
#include <string.h>

#include "order.h"

/* Days since 1970-03-01, of the proleptic calendar: a year begins in March, so that its leap day is
 * its last one. */
static int64_t days(int64_t year, int month, int day)
{
    static const int before[] = {306, 337, 0, 31, 61, 92, 122, 153, 184, 214, 245, 275};
    if (month < 3)
        year--;
    return 365 * year + year / 4 - year / 100 + year / 400 + before[month - 1] + day;
}

/* The number of that many digits at *at, which goes on behind them and what follows; -1: there is
 * none. */
static int digits(const char **at, int n)
{
    int v = 0;
    for (int i = 0; i < n; i++) {
        const char c = (*at)[i];
        if (c < '0' || c > '9')
            return -1;
        v = 10 * v + (c - '0');
    }
    *at += n + ((*at)[n] != '\0');
    return v;
}

/* "+01:30", "+0130"; anything else is no offset. */
static int64_t offset_s(const char *at)
{
    const char sign = *at++;
    const int h = sign == '+' || sign == '-' ? digits(&at, 2) : -1;
    at -= h >= 0 && at[-1] != ':' && at[-1] != '\0';
    const int m = h >= 0 ? digits(&at, 2) : -1;
    return m < 0 ? 0 : (int64_t)(sign == '-' ? -60 : 60) * (60 * h + m);
}

/* Seconds of "2026-11-30T07:35:00+01:00" on one clock; 0: it is no such text. */
static int64_t instant(const char *iso)
{
    static const int widths[] = {4, 2, 2, 2, 2, 2};
    const char *at = iso;
    int64_t v[6];
    for (size_t i = 0; i < 6; i++)
        if ((v[i] = digits(&at, widths[i])) < 0)
            return 0;
    if (v[1] < 1 || v[1] > 12)
        return 0;
    return 86400 * days(v[0], (int)v[1], (int)v[2]) + 3600 * v[3] + 60 * v[4] + v[5] -
           offset_s(strlen(iso) > 19 ? iso + 19 : "");
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

bool oxl_text_holds(const char *text, const char *part)
{
    const size_t n = strlen(part);
    for (; strlen(text) >= n; text++) {
        size_t i = 0;
        while (i < n && tolower((unsigned char)text[i]) == tolower((unsigned char)part[i]))
            i++;
        if (i == n)
            return true;
    }
    return false;
}

static bool wants(const char *wanted, const char *text)
{
    return !wanted || !wanted[0] || oxl_text_holds(text, wanted);
}

bool oxl_past_matches(const struct oxl_past *row, const struct oxl_past_filter *f)
{
    return wants(f->vin, row->vin) && wants(f->order, row->order) &&
           (!f->verdict || strcmp(f->verdict, row->verdict) == 0) &&
           (!f->since || strcmp(row->started, f->since) >= 0);
}

bool oxl_past_is_date(const char *text)
{
    const char *at = text;
    const int y = digits(&at, 4), m = y < 0 ? -1 : digits(&at, 2), d = m < 0 ? -1 : digits(&at, 2);
    return strlen(text) == 10 && text[4] == '-' && text[7] == '-' && m >= 1 && m <= 12 && d >= 1 &&
           d <= 31;
}
