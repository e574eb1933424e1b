/* The other bank: what it does, and whether the front sensors are crossed between the banks. */
#include "proc.h"

#include <stdio.h>

#include "oxylag/safe.h"

/* In closed loop a front comes back to balance within seconds. Crossed sensors make each bank
 * correct the other's fault, so both run away: the fronts stay on opposite sides while the trims
 * move apart, or stand far apart at their limits, the leaner front's on the side of more fuel: with
 * sensors of its own so much fuel would have made that bank rich. */
static const double side_lambda = 0.012, window_s = 4.0;
static const double apart_s = 6.0, apart_pct = 2.5, far_pct = 20.0;

void oxl_banks_survey(struct oxl_banks_watch *w, const struct oxl_proc *p)
{
    w->other = oxl_vehicle_pair(p->vehicle, p->bank == 1 ? 2 : 1);
    const struct oxl_pair *o = &w->other;
    w->shared_rear = o->front_kind != OXL_SENSOR_NONE && oxl_channel_same(o->rear, p->pair.rear) &&
                     p->pair.rear_kind != OXL_SENSOR_NONE;
    if (!w->shared_rear)
        return;
    oxl_proc_check(p, "shared-rear", OXL_GRADE_CAUTION,
                   "one rear sensor behind both banks: the figure is of both converters",
                   oxl_reason_next(OXL_R_SHARED_REAR));
}

double oxl_banks_air_share(const struct oxl_banks_watch *w, const struct oxl_proc *p)
{
    bool two = w->other.front_kind != OXL_SENSOR_NONE && w->other.rear_kind != OXL_SENSOR_NONE &&
               !oxl_channel_same(w->other.rear, p->pair.rear);
    return two ? 0.5 : 1.0;
}

/* -1 rich, +1 lean, 0 at balance or unknown. */
static int side_of(const struct oxl_proc *p, const struct oxl_pair *pair)
{
    struct oxl_window_stats w =
        oxl_proc_last(p, oxl_series_trace(p->series, pair->front), window_s);
    if (w.count < 2)
        return 0;
    if (pair->front_kind == OXL_SENSOR_WIDE) {
        double off = w.mean - p->profile.lambda_balance;
        return fabs(off) < side_lambda ? 0 : off > 0 ? 1 : -1;
    }
    return w.max < p->profile.lean_v ? 1 : w.min > p->profile.rich_v ? -1 : 0;
}

/* Each answers its own trims: crossed fronts run away from balance. */
static bool at_balance(const struct oxl_proc *p, const struct oxl_pair *pair)
{
    struct oxl_window_stats w =
        oxl_proc_last(p, oxl_series_trace(p->series, pair->front), window_s);
    if (pair->front_kind == OXL_SENSOR_WIDE)
        return w.count > 1 && side_of(p, pair) == 0;
    return w.count > 1 && w.min < p->profile.lean_v && w.max > p->profile.rich_v;
}

static void uncross(struct oxl_banks_watch *w, const struct oxl_proc *p)
{
    const double lasts_s = 10.0;
    bool both = at_balance(p, &p->pair) && at_balance(p, &w->other);
    oxl_proc_since(&w->balance_us, both, p->now_us);
    w->crossed = !oxl_proc_lasted(p, w->balance_us, lasts_s);
}

static double total(const struct oxl_proc *p, unsigned bank)
{
    const int64_t age_us = OXL_S_US(8);
    double s =
        oxl_series_latest(p->series, oxl_channel(OXL_Q_STFT_PCT, bank, 0), p->now_us, age_us);
    double l =
        oxl_series_latest(p->series, oxl_channel(OXL_Q_LTFT_PCT, bank, 0), p->now_us, age_us);
    return p->has_ltft ? s + l : s;
}

oxl_reasons oxl_banks_reasons(const struct oxl_banks_watch *w)
{
    return w->shared_rear ? OXL_REASON_BIT(OXL_R_SHARED_REAR) : 0;
}

bool oxl_banks_sample(struct oxl_banks_watch *w, const struct oxl_proc *p,
                      const struct oxl_sample *s)
{
    if (w->other.front_kind == OXL_SENSOR_NONE || !oxl_proc_is_trim(p, s))
        return false;
    if (w->crossed) {
        uncross(w, p);
        return false;
    }
    double apart = total(p, p->bank) - total(p, p->bank == 1 ? 2 : 1);
    int side = side_of(p, &p->pair);
    if (!oxl_known(apart) || side * side_of(p, &w->other) >= 0) {
        w->apart_us = 0;
        return false;
    }
    if (!w->apart_us) {
        w->apart_us = p->now_us;
        w->apart_pct = apart;
    }
    w->crossed = p->now_us - w->apart_us >= OXL_S_US(apart_s) &&
                 (fabs(apart - w->apart_pct) >= apart_pct || side * apart >= far_pct);
    return w->crossed;
}

static void add(char *out, size_t n, const char *fmt, double v)
{
    if (oxl_known(v))
        oxl_append(out, n, fmt, v);
}

/* A line for the screen and the report; the samples themselves are in the recording. */
void oxl_banks_show(const struct oxl_banks_watch *w, const struct oxl_proc *p)
{
    const struct oxl_pair *o = &w->other;
    unsigned bank = p->bank == 1 ? 2 : 1;
    char found[96];
    if (o->front_kind == OXL_SENSOR_NONE)
        return;
    snprintf(found, sizeof found, "bank %u:", bank);
    add(found, sizeof found, " trims %+.1f %%", total(p, bank));
    add(found, sizeof found,
        o->front_kind == OXL_SENSOR_WIDE ? ", front lambda %.2f" : ", front %.2f V",
        oxl_proc_last(p, oxl_series_trace(p->series, o->front), window_s).mean);
    if (!oxl_channel_same(o->rear, p->pair.rear))
        add(found, sizeof found,
            o->rear_kind == OXL_SENSOR_WIDE ? ", rear lambda %.2f" : ", rear %.2f V",
            oxl_proc_last(p, oxl_series_trace(p->series, o->rear), window_s).mean);
    oxl_proc_check(p, "other-bank", OXL_GRADE_PASS, found, "");
}
