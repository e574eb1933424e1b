/* Procedure: the guided test as a table-driven state machine. One function changes state
 * (oxl_proc_enter); the table in proc.c says what each state does with data, time and keys.
 *
 * Two kinds of hooks keep recordings replayable (session.h): `data` runs on every sample and may
 * keep what it learns; `time` runs on ticks, only compares the clock with deadlines that data
 * have set, and changes nothing unless it says something.
 */
#ifndef OXL_PROC_H
#define OXL_PROC_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/event.h"
#include "oxylag/measure.h"
#include "oxylag/profile.h"
#include "oxylag/session.h"
#include "oxylag/vehicle.h"

#include "gas.h"
#include "states.h"

enum {
    OXL_PROC_MAX_RUNS = 32,
    OXL_PROC_TRIM_POINTS = 8192, /* total trim of one run at most */
    OXL_SERIES_KEEP = 8192
};
#define OXL_FRESH_US OXL_S_US(2.0)
/* An engine that turns by itself; a starter gives about 200. From memory. */
#define OXL_LEAST_RPM 400.0

/* What the session has seen of one sensor, from whatever happened (proof.c). 0 = not seen. */
struct oxl_proof {
    int64_t rich_us, lean_us; /* first time */
    double lowest, highest;   /* of the means of half a second */
    double fall_s;            /* rear 0.6 to 0.3 V, front 1.15 to 1.8; NAN not seen */
    bool fall_in_cut;         /* seen in a fuel cut, where the gas is a step */
    bool slow;
};

/* A fuel cut after a throttle snap. */
struct oxl_cut {
    int64_t risen_us; /* engine speed was well above rest last */
    int64_t start_us; /* the front went far lean; 0: none going on */
    int64_t seen_us;  /* far lean last */
    bool throttle_shut, judged;
    unsigned seen; /* cuts in this session */
};

enum oxl_leak_phase { OXL_LEAK_BEFORE, OXL_LEAK_COVERED, OXL_LEAK_AFTER };
struct oxl_leak {
    bool wanted;
    unsigned done; /* checks finished */
    enum oxl_leak_phase phase;
    int64_t phase_us[3];
    bool back_to_end; /* enough runs were done when it began */
};

enum oxl_deeper_choice { OXL_DEEPER_AUTO, OXL_DEEPER_YES, OXL_DEEPER_NO };
/* The deeper run (deeper.c). */
struct oxl_deeper {
    enum oxl_deeper_choice choice;
    bool on, done;  /* the present or next run is the deeper one; one has counted */
    unsigned tries; /* that ended */
    /* the run in progress */
    double removed_mg;
    double before_mg;          /* in earlier stays of a switching front on its rich side */
    int64_t stay_us;           /* ... the present one began; 0 none */
    double sum_pct_s, span_s;  /* ... of the shift in it */
    double ramp_s;             /* ... how long the trims moved */
    double stay_deepest_pct;   /* ... and to where */
    int64_t front_us, trim_us; /* last counted; 0 none */
    int64_t over_us;           /* over target since; 0 not */
    int64_t idle_us;           /* nothing more to be had since; 0 not */
};

/* What the baseline step found. */
struct oxl_baseline {
    bool known;
    double trim_pct, trim_sd_pct, rpm;
    double front_level, front_noise, rear_level, rear_noise;
};

/* The pre-check's gates, in the order in which they are shown. */
enum oxl_gate {
    OXL_GATE_COOLANT,
    OXL_GATE_RUN_TIME,
    OXL_GATE_CAT_TEMP,
    OXL_GATE_CLOSED_LOOP,
    OXL_GATE_STILL,
    OXL_GATE_ENGINE,
    OXL_GATE_SECONDARY_AIR,
    OXL_GATE_TRIMS,
    OXL_GATE_COUNT
};

struct oxl_proc {
    struct oxl_profile profile;
    bool profile_given, profile_fixed, no_identity;
    unsigned bank, runs_wanted;
    int64_t row_us; /* imported: from row to row */
    void *ctx;
    void (*emit)(void *ctx, const struct oxl_event *ev);

    struct oxl_series *series;
    struct oxl_point *trim; /* scratch for the total trim, OXL_PROC_TRIM_POINTS */
    const struct oxl_vehicle *vehicle;
    struct oxl_pair pair;
    bool surveyed, has_ltft;
    bool imported;    /* a table: nobody follows a cue, nobody waits */
    bool resampled;   /* ... whose values were interpolated */
    double air_share; /* this bank's of the engine's air */

    enum oxl_state state;
    int run; /* attempt, 1.. once the first baseline is taken */
    int64_t entered_us, now_us;
    enum oxl_advice advice; /* last said in this state; COUNT = none */
    int64_t advice_us;

    /* precheck */
    const char *stop_id, *stop_advice; /* a line of the survey says stop; NULL none, or passed */
    int64_t stop_us;
    enum oxl_grade gate[OXL_GATE_COUNT];
    bool gate_known[OXL_GATE_COUNT];
    int64_t gates_ok_since_us; /* INT64_MAX: not all pass */

    struct oxl_gas gas;
    struct oxl_baseline base;
    int64_t looked_us; /* baseline, enrichment: when the windows were looked at last; 0 not yet */

    /* the run in progress */
    bool run_used;          /* the present run number has had its run */
    int64_t quiet_us;       /* enrichment: when there was no sign of gas for the last time */
    int64_t shift_start_us; /* 0: no gas seen */
    int64_t in_range_us;    /* since when the shift is in the accepted range; 0 not */
    int64_t over_us;        /* since when it is deeper than accepted; 0 not */
    int64_t moved_up_us;    /* since when the trims stand above the baseline; 0 not */
    int64_t rear_astray_us; /* since when the rear is lean under a rich front; 0 not */
    int64_t front_rich_us;  /* since when the front is steadily rich; 0 not */
    double deepest_pct;     /* most negative shift in this run */
    bool front_was_rich, rear_was_rich;
    bool trim_stuck; /* the front was rich for seconds, and the short-term trim stood at 0 */
    int64_t cut_us;
    struct oxl_moment front_lean;
    int64_t drop_us;    /* timing: when the rear was found lean; 0 not yet */
    int64_t balance_us; /* since when front and trims are back while timing; 0 not */
    int64_t settled_us; /* recovery: since when the trims are back; 0 not */
    oxl_reasons run_flaws;

    /* the session */
    struct oxl_run_result runs[OXL_PROC_MAX_RUNS];
    size_t runs_n;
    size_t valid_n;
    struct oxl_session_facts facts;
    unsigned asked_proof; /* times that the snap was asked for */
    int proof_asked_in;   /* ... last after this run */
    struct oxl_proof front_proof, rear_proof;
    struct oxl_cut cut;
    struct oxl_leak leak;
    struct oxl_deeper deeper;
    double rest_lambda;   /* front at the first baseline; NAN */
    int64_t offer_us;     /* the leak check is offered until then; 0 not */
    int64_t idle_us;      /* idling since; 0 unknown */
    int64_t raised_us;    /* held at raised speed since; 0 not */
    int64_t rewarm_us;    /* told to warm again; 0 not */
    bool rewarm_done;     /* ... and it was done */
    unsigned still_seen;  /* readings in a row of an engine that does not turn */
    int64_t abort_us;     /* the test's end was asked for, once; 0 not */
    bool proven;          /* trims came back to a baseline, so it was one */
    char outside[96];     /* the last note from outside: why the test is ended, when it is */
    int64_t stft_zero_us; /* short-term trim at exactly 0 since; 0 not */
    struct oxl_banks_watch {
        struct oxl_pair other;
        int64_t apart_us;     /* since when both fronts stand on opposite sides of balance; 0 not */
        double apart_pct;     /* difference of the trims then */
        bool crossed, passed; /* passed: by hand */
    } banks;
    double front_ramp_s;     /* of the last run */
    int64_t watched_drop_us; /* a drop whose fall is still being watched; 0 none */
    int64_t drop_from_us;    /* its front-lean */
    oxl_reasons said;        /* patterns that have had their line */
    enum oxl_link_state link;
    int64_t link_lost_us; /* 0: not lost */
    enum oxl_status outcome;
    char outcome_text[160];
};

bool oxl_proc_init(struct oxl_proc *p, const struct oxl_session_config *config, void *ctx,
                   void (*emit)(void *ctx, const struct oxl_event *ev));
void oxl_proc_close(struct oxl_proc *p);

/* Inputs, each at t_us. */
void oxl_proc_sample(struct oxl_proc *p, const struct oxl_sample *s, int64_t t_us);
void oxl_proc_tick(struct oxl_proc *p, int64_t t_us);
void oxl_proc_key(struct oxl_proc *p, enum oxl_key key, int64_t t_us);
void oxl_proc_link(struct oxl_proc *p, enum oxl_link_state link, const char *text, int64_t t_us);
void oxl_proc_vehicle(struct oxl_proc *p, const struct oxl_vehicle *v, int64_t t_us);

/* link_watch.c: when a lost link has been waited for long enough; INT64_MAX not lost. */
int64_t oxl_link_watch_due(const struct oxl_proc *p);
void oxl_link_watch_time(struct oxl_proc *p);

/* The imported table ends: what there is is judged. */
void oxl_proc_table_end(struct oxl_proc *p, int64_t t_us);

int64_t oxl_proc_due_us(const struct oxl_proc *p);
enum oxl_focus oxl_proc_focus(const struct oxl_proc *p);
bool oxl_proc_over(const struct oxl_proc *p);

/* ---- inside the room ------------------------------------------------------------------------ */
/* *t_us becomes the moment since when something holds; 0 while it does not. */
static inline void oxl_proc_since(int64_t *t_us, bool holds, int64_t now_us)
{
    if (!holds)
        *t_us = 0;
    else if (!*t_us)
        *t_us = now_us;
}
static inline bool oxl_proc_lasted(const struct oxl_proc *p, int64_t since_us, double s)
{
    return since_us && p->now_us - since_us >= OXL_S_US(s);
}
/* Windows of seconds are looked at this often at most, however fast the samples come. True, and
 * noted, when it is time. */
static inline bool oxl_proc_look_again(struct oxl_proc *p, double every_s)
{
    if (p->looked_us && !oxl_proc_lasted(p, p->looked_us, every_s))
        return false;
    p->looked_us = p->now_us;
    return true;
}
/* Says something, unless it was the last thing said in this state. */
void oxl_proc_say(struct oxl_proc *p, enum oxl_advice advice, const char *fmt, ...)
    OXL_PRINTF(3, 4);
void oxl_proc_check(struct oxl_proc *p, const char *id, enum oxl_grade grade, const char *found,
                    const char *advice);
void oxl_proc_mark(struct oxl_proc *p, const char *text);
/* The same beside what stands: the advice in force stays. */
void oxl_proc_note(struct oxl_proc *p, enum oxl_advice advice);
/* Ends the test: with the result of the runs that counted, where some did and the vehicle is not
 * unsuitable; else without one. */
void oxl_proc_stop(struct oxl_proc *p, enum oxl_status why, const char *fmt, ...) OXL_PRINTF(3, 4);
/* Ends the run in progress without a measurement. */
void oxl_proc_void_run(struct oxl_proc *p, enum oxl_reason why);

void oxl_proc_keep_run(struct oxl_proc *p, const struct oxl_run_result *r);
/* Two runs in a row failed for the same reason, which a third would meet as well. */
bool oxl_proc_failed_alike(const struct oxl_proc *p);
void oxl_proc_say_failed_alike(struct oxl_proc *p);

/* proof.c: evidence about the sensors */
void oxl_proof_data(struct oxl_proc *p, const struct oxl_sample *s);
void oxl_proof_run(struct oxl_proc *p, struct oxl_run_result *r); /* a run was measured */
bool oxl_proof_wanted(const struct oxl_proc *p, const char **why);
void oxl_proof_end(struct oxl_proc *p);

/* engine.c: idling, trim at exactly 0 */
void oxl_engine_data(struct oxl_proc *p, const struct oxl_sample *s);
bool oxl_engine_idled_long(const struct oxl_proc *p);
bool oxl_engine_trim_frozen(const struct oxl_proc *p);
/* True while the baseline has to wait for the engine to be warmed again. */
bool oxl_engine_rewarming(struct oxl_proc *p);
void oxl_engine_trim_room(struct oxl_proc *p); /* the line about it, once a baseline is known */

/* banks.c */
void oxl_banks_survey(struct oxl_proc *p);
void oxl_banks_data(struct oxl_proc *p, const struct oxl_sample *s);
void oxl_banks_show(struct oxl_proc *p);
/* Crossed sensors hold the baseline up; true while they do. */
bool oxl_banks_hold(struct oxl_proc *p);

/* codes.c: what a stored code says about this test */
struct oxl_dtc_meaning {
    enum oxl_grade grade;
    bool disturbs;
    enum oxl_reason reason; /* COUNT: none of its own */
    const char *advice;
};
struct oxl_dtc_meaning oxl_dtc_meaning(uint16_t code, unsigned bank);

/* patterns.c: the table of failure patterns */
enum oxl_pattern_when { OXL_AT_BASELINE, OXL_AT_RUN, OXL_AT_ANY_TIME };
/* The rear has just gone lean: some seconds more tell whether it rests there. */
bool oxl_patterns_undecided(const struct oxl_proc *p);
/* The short-term trim stands at exactly 0, as it did under a rich front: now, in this run; shown:
 * in a run before, too. */
bool oxl_patterns_frozen_now(const struct oxl_proc *p);
bool oxl_patterns_shown_frozen(const struct oxl_proc *p);
void oxl_patterns_apply(struct oxl_proc *p, enum oxl_pattern_when when);

/* look.c: what the data show now */
struct oxl_channel oxl_proc_bank_channel(const struct oxl_proc *p, enum oxl_quantity q);
struct oxl_trace oxl_proc_trace(const struct oxl_proc *p, enum oxl_quantity q);
double oxl_proc_latest(const struct oxl_proc *p, enum oxl_quantity q, int64_t max_age_us);
size_t oxl_proc_trim_window(const struct oxl_proc *p, int64_t from_us, int64_t to_us);
size_t oxl_proc_trim_course(const struct oxl_proc *p, int64_t from_us, int64_t to_us);
struct oxl_window_stats oxl_proc_trim_stats(const struct oxl_proc *p, double last_s);
double oxl_proc_shift_pct(const struct oxl_proc *p); /* NAN unknown */
/* How rich the last second was at a wide-range front, 1/lambda - 1; NAN of another or unknown. */
double oxl_proc_front_rich(const struct oxl_proc *p);
struct oxl_lean_rule oxl_proc_front_rule(const struct oxl_proc *p);
struct oxl_lean_rule oxl_proc_rear_rule(const struct oxl_proc *p);
struct oxl_trace oxl_proc_front(const struct oxl_proc *p);
struct oxl_trace oxl_proc_rear(const struct oxl_proc *p);
/* PID 03: closed loop on the sensors (2), or closed loop with a fault of one of them (16). The
 * upper bits of the byte speak of bank 2 in later editions of the standard and are left out. */
bool oxl_loop_closed(double code);
bool oxl_loop_closed_with_fault(double code);
/* PID 03, at most that old, says open loop; false where it is not known. */
bool oxl_proc_loop_open(const struct oxl_proc *p, double max_age_s);
bool oxl_secondary_air_on(double code); /* PID 12: into the exhaust */
bool oxl_proc_front_is_rich(const struct oxl_proc *p);
bool oxl_proc_rear_is_rich(const struct oxl_proc *p);
bool oxl_proc_rear_is_lean(const struct oxl_proc *p);

/* the states */
void oxl_precheck_enter(struct oxl_proc *p);
void oxl_precheck_data(struct oxl_proc *p, const struct oxl_sample *s);
void oxl_precheck_time(struct oxl_proc *p);
int64_t oxl_precheck_due(const struct oxl_proc *p);
void oxl_precheck_survey(struct oxl_proc *p);   /* precheck_survey.c: what was asked once */
void oxl_precheck_monitors(struct oxl_proc *p); /* precheck_monitors.c */
/* A line says stop: the pre-check waits until it is passed by hand. */
void oxl_precheck_hold(struct oxl_proc *p, const char *id, const char *advice);
/* How long an engine that is warm may take to reach closed loop. */
double oxl_precheck_loop_patience_s(const struct oxl_proc *p);
void oxl_precheck_pass(struct oxl_proc *p); /* "now": go on in spite of a gate */

void oxl_baseline_enter(struct oxl_proc *p);
void oxl_baseline_data(struct oxl_proc *p, const struct oxl_sample *s);
void oxl_baseline_time(struct oxl_proc *p);
int64_t oxl_baseline_due(const struct oxl_proc *p);
void oxl_baseline_pass(struct oxl_proc *p);
bool oxl_baseline_front_lean(const struct oxl_proc *p); /* leaner than at the first one */
void oxl_baseline_follow(struct oxl_proc *p); /* imported: the engine's drift before the gas */

void oxl_enrich_enter(struct oxl_proc *p);
void oxl_enrich_say_open(struct oxl_proc *p); /* as long as no gas was seen */
void oxl_enrich_data(struct oxl_proc *p, const struct oxl_sample *s);
void oxl_enrich_time(struct oxl_proc *p);
int64_t oxl_enrich_due(const struct oxl_proc *p);
void oxl_enrich_cut(struct oxl_proc *p); /* "now": cut at this moment */
/* When the gas has to be off for heat; INT64_MAX while there is none. */
int64_t oxl_enrich_heat_due(const struct oxl_proc *p);

/* Where the trims are going with the gas that they have not yet taken up. */
double oxl_enrich_heading_pct(const struct oxl_proc *p, double shift);
bool oxl_enrich_at_limit(const struct oxl_proc *p, double shift);
void oxl_enrich_release(struct oxl_proc *p); /* "cut now" */

/* deeper.c */
bool oxl_deeper_worth(const struct oxl_proc *p); /* the runs do not decide, and it may */
void oxl_deeper_offer(struct oxl_proc *p);
void oxl_deeper_ran(struct oxl_proc *p, bool valid);
void oxl_deeper_forget(struct oxl_proc *p);
void oxl_deeper_key(struct oxl_proc *p);
/* On offer and not taken: the test ends with what it has. False when none is. */
bool oxl_deeper_give_up(struct oxl_proc *p);
double oxl_deeper_needed_now_mg(const struct oxl_proc *p);
/* The most that a pulse has shown the store to hold; 0 when none has. */
double oxl_deeper_shown_mg(const struct oxl_proc *p);
void oxl_deeper_sample(struct oxl_proc *p, const struct oxl_sample *s);
void oxl_deeper_enrich(struct oxl_proc *p, double shift);
int64_t oxl_deeper_due(const struct oxl_proc *p);
int64_t oxl_deeper_heat_due(const struct oxl_proc *p); /* INT64_MAX: not over target */
void oxl_deeper_time(struct oxl_proc *p);

void oxl_release_enter(struct oxl_proc *p);
void oxl_release_data(struct oxl_proc *p, const struct oxl_sample *s);
void oxl_release_time(struct oxl_proc *p);
int64_t oxl_release_due(const struct oxl_proc *p);

void oxl_timing_enter(struct oxl_proc *p);
void oxl_timing_data(struct oxl_proc *p, const struct oxl_sample *s);
void oxl_timing_time(struct oxl_proc *p);
int64_t oxl_timing_due(const struct oxl_proc *p);

void oxl_recovery_enter(struct oxl_proc *p);
void oxl_recovery_data(struct oxl_proc *p, const struct oxl_sample *s);
void oxl_recovery_time(struct oxl_proc *p);
int64_t oxl_recovery_due(const struct oxl_proc *p);

void oxl_done_enter(struct oxl_proc *p);

void oxl_leak_enter(struct oxl_proc *p);
void oxl_leak_data(struct oxl_proc *p, const struct oxl_sample *s);
void oxl_leak_time(struct oxl_proc *p);
int64_t oxl_leak_due(const struct oxl_proc *p);
void oxl_leak_ask(struct oxl_proc *p); /* the key */
/* A lost link: what was begun says nothing. */
void oxl_leak_give_up(struct oxl_proc *p);

#endif
