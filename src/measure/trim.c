#include "parts.h"

/* Walks both traces in time order. With out NULL it only counts; else the first `skip` joined
 * points are left out. */
static size_t join(struct oxl_trace stft, struct oxl_trace ltft, bool has_ltft, size_t skip,
                   struct oxl_point *out)
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
        if (i == 0 || (has_ltft && j == 0))
            continue; /* one of the two is still unknown */
        double total = stft.points[i - 1].value + (j > 0 ? ltft.points[j - 1].value : 0.0);
        if (out && n >= skip)
            out[n - skip] = (struct oxl_point){now->sent_us, now->recv_us, total};
        n++;
    }
    return n;
}

size_t oxl_total_trim(struct oxl_trace stft, struct oxl_trace ltft, bool has_ltft,
                      struct oxl_point *out, size_t max)
{
    if (!has_ltft)
        ltft.count = 0;
    if (stft.count + ltft.count <= max)
        return join(stft, ltft, has_ltft, 0, out);
    size_t total = join(stft, ltft, has_ltft, 0, NULL);
    /* When there is no room for all, the newest are the ones that matter. */
    size_t skip = total > max ? total - max : 0;
    join(stft, ltft, has_ltft, skip, out);
    return total - skip;
}
