#include "oxylag/refresh.h"

#include <math.h>

struct oxl_refresh oxl_refresh_unknown(void)
{
    return (struct oxl_refresh){false, NAN, INFINITY, 0};
}

double oxl_refresh_age_s(const struct oxl_refresh *r)
{
    if (r->known)
        return r->period_s;
    return isfinite(r->at_most_s) ? 0.5 * r->at_most_s : 0;
}
