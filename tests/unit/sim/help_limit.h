/* The closed form of what the simulated adapter can give at most. */
#ifndef HELP_LIMIT_H
#define HELP_LIMIT_H

#include "sim/parts.h"

/* How many replies a second, when each request is sent without any pause. */
double limit_hz(const struct oxl_adapter *a, unsigned request_chars, unsigned reply_chars);

#endif
