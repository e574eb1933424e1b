/* What the tests of the vehicle room share. */
#ifndef OXYLAG_HELP_VEHICLE_H
#define OXYLAG_HELP_VEHICLE_H

#include "oxylag/vehicle.h"

enum { HELP_MAX_BYTES = 64, HELP_MAX_SAMPLES = 32 };

/* A message made from hex digits (spaces allowed). */
struct help_message {
    uint8_t bytes[HELP_MAX_BYTES];
    struct oxl_message m;
};
void help_message(struct help_message *h, const char *hex);

/* Samples of an answer given in hex digits. */
struct help_samples {
    struct oxl_sample s[HELP_MAX_SAMPLES];
    size_t n;
    bool clean;
};
struct help_samples help_decode(const char *hex, const struct oxl_decoding *d);

/* The value of the channel with this name (oxl_channel_name); NAN when there is no such sample. */
double help_value(const struct help_samples *s, const char *name);

/* cmocka has no comparison of doubles that fails on NAN. */
#define assert_near(got, want, tolerance)                                                          \
    do {                                                                                           \
        double got_ = (got), want_ = (want);                                                       \
        if (!(fabs(got_ - want_) <= (tolerance)))                                                  \
            fail_msg("%s is %.12g, expected %.12g", #got, got_, want_);                            \
    } while (0)

#endif
