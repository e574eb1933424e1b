/* Measure: from the samples of one run to times, intervals and grams. Pure functions over
 * time-ordered arrays; nothing here knows of a procedure, a link or a clock.
 *
 * Notation as in docs/method.md. w = 0.2314 is the oxygen mass fraction of dry air. Lean is a
 * positive excess: x = 1 - 1/lambda.
 */
#ifndef OXYLAG_MEASURE_H
#define OXYLAG_MEASURE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/channel.h"
#include "oxylag/figure.h"
#include "oxylag/profile.h"
#include "oxylag/reason.h"
#include "oxylag/refresh.h"
#include "oxylag/trace.h"
#include "oxylag/vehicle.h"

/* A moment with the interval that holds it. */
struct oxl_moment {
    bool found;
    int64_t t_us, low_us, high_us;
};

/* ---- series: the samples of a session, one bounded history per channel ---------------------- */
struct oxl_series; /* opaque */
/* Keeps at least `keep` newest points of each channel. NULL when there is no memory; all of it is
 * taken here. False from _push: more channels than there is room for (48). */
struct oxl_series *oxl_series_new(size_t keep);
void oxl_series_free(struct oxl_series *s);
bool oxl_series_push(struct oxl_series *s, const struct oxl_sample *sample);
/* The channel's history; valid until the next push. */
struct oxl_trace oxl_series_trace(const struct oxl_series *s, struct oxl_channel c);
/* The newest value not older than max_age_us at now_us; NAN when there is none. */
double oxl_series_latest(const struct oxl_series *s, struct oxl_channel c, int64_t now_us,
                         int64_t max_age_us);

/* ---- simple statistics on a window [from_us, to_us] (by recv_us) ---------------------------- */
struct oxl_window_stats {
    size_t count;
    double mean, min, max, sd, slope_per_s; /* NAN when count is too small */
    int64_t span_us;                        /* first to last */
    int64_t longest_gap_us;                 /* largest recv-to-recv step inside the window */
};
struct oxl_window_stats oxl_trace_window(struct oxl_trace t, int64_t from_us, int64_t to_us);
/* The mean of it alone, to the bit; NAN when there is no point. */
double oxl_trace_mean(struct oxl_trace t, int64_t from_us, int64_t to_us);
/* The sub-trace with recv_us in [from_us, to_us]. */
struct oxl_trace oxl_trace_slice(struct oxl_trace t, int64_t from_us, int64_t to_us);

/* Total trim (short plus long) at the times of either; values are joined with the newest of the
 * other. Writes at most max points; returns how many. Long-term may be empty (taken as 0 only
 * when the vehicle has no such item, which the caller says). */
size_t oxl_total_trim(struct oxl_trace stft, struct oxl_trace ltft, bool has_ltft,
                      struct oxl_point *out, size_t max);

/* The same at the times of the short-term trim only: its course, to be interpolated. On a slow link
 * a long-term sample would repeat a short-term value that is seconds old, and the course would
 * become a staircase that comes late. */
size_t oxl_total_trim_course(struct oxl_trace stft, struct oxl_trace ltft, bool has_ltft,
                             struct oxl_point *out, size_t max);

/* ---- events --------------------------------------------------------------------------------- */
/* How a sensor is read for lean. For a switching sensor: falling through switch_v with hysteresis
 * lean_v/rich_v. For a wide-range one: rising above level + step + noise. */
struct oxl_lean_rule {
    enum oxl_sensor_kind kind;
    double switch_v, rich_v, lean_v;
    double level;     /* wide-range: lambda before release, NAN: balance 1.0 */
    double step;      /* wide-range: 0.01 */
    double noise;     /* sd of the sensor at rest, in its own unit */
    double level_err; /* how far the level at rest may have wandered; widens the interval only */
    double settle_s;  /* a front that dithers has gone lean only when it stays lean this long */
};

/* The rules of the front and of the rear sensor of a pair under a profile; the procedure and
 * oxl_measure_run use the same ones, so that an event seen live is the event that is measured.
 * level and noise as measured at rest (NAN: unknown). A rear wide-range sensor is read against
 * balance, whatever its resting level. */
struct oxl_lean_rule oxl_front_rule(const struct oxl_profile *profile, const struct oxl_pair *pair,
                                    double level, double noise);
struct oxl_lean_rule oxl_rear_rule(const struct oxl_profile *profile, const struct oxl_pair *pair,
                                   double noise);

/* The moment at which the sensor went lean and stayed lean, searched in (from_us, to_us]. The
 * estimate interpolates; [low, high] is [last sample before, first sample after] widened by what
 * is unknown of each sample's own moment and by noise near the level. *ramp_s, when not NULL,
 * gets the time the signal took from its rich level to its lean level (a slow release). */
struct oxl_moment oxl_find_lean(struct oxl_trace t, const struct oxl_lean_rule *rule,
                                int64_t from_us, int64_t to_us, double *ramp_s);

/* Front-lean of a run. Searched from 1.5 s before cut_us (the hand may be early), never before
 * shift_start_us; from shift_start_us when cut_us is 0. */
struct oxl_moment oxl_find_release(struct oxl_trace front, const struct oxl_lean_rule *rule,
                                   int64_t shift_start_us, int64_t cut_us, int64_t to_us,
                                   double *ramp_s);

/* Rear-lean of a run: the first fall from front-lean on. A rear that follows a dithering front
 * may be lean for a moment at front-lean; only one that then stays lean for 2 s without having
 * been rich fell before the front (a leak), and the moment of that earlier fall is given. */
struct oxl_moment oxl_find_drop(struct oxl_trace rear, const struct oxl_lean_rule *rule,
                                const struct oxl_moment *front_lean, int64_t shift_start_us,
                                int64_t to_us);

/* Where the sensor first leaves its rich level for good before `lean`. */
struct oxl_moment oxl_find_fall_start(struct oxl_trace t, const struct oxl_lean_rule *rule,
                                      int64_t from_us, const struct oxl_moment *lean);

/* Is the sensor rich / lean by the rule at its newest sample not older than max_age? Neither
 * when unknown. */
bool oxl_is_rich(struct oxl_trace t, const struct oxl_lean_rule *rule, int64_t now_us,
                 int64_t max_age_us);
bool oxl_is_lean(struct oxl_trace t, const struct oxl_lean_rule *rule, int64_t now_us,
                 int64_t max_age_us);
/* A link about as slow as the dither of a switching front meets it always at the same place, so a
 * few samples running prove nothing: it must stay on one side for so long. 0: the link is quick. */
double oxl_slow_dither_s(struct oxl_trace t, int64_t to_us);

/* ---- one run -------------------------------------------------------------------------------- */
enum oxl_air_source { OXL_AIRSRC_NONE = 0, OXL_AIRSRC_METER, OXL_AIRSRC_SPEED_DENSITY };
enum oxl_x_source { OXL_XSRC_NONE = 0, OXL_XSRC_LAMBDA, OXL_XSRC_TRIM };

struct oxl_run_input {
    const struct oxl_profile *profile;
    struct oxl_pair pair;
    struct oxl_trace front, rear; /* volts or lambda, by pair kinds */
    /* The same samples with the moments at which the ECU took them (oxl_taken_moments), and what is
     * known of its refreshes. Count 0: as front and rear say. `trim` and the rest come so. */
    struct oxl_trace front_taken, rear_taken;
    struct oxl_refresh front_refresh, rear_refresh, trim_refresh;
    struct oxl_trace trim; /* total trim, per cent (oxl_total_trim) */
    struct oxl_trace air, map, intake, rpm, cat_temp;
    double air_share; /* of the engine's air that this bank breathes: 1, or 0.5 where each of two
                         banks has its own converter; 0 is taken as 1 */
    /* from the baseline step */
    double baseline_trim_pct, baseline_trim_sd_pct, baseline_rpm;
    double front_level, front_noise; /* resting level and sd */
    double rear_level, rear_noise;
    /* marks of the procedure; 0 = did not happen */
    int64_t shift_start_us; /* the trims began to move */
    int64_t cut_us;         /* "cut now" was called, or the release was seen without it */
    int64_t end_us;         /* the procedure ended the run */
    bool ended_held;        /* ended without rear-lean: balance back or time limit */
    bool deeper;            /* a deeper run: over target on purpose, to empty the whole store */
};

struct oxl_run_result {
    int run;      /* 1.. , set by the procedure */
    bool dropped; /* the rear went lean (false: held) */
    bool valid;   /* may enter the result */
    bool deeper;  /* over target on purpose: its seconds are not compared with others */
    oxl_reasons reasons;
    struct oxl_moment front_lean, rear_lean, rear_fall;
    struct oxl_span delay_s; /* front-lean to rear-lean; when held: value NAN, low = how long */
    struct oxl_span delay_at_target_s; /* predicted at the target shift; when held: low only */
    struct oxl_span o2_mg;  /* stored until the rear went lean; when a lower bound: low only,
                               high = INFINITY */
    bool o2_is_lower_bound; /* part emptied, or rear held */
    double o2_from_lambda_mg, o2_from_trim_mg; /* both when possible; NAN */
    double o2_removed_mg;                      /* taken out before the release */
    double o2_needed_mg; /* to be taken out, so that a rear that came so low shows the whole store;
                            NAN: the rear held, or its level was not seen */
    double rear_above_v; /* the rear came to stand so far above the level of the lean gas that went
                          * in, for a lean end of 0 V (a wide-range one by Nernst); NAN: not seen */
    double rear_lag_s;   /* a wide-range rear may have been so late; a switching one: 0 */
    double o2_supply_mg; /* on offer until the trims recovered */
    double shift_pct;    /* trim shift at release, negative */
    double air_g_s, rpm; /* means during the timing */
    enum oxl_air_source air_source;
    enum oxl_x_source x_source;
    double path_s;              /* front to rear gas time plus sensor lags */
    double trim_recovery_pct_s; /* fitted ramp, NAN */
    double trim_recovery_tau_s; /* fitted exponential, NAN */
    double front_ramp_s;
    double sample_round_ms; /* mean front-to-front step around the events */
    struct oxl_refresh front_refresh, rear_refresh, trim_refresh; /* as known at the run's end */
};

/* Measures one run. Never fails: what cannot be known is NAN and has its reason. */
void oxl_measure_run(const struct oxl_run_input *in, struct oxl_run_result *out);

/* Air by speed density, g/s: map kPa, volume l, rpm, volumetric efficiency, intake C.
 * Ideal gas, four-stroke: m = 1000 p V N VE / (120 R T). */
double oxl_speed_density_g_s(double map_kpa, double displacement_l, double rpm, double ve,
                             double intake_c);

/* ---- the deeper run ------------------------------------------------------------------------- */
/* What the deeper run is to take out, as the runs before it have shown: mg. Where they say that it
 * is out of reach, or nothing, `deeper_dose` good limits, or enough for what they stored. NAN
 * without an air flow. */
double oxl_deeper_needed_mg(const struct oxl_profile *profile, double air_g_s,
                            const struct oxl_run_result *runs, size_t n);
/* A wide-range front: oxygen taken out a second at this lambda, mg/s. rest_lambda: its own rest. */
double oxl_removal_mg_s(const struct oxl_profile *profile, double rest_lambda, double lambda,
                        double air_g_s);
/* A switching front does not say how rich it is; the trims show by how much they were behind. Of
 * each time that the hand stood still counts how far they still had to go. Before that nothing
 * does: they may have been hardly behind. */
struct oxl_trim_dose {
    const struct oxl_profile *profile;
    struct oxl_trace front, trim; /* volts; total trim, per cent */
    double baseline_pct;          /* total trim before the gas */
    int64_t shift_start_us, to_us;
    double delay_s; /* from the trims to the front sensor */
};
double oxl_dose_by_trim_s(const struct oxl_trim_dose *seen);                     /* integral of x */
double oxl_removal_by_trim_mg(const struct oxl_trim_dose *seen, double air_g_s); /* mg */

/* ---- leak check ----------------------------------------------------------------------------- */
/* A signal in three windows of equal length: before, during and after something was covered.
 * `by`: during less the mean of before and after; `needs`: the smallest change that would have
 * been called one, at least `least`. Not known when a fifth of a window holds no sample. */
struct oxl_change {
    bool known, changed;
    double by, needs;
};
struct oxl_change oxl_find_change(struct oxl_trace t, int64_t before_us, int64_t during_us,
                                  int64_t after_us, int64_t length_us, double least);

/* ---- several runs, verdict ------------------------------------------------------------------ */
enum oxl_verdict {
    OXL_VERDICT_INCONCLUSIVE = 0,
    OXL_VERDICT_BAD,
    OXL_VERDICT_QUESTIONABLE,
    OXL_VERDICT_GOOD
};
const char *oxl_verdict_name(enum oxl_verdict v); /* "good", ... */

/* What may be said of the converter, which people are shown: the verdict, or half of one, where bad
 * or good is excluded and which of the two others holds is not known. */
enum oxl_conclusion {
    OXL_CONCLUSION_NONE = 0, /* nothing is excluded: inconclusive */
    OXL_CONCLUSION_BAD,
    OXL_CONCLUSION_NOT_GOOD,
    OXL_CONCLUSION_QUESTIONABLE,
    OXL_CONCLUSION_NOT_BAD,
    OXL_CONCLUSION_GOOD,
    OXL_CONCLUSIONS
};
const char *oxl_conclusion_name(enum oxl_conclusion c);  /* "not bad", ... */
const char *oxl_conclusion_shown(enum oxl_conclusion c); /* "NOT BAD", ...: where it leads */

/* The figure that carried the verdict, as it was compared with the limits. Screen, page, lines and
 * JSON lead with it. */
enum oxl_lead_figure {
    OXL_LEAD_NONE = 0, /* nothing was measured */
    OXL_LEAD_DELAY_AT_TARGET,
    OXL_LEAD_DELAY, /* as timed, where the depth is not known */
    OXL_LEAD_OXYGEN
};
struct oxl_lead {
    enum oxl_lead_figure figure;
    struct oxl_span span;         /* a bound: value NAN, one end NAN or infinite */
    double bad_limit, good_limit; /* in the unit of the figure */
    int run;                      /* the run that it comes from; 0: several */
};

struct oxl_result {
    enum oxl_verdict verdict;
    enum oxl_conclusion conclusion;
    struct oxl_lead lead;
    int runs, valid_runs;
    /* As judged: what flaws left open is open here, and a bound has no value. */
    struct oxl_span delay_s; /* as timed */
    struct oxl_span delay_at_target_s;
    struct oxl_span o2_mg;
    bool held;        /* the deciding runs ended with the rear held */
    int o2_run;       /* the run that o2_mg comes from; 0: several, or not known */
    int deeper_run;   /* the deeper run that counts; 0: none */
    int aside_run;    /* the run that was set aside, far from the others; 0: none */
    int runs_wanted;  /* how many were to count; 0 unknown (a table, an older recording) */
    bool ended_early; /* before that many counted: stopped, or the link was lost for good */
    double air_g_s, rpm;
    double spread_s; /* between the runs whose delay is a value as judged, no bound; NAN */
    int spread_runs; /* of how many runs that is; 0 */
    double bad_limit_mg, good_limit_mg; /* limits in grams at this air flow; NAN */
    oxl_reasons reasons;                /* why */
    oxl_reasons session;                /* those of the session, which bear on every run */
    oxl_reasons refuted;                /* those of a run that a later moment has taken back */
    double rear_lag_s;                  /* by so much a slow rear may be late */
    double too_little_mg; /* what a run took out that may not have emptied the store */
    oxl_reasons next;     /* rows whose step is to be done: oxl_next_step() */
};

/* The leading figure with its limits and its run, as every output says it: "stored oxygen at least
 * 541 mg (good above 411 mg), run 4". */
enum { OXL_LEAD_TEXT = 160 };
void oxl_lead_text(const struct oxl_lead *lead, char out[OXL_LEAD_TEXT]);
/* ", by the deeper run 4", ", run 2": where the stored oxygen is of one run; "". */
enum { OXL_RUN_TEXT = 40 };
void oxl_o2_run_text(const struct oxl_result *r, char out[OXL_RUN_TEXT]);
/* The same after what it did, "decided by: ..", "measured: .."; "nothing was measured"; "" where
 * runs counted and nothing of the figure is known. */
enum { OXL_RESULT_LEAD = OXL_LEAD_TEXT + 16 };
void oxl_result_lead(const struct oxl_result *r, char out[OXL_RESULT_LEAD]);
/* Two runs that agree ended it before more were made. */
bool oxl_result_agreed(const struct oxl_result *r);
/* The i-th thing to do next, the most important one first and none twice; OXL_R_COUNT past the
 * last. Its words are oxl_reason_next(). */
enum oxl_reason oxl_next_step(const struct oxl_result *r, size_t i);
/* The i-th reason as it is to be said: a proven cause first, then what the result means, then what
 * the verdict stands in spite of (no verdict: what keeps it from one), then the rest. OXL_R_COUNT
 * past the last. Its words are oxl_reason_sentence(). */
enum oxl_reason oxl_nth_reason(const struct oxl_result *r, size_t i);

/* Facts about the session that bear on the verdict. */
struct oxl_session_facts {
    bool rear_seen_rich, rear_seen_lean;
    oxl_reasons reasons; /* from precheck and baseline, e.g. CODES_PRESENT */
    oxl_reasons refuted; /* of no run any more: a later moment has shown otherwise */
    bool deeper_unsafe;  /* a deeper run would be refused: heat, a misfire, a stumble */
    double rear_lag_s;   /* the rear may be so much later than the profile's, by its quickest fall;
                          * INFINITY: none was seen */
};

/* Combines the runs and judges; the table of docs/method.md. */
void oxl_judge(const struct oxl_run_result *runs, size_t n, const struct oxl_profile *profile,
               const struct oxl_session_facts *facts, struct oxl_result *out);
/* The figures of one run as the judge takes them and every output shows them: what a flaw leaves
 * open is open, a bound has no value, and one of nothing is not known. NULL while there is no
 * result. */
struct oxl_run_figures {
    struct oxl_span delay_s, delay_at_target_s, o2_mg;
};
struct oxl_run_figures oxl_run_as_judged(const struct oxl_run_result *r,
                                         const struct oxl_result *result,
                                         const struct oxl_profile *profile);
/* The runs leave it open, and a deeper run may decide it. */
bool oxl_deeper_may_decide(const struct oxl_result *r);

#endif
