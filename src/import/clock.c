/* Clock times as exports write them (ISO 8601 and what spreadsheets make of it). */
#include <math.h>
#include <string.h>

#include "parts.h"

/* A clock time that is being read. */
struct clock {
    const char *at, *end;
    double part[4];
    size_t digits[4]; /* of each part */
    unsigned parts;
    double fraction; /* of a second; NAN: none stands there */
};

/* Takes digits; how many, 0 when there are none or too many. */
static size_t take_digits(struct clock *k, double *out)
{
    size_t n = 0;
    for (*out = 0; k->at < k->end && oxl_is_digit(*k->at); k->at++, n++)
        *out = *out * 10 + (*k->at - '0');
    return n <= 9 ? n : 0;
}

/* What stands before the hour is a date, whose order of day and month nobody can know. It is left
 * out: midnight is known by the clock going back. */
static bool find_hour(struct cell c, struct clock *k)
{
    const char *colon = c.n ? memchr(c.text, ':', c.n) : NULL, *hour = colon;
    if (!colon)
        return false;
    while (hour > c.text && oxl_is_digit(hour[-1]))
        hour--;
    k->at = hour;
    k->end = c.text + c.n;
    if (hour == c.text)
        return true;
    bool digit = false;
    for (const char *p = c.text; p < hour; p++)
        digit = digit || oxl_is_digit(*p);
    return digit && (hour[-1] == 'T' || hour[-1] == 't' || hour[-1] == ' ');
}

static bool take_parts(struct clock *k)
{
    do {
        k->digits[k->parts] = take_digits(k, &k->part[k->parts]);
        if (!k->digits[k->parts++])
            return false;
    } while (k->parts < 4 && k->at < k->end && *k->at == ':' && k->at++);
    k->fraction = NAN;
    if (k->at == k->end || (*k->at != '.' && *k->at != ','))
        return true;
    k->at++;
    size_t n = take_digits(k, &k->fraction);
    k->fraction /= pow(10, (double)n);
    return n > 0;
}

/* hh:mm:ss[.f], hh:mm:ss:mmm (or microseconds), mm:ss.f; hh:mm tells no second and mm:ss looks
 * like it. */
static bool take_time(struct clock *k, double *out)
{
    bool hours = k->parts > 2, colon_ms = k->parts == 4;
    const double *minute = k->part + hours;
    if (k->parts < 2 || (hours ? minute[0] > 59 : isnan(k->fraction)) || minute[1] > 60)
        return false;
    if (colon_ms && (!isnan(k->fraction) || (k->digits[3] > 3 && k->digits[3] != 6)))
        return false;
    double fraction = colon_ms ? k->part[3] / (k->digits[3] == 6 ? 1e6 : 1e3) : k->fraction;
    *out = (hours ? k->part[0] * 3600 : 0) + minute[0] * 60 + minute[1] +
           (isnan(fraction) ? 0 : fraction);
    return true;
}

/* ---- what follows the time ------------------------------------------------------------------- */
/* "AM" is 0, "p.m." is 1, anything else -1. Blanks of other widths (U+00A0, U+202F) stand before it
 * in some languages. */
static int half_day(const struct clock *k)
{
    char word[3] = "";
    size_t n = 0;
    for (const char *p = k->at; p < k->end; p++) {
        char c = oxl_lower(*p);
        if (c >= 'a' && c <= 'z' && n < sizeof word)
            word[n++] = c;
        else if (!strchr(". \xC2\xA0\xE2\x80\xAF", c))
            return -1;
    }
    bool known = n == 2 && word[1] == 'm' && (word[0] == 'a' || word[0] == 'p');
    return known ? word[0] == 'p' : -1;
}

/* +hh:mm, +hhmm or +hh (ISO 8601 clause 4.3.13), as seconds. */
static bool take_offset(struct clock *k, double *out)
{
    double sign = *k->at++ == '-' ? -1 : 1, hours, minutes = 0;
    size_t n = take_digits(k, &hours);
    if (n == 4) {
        minutes = fmod(hours, 100);
        hours = floor(hours / 100);
    }
    bool parted = n == 2 && k->at < k->end && *k->at++ == ':';
    if ((n != 4 && n != 2) || (parted && take_digits(k, &minutes) != 2))
        return false;
    *out = sign * (hours * 3600 + minutes * 60);
    return hours <= 14 && minutes <= 59;
}

/* In seconds to be added, from the time so far; NAN when it is not understood. */
static double after_time(struct clock *k, double s)
{
    double offset_s;
    if (k->at < k->end && (*k->at == '+' || *k->at == '-'))
        return take_offset(k, &offset_s) && k->at == k->end ? -offset_s : NAN;
    int half = half_day(k);
    if (half >= 0) /* twelve comes before one */
        return s < 3600 || s >= 13 * 3600 ? NAN : half * 43200.0 - (s >= 43200 ? 43200 : 0);
    return k->at == k->end || (k->end - k->at == 1 && (*k->at == 'Z' || *k->at == 'z')) ? 0 : NAN;
}

enum cell_kind oxl_cell_clock(struct cell c, double *out, double *wrap_s)
{
    struct clock k = {.parts = 0};
    double s;
    if (oxl_cell_missing(c))
        return CELL_MISSING;
    if (!find_hour(c, &k) || !take_parts(&k) || !take_time(&k, &s))
        return CELL_WRONG;
    while (k.at < k.end && *k.at == ' ')
        k.at++;
    double shift_s = after_time(&k, s);
    if (isnan(shift_s) || (k.parts > 2 && k.part[0] > 23))
        return CELL_WRONG;
    *wrap_s = k.parts > 2 ? 86400 : 3600;
    s += shift_s;
    *out = s < 0 ? s + 86400 : s >= 86401 ? s - 86400 : s;
    return CELL_NUMBER;
}
