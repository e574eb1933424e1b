/* Inside the measure room: what its files share. Times are seconds on the session's clock, as
 * double: 53 bits keep a microsecond for centuries. */
#ifndef OXL_MEASURE_PARTS_H
#define OXL_MEASURE_PARTS_H

#include "oxylag/measure.h"

/* Oxygen mass fraction of dry air: 20.946 % by volume, 31.998 / 28.965 (CIPM-2007 kind of
 * composition table). */
#define OXL_AIR_O2 0.2314

/* An interval holds the truth in 95 of 100 runs; a lower bound is to hold in 99, so it stands this
 * much farther out: sums of uniform parts need 1.2 at most, the rest is judgement. */
#define OXL_BOUND_SIGMAS 1.4

/* Rich gas slips past a store that is being emptied: so much more goes in than comes out of it. */
#define OXL_RICH_SLIP 1.3

/* Less is stored at a higher flux of oxygen: a tenth less at 35 % than at 20 %. Twice as much is
 * allowed for, for each natural logarithm of the ratio; it is not fitted away. docs/method.md, 6
 * and 7. */
#define OXL_STORE_PER_LOG_FLUX 0.4

static inline double seconds(int64_t us)
{
    return (double)us * 1e-6;
}
static inline int64_t micros(double s)
{
    return (int64_t)llround(s * 1e6);
}
static inline double point_mid_s(const struct oxl_point *p)
{
    return 0.5 * (seconds(p->sent_us) + seconds(p->recv_us));
}
static inline double point_half_s(const struct oxl_point *p)
{
    return 0.5 * seconds(p->recv_us - p->sent_us);
}
static inline struct oxl_span span_unknown(void)
{
    struct oxl_span s = {NAN, NAN, NAN};
    return s;
}
static inline double square(double v)
{
    return v * v;
}
/* The loop keeps the mean at balance, so a small excess that a wide-range front reads at rest is
 * its own offset, as x. 0 when it is unknown, or too far off to be one. */
static inline double offset_x(const struct oxl_profile *profile, double rest_lambda)
{
    double x = 1 - 1 / rest_lambda;
    return fabs(x) <= 2 * profile->lambda_err ? x : 0;
}

/* ---- window.c ---- */
/* Mean of a sample and the two before it; i >= 2. */
static inline double oxl_trace_last_three(struct oxl_trace t, size_t i)
{
    return (t.points[i].value + t.points[i - 1].value + t.points[i - 2].value) / 3;
}
/* Index of the first point with recv_us > t_us. */
size_t oxl_trace_after(struct oxl_trace t, int64_t t_us);
/* Value at a moment, linear between the middles of the samples, held beyond the ends; NAN when
 * there is none. */
double oxl_trace_at(struct oxl_trace t, double t_s);
/* Mean by time over [from_s, to_s], the ends held; NAN when there is none within 5 s. */
double oxl_trace_mean_s(struct oxl_trace t, double from_s, double to_s);

/* ---- lean.c ---- */
/* A crossing with its bracket: what the delay's interval needs beyond struct oxl_moment. */
struct crossing {
    bool found;
    size_t before, after;     /* indices into the trace */
    double t_s;               /* the estimate */
    double before_s, after_s; /* middles of the bracketing samples */
    double later_s;           /* of that, what another answer adds: one or the other, not evenly */
    double half_s;            /* larger half of their request-reply times */
    double noise_s;           /* how far noise can move the crossing */
    double age_s;     /* that much of the samples' intervals is a period that nothing shows */
    double refresh_s; /* how long a refresh takes, known or not (oxl_refresh_age_s) */
    struct oxl_moment moment;
};
struct crossing oxl_find_crossing(struct oxl_trace t, const struct oxl_lean_rule *rule,
                                  int64_t from_us, int64_t to_us);
/* The same crossing where `taken` has the moments of the trace that it was found in; r: what is
 * known of its refreshes. */
struct crossing oxl_crossing_taken(struct oxl_trace taken, const struct oxl_refresh *r,
                                   const struct oxl_lean_rule *rule, const struct crossing *seen);
/* How long the sensor took from its rich to its lean level; NAN when that was not seen. */
double oxl_crossing_ramp_s(struct oxl_trace t, const struct oxl_lean_rule *rule,
                           const struct crossing *c);
/* Time between the last two crossings to rich before at_s; 0 when there were not two in 6 s. */
double oxl_dither_period_s(struct oxl_trace t, const struct oxl_profile *p, double at_s);
/* A dithering switching front can be released in its lean half; then the last crossing is one of
 * the dither and the gas went lean up to that half later. How long that half is; 0 when the
 * front did not dither, or when the last rich half was cut short, which is the release's own
 * crossing. */
double oxl_dither_doubt_s(struct oxl_trace t, const struct oxl_lean_rule *rule, double lean_s);
/* Time from `high` to `low` (volts) around a crossing, interpolated; NAN when not seen. */
double oxl_fall_time_s(struct oxl_trace t, const struct crossing *c, double high, double low);

/* ---- depth.c ---- */
/* When a switching front, after its crossing, stands in gas that is clearly lean, and not only a
 * little beyond balance: later than its crossing by late_s +- err_s (about 0 for a clean release).
 * Not seen when the lean gas was too short or not lean enough to tell. */
struct lean_start {
    bool seen;
    double late_s, err_s;
};
/* When a rising wide-range sensor, half a second's mean of it, passed a level for the last time
 * before this crossing of its own; from_s when it stood beyond it since. */
double oxl_passes_level_s(struct oxl_trace t, const struct crossing *c, double from_s,
                          double level);
/* Until when such a sensor had not passed a level for good, by its first mean beyond level + err.
 */
double oxl_within_level_s(struct oxl_trace t, double from_s, double to_s, double level, double err);
struct lean_start oxl_clearly_lean(struct oxl_trace t, const struct oxl_lean_rule *rule,
                                   const struct crossing *c, double tau_s, double to_s);

/* ---- delay.c ---- */
/* The half-width q with P(|sum of independent uniforms on +-half[i]| <= q) = coverage. n <= 8. */
double oxl_uniform_sum_quantile(const double *half, int n, double coverage);
/* Rear minus front with its interval. */
struct oxl_span oxl_delay_span(const struct crossing *f, const struct crossing *r);

/* ---- supply.c ---- */
enum recovery_kind { RECOVERY_UNKNOWN = 0, RECOVERY_RAMP, RECOVERY_EXPONENTIAL };
/* How the shift S = T0 - T (a fraction) goes back to zero after the release. */
struct recovery {
    enum recovery_kind kind;
    double ramp_per_s; /* fraction a second */
    double tau_s;
};
struct recovery oxl_fit_recovery(struct oxl_trace trim, double base_pct, double from_s,
                                 double to_s);
/* Time in which the lean excess halves, from the shift at release; NAN when unknown. */
double oxl_recovery_half_s(const struct recovery *r, double shift);

/* ---- oxygen.c ---- */
/* The lean excess x(t) = 1 - 1/lambda as the front sensor would report it. */
struct excess {
    enum oxl_x_source source;
    struct oxl_trace front, trim;
    double rest_x;             /* from lambda: x at rest, a sensor offset */
    double base;               /* T0 as a fraction */
    double lag_s;              /* from trims: injection to the front sensor's report */
    double lean_s, tail_s, x0; /* from trims: gas left after front-lean, x0 exp(-t/tail) */
    double over_s; /* from trims: a switching front is rich again, no excess any more; 0: not */
    double last_s; /* measured until here, by recovery afterwards */
    struct recovery recovery;
};
double oxl_excess_at(const struct excess *e, double t_s);
/* Integral of air * x, g, times nothing: multiply by the oxygen fraction. air_const is used where
 * the air trace is empty. */
double oxl_excess_air_integral(const struct excess *e, struct oxl_trace air, double from_s,
                               double to_s);
double oxl_excess_integral(const struct excess *e, double from_s, double to_s);
/* Integral of air * (1/lambda - 1/rest), the rich dose; g. */
double oxl_rich_air_integral(struct oxl_trace lambda, double rest_x, struct oxl_trace air,
                             double from_s, double to_s);
/* x integral still to come after t_s by the recovery; INFINITY when unknown. */
double oxl_excess_to_come(const struct excess *e, double t_s);
/* Volume flow of exhaust, litres a second, at this air flow and temperature. */
double oxl_exhaust_l_s(double air_g_s, double exhaust_c);
double oxl_oxygen_fraction(double humidity_ratio);

/* ---- target.c ---- */
struct prediction {
    bool fills;    /* the store fills before the supply ends */
    double time_s; /* from front-lean, without path; when it never fills, how long it lasts */
};
/* Of the dose until end_s as much as the target run feeds in gas that is hardly leaner than this
 * one's was at the same dose: more gas, thinner and thinner, fills a store further than thick gas
 * does. */
double oxl_dose_at_like_flux(const struct excess *e, double lean_s, double end_s, double ratio);
/* When a run at `ratio` times this shift would have offered `dose` (integral of x). */
struct prediction oxl_predict_fill(const struct excess *e, double lean_s, double ratio, double dose,
                                   double limit_s);

/* ---- event.c ---- */
struct crossing oxl_run_find_release(struct oxl_trace front, const struct oxl_lean_rule *rule,
                                     int64_t shift_start_us, int64_t cut_us, int64_t to_us);
struct crossing oxl_run_find_drop(struct oxl_trace rear, const struct oxl_lean_rule *rule,
                                  const struct oxl_moment *front_lean, int64_t shift_start_us,
                                  int64_t to_us);
/* Lean at every sample from front-lean on, for 2 s at least. */
bool oxl_lean_since(struct oxl_trace rear, const struct oxl_lean_rule *rule,
                    const struct oxl_moment *front_lean, int64_t to_us);
/* It may have been as late as this sample; an earlier one than its bracket's changes nothing. */
void oxl_reach_to(struct oxl_trace t, struct crossing *c, size_t i);

/* ---- run.c and its parts ---- */
enum { MAX_AIR = 1024 };
struct run_work {
    const struct oxl_run_input *in; /* its front and rear with the moments that are best known */
    struct oxl_trace seen_front, seen_rear; /* as asked for: the same samples, as the live test
                                               searches them */
    struct oxl_run_result *out;
    struct crossing front, rear;
    struct excess excess;  /* the preferred source */
    struct oxl_trace air;  /* meter or speed density */
    double doubt_s;        /* of a dithering front: the gas went lean in [0, doubt] after it */
    double lean_s, stop_s; /* front-lean, and rear-lean or the end */
    /* when a switching rear would have answered, and when at the earliest; stop_s at the latest */
    double balance_s, balance_first_s;
    double path_s, path_err_s;
    double unemptied; /* stored against taken out: so much may have been left in it; 0 unknown */
    double bound_mg;  /* the oxygen's low end where it is a bound */
    double base;      /* T0 as a fraction: the trim at balance */
    double base_pct;  /* the same */
    double rest_x;    /* what a wide-range front reads at balance, as x: its offset */
    double deepest_shift_pct; /* in the last seconds before the release; the result has a mean */
};
/* rear.c: falls more than once, or a sensor whose middle is not at switch_v */
void oxl_widen_rear(struct run_work *w, const struct oxl_lean_rule *rule);
/* Its fall from 0.6 to 0.3 V took so long at least: between two refreshes it may have been a step.
 * NAN when it was not seen. */
double oxl_least_fall_s(const struct run_work *w);
/* By so much a wide-range rear may have come late to its step, from where it stood at front-lean;
 * beyond what the path counts. INFINITY: it shows no bound. 0 of a switching one. */
double oxl_wide_rear_lag_s(const struct run_work *w);
/* RT/4F at 900 K: a switching sensor falls by so much for each factor e in the excess (Nernst). */
#define OXL_V_PER_E 0.0194
/* through.c: where a rear stood, in gas that was still lean, after its fall. */
struct rear_level {
    double above_v; /* struct oxl_run_result, rear_above_v */
    double full_s;  /* what the front had passed until then had been at work behind it */
};
enum { MAX_LEVELS = 1024 };
size_t oxl_find_levels(const struct run_work *w, struct rear_level levels[MAX_LEVELS]);
/* run_air.c; `points` is room for a speed-density trace */
void oxl_find_air(struct run_work *w, struct oxl_point points[MAX_AIR]);
void oxl_find_path(struct run_work *w);
/* run_oxygen.c */
void oxl_find_shift(struct run_work *w);
void oxl_find_oxygen(struct run_work *w);
void oxl_find_supply(struct run_work *w);
double oxl_stored_until(const struct run_work *w, const struct excess *e);
/* What the trims say takes so long to the front sensor. */
double oxl_engine_delay_s(const struct run_work *w);
/* dose.c; integral of x taken out before the release; INFINITY where nothing says it */
double oxl_removed_s(const struct run_work *w);
void oxl_find_removed(struct run_work *w); /* the same in mg, to the result */
/* emptied.c: flags a run whose pulse may have left a sound store part full */
void oxl_find_part_emptied(struct run_work *w);
/* run_target.c */
void oxl_find_target_delay(struct run_work *w);
/* run_flags.c */
void oxl_flag_run(struct run_work *w);

/* ---- judge_table.c ---- */
/* Where an interval may lie against the two limits: a set. */
enum zone { ZONE_BAD = 1, ZONE_MIDDLE = 2, ZONE_GOOD = 4 };
/* 0 when unknown. */
unsigned oxl_zones_of(double low, double high, double bad, double good);
/* The zones that a conclusion leaves; 0: nothing is excluded. */
unsigned oxl_zones_left(enum oxl_conclusion c);
struct judgement {
    enum oxl_verdict verdict;
    enum oxl_conclusion conclusion;
    bool disagree, straddles;
};
/* `open` = a bound or a flaw, not scatter, is why more than one zone is left. */
struct judgement oxl_judge_zones(unsigned delay, unsigned oxygen, bool open);

#endif
