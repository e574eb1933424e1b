#include "parts.h"

/* Which samples make a point of the total. */
struct joining {
    bool has_ltft;
    bool short_only; /* a long-term sample beside an old short-term one is no news of the total */
};

/* Walks both traces in time order. With out NULL it only counts; else the first `skip` joined
 * points are left out. */
static size_t join(struct oxl_trace stft, struct oxl_trace ltft, const struct joining *how,
                   size_t skip, struct oxl_point *out)
{
    size_t i = 0, j = 0, n = 0;
    while (i < stft.count || j < ltft.count) {
        bool take_s =
            i < stft.count && (j == ltft.count || stft.points[i].recv_us <= ltft.points[j].recv_us);
        bool take_l =
            j < ltft.count && (i == stft.count || ltft.points[j].recv_us <= stft.points[i].recv_us);
        const struct oxl_point *now = take_s ? &stft.points[i] : &ltft.points[j];
        i += take_s;
        j += take_l;
        if (i == 0 || (how->has_ltft && j == 0))
            continue; /* one of the two is still unknown */
        if (how->short_only && !take_s)
            continue;
        double total = stft.points[i - 1].value + (j > 0 ? ltft.points[j - 1].value : 0.0);
        if (out && n >= skip)
            out[n - skip] = (struct oxl_point){now->sent_us, now->recv_us, total};
        n++;
    }
    return n;
}

static size_t join_newest(struct oxl_trace stft, struct oxl_trace ltft, const struct joining *how,
                          struct oxl_point *out, size_t max)
{
    if (!how->has_ltft)
        ltft.count = 0;
    if (stft.count + ltft.count <= max)
        return join(stft, ltft, how, 0, out);
    size_t total = join(stft, ltft, how, 0, NULL);
    /* When there is no room for all, the newest are the ones that matter. */
    size_t skip = total > max ? total - max : 0;
    join(stft, ltft, how, skip, out);
    return total - skip;
}

size_t oxl_total_trim(struct oxl_trace stft, struct oxl_trace ltft, bool has_ltft,
                      struct oxl_point *out, size_t max)
{
    const struct joining how = {has_ltft, false};
    return join_newest(stft, ltft, &how, out, max);
}

size_t oxl_total_trim_course(struct oxl_trace stft, struct oxl_trace ltft, bool has_ltft,
                             struct oxl_point *out, size_t max)
{
    const struct joining how = {has_ltft, true};
    return join_newest(stft, ltft, &how, out, max);
}
