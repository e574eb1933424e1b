#include "oxylag/figure.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Without a minus before a zero; absurd sizes are cut, not overrun. */
static void digits(double v, int decimals, char out[24])
{
    char text[400];
    snprintf(text, sizeof text, "%.*f", decimals, v);
    const char *at = text[0] == '-' && strspn(text, "-0.") == strlen(text) ? text + 1 : text;
    snprintf(out, 24, "%.23s", at);
}

void oxl_figure_number(double v, int decimals, const char *unit, char out[OXL_FIGURE_TEXT])
{
    char text[24];
    if (!isfinite(v)) {
        snprintf(out, OXL_FIGURE_TEXT, "not known");
        return;
    }
    digits(v, decimals, text);
    snprintf(out, OXL_FIGURE_TEXT, "%s%s%.16s", text, unit[0] ? " " : "", unit);
}

void oxl_figure_span(const struct oxl_span *s, int decimals, const char *unit,
                     char out[OXL_FIGURE_TEXT])
{
    char value[24], low[24], high[24];
    const char *blank = unit[0] ? " " : "";
    digits(s->value, decimals, value);
    digits(s->low, decimals, low);
    digits(s->high, decimals, high);
    if (isfinite(s->value) && isfinite(s->low) && isfinite(s->high))
        snprintf(out, OXL_FIGURE_TEXT, "%s%s%.16s (%s to %s)", value, blank, unit, low, high);
    else if (isfinite(s->value) && !isfinite(s->low))
        oxl_figure_number(s->value, decimals, unit, out);
    else if (isfinite(s->low))
        snprintf(out, OXL_FIGURE_TEXT, "at least %s%s%.16s", low, blank, unit);
    else if (isfinite(s->high))
        snprintf(out, OXL_FIGURE_TEXT, "at most %s%s%.16s", high, blank, unit);
    else
        snprintf(out, OXL_FIGURE_TEXT, "not known");
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
