/* The results of the vehicle's own monitors, and the freeze frame. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "line.h"
#include "oxylag/safe.h"

#define CLOSE_PCT 10.0 /* ours: less margin than this is worth a word */

/* The monitors that bear on this test. */
static const struct {
    uint8_t first, last;
    const char *failed;
} bearing[] = {
    {0x01, 0x10, "The sensor fails its own monitor: prove it in a fuel cut, or replace it first."},
    {0x21, 0x24, "Leak check first, then this test: does it find little stored oxygen, too?"},
    {0x3D, 0x3D, "Purge flow adds fuel of its own: clamp the hose for the test."},
    {0x41, 0x50, "A cold sensor answers late: repair heater or harness first."},
    {0x71, 0x74, "Make sure that secondary air is off during the test."},
    {0x81, 0x84, "Find the fuelling fault first."},
    {0xA1, 0xAD, "Repair the misfire first; add no gas to an engine that misfires."},
};

static int bears(uint8_t monitor)
{
    for (unsigned i = 0; i < sizeof bearing / sizeof *bearing; i++)
        if (monitor >= bearing[i].first && monitor <= bearing[i].last)
            return (int)i;
    return -1;
}

bool oxl_monitor_bears(const struct oxl_monitor_result *r)
{
    return oxl_monitor_by_component(r) || bears(r->monitor) >= 0;
}

static enum oxl_grade grade_of(const struct oxl_grade_facts *f, const struct oxl_monitor_result *r)
{
    unsigned bank = oxl_monitor_bank(r->monitor);
    bool ours = bank == 0 || bank == f->bank;
    switch (oxl_monitor_verdict(r)) {
    case OXL_MONITOR_PASSED:
        return OXL_GRADE_PASS;
    case OXL_MONITOR_FAILED:
        return ours ? OXL_GRADE_CAUTION : OXL_GRADE_PASS;
    case OXL_MONITOR_NOT_RUN:
    case OXL_MONITOR_UNKNOWN:
        break;
    }
    return OXL_GRADE_UNKNOWN;
}

static const char *failed_advice(const struct oxl_monitor_result *r)
{
    int i = bears(r->monitor);
    return i < 0 ? "The scale is the manufacturer's: see the service information."
                 : bearing[i].failed;
}

static const char *advice_of(const struct oxl_monitor_result *r)
{
    switch (oxl_monitor_verdict(r)) {
    case OXL_MONITOR_FAILED:
        return failed_advice(r);
    case OXL_MONITOR_NOT_RUN:
        return "Not completed since the trouble codes were cleared: it says nothing.";
    case OXL_MONITOR_UNKNOWN:
        return r->form == OXL_LIMITS_BYTES ? "No limit is given: no verdict."
                                           : "The scale is not known: no verdict.";
    case OXL_MONITOR_PASSED:
        break;
    }
    return oxl_monitor_figures(r).margin_pct < CLOSE_PCT ? "It passed, but close to its limit."
                                                         : "";
}

void oxl_monitor_text(const struct oxl_monitor_result *r, char *out, size_t n)
{
    struct oxl_monitor_figures f = oxl_monitor_figures(r);
    out[0] = '\0';
    if (oxl_monitor_verdict(r) == OXL_MONITOR_NOT_RUN)
        return;
    if (!isfinite(f.value)) {
        snprintf(out, n, "raw %04X, limits %04X to %04X, scale %02X", r->value, r->min, r->max,
                 r->scale);
        return;
    }
    const char *unit = f.unit[0] ? f.unit : oxl_monitor_by_component(r) ? "counts" : "";
    snprintf(out, n, "%.4g%s%s", f.value, unit[0] ? " " : "", unit);
    if (isfinite(f.min))
        oxl_append(out, n, ", at least %.4g", f.min);
    if (isfinite(f.max))
        oxl_append(out, n, ", at most %.4g", f.max);
}

struct oxl_check oxl_grade_monitor(const struct oxl_grade_facts *f,
                                   const struct oxl_monitor_result *r)
{
    char id[24], title[48], test[48], text[64];
    oxl_monitor_title(r, title, sizeof title);
    oxl_test_title(r, test, sizeof test);
    if (!oxl_monitor_by_component(r))
        snprintf(id, sizeof id, "monitor-%02X-%02X", r->monitor, r->test);
    else
        snprintf(id, sizeof id, "monitor-test-%02X-%02X", r->test, r->component);
    oxl_monitor_text(r, text, sizeof text);
    return oxl_grade_line(id, grade_of(f, r), advice_of(r), "%s, %s: %s%s%s", title, test, text,
                          text[0] ? ", " : "", oxl_monitor_verdict_name(oxl_monitor_verdict(r)));
}

struct oxl_check oxl_grade_no_results(void)
{
    return oxl_grade_line("monitors", OXL_GRADE_UNKNOWN,
                          "Compare with the service information of the vehicle.",
                          "the vehicle gives no monitor results");
}

struct oxl_check oxl_grade_no_catalyst_result(unsigned bank)
{
    return oxl_grade_line("monitor-catalyst", OXL_GRADE_UNKNOWN, "",
                          "no catalyst result for bank %u", bank);
}

struct oxl_check oxl_grade_results_cut(void)
{
    return oxl_grade_line("monitors-cut", OXL_GRADE_UNKNOWN, "",
                          "more results than oxylag keeps (%d)", OXL_MAX_RESULTS);
}

/* ---- the gravest, in one line ---------------------------------------------------------------- */

static bool is_of(const struct oxl_grade_facts *f, const struct oxl_monitor_result *r,
                  enum oxl_monitored what)
{
    bool first_of_bank = r->monitor % 4 == 1;
    if (oxl_monitor_bank(r->monitor) != f->bank)
        return false;
    if (what == OXL_MONITORED_CATALYST)
        return oxl_monitor_is_catalyst(r->monitor);
    return oxl_monitor_is_sensor(r->monitor) && first_of_bank == (what == OXL_MONITORED_FRONT);
}

/* NULL: none says anything. */
static const struct oxl_monitor_result *gravest_result(const struct oxl_grade_facts *f,
                                                       enum oxl_monitored what)
{
    const struct oxl_monitor_result *worst = NULL;
    for (size_t i = 0; i < f->vehicle->results_n; i++) {
        const struct oxl_monitor_result *r = &f->vehicle->results[i];
        if (!is_of(f, r, what) || oxl_monitor_verdict(r) == OXL_MONITOR_UNKNOWN)
            continue;
        if (!worst || oxl_monitor_verdict(r) > oxl_monitor_verdict(worst))
            worst = r;
    }
    return worst;
}

static void in_a_customers_words(const struct oxl_monitor_result *r, char *out, size_t n)
{
    struct oxl_monitor_figures f = oxl_monitor_figures(r);
    if (isfinite(f.margin_pct))
        snprintf(out, n, "the vehicle's own test: %.3g%s%s, %.0f %% %s its limit", f.value,
                 f.unit[0] ? " " : "", f.unit, fabs(f.margin_pct),
                 f.margin_pct < 0 ? "beyond" : "inside");
    else
        snprintf(out, n, "the vehicle's own test: %s",
                 oxl_monitor_verdict_name(oxl_monitor_verdict(r)));
}

struct oxl_check oxl_grade_monitored(const struct oxl_grade_facts *f, enum oxl_monitored what)
{
    static const char *const ids[] = {[OXL_MONITORED_CATALYST] = "catalyst-monitor",
                                      [OXL_MONITORED_FRONT] = "front-monitor",
                                      [OXL_MONITORED_REAR] = "rear-monitor"};
    const struct oxl_monitor_result *r = gravest_result(f, what);
    char found[96];
    if (!r)
        return oxl_grade_line(ids[what], OXL_GRADE_UNKNOWN,
                              "oxylag inspect asks for all monitor results.",
                              "the vehicle's own result is not known");
    in_a_customers_words(r, found, sizeof found);
    return oxl_grade_line(ids[what], grade_of(f, r), advice_of(r), "%s", found);
}

/* ---- freeze frame ---------------------------------------------------------------------------- */

static double frozen(const struct oxl_onboard *o, enum oxl_quantity q)
{
    for (size_t i = 0; i < o->frozen_n; i++)
        if (o->frozen[i].channel.quantity == q)
            return o->frozen[i].value;
    return NAN;
}

static void add(char *out, size_t n, const char *fmt, double value)
{
    if (isfinite(value))
        oxl_append(out, n, fmt, value);
}

struct oxl_check oxl_grade_freeze_frame(const struct oxl_onboard *o)
{
    static const char id[] = "freeze-frame";
    char code[6], text[80] = "";
    if (!o->frozen_known)
        return oxl_grade_line(id, OXL_GRADE_UNKNOWN, "", "the vehicle did not answer");
    if (o->freeze_frame_dtc == 0)
        return oxl_grade_line(id, OXL_GRADE_PASS, "", "none");
    oxl_dtc_text(o->freeze_frame_dtc, code);
    add(text, sizeof text, " at %.0f rpm", frozen(o, OXL_Q_RPM));
    add(text, sizeof text, ", %.0f km/h", frozen(o, OXL_Q_SPEED_KMH));
    add(text, sizeof text, ", coolant %.0f C", frozen(o, OXL_Q_COOLANT_C));
    add(text, sizeof text, ", load %.0f %%", frozen(o, OXL_Q_LOAD_PCT));
    return oxl_grade_line(id, OXL_GRADE_PASS, "", "%s was stored%s", code, text);
}
