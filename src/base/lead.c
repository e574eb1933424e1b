/* The figure that leads and the steps that follow, for every output alike. */
#include <stdio.h>
#include <string.h>

#include "oxylag/measure.h"

static void limit_text(const struct oxl_lead *lead, int decimals, const char *unit,
                       char out[OXL_FIGURE_TEXT])
{
    bool good = oxl_known(lead->span.low) && lead->span.low > lead->good_limit;
    double limit = good ? lead->good_limit : lead->bad_limit;
    if (oxl_known(limit))
        snprintf(out, OXL_FIGURE_TEXT, " (%s %.*f %s)", good ? "good above" : "bad below", decimals,
                 limit, unit);
    else
        out[0] = '\0';
}

void oxl_lead_text(const struct oxl_lead *lead, char out[OXL_LEAD_TEXT])
{
    static const char *const names[] = {
        [OXL_LEAD_NONE] = "nothing was measured",
        [OXL_LEAD_DELAY_AT_TARGET] = "delay at target",
        [OXL_LEAD_DELAY] = "delay",
        [OXL_LEAD_OXYGEN] = "stored oxygen",
    };
    char figure[OXL_FIGURE_TEXT], limit[OXL_FIGURE_TEXT], run[24] = "";
    const bool mass = lead->figure == OXL_LEAD_OXYGEN;
    if (lead->figure == OXL_LEAD_NONE) {
        snprintf(out, OXL_LEAD_TEXT, "%s", names[OXL_LEAD_NONE]);
        return;
    }
    oxl_figure_span(&lead->span, mass ? 0 : 2, mass ? "mg" : "s", figure);
    limit_text(lead, mass ? 0 : 1, mass ? "mg" : "s", limit);
    if (lead->run > 0)
        snprintf(run, sizeof run, ", run %d", lead->run);
    snprintf(out, OXL_LEAD_TEXT, "%s %.60s%.40s%s", names[lead->figure], figure, limit, run);
}

static bool said_before(oxl_reasons next, unsigned r)
{
    for (unsigned i = 0; i < r; i++)
        if (oxl_reasons_has(next, (enum oxl_reason)i) &&
            strcmp(oxl_reason_next((enum oxl_reason)i), oxl_reason_next((enum oxl_reason)r)) == 0)
            return true;
    return false;
}

enum oxl_reason oxl_next_step(const struct oxl_result *r, size_t i)
{
    for (unsigned k = 0; k < OXL_R_COUNT; k++)
        if (oxl_reasons_has(r->next, (enum oxl_reason)k) && !said_before(r->next, k) && i-- == 0)
            return (enum oxl_reason)k;
    return OXL_R_COUNT;
}
