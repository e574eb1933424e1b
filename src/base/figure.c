#include "oxylag/figure.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

struct oxl_span oxl_figure_shown(const struct oxl_span *s)
{
    const double low = isfinite(s->low) ? s->low : NAN, high = isfinite(s->high) ? s->high : NAN;
    const bool closed = isfinite(low) && isfinite(high),
               ends_unknown = isnan(s->low) && isnan(s->high);
    const bool value = isfinite(s->value) && (closed || ends_unknown);
    return (struct oxl_span){value ? s->value : NAN, low, high};
}

bool oxl_figure_known(const struct oxl_span *s)
{
    const struct oxl_span f = oxl_figure_shown(s);
    return isfinite(f.value) || isfinite(f.low) || isfinite(f.high);
}

/* Without a minus before a zero; absurd sizes are cut, not overrun. */
static void digits(double v, int decimals, char out[24])
{
    char text[400];
    snprintf(text, sizeof text, "%.*f", decimals, v);
    const char *at = text[0] == '-' && strspn(text, "-0.") == strlen(text) ? text + 1 : text;
    snprintf(out, 24, "%.23s", at);
}

/* How a form writes the parts that differ from the other one. */
struct form {
    const char *unit, *to, *unknown;
    bool narrow;
};

static void number(double v, int decimals, const struct form *f, char out[OXL_FIGURE_TEXT])
{
    char text[24];
    digits(v, decimals > 1 && f->narrow && fabs(v) >= 9.995 ? 1 : decimals, text);
    snprintf(out, OXL_FIGURE_TEXT, "%s%s%.16s", text, f->unit[0] ? " " : "", f->unit);
}

static void span(const struct oxl_span *given, int decimals, const struct form *f,
                 char out[OXL_FIGURE_TEXT])
{
    const struct oxl_span s = oxl_figure_shown(given);
    const struct form bare = {"", f->to, f->unknown, f->narrow};
    char text[OXL_FIGURE_TEXT], low[OXL_FIGURE_TEXT], high[OXL_FIGURE_TEXT];
    number(isfinite(s.value) ? s.value : isfinite(s.high) ? s.high : s.low, decimals, f, text);
    number(s.low, decimals, &bare, low);
    number(s.high, decimals, &bare, high);
    if (isfinite(s.value) && isfinite(s.low))
        snprintf(out, OXL_FIGURE_TEXT, "%.40s (%.24s%s%.24s)", text, low, f->to, high);
    else if (isfinite(s.value))
        snprintf(out, OXL_FIGURE_TEXT, "%s", text);
    else if (isfinite(s.low) && isfinite(s.high))
        snprintf(out, OXL_FIGURE_TEXT, "%.24s%s%.40s", low, f->to, text);
    else if (isfinite(s.low) || isfinite(s.high))
        snprintf(out, OXL_FIGURE_TEXT, "at %s %.80s", isfinite(s.low) ? "least" : "most", text);
    else
        snprintf(out, OXL_FIGURE_TEXT, "%s", f->unknown);
}

static const struct form narrow = {"", "..", "--", true};

void oxl_figure_number(double v, int decimals, const char *unit, char out[OXL_FIGURE_TEXT])
{
    const struct oxl_span alone = {v, NAN, NAN};
    oxl_figure_span(&alone, decimals, unit, out);
}

void oxl_figure_span(const struct oxl_span *s, int decimals, const char *unit,
                     char out[OXL_FIGURE_TEXT])
{
    const struct form f = {unit, " to ", "not known", false};
    span(s, decimals, &f, out);
}

void oxl_figure_span_short(const struct oxl_span *s, int decimals, char out[OXL_FIGURE_TEXT])
{
    span(s, decimals, &narrow, out);
}

struct oxl_figure_cell oxl_figure_cell(double v, int decimals, bool with_sign)
{
    struct oxl_figure_cell out = {"--"};
    char text[24];
    if (!isfinite(v))
        return out;
    digits(v, decimals, text);
    snprintf(out.text, sizeof out.text, "%s%.22s", with_sign && text[0] != '-' ? "+" : "", text);
    return out;
}
