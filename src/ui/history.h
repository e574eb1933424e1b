/* The last two minutes of one value, in buckets of 50 ms: bounded whatever the sample rate. */
#ifndef OXYLAG_UI_HISTORY_H
#define OXYLAG_UI_HISTORY_H

#include <stdbool.h>
#include <stdint.h>

enum {
    OXL_BUCKET_US = 50000,
    OXL_BUCKETS = 2400,
    OXL_GAP_US = 1000000 /* no sample for longer than this is a gap, not a line */
};

struct oxl_bucket {
    int64_t id; /* time over OXL_BUCKET_US; -1 when empty */
    int64_t first_us, last_us;
    float first, last, min, max;
};

struct oxl_history {
    struct oxl_bucket buckets[OXL_BUCKETS];
    int64_t newest_us; /* -1 when empty */
    double newest;
};

void oxl_history_clear(struct oxl_history *h);
void oxl_history_push(struct oxl_history *h, int64_t t_us, double value);
/* The bucket of that id, NULL when it is empty or too old. */
const struct oxl_bucket *oxl_history_bucket(const struct oxl_history *h, int64_t id);
/* The newest value when it is not older than max_age_us; NAN else. */
double oxl_history_latest(const struct oxl_history *h, int64_t now_us, int64_t max_age_us);
/* Least and greatest value in (from, to]; false when there is none. */
bool oxl_history_range(const struct oxl_history *h, int64_t from_us, int64_t to_us, double *min,
                       double *max);

#endif
