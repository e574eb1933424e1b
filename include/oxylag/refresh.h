/* How often the ECU refreshes a value. Between two refreshes it answers with the same number, so a
 * value may be as old as one period when it is asked for. Pure functions of a channel's history;
 * docs/method.md, section 3, "How old a value is".
 */
#ifndef OXYLAG_REFRESH_H
#define OXYLAG_REFRESH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/trace.h"

/* Three states:
 *   known                        the period was found
 *   not known, at_most_s finite  two changes were no farther apart than this, so the period is
 *                                not longer. About the time between two samples when every
 *                                sample brings a new value: a shorter period leaves no trace.
 *   not known, INFINITY          the value has not moved: nothing is excluded.
 */
struct oxl_refresh {
    bool known;
    double period_s;  /* NAN unless known */
    double at_most_s; /* never less than period_s */
    unsigned changes; /* how many it was learnt from */
    double likely_s;  /* what to take for it where it is not known; NAN: half of at_most_s */
};

/* Of the newest OXL_REFRESH_POINTS points of the trace; older ones do not count, so that a period
 * that changes is found anew. Some milliseconds of work: not for every sample. */
enum { OXL_REFRESH_POINTS = 1000 };
struct oxl_refresh oxl_find_refresh(struct oxl_trace t);

/* Nothing known, nothing excluded. */
struct oxl_refresh oxl_refresh_unknown(void);

/* The age that a value reaches before the next one: the period, or what is likely where only
 * at_most_s is known; 0 where nothing is, or hardly anything has changed. */
double oxl_refresh_age_s(const struct oxl_refresh *r);

/* The same values, each with [sent_us, recv_us] now the interval in which the ECU took it instead
 * of that in which it was asked for. All answers of one refresh get the same interval; where the
 * grid of refreshes is found, it is narrower than the step between samples. Writes at most max
 * points, the newest; returns how many. `out` may be t.points itself. */
size_t oxl_taken_moments(struct oxl_trace t, const struct oxl_refresh *r, struct oxl_point *out,
                         size_t max);

#endif
