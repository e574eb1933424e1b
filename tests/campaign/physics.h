/* How well a delay can be known at all where the ECU refreshes its values seldom:
 * docs/validation.md, "What physics demands". Nothing of the program measures here. */
#ifndef OXL_CAMPAIGN_PHYSICS_H
#define OXL_CAMPAIGN_PHYSICS_H

#include "campaign.h"

/* A test as it was: the sensors' own signals, without noise, and when each was asked for. */
struct watch {
    float *signal[2]; /* front, rear: volts, or lambda of a wide-range one; every OXL_STEP_US */
    size_t steps;
    double *asked_s[2], *reply_s[2];
    size_t asks[2];
};
bool watch_new(struct watch *w);
void watch_clear(struct watch *w);
void watch_free(struct watch *w);
void watch_signals(struct watch *w, double front, double rear);
void watch_asked(struct watch *w, int side, double sent_s, double recv_s);

struct physics physics_of(const struct watch *w, const struct oxl_scenario *s,
                          const struct oxl_truth *truth, uint64_t seed);
/* The latest moment up to t_s at which the ECU took that group's values. Neither jitter nor jumps.
 */
double physics_latch_s(const struct oxl_ecu_settings *u, int group, double t_s);
/* Width of the central 95 % of the difference of two moments, each even over its length. */
double physics_two_even_s(double a_s, double b_s);

#endif
