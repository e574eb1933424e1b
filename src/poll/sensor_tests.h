/* Service 05: which oxygen sensor's results are being asked for. */
#ifndef OXYLAG_POLL_SENSOR_TESTS_H
#define OXYLAG_POLL_SENSOR_TESTS_H

#include "oxylag/poll.h"
#include "survey.h"

struct oxl_poll_sensor_tests {
    struct oxl_support listed; /* tests of the sensor at this place */
    unsigned place, test;
    int64_t begun_us; /* when they were begun to be asked for; NEVER: not yet */
};

void oxl_poll_sensor_tests_forget(struct oxl_poll *p);
extern const struct oxl_poll_step oxl_poll_sensor_tests_step;

#endif
