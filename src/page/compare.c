#include "oxylag/compare.h"

#include <math.h>
#include <string.h>

#include "words.h"

const struct oxl_unlike_row oxl_unlikes[OXL_UNLIKE_COUNT] = {
#define X(id, code, forbids, sentence) [OXL_UNLIKE_##id] = {code, sentence, forbids},
    OXL_UNLIKES(X)
#undef X
};

const char *oxl_change_name(enum oxl_trend c)
{
    static const char *const names[] = {"unknown", "not-shown", "rose", "fell"};
    return names[c];
}

/* ---- one figure ----------------------------------------------------------------------------- */

/* How far the upper end of a - b lies from its value: both ends and values known, their distances
 * are independent errors; else the ends alone. `a_end` is a's end on that side, `b_end` the
 * opposite one of b. */
static double end_of(double value, double a, double a_end, double b, double b_end, double side)
{
    if (!isfinite(a_end) || !isfinite(b_end))
        return side * INFINITY;
    if (isnan(value))
        return a_end - b_end;
    return value + side * hypot(fmax(0, side * (a_end - a)), fmax(0, side * (b - b_end)));
}

struct oxl_span oxl_span_difference(const struct oxl_span *first, const struct oxl_span *second)
{
    const double a = second->value, b = first->value;
    const double value = isfinite(a) && isfinite(b) ? a - b : NAN;
    struct oxl_span d = {value, end_of(value, a, second->low, b, first->high, -1),
                         end_of(value, a, second->high, b, first->low, 1)};
    if (isnan(value) && isinf(d.low) && isinf(d.high))
        d.low = d.high = NAN;
    return d;
}

enum oxl_trend oxl_judge_change(const struct oxl_span *difference, double spread)
{
    const double least = oxl_known(spread) ? spread : 0;
    const struct oxl_span *d = difference;
    /* With a value, the value itself is held against the spread; a bound is its own least. */
    const double up = isfinite(d->value) ? d->value : d->low;
    const double down = isfinite(d->value) ? d->value : d->high;
    if (d->low > 0 && up > least)
        return OXL_CHANGE_ROSE;
    if (d->high < 0 && -down > least)
        return OXL_CHANGE_FELL;
    return isfinite(d->value) && isfinite(d->low) && isfinite(d->high) ? OXL_CHANGE_NOT_SHOWN
                                                                       : OXL_CHANGE_UNKNOWN;
}

/* ---- two tests ------------------------------------------------------------------------------ */

enum figure { DELAY_AT_TARGET, OXYGEN };

/* Range of a figure over the valid runs of one test; NAN when fewer than two have it. A bound is no
 * value, and a deeper run is no repetition of the others. */
static double range(const struct oxl_test_record *s, enum figure of)
{
    double low = INFINITY, high = -INFINITY;
    size_t n = 0;
    for (size_t i = 0; i < s->runs_n; i++) {
        const struct oxl_run_result *r = &s->runs[i];
        const struct oxl_run_figures f = oxl_run_shown(s, r);
        const double v = of == OXYGEN ? f.o2_mg.value : f.delay_at_target_s.value;
        if (!r->valid || r->deeper || !isfinite(v))
            continue;
        low = fmin(low, v);
        high = fmax(high, v);
        n++;
    }
    return n < 2 ? NAN : high - low;
}

static struct oxl_difference difference(const struct oxl_test_record *a,
                                        const struct oxl_test_record *b, enum figure of)
{
    const struct oxl_result *x = &a->result, *y = &b->result;
    struct oxl_difference d = {.spread = fmax(range(a, of), range(b, of))}; /* NAN gives way */
    d.span = of == OXYGEN ? oxl_span_difference(&x->o2_mg, &y->o2_mg)
                          : oxl_span_difference(&x->delay_at_target_s, &y->delay_at_target_s);
    d.change = oxl_judge_change(&d.span, d.spread);
    return d;
}

static bool both_known(double a, double b)
{
    return isfinite(a) && isfinite(b);
}

static enum oxl_air_source air_source(const struct oxl_test_record *s)
{
    for (size_t i = 0; i < s->runs_n; i++)
        if (s->runs[i].valid && s->runs[i].air_source != OXL_AIRSRC_NONE)
            return s->runs[i].air_source;
    return OXL_AIRSRC_NONE;
}

/* Local times of the same offset compare as text. */
static bool later(const char *a, const char *b)
{
    return strlen(a) > 19 && strlen(a) == strlen(b) && strcmp(a + 19, b + 19) == 0 &&
           strcmp(a, b) > 0;
}

/* The figures of a result exist. */
static bool finished(const struct oxl_test_record *a, const struct oxl_test_record *b)
{
    return a->has_result && b->has_result;
}

static bool forbidden(const struct oxl_test_record *a, const struct oxl_test_record *b,
                      enum oxl_unlike u)
{
    const struct oxl_pair pa = oxl_vehicle_pair(&a->vehicle, a->header.bank ? a->header.bank : 1);
    const struct oxl_pair pb = oxl_vehicle_pair(&b->vehicle, b->header.bank ? b->header.bank : 1);
    switch (u) {
    case OXL_UNLIKE_NO_RESULT:
        return !finished(a, b);
    case OXL_UNLIKE_SAME:
        return a->sha256[0] && strcmp(a->sha256, b->sha256) == 0;
    case OXL_UNLIKE_SIMULATED:
        return a->header.simulated != b->header.simulated;
    case OXL_UNLIKE_VEHICLE:
        return a->vehicle.vin[0] && b->vehicle.vin[0] &&
               strcmp(a->vehicle.vin, b->vehicle.vin) != 0;
    case OXL_UNLIKE_BANK:
        return a->header.bank != b->header.bank;
    case OXL_UNLIKE_SENSORS:
        return pa.front_kind != pb.front_kind || pa.rear_kind != pb.rear_kind;
    case OXL_UNLIKE_SPEED:
        return finished(a, b) && both_known(a->result.rpm, b->result.rpm) &&
               fabs(a->result.rpm - b->result.rpm) >
                   fmin(a->profile.run_rpm_band, b->profile.run_rpm_band);
    default:
        return fabs(a->profile.target_pct - b->profile.target_pct) > 1e-9;
    }
}

static bool doubtful(const struct oxl_test_record *a, const struct oxl_test_record *b,
                     enum oxl_unlike u)
{
    const struct oxl_result *ra = &a->result, *rb = &b->result;
    switch (u) {
    case OXL_UNLIKE_VEHICLE_UNKNOWN:
        return !a->vehicle.vin[0] || !b->vehicle.vin[0];
    case OXL_UNLIKE_SPEED_UNKNOWN:
        return finished(a, b) && !both_known(ra->rpm, rb->rpm);
    case OXL_UNLIKE_AIR_FLOW:
        return finished(a, b) && both_known(ra->air_g_s, rb->air_g_s) &&
               fabs(ra->air_g_s - rb->air_g_s) > 0.1 * fmin(ra->air_g_s, rb->air_g_s);
    case OXL_UNLIKE_AIR_SOURCE:
        return air_source(a) != air_source(b) && air_source(a) && air_source(b);
    case OXL_UNLIKE_INLET:
        return a->header.inlet[0] && b->header.inlet[0] &&
               strcmp(a->header.inlet, b->header.inlet) != 0;
    case OXL_UNLIKE_LIMITS:
        return fabs(a->profile.bad_s - b->profile.bad_s) > 1e-9 ||
               fabs(a->profile.good_s - b->profile.good_s) > 1e-9;
    case OXL_UNLIKE_ORDER:
        return later(a->header.started, b->header.started);
    default:
        return finished(a, b) && (ra->valid_runs < 2 || rb->valid_runs < 2);
    }
}

void oxl_compare(const struct oxl_test_record *first, const struct oxl_test_record *second,
                 struct oxl_comparison *out)
{
    static const struct oxl_difference unknown = {{NAN, NAN, NAN}, NAN, OXL_CHANGE_UNKNOWN};
    *out = (struct oxl_comparison){.allowed = true, .delay_at_target_s = unknown, .o2_mg = unknown};
    for (unsigned u = 0; u < OXL_UNLIKE_COUNT; u++) {
        const bool forbids = oxl_unlikes[u].forbids;
        if (!(forbids ? forbidden : doubtful)(first, second, (enum oxl_unlike)u))
            continue;
        out->unlikes |= 1u << u;
        out->allowed = out->allowed && !forbids;
    }
    if (!out->allowed)
        return;
    out->delay_at_target_s = difference(first, second, DELAY_AT_TARGET);
    out->o2_mg = difference(first, second, OXYGEN);
}
