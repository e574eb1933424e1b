#include <math.h>
#include <stdlib.h>

#include "campaign.h"

void sampling_add(struct sampling *s, double v)
{
    if (isnan(v))
        return;
    if (s->n == s->room) {
        size_t room = s->room ? 2 * s->room : 256;
        double *more = realloc(s->v, room * sizeof *more);
        if (!more)
            return;
        s->v = more;
        s->room = room;
    }
    s->v[s->n++] = v;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double sampling_quantile(struct sampling *s, double share)
{
    if (s->n == 0)
        return NAN;
    qsort(s->v, s->n, sizeof s->v[0], by_size);
    double at = share * (double)(s->n - 1);
    size_t i = (size_t)at;
    if (i + 1 >= s->n)
        return s->v[s->n - 1];
    return s->v[i] + (s->v[i + 1] - s->v[i]) * (at - (double)i);
}

double sampling_share_within(const struct sampling *s, double low, double high)
{
    size_t in = 0;
    for (size_t i = 0; i < s->n; i++)
        in += s->v[i] >= low && s->v[i] <= high;
    return s->n ? (double)in / (double)s->n : NAN;
}

void sampling_free(struct sampling *s)
{
    free(s->v);
    *s = (struct sampling){0};
}
