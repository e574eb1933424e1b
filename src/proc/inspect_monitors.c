/* The results of the vehicle's own monitors, and what was frozen with a code. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "inspect.h"

#define CLOSE_PCT 10.0 /* ours: less margin than this is worth a word */

/* The monitors that bear on this test. */
static const struct {
    uint8_t first, last;
    const char *failed;
} bearing[] = {
    {0x01, 0x10, "The sensor fails its own monitor: prove it rich, lean and quick, or replace it."},
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

static const char *failed_advice(const struct oxl_monitor_result *r)
{
    int i = bears(r->monitor);
    return i < 0 ? "The scale is the maker's: see the service information." : bearing[i].failed;
}

/* K-line and J1850: tests that only the maker can tell apart. */
static bool by_maker(const struct oxl_monitor_result *r)
{
    return r->form == OXL_LIMIT_MAX || r->form == OXL_LIMIT_MIN;
}

static void figures(const struct oxl_monitor_result *r, char *out, size_t n)
{
    struct oxl_monitor_figures f = oxl_monitor_figures(r);
    if (!isfinite(f.value)) {
        snprintf(out, n, "raw %04X, limits %04X to %04X, scale %02X", r->value, r->min, r->max,
                 r->scale);
        return;
    }
    const char *unit = f.unit[0] ? f.unit : by_maker(r) ? "counts" : "";
    int at = snprintf(out, n, "%.4g%s%s", f.value, unit[0] ? " " : "", unit);
    if (isfinite(f.min) && at > 0 && (size_t)at < n)
        at += snprintf(out + at, n - (size_t)at, ", at least %.4g", f.min);
    if (isfinite(f.max) && at > 0 && (size_t)at < n)
        snprintf(out + at, n - (size_t)at, ", at most %.4g", f.max);
}

static enum oxl_grade grade_of(const struct oxl_inspection *v, const struct oxl_monitor_result *r)
{
    unsigned bank = oxl_monitor_bank(r->monitor);
    bool ours = bank == 0 || bank == v->bank;
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

static const char *advice_of(const struct oxl_monitor_result *r)
{
    struct oxl_monitor_figures f = oxl_monitor_figures(r);
    switch (oxl_monitor_verdict(r)) {
    case OXL_MONITOR_FAILED:
        return failed_advice(r);
    case OXL_MONITOR_NOT_RUN:
        return "Not completed since the codes were cleared: it says nothing.";
    case OXL_MONITOR_UNKNOWN:
        return r->form == OXL_LIMITS_BYTES ? "No limit is given: no verdict."
                                           : "The scale is not known: no verdict.";
    case OXL_MONITOR_PASSED:
        break;
    }
    return f.margin_pct < CLOSE_PCT ? "It passed, but close to its limit." : "";
}

static void result_line(struct oxl_inspection *v, const struct oxl_monitor_result *r)
{
    char id[24], title[48], test[48], text[64] = "";
    oxl_monitor_title(r, title, sizeof title);
    oxl_test_title(r, test, sizeof test);
    if (!by_maker(r))
        snprintf(id, sizeof id, "monitor-%02X-%02X", r->monitor, r->test);
    else
        snprintf(id, sizeof id, "monitor-test-%02X-%02X", r->test, r->component);
    enum oxl_monitor_verdict verdict = oxl_monitor_verdict(r);
    if (verdict != OXL_MONITOR_NOT_RUN)
        figures(r, text, sizeof text);
    oxl_inspect_line(v, id, grade_of(v, r), advice_of(r), "%s, %s: %s%s%s", title, test, text,
                     text[0] ? ", " : "", oxl_monitor_verdict_name(verdict));
}

/* Of the monitors that do not bear on the test only the failed ones get a line. */
static bool worth_a_line(const struct oxl_monitor_result *r)
{
    return by_maker(r) || bears(r->monitor) >= 0 || oxl_monitor_verdict(r) == OXL_MONITOR_FAILED;
}

static bool has_catalyst(const struct oxl_inspection *v)
{
    for (size_t i = 0; i < v->onboard.results_n; i++)
        if (oxl_monitor_is_catalyst(v->onboard.results[i].monitor) &&
            oxl_monitor_bank(v->onboard.results[i].monitor) == v->bank)
            return true;
    return false;
}

void oxl_inspect_monitors(struct oxl_inspection *v)
{
    const struct oxl_onboard *o = &v->onboard;
    bool can = oxl_protocol_is_can(v->vehicle.protocol);
    oxl_inspect_section(v, "The vehicle's own monitor results");
    if (!o->results_known && o->results_n == 0) {
        oxl_inspect_line(v, "monitors", OXL_GRADE_UNKNOWN,
                         "Compare with the service information of the vehicle.",
                         "the vehicle gives no monitor results");
        return;
    }
    if (can && !has_catalyst(v))
        oxl_inspect_line(v, "monitor-catalyst", OXL_GRADE_UNKNOWN, "",
                         "no catalyst result for bank %u", v->bank);
    for (size_t i = 0; i < o->results_n; i++)
        if (worth_a_line(&o->results[i]))
            result_line(v, &o->results[i]);
    if (o->results_cut)
        oxl_inspect_line(v, "monitors-cut", OXL_GRADE_UNKNOWN, "",
                         "more results than oxylag keeps (%d)", OXL_MAX_RESULTS);
}

/* ---- frozen values --------------------------------------------------------------------------- */

static double frozen(const struct oxl_onboard *o, enum oxl_quantity q)
{
    for (size_t i = 0; i < o->frozen_n; i++)
        if (o->frozen[i].channel.quantity == q)
            return o->frozen[i].value;
    return NAN;
}

static void add(char *out, size_t n, const char *fmt, double value)
{
    size_t len = strlen(out);
    if (isfinite(value) && len < n)
        snprintf(out + len, n - len, fmt, value);
}

void oxl_inspect_frozen(struct oxl_inspection *v)
{
    const struct oxl_onboard *o = &v->onboard;
    char code[6], text[80] = "";
    oxl_inspect_section(v, "Frozen values");
    if (!o->frozen_known) {
        oxl_inspect_line(v, "freeze-frame", OXL_GRADE_UNKNOWN, "", "the vehicle did not answer");
        return;
    }
    if (o->freeze_frame_dtc == 0) {
        oxl_inspect_line(v, "freeze-frame", OXL_GRADE_PASS, "", "none");
        return;
    }
    oxl_dtc_text(o->freeze_frame_dtc, code);
    add(text, sizeof text, " at %.0f rpm", frozen(o, OXL_Q_RPM));
    add(text, sizeof text, ", %.0f km/h", frozen(o, OXL_Q_SPEED_KMH));
    add(text, sizeof text, ", coolant %.0f C", frozen(o, OXL_Q_COOLANT_C));
    add(text, sizeof text, ", load %.0f %%", frozen(o, OXL_Q_LOAD_PCT));
    oxl_inspect_line(v, "freeze-frame", OXL_GRADE_PASS, "", "%s was stored%s", code, text);
}
