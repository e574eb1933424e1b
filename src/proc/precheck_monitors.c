/* What the vehicle's own monitors of the catalyst and of the two sensors found, where the survey
 * had time to ask. */
#include <math.h>
#include <stdio.h>

#include "oxylag/onboard.h"
#include "proc.h"

/* The gravest result of the bank's catalyst; NULL when none has a meaning. */
static const struct oxl_monitor_result *gravest(const struct oxl_vehicle *v, unsigned bank)
{
    const struct oxl_monitor_result *worst = NULL;
    for (size_t i = 0; i < v->results_n; i++) {
        const struct oxl_monitor_result *r = &v->results[i];
        if (!oxl_monitor_is_catalyst(r->monitor) || oxl_monitor_bank(r->monitor) != bank ||
            oxl_monitor_verdict(r) == OXL_MONITOR_UNKNOWN)
            continue;
        if (!worst || oxl_monitor_verdict(r) > oxl_monitor_verdict(worst))
            worst = r;
    }
    return worst;
}

static void describe(const struct oxl_monitor_result *r, char *out, size_t n)
{
    struct oxl_monitor_figures f = oxl_monitor_figures(r);
    if (isfinite(f.margin_pct)) /* in the words of a page that a customer reads */
        snprintf(out, n, "the vehicle's own test: %.3g%s%s, %.0f %% %s its limit", f.value,
                 f.unit[0] ? " " : "", f.unit, fabs(f.margin_pct),
                 f.margin_pct < 0 ? "beyond" : "inside");
    else
        snprintf(out, n, "the vehicle's own test: %s",
                 oxl_monitor_verdict_name(oxl_monitor_verdict(r)));
}

/* A failed one only: that a sensor passed its own test proves little of its delay. */
static void failed_sensor(struct oxl_proc *p, bool rear)
{
    for (size_t i = 0; i < p->vehicle->results_n; i++) {
        const struct oxl_monitor_result *r = &p->vehicle->results[i];
        bool first_of_bank = r->monitor % 4 == 1;
        if (!oxl_monitor_is_sensor(r->monitor) || oxl_monitor_bank(r->monitor) != p->bank ||
            first_of_bank == rear || oxl_monitor_verdict(r) != OXL_MONITOR_FAILED)
            continue;
        char found[96];
        describe(r, found, sizeof found);
        oxl_proc_check(p, rear ? "rear-monitor" : "front-monitor", OXL_GRADE_CAUTION, found,
                       "Prove the sensor rich, lean and quick, or replace it first.");
        return;
    }
}

void oxl_precheck_monitors(struct oxl_proc *p)
{
    failed_sensor(p, false);
    failed_sensor(p, true);
    const struct oxl_monitor_result *r = gravest(p->vehicle, p->bank);
    char found[96];
    if (!r) {
        oxl_proc_check(p, "catalyst-monitor", OXL_GRADE_UNKNOWN,
                       "the vehicle's own result is not known",
                       "oxylag inspect asks for all monitor results.");
        return;
    }
    describe(r, found, sizeof found);
    switch (oxl_monitor_verdict(r)) {
    case OXL_MONITOR_FAILED:
        oxl_proc_check(p, "catalyst-monitor", OXL_GRADE_CAUTION, found,
                       "Leak check first; then see whether this test agrees.");
        break;
    case OXL_MONITOR_PASSED:
        oxl_proc_check(p, "catalyst-monitor", OXL_GRADE_PASS, found, "");
        break;
    case OXL_MONITOR_NOT_RUN:
    case OXL_MONITOR_UNKNOWN:
        oxl_proc_check(p, "catalyst-monitor", OXL_GRADE_UNKNOWN, found,
                       "Not completed since the codes were cleared: it says nothing.");
        break;
    }
}
