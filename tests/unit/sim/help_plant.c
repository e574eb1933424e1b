#include "help_plant.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

struct oxl_scenario *help_scenario(const char *name)
{
    struct oxl_scenario *s = NULL;
    struct oxl_error err;
    if (oxl_scenario_load(name, &s, &err) != OXL_OK)
        fail_msg("%s", err.text);
    return s;
}

void help_quiet(struct oxl_plant_settings *s)
{
    s->air_ripple_pct = s->air_noise_pct = s->fuel_noise_pct = s->front_noise = 0;
    s->rear_noise_v = s->spread_pct = s->humidity_ratio = s->fuel_error_pct = 0;
    s->ltft_tau_s = 1e6;
    s->rear_trim = s->governor = false;
}

void help_front(struct oxl_ecu_settings *u, const char *front)
{
    snprintf(u->front, sizeof u->front, "%s", front);
}

void help_run_s(struct oxl_plant *p, double until_s)
{
    oxl_plant_run(p, (int64_t)llround(until_s * 1e6));
}

void help_pulse(struct oxl_plant *p, double from_s, double opening, double cut_s, double end_s)
{
    const double opens_s = 4, shuts_s = 0.2;
    for (long i = lround(from_s * 100); i <= lround((cut_s + shuts_s) * 100); i++) {
        double t = (double)i / 100;
        double part = fmin(1, (t - from_s) / opens_s);
        if (t > cut_s)
            part = fmax(0, 1 - (t - cut_s) / shuts_s);
        help_run_s(p, t);
        oxl_plant_valve(p, opening * part);
    }
    help_run_s(p, end_s);
}

void help_near(double got, double want, double tolerance)
{
    if (!(fabs(got - want) <= tolerance))
        fail_msg("got %.12g, want %.12g +- %g", got, want, tolerance);
}
