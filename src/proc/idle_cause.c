/* Why an idle is not steady: what moves beside the engine speed. Looks only, changes nothing.
 *
 * A load is seen in the air flow or the manifold's pressure. PID 43 (absolute load) is that same
 * air for each stroke (SAE J1979), and PID 04 (calculated load) is never asked: a line that loses
 * the request's first characters would make it the one to clear trouble codes
 * (src/poll/schedule.c). */
#include "proc.h"

#include <stdio.h>

/* Loads come and go within half a minute. The shares are those of a load, not of a sensor's noise;
 * common practice, no source. */
static const double window_s = 20.0, load_share = 0.10, electrical_v = 0.25, pedal_pct = 1.5;

static struct oxl_window_stats of(const struct oxl_proc *p, enum oxl_quantity q)
{
    return oxl_proc_last(p, oxl_proc_trace(p, q), window_s);
}

static double range(const struct oxl_window_stats *w)
{
    return w->count > 1 ? w->max - w->min : 0;
}

void oxl_idle_cause(const struct oxl_proc *p, char *out, size_t n)
{
    struct oxl_window_stats rpm = of(p, OXL_Q_RPM), volts = of(p, OXL_Q_MODULE_V),
                            air = of(p, OXL_Q_AIR_G_S), map = of(p, OXL_Q_MAP_KPA),
                            pedal = of(p, OXL_Q_THROTTLE_PCT);
    struct oxl_window_stats *flow = air.count > 1 ? &air : &map;
    bool load = range(flow) > load_share * flow->min;
    out[0] = '\0';
    if (range(&pedal) > pedal_pct)
        snprintf(out, n, "The throttle moves: take the foot off it.");
    else if (load && range(&volts) > electrical_v)
        snprintf(out, n,
                 "An electrical load comes and goes (%.1f to %.1f V): lights, heaters, fan off.",
                 volts.min, volts.max);
    else if (load && range(&rpm) > 0.5 * p->profile.run_rpm_band)
        snprintf(out, n,
                 "A load comes and goes (%s %.1f to %.1f): air conditioning off, wait for the fan.",
                 flow == &air ? "air flow" : "manifold", flow->min, flow->max);
    else if (range(&rpm) <= p->profile.run_rpm_band && rpm.count > 1)
        snprintf(out, n, "Only the trims move, not the engine speed: purge may come and go.");
}
