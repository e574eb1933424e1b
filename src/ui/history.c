#include "history.h"

#include <math.h>
#include <stddef.h>

void oxl_history_clear(struct oxl_history *h)
{
    for (int i = 0; i < OXL_BUCKETS; i++)
        h->buckets[i].id = -1;
    h->newest_us = -1;
    h->newest = NAN;
}

void oxl_history_push(struct oxl_history *h, int64_t t_us, double value)
{
    if (t_us < 0 || !(fabs(value) < 1e6)) /* no sensor says that, nor is it known when NAN */
        return;
    int64_t id = t_us / OXL_BUCKET_US;
    struct oxl_bucket *b = &h->buckets[id % OXL_BUCKETS];
    float v = (float)value;
    if (b->id != id) {
        *b = (struct oxl_bucket){id, t_us, t_us, v, v, v, v};
    } else {
        b->last = v;
        b->last_us = t_us;
        b->min = v < b->min ? v : b->min;
        b->max = v > b->max ? v : b->max;
    }
    if (t_us >= h->newest_us) {
        h->newest_us = t_us;
        h->newest = value;
    }
}

const struct oxl_bucket *oxl_history_bucket(const struct oxl_history *h, int64_t id)
{
    const struct oxl_bucket *b = id < 0 ? NULL : &h->buckets[id % OXL_BUCKETS];
    return b && b->id == id ? b : NULL;
}

double oxl_history_latest(const struct oxl_history *h, int64_t now_us, int64_t max_age_us)
{
    return h->newest_us < 0 || now_us - h->newest_us > max_age_us ? (double)NAN : h->newest;
}

bool oxl_history_range(const struct oxl_history *h, int64_t from_us, int64_t to_us, double *min,
                       double *max)
{
    bool any = false;
    for (int64_t id = from_us / OXL_BUCKET_US + 1; id <= to_us / OXL_BUCKET_US; id++) {
        const struct oxl_bucket *b = oxl_history_bucket(h, id);
        if (!b)
            continue;
        *min = any && *min < (double)b->min ? *min : (double)b->min;
        *max = any && *max > (double)b->max ? *max : (double)b->max;
        any = true;
    }
    return any;
}
