/* Counters and the true rates of the two sensors that matter. */
#include "poll_parts.h"

enum { WINDOW_MS = 2000 };

void oxl_poll_count(struct oxl_poll *p, enum oxl_poll_counted what)
{
    struct oxl_poll_stats *s = &p->stats.sums;
    uint64_t *const sums[] = {
        [OXL_COUNT_REQUEST] = &s->requests, [OXL_COUNT_REPLY] = &s->replies,
        [OXL_COUNT_TIMEOUT] = &s->timeouts, [OXL_COUNT_NEGATIVE] = &s->negative,
        [OXL_COUNT_LATE] = &s->late,        [OXL_COUNT_UNPROVEN] = &s->unproven,
        [OXL_COUNT_OTHER] = &s->other,
    };
    ++*sums[what];
}

static void push(struct oxl_poll_ring *r, int64_t t_us)
{
    r->at_us[r->head] = t_us;
    r->head = (r->head + 1) % OXL_POLL_RING;
    if (r->n < OXL_POLL_RING)
        r->n++;
}

void oxl_poll_note_sample(struct oxl_poll *p, const struct oxl_sample *s)
{
    if (oxl_channel_same(s->channel, p->pair.front))
        push(&p->stats.front, s->recv_us);
    else if (oxl_channel_same(s->channel, p->pair.rear))
        push(&p->stats.rear, s->recv_us);
}

/* Arrivals within the window before now, the first and the last of them. */
static unsigned recent(const struct oxl_poll_ring *r, int64_t now_us, int64_t *first, int64_t *last)
{
    unsigned n = 0;
    for (; n < r->n; n++) {
        int64_t at = r->at_us[(r->head + OXL_POLL_RING - 1 - n) % OXL_POLL_RING];
        if (at <= now_us - OXL_POLL_MS(WINDOW_MS))
            break;
        if (n == 0)
            *last = at;
        *first = at;
    }
    return n;
}

void oxl_poll_stats(const struct oxl_poll *p, int64_t now_us, struct oxl_poll_stats *out)
{
    int64_t first = 0, last = 0;
    *out = p->stats.sums;
    unsigned n = recent(&p->stats.rear, now_us, &first, &last);
    out->rear_hz = n * 1000.0 / WINDOW_MS;
    n = recent(&p->stats.front, now_us, &first, &last);
    out->front_hz = n * 1000.0 / WINDOW_MS;
    out->round_ms = n > 1 ? (double)(last - first) / 1000.0 / (n - 1) : NAN;
}
