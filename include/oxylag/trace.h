/* The samples of one channel in the order of time. */
#ifndef OXYLAG_TRACE_H
#define OXYLAG_TRACE_H

#include <stddef.h>
#include <stdint.h>

/* One value, taken by the vehicle at an unknown moment within [sent_us, recv_us]. */
struct oxl_point {
    int64_t sent_us, recv_us;
    double value;
};
/* Time-ordered, not owned. count 0 = no such channel. */
struct oxl_trace {
    const struct oxl_point *points;
    size_t count;
};

#endif
