/* What the data show now: windows, levels, rich and lean. Nothing here changes anything. */
#include "proc.h"

struct oxl_channel oxl_proc_bank_channel(const struct oxl_proc *p, enum oxl_quantity q)
{
    double system[2];
    for (unsigned i = 0; i < 2; i++)
        system[i] = oxl_series_latest(p->series, oxl_channel(OXL_Q_FUEL_SYSTEM, i + 1, 0),
                                      p->now_us, INT64_MAX);
    return oxl_bank_channel(q, p->bank, oxl_second_system(system[0], system[1]));
}

bool oxl_proc_is_trim(const struct oxl_proc *p, const struct oxl_sample *s)
{
    return oxl_channel_same(s->channel, oxl_proc_bank_channel(p, OXL_Q_STFT_PCT));
}

struct oxl_window_stats oxl_proc_last(const struct oxl_proc *p, struct oxl_trace t, double s)
{
    return oxl_trace_window(t, p->now_us - OXL_S_US(s), p->now_us);
}

double oxl_proc_mean(const struct oxl_proc *p, struct oxl_trace t, double last_s)
{
    return oxl_trace_mean(t, p->now_us - OXL_S_US(last_s), p->now_us);
}

struct oxl_trace oxl_proc_trace(const struct oxl_proc *p, enum oxl_quantity q)
{
    return oxl_series_trace(p->series, oxl_proc_bank_channel(p, q));
}

double oxl_proc_latest(const struct oxl_proc *p, enum oxl_quantity q, int64_t max_age_us)
{
    return oxl_series_latest(p->series, oxl_proc_bank_channel(p, q), p->now_us, max_age_us);
}

static void trims_of(const struct oxl_proc *p, int64_t from_us, int64_t to_us,
                     struct oxl_trace *stft, struct oxl_trace *ltft)
{
    struct oxl_trace s = oxl_trace_slice(oxl_proc_trace(p, OXL_Q_STFT_PCT), from_us, to_us);
    struct oxl_trace l = oxl_proc_trace(p, OXL_Q_LTFT_PCT);
    /* The long-term value from before the window still holds inside it: the newest one does. */
    l = oxl_trace_slice(l, from_us - OXL_S_US(10), to_us);
    size_t before = oxl_trace_slice(l, from_us - OXL_S_US(10), from_us).count;
    if (before > 1) {
        l.points += before - 1;
        l.count -= before - 1;
    }
    *stft = s;
    *ltft = l;
}

size_t oxl_proc_trim_window(const struct oxl_proc *p, int64_t from_us, int64_t to_us)
{
    struct oxl_trace s, l;
    trims_of(p, from_us, to_us, &s, &l);
    return oxl_total_trim(s, l, p->has_ltft, p->trim, OXL_PROC_TRIM_POINTS);
}

size_t oxl_proc_trim_course(const struct oxl_proc *p, int64_t from_us, int64_t to_us)
{
    struct oxl_trace s, l;
    trims_of(p, from_us, to_us, &s, &l);
    return oxl_total_trim_course(s, l, p->has_ltft, p->trim, OXL_PROC_TRIM_POINTS);
}

static struct oxl_trace last_trims(const struct oxl_proc *p, double s)
{
    size_t n = oxl_proc_trim_window(p, p->now_us - OXL_S_US(s), p->now_us);
    return (struct oxl_trace){p->trim, n};
}

struct oxl_window_stats oxl_proc_trim_stats(const struct oxl_proc *p, double last_s)
{
    return oxl_proc_last(p, last_trims(p, last_s), last_s);
}

static double mean_trim_pct(const struct oxl_proc *p, double last_s)
{
    return oxl_proc_mean(p, last_trims(p, last_s), last_s);
}

double oxl_proc_shift_pct(const struct oxl_proc *p)
{
    if (!p->base.known)
        return NAN;
    double mean = mean_trim_pct(p, 0.6);
    if (!oxl_known(mean))
        mean = mean_trim_pct(p, 2.0);
    return mean - p->base.trim_pct;
}

double oxl_proc_front_rich(const struct oxl_proc *p)
{
    const double least_lambda = 0.5; /* no engine runs richer: below is no reading */
    if (p->pair.front_kind != OXL_SENSOR_WIDE)
        return NAN;
    double mean = oxl_proc_mean(p, oxl_proc_front(p), 1.0);
    return mean > least_lambda ? 1 / mean - 1 : NAN;
}

bool oxl_proc_loop_open(const struct oxl_proc *p, double max_age_s)
{
    double code = oxl_proc_latest(p, OXL_Q_FUEL_SYSTEM, OXL_S_US(max_age_s));
    return oxl_known(code) && !oxl_loop_closed(code) && !oxl_loop_closed_with_fault(code);
}

struct oxl_lean_rule oxl_proc_front_rule(const struct oxl_proc *p)
{
    return oxl_front_rule(&p->profile, &p->pair, p->base.known ? p->base.front_level : NAN,
                          p->base.known ? p->base.front_noise : NAN);
}

struct oxl_lean_rule oxl_proc_rear_rule(const struct oxl_proc *p)
{
    return oxl_rear_rule(&p->profile, &p->pair, p->base.known ? p->base.rear_noise : NAN);
}

struct oxl_trace oxl_proc_front(const struct oxl_proc *p)
{
    return oxl_series_trace(p->series, p->pair.front);
}

struct oxl_trace oxl_proc_rear(const struct oxl_proc *p)
{
    return oxl_series_trace(p->series, p->pair.rear);
}

bool oxl_proc_sensors_live(const struct oxl_proc *p, int64_t max_age_us)
{
    return p->imported ||
           (oxl_known(oxl_series_latest(p->series, p->pair.front, p->now_us, max_age_us)) &&
            oxl_known(oxl_series_latest(p->series, p->pair.rear, p->now_us, max_age_us)));
}

bool oxl_proc_front_is_rich(const struct oxl_proc *p)
{
    struct oxl_lean_rule r = oxl_proc_front_rule(p);
    return oxl_is_rich(oxl_proc_front(p), &r, p->now_us, OXL_FRESH_US);
}

bool oxl_proc_rear_is_rich(const struct oxl_proc *p)
{
    struct oxl_lean_rule r = oxl_proc_rear_rule(p);
    return oxl_is_rich(oxl_proc_rear(p), &r, p->now_us, OXL_FRESH_US);
}

bool oxl_proc_rear_is_lean(const struct oxl_proc *p)
{
    struct oxl_lean_rule r = oxl_proc_rear_rule(p);
    return oxl_is_lean(oxl_proc_rear(p), &r, p->now_us, OXL_FRESH_US);
}
