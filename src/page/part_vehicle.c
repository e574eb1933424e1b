/* The vehicle as it was found; the results of its own monitors, when they were asked for. */
#include <math.h>
#include <stdio.h>

#include "oxylag/grade.h"
#include "oxylag/wire.h"
#include "page.h"
#include "words.h"

static void dtcs(struct oxl_page *p, const struct oxl_vehicle *v)
{
    char list[OXL_DTC_KINDS][8 * OXL_MAX_DTCS];
    for (unsigned kind = 0; kind < OXL_DTC_KINDS; kind++)
        oxl_dtcs_shown(&v->dtcs[kind], list[kind], sizeof list[kind]);
    oxl_page_field(p, "DTCs", "stored %s; pending %s; permanent %s; lamp %s", list[OXL_DTC_STORED],
                   list[OXL_DTC_PENDING], list[OXL_DTC_PERMANENT],
                   !v->readiness.known   ? "not known"
                   : v->readiness.mil_on ? "on"
                                         : "off");
}

const char *oxl_readiness_words(const struct oxl_readiness *r, enum oxl_monitor m,
                                const char *unsupported)
{
    return !r || !r->known    ? "not known"
           : !r->supported[m] ? unsupported
           : r->complete[m]   ? "complete"
                              : "not complete";
}

static void figures(const struct oxl_monitor_result *r, char *out, size_t n)
{
    const double margin_pct = oxl_monitor_figures(r).margin_pct;
    char text[64], margin[24] = "";
    oxl_monitor_text(r, text, sizeof text);
    if (isfinite(margin_pct))
        snprintf(margin, sizeof margin, ", margin %.0f %%", margin_pct);
    snprintf(out, n, "%s%s%s", text[0] ? ": " : "", text, margin);
}

/* On the printed page those that did not pass; how many did is said. */
static void monitors(struct oxl_page *p, const struct oxl_vehicle *v, const char *name)
{
    size_t n = 0, passed = 0;
    if (!v->results_known)
        return;
    oxl_page_heading(p, "The vehicle's own monitor results", name);
    for (size_t i = 0; i < v->results_n; i++) {
        const struct oxl_monitor_result *r = &v->results[i];
        const enum oxl_monitor_verdict verdict = oxl_monitor_verdict(r);
        char title[48], test[48], line[128];
        if (verdict == OXL_MONITOR_PASSED && p->detail > OXL_DETAIL_FULL && ++passed)
            continue;
        oxl_monitor_title(r, title, sizeof title);
        oxl_test_title(r, test, sizeof test);
        figures(r, line, sizeof line);
        if (n++ < oxl_page_most(p, 5))
            oxl_page_field(p, oxl_monitor_verdict_name(verdict), "%s, %s%s", title, test, line);
    }
    oxl_page_more(p, n, oxl_page_most(p, 5));
    if (passed)
        oxl_page_text(p, "%zu passed.", passed);
}

void oxl_part_vehicle(struct oxl_page *p, const struct oxl_test_record *s, const char *name)
{
    const struct oxl_vehicle *v = &s->vehicle;
    oxl_page_heading(p, "Vehicle", name);
    dtcs(p, v);
    oxl_page_field(p, "Protocol", "%s", v->protocol ? oxl_protocol_name(v->protocol) : "not known");
    if (v->ecu)
        oxl_page_field(p, "ECU", "%X, of %u that answered", (unsigned)v->ecu, v->ecus_seen);
    else
        oxl_page_field(p, "ECU", "not known");
    if (p->detail < OXL_DETAIL_LEAST)
        oxl_page_field(p, "Adapter", "%s", v->adapter[0] ? v->adapter : "not known");
    oxl_page_field(p, "Readiness", "catalyst %s; oxygen sensors %s",
                   oxl_readiness_words(&v->readiness, OXL_MON_CATALYST, "not supported"),
                   oxl_readiness_words(&v->readiness, OXL_MON_O2_SENSOR, "not supported"));
    monitors(p, v, name);
}
