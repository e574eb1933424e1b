#include "oxylag/measure.h"

#include <stdlib.h>
#include <string.h>

#include "parts.h"

/* More than a vehicle is ever asked for: of each sensor only the pair under test, each bank's
 * trims, and some twenty values of the whole engine. */
static const size_t channels_max = 48;

/* Storage for twice `keep`: the newest `keep` move to the front when it is full, so a push costs
 * constant time on average and a trace is always one contiguous array. All of it is taken at the
 * start (the system gives real memory only to what is written to): a push that could fail for
 * want of memory would make a replay differ from the live test. */
struct history {
    struct oxl_point *points;
    size_t count;
};

struct oxl_series {
    size_t keep, used;
    struct oxl_point *pool; /* channels_max histories */
    struct history slots[OXL_CHANNEL_SLOTS];
};

struct oxl_series *oxl_series_new(size_t keep)
{
    if (keep == 0)
        keep = 1;
    if (keep > SIZE_MAX / 2 / channels_max / sizeof(struct oxl_point))
        return NULL;
    struct oxl_series *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    s->keep = keep;
    s->pool = calloc(2 * channels_max * keep, sizeof *s->pool);
    if (s->pool)
        return s;
    free(s);
    return NULL;
}

void oxl_series_free(struct oxl_series *s)
{
    if (!s)
        return;
    free(s->pool);
    free(s);
}

static bool channel_fits(struct oxl_channel c)
{
    return c.quantity < OXL_Q_COUNT && c.bank <= OXL_BANKS && c.sensor <= OXL_SENSORS;
}

bool oxl_series_push(struct oxl_series *s, const struct oxl_sample *sample)
{
    /* An unknown value is no sample; a trace holds numbers only. */
    if (!channel_fits(sample->channel) || !oxl_known(sample->value))
        return true;
    struct history *h = &s->slots[oxl_channel_slot(sample->channel)];
    if (!h->points) {
        if (s->used == channels_max)
            return false;
        h->points = s->pool + 2 * s->keep * s->used++;
    }
    /* A trace is time-ordered: what arrives out of order is left out. */
    if (h->count > 0 && sample->recv_us < h->points[h->count - 1].recv_us)
        return true;
    if (h->count == 2 * s->keep) {
        memmove(h->points, h->points + s->keep, s->keep * sizeof *h->points);
        h->count = s->keep;
    }
    h->points[h->count++] = (struct oxl_point){sample->sent_us, sample->recv_us, sample->value};
    return true;
}

struct oxl_trace oxl_series_trace(const struct oxl_series *s, struct oxl_channel c)
{
    struct oxl_trace t = {NULL, 0};
    if (channel_fits(c)) {
        const struct history *h = &s->slots[oxl_channel_slot(c)];
        t.points = h->points;
        t.count = h->count;
    }
    return t;
}

double oxl_series_latest(const struct oxl_series *s, struct oxl_channel c, int64_t now_us,
                         int64_t max_age_us)
{
    struct oxl_trace t = oxl_series_trace(s, c);
    size_t n = oxl_trace_after(t, now_us);
    if (!t.points || n == 0 || now_us - t.points[n - 1].recv_us > max_age_us)
        return NAN;
    return t.points[n - 1].value;
}
