/* The results of the vehicle's own monitors, when they were asked for. */
#include <math.h>
#include <stdio.h>

#include "oxylag/onboard.h"
#include "text_page.h"

static void limit(struct oxl_buf *out, const char *word, double v)
{
    if (isfinite(v))
        oxl_buf_add(out, ", %s %.4g", word, v);
}

static void figures(const struct oxl_monitor_result *r, struct oxl_buf *out)
{
    struct oxl_monitor_figures f = oxl_monitor_figures(r);
    if (!isfinite(f.value)) {
        if (oxl_monitor_verdict(r) == OXL_MONITOR_UNKNOWN)
            oxl_buf_add(out, "raw %04X, limits %04X to %04X, scale %02X not known", r->value,
                        r->min, r->max, r->scale);
        return;
    }
    oxl_buf_add(out, "%.4g%s%s", f.value, f.unit[0] ? " " : "", f.unit);
    limit(out, "at least", f.min);
    limit(out, "at most", f.max);
    if (isfinite(f.margin_pct))
        oxl_buf_add(out, ", margin %.0f %%", f.margin_pct);
}

void oxl_page_monitors(struct oxl_buf *out, const struct oxl_test_record *s)
{
    const struct oxl_vehicle *v = &s->vehicle;
    if (!v->results_known)
        return;
    oxl_page_heading(out, "The vehicle's own monitor results");
    for (size_t i = 0; i < v->results_n; i++) {
        const struct oxl_monitor_result *r = &v->results[i];
        struct oxl_buf text = {0};
        char title[48], test[48], label[16];
        oxl_monitor_title(r, title, sizeof title);
        oxl_test_title(r, test, sizeof test);
        snprintf(label, sizeof label, "%-8s ", oxl_monitor_verdict_name(oxl_monitor_verdict(r)));
        oxl_buf_add(&text, "%s, %s: ", title, test);
        figures(r, &text);
        oxl_page_text(out, label, text.data ? text.data : "");
        out->failed = out->failed || text.failed;
        oxl_buf_free(&text);
    }
}
