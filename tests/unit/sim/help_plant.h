/* A plant without adapter or technician, with a scripted valve. */
#ifndef OXL_HELP_PLANT_H
#define OXL_HELP_PLANT_H

#include "sim/plant.h"
#include "sim/scenario.h"

struct oxl_scenario *help_scenario(const char *name);
/* Noise, spread, learning, rear trim, governor and humidity off: bare arithmetic. */
void help_quiet(struct oxl_plant_settings *s);
void help_front(struct oxl_ecu_settings *u, const char *front);
void help_run_s(struct oxl_plant *p, double until_s);
/* Opens in 4 s from from_s on, holds, and shuts in 0.2 s at cut_s. Ends at end_s. */
void help_pulse(struct oxl_plant *p, double from_s, double opening, double cut_s, double end_s);
void help_near(double got, double want, double tolerance);

#endif
