/* The comparison in words, shared by every form of the report. */
#include <math.h>
#include <stdio.h>

#include "oxylag/compare.h"
#include "words.h"

const char oxl_compared_method[] =
    "A difference is the second test less the first. The two intervals are independent, so their "
    "distances add as squares. It counts as a change when its interval leaves zero out and it "
    "exceeds the range of the runs within either test.";

static enum oxl_trend together(const struct oxl_comparison *c)
{
    const enum oxl_trend t = c->delay_at_target_s.change, m = c->o2_mg.change;
    if (t == OXL_CHANGE_UNKNOWN || m == OXL_CHANGE_UNKNOWN)
        return t > m ? t : m;
    return t == m ? t : OXL_CHANGE_NOT_SHOWN;
}

const char *oxl_compared_headline(const struct oxl_comparison *c)
{
    static const char *const words[] = {
        [OXL_CHANGE_UNKNOWN] = "Converter oxygen storage: CHANGE NOT KNOWN",
        [OXL_CHANGE_NOT_SHOWN] = "Converter oxygen storage: NO CHANGE SHOWN",
        [OXL_CHANGE_ROSE] = "Converter oxygen storage: MORE THAN BEFORE",
        [OXL_CHANGE_FELL] = "Converter oxygen storage: LESS THAN BEFORE",
    };
    return c->allowed ? words[together(c)] : "Two tests that are not alike: no difference is given";
}

/* "difference 1.20 s (0.80 to 1.60)"; a bound by what it says: "shorter after, by at least 2 s". */
static void difference_text(const struct oxl_span *d, int decimals, const char *unit, char *out,
                            size_t n)
{
    static const char *const words[2][2] = {{"less", "more"}, {"shorter", "longer"}};
    char text[OXL_FIGURE_TEXT];
    const bool least = isfinite(d->low);
    const double end = least ? d->low : d->high;
    const bool more = least ? end > 0 : end >= 0;
    if (least == (bool)isfinite(d->high)) {
        oxl_figure_span(d, decimals, unit, text);
        snprintf(out, n, "difference %s", text);
        return;
    }
    oxl_figure_number(fabs(end), decimals, unit, text);
    snprintf(out, n, "%s after, by at %s %s", words[unit[0] == 's'][more],
             more == least ? "least" : "most", text);
}

static size_t one(const char *what, const struct oxl_difference *d, int decimals, const char *unit,
                  char *out, size_t n)
{
    static const char *const words[] = {
        [OXL_CHANGE_UNKNOWN] = "That does not decide.",
        [OXL_CHANGE_NOT_SHOWN] = "That is no more than the tests' own spread.",
        [OXL_CHANGE_ROSE] = "That is more than the tests' own spread.",
        [OXL_CHANGE_FELL] = "That is more than the tests' own spread.",
    };
    char span[OXL_FIGURE_TEXT + 32], spread[OXL_FIGURE_TEXT];
    difference_text(&d->span, decimals, unit, span, sizeof span);
    oxl_figure_number(d->spread, decimals, unit, spread);
    if (d->change == OXL_CHANGE_UNKNOWN && !isfinite(d->span.low) && !isfinite(d->span.high))
        return (size_t)snprintf(out, n, "%s: difference not known.", what);
    const bool known = isfinite(d->spread);
    return (size_t)snprintf(out, n, "%s: %s. %s%s%s%s", what, span,
                            known ? "The runs of one test lie within " : "", known ? spread : "",
                            known ? ". " : "", words[d->change]);
}

void oxl_compared_words(const struct oxl_comparison *c, char out[OXL_COMPARED])
{
    if (!c->allowed) {
        snprintf(out, OXL_COMPARED,
                 "Only like is compared with like, so the two results stand side by side without a "
                 "difference.");
        return;
    }
    size_t at = one("Delay at target", &c->delay_at_target_s, 2, "s", out, OXL_COMPARED);
    at += (size_t)snprintf(out + at, OXL_COMPARED - at, " ");
    one("Oxygen stored", &c->o2_mg, 0, "mg", out + at, OXL_COMPARED - at);
}
