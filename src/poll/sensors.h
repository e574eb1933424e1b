/* Which PIDs are the two sensors': what the masks announce, held against what answers and moves. */
#ifndef OXYLAG_POLL_SENSORS_H
#define OXYLAG_POLL_SENSORS_H

#include "oxylag/poll.h"
#include "survey.h"

/* One value of the rear's PID as it is watched: where it stood first, and how far it went. */
struct oxl_poll_course {
    unsigned n;
    int64_t since_us;
    double low, high;
};

struct oxl_poll_sensors {
    struct oxl_support answered; /* in live data, once at least */
    struct oxl_support missed;   /* asked for in live data, and not answered so far */
    struct oxl_support doubted;  /* announced and not answered in live data: asked once more */
    struct oxl_support asked;    /* in this survey */
    uint8_t now;                 /* the PID that is being asked for */
    bool heard;
    bool again; /* the survey of the sensors is made again, out of live data */
    /* Does the rear's value move? */
    uint8_t watched; /* its PID; 0: that is settled, or not asked */
    bool settled;
    struct oxl_poll_course lambda, volts;
    double rpm;
};

void oxl_poll_sensors_forget(struct oxl_poll *p);
void oxl_poll_sensor_answered(struct oxl_poll *p, uint8_t pid);
void oxl_poll_sensor_missed(struct oxl_poll *p, uint8_t pid, bool often);
void oxl_poll_sensors_sample(struct oxl_poll *p, const struct oxl_sample *s);
/* Between two requests: true when another choice has begun to be made. */
bool oxl_poll_sensors_again(struct oxl_poll *p, int64_t t_us);
/* The survey of the sensors that was made again is over: what stands behind it has been asked. */
bool oxl_poll_sensors_only(const struct oxl_poll *p);
void oxl_poll_sensors_chosen(struct oxl_poll *p);
extern const struct oxl_poll_step oxl_poll_sensors_step;

#endif
