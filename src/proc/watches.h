/* The small watches, each with a struct and a file of its own: fed by what comes in, asked for what
 * it shows. */
#ifndef OXL_PROC_WATCHES_H
#define OXL_PROC_WATCHES_H

#include "oxylag/event.h"
#include "oxylag/measure.h"
#include "oxylag/vehicle.h"

struct oxl_proc;

/* ---- watch_balance.c: after the gas, a mixture that is right again while the trims stand
 * elsewhere than at the baseline: fuel came or went beside them. */
struct oxl_balance_watch {
    int64_t since_us; /* since when it is so; 0: it is not */
    bool told;
};

/* Each short-term trim from front-lean on. */
void oxl_balance_sample(struct oxl_balance_watch *w, const struct oxl_proc *p);
/* A baseline is taken; the one before it, NAN when there was no run since. */
void oxl_balance_baseline(struct oxl_proc *p, double before_pct);
/* Fuel that comes and goes may have done so in the other runs, too: none is a proof of storage. */
oxl_reasons oxl_balance_reasons(const struct oxl_balance_watch *w);
void oxl_balance_forget_run(struct oxl_balance_watch *w);

/* ---- watch_banks.c: the other bank, and whether the front sensors are crossed between the
 * banks. */
struct oxl_banks_watch {
    struct oxl_pair other;
    bool shared_rear; /* one rear sensor behind both */
    int64_t
        apart_us; /* since when both fronts stand on opposite sides of balance; 0: they do not */
    double apart_pct; /* difference of the trims then */
    bool crossed;
    int64_t balance_us; /* crossed, and since when both stand at balance all the same; 0 */
};

void oxl_banks_survey(struct oxl_banks_watch *w, const struct oxl_proc *p);
/* This bank's share of the engine's air: two banks with a rear sensor each have a converter each; a
 * shared rear means one. */
double oxl_banks_air_share(const struct oxl_banks_watch *w, const struct oxl_proc *p);
/* True: this sample shows that the fronts are crossed. */
bool oxl_banks_sample(struct oxl_banks_watch *w, const struct oxl_proc *p,
                      const struct oxl_sample *s);
oxl_reasons oxl_banks_reasons(const struct oxl_banks_watch *w);
void oxl_banks_show(const struct oxl_banks_watch *w, const struct oxl_proc *p);

/* ---- watch_engine.c: the engine between the gates: turning, idling how long, short-term trim at
 * exactly 0. */
struct oxl_engine_watch {
    int64_t idle_us;      /* idling since; 0: unknown */
    int64_t raised_us;    /* held at raised speed since; 0: it is not */
    unsigned still_seen;  /* readings in a row of an engine that does not turn */
    bool type_known;      /* PID 51 was read */
    bool turned;          /* ... and it had turned before them */
    unsigned stops;       /* of an engine that had turned */
    int64_t stft_zero_us; /* short-term trim at exactly 0 since; 0: it is not */
};

/* True: this sample shows that the engine has stopped. */
bool oxl_engine_sample(struct oxl_engine_watch *w, const struct oxl_proc *p,
                       const struct oxl_sample *s);
/* fuel_type: of PID 51, NAN when not known. Says nothing of a vehicle that tells nothing. */
void oxl_engine_say_hybrid(const struct oxl_proc *p, double fuel_type);
void oxl_engine_say_stop(const struct oxl_proc *p);
bool oxl_engine_keeps_stopping(const struct oxl_proc *p); /* by itself, or it stalls */
bool oxl_engine_idled_long(const struct oxl_proc *p);
/* For seconds on end, as no closed loop leaves it, whatever the status says. */
bool oxl_engine_front_far_lean(const struct oxl_proc *p);
bool oxl_engine_trim_frozen(const struct oxl_proc *p);
void oxl_engine_say_trim_room(const struct oxl_proc *p); /* once a baseline is known */

/* ---- watch_leak.c: a rear sensor that goes lean under rich gas. */
struct oxl_leak_watch {
    int64_t rear_lean_us; /* since when the rear is lean under a rich front; 0: it is not */
    bool suspected;
};

void oxl_leak_watch_sample(struct oxl_leak_watch *w, const struct oxl_proc *p); /* enrichment */
oxl_reasons oxl_leak_watch_reasons(const struct oxl_leak_watch *w);
void oxl_leak_watch_forget_run(struct oxl_leak_watch *w);

/* ---- watch_loop.c: what the ECU does with its loop under the gas: trims at their limit, closed
 * loop left. */
struct oxl_loop_watch {
    bool was_closed;         /* without a fault, since the survey */
    bool fault, limit, left; /* told */
    bool target, swing;      /* likewise */
};

void oxl_loop_sample(struct oxl_loop_watch *w, const struct oxl_proc *p,
                     const struct oxl_sample *s);
/* The period with which a wide-range front swings in the baseline's window; 0: it does not. */
double oxl_loop_swing_s(const struct oxl_proc *p, const struct oxl_window_stats *front);
/* With a baseline at hand, each told once: a target other than 1, a mixture that swings. */
void oxl_loop_say_mixture(struct oxl_proc *p);
/* Neither end of a delay is known better than a swing. */
void oxl_loop_widen(const struct oxl_proc *p, struct oxl_span *delay_s);
/* Told once: the trims can go no further. */
void oxl_loop_say_limit(struct oxl_proc *p);
/* Told once: the loop has opened while gas flows. */
void oxl_loop_say_left(struct oxl_proc *p);

/* ---- watch_patterns.c: the table of failure patterns. */
struct oxl_patterns_watch {
    oxl_reasons of_session, of_run;
    oxl_reasons said; /* those that have had their line */
};

enum oxl_pattern_when { OXL_AT_BASELINE, OXL_AT_RUN, OXL_AT_ANY_TIME };
void oxl_patterns_apply(struct oxl_patterns_watch *w, const struct oxl_proc *p,
                        enum oxl_pattern_when when);
oxl_reasons oxl_patterns_reasons(const struct oxl_patterns_watch *w); /* of the session */
void oxl_patterns_forget_run(struct oxl_patterns_watch *w);
/* The rear has just gone lean: some seconds more show whether it rests there. */
bool oxl_patterns_undecided(const struct oxl_proc *p);
/* The short-term trim stands at exactly 0, as it did under a rich front: now, in this run; shown:
 * in a run before, too. */
bool oxl_patterns_frozen_now(const struct oxl_proc *p);
bool oxl_patterns_shown_frozen(const struct oxl_proc *p);

/* ---- link_watch.c: the link, as the procedure sees it. */
struct oxl_link_watch {
    enum oxl_link_state state;
    int64_t lost_us; /* 0: not lost */
};

/* When a lost link has been waited for long enough; INT64_MAX: not lost. */
int64_t oxl_link_watch_due(const struct oxl_proc *p);
void oxl_link_watch_time(struct oxl_proc *p);

/* ---- refreshes.c: what is known of how often the ECU refreshes the pair's values and the
 * short-term trim. */
enum oxl_taken { OXL_TAKEN_FRONT, OXL_TAKEN_REAR, OXL_TAKEN_SENSORS };
struct oxl_refreshes {
    struct oxl_refresh front, rear, trim;
    struct oxl_point *taken[OXL_TAKEN_SENSORS]; /* room for a run's samples */
};

/* False: no memory. */
bool oxl_refreshes_start(struct oxl_refreshes *r);
void oxl_refreshes_end(struct oxl_refreshes *r);
/* Of what was sampled so far: before the gas, and when a run is measured. */
void oxl_refreshes_find(struct oxl_refreshes *r, const struct oxl_proc *p);
/* These samples with the moments at which they were taken. */
struct oxl_trace oxl_refreshes_taken(const struct oxl_refreshes *r, struct oxl_trace t,
                                     enum oxl_taken which);

#endif
