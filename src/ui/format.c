#include "format.h"

#include <math.h>
#include <stdio.h>

static struct oxl_num number(double v, int decimals, const char *format)
{
    struct oxl_num out = {"--"};
    if (!isfinite(v) || fabs(v) > 1e9)
        return out;
    if (fabs(v) < 0.5 * pow(10, -decimals))
        v = 0; /* no "-0.0" */
    snprintf(out.text, sizeof out.text, format, decimals, v);
    return out;
}

struct oxl_num oxl_num(double v, int decimals)
{
    return number(v, decimals, "%.*f");
}

struct oxl_num oxl_num_signed(double v, int decimals)
{
    return number(v, decimals, "%+.*f");
}

static bool only_lower(struct oxl_span s)
{
    return isfinite(s.low) && (!isfinite(s.value) || !isfinite(s.high));
}

struct oxl_num oxl_span_value(struct oxl_span s, int decimals)
{
    struct oxl_num out;
    if (!only_lower(s))
        return oxl_num(s.value, decimals);
    snprintf(out.text, sizeof out.text, "> %.18s", oxl_num(s.low, decimals).text);
    return out;
}

void oxl_span_interval(struct oxl_span s, int decimals, char *out, size_t n)
{
    if (only_lower(s))
        snprintf(out, n, "%s or more", oxl_num(s.low, decimals).text);
    else if (isfinite(s.low) && isfinite(s.high))
        snprintf(out, n, "%s to %s", oxl_num(s.low, decimals).text, oxl_num(s.high, decimals).text);
    else
        snprintf(out, n, "not known");
}

void oxl_span_text(struct oxl_span s, int decimals, char *out, size_t n)
{
    struct oxl_num value = oxl_span_value(s, decimals);
    char interval[64];
    oxl_span_interval(s, decimals, interval, sizeof interval);
    if (only_lower(s) || !isfinite(s.low))
        snprintf(out, n, "%s", value.text);
    else
        snprintf(out, n, "%s (%s)", value.text, interval);
}
