/* Procedure: the guided test as a table-driven state machine. One function changes state
 * (oxl_proc_enter); the table in states.c says what each state does with data, time and keys.
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
#include "oxylag/grade.h"
#include "oxylag/measure.h"
#include "oxylag/profile.h"
#include "oxylag/session.h"
#include "oxylag/vehicle.h"

#include "deeper_run.h"
#include "gas.h"
#include "kept_runs.h"
#include "run.h"
#include "states.h"
#include "watch_sensors.h"
#include "watches.h"

enum {
    OXL_PROC_TRIM_POINTS = 8192, /* total trim of one run at most */
    OXL_SERIES_KEEP = 8192
};
#define OXL_FRESH_US OXL_S_US(2.0)

/* ---- rules.c: which rules each procedure has: the replay of a recording goes by those that it was
 * made with. */
struct oxl_rules {
    bool until_decided; /* two runs that agree end the test; gas is held while it gains something */
    bool watches_level; /* a rear that went lean is called at once, and watched on for its level */
    bool proves_rear;   /* a snap is asked for behind the last run; one quick fall tells, too */
    double leak_offer_s; /* how long the leak check, or the question for a new one, stands */
};

const struct oxl_rules *oxl_rules_of(enum oxl_procedure procedure); /* 0: today's */

/* ---- leak_check.c: the leak check. */
enum oxl_leak_phase { OXL_LEAK_BEFORE, OXL_LEAK_COVERED, OXL_LEAK_AFTER };
struct oxl_leak {
    bool wanted;
    unsigned done; /* checks finished */
    bool clear;    /* one of them showed something: a leak, or none */
    enum oxl_leak_phase phase;
    int64_t phase_us[3];
    bool back_to_end; /* enough runs were done when it began */
};

void oxl_leak_ask(struct oxl_proc *p);         /* the key */
bool oxl_leak_worth(const struct oxl_proc *p); /* none was clear; of unclear ones one is repeated */
void oxl_leak_cancel(struct oxl_proc *p);
void oxl_leak_then_end(struct oxl_proc *p, bool end); /* what one that begins now leads to */
/* What the present step takes yet, at least; NAN: it has not begun, gas has to go first. */
double oxl_leak_left_s(const struct oxl_proc *p, int64_t now_us);
/* A lost link: what was begun says nothing. */
void oxl_leak_give_up(struct oxl_proc *p);

/* What holds the pre-check up. */
struct oxl_gates {
    struct oxl_check stop; /* a line says stop; id "": none, or passed */
    int64_t stop_us;
    enum oxl_grade grade[OXL_GATE_COUNT];
    bool known[OXL_GATE_COUNT];
    int64_t open_us; /* all pass since; INT64_MAX: not all do */
};

/* What the baseline step found. */
struct oxl_baseline {
    bool known;
    double trim_pct, trim_sd_pct, rpm;
    double front_level, front_noise, rear_level, rear_noise;
    double swing_s; /* the ECU swings the mixture at rest, with this period; 0: it does not */
};

struct oxl_settling {
    double rest_lambda;  /* front at the first baseline; NAN: none yet */
    int64_t rewarm_us;   /* asked to warm again; 0: not asked */
    int64_t raised_us;   /* since when the speed is too high, swings and all; 0: it is not */
    bool crossed_passed; /* crossed fronts, passed by hand */
};

struct oxl_enrich {
    int64_t quiet_us;    /* when there was no sign of gas for the last time */
    int64_t in_range_us; /* since when the shift is in the accepted range; 0: it is not */
    int64_t over_us;     /* since when it is deeper than accepted; 0: it is not */
    int64_t moved_up_us; /* since when the trims stand above the baseline; 0: they do not */
};

struct oxl_timing {
    int64_t drop_us;    /* when the rear was found lean; 0: not yet */
    int64_t fall_us;    /* ... and when it fell */
    bool rear_first;    /* ... and it had fallen before the front */
    int64_t balance_us; /* since when front and trims are back; 0: they are not */
};

struct oxl_recovery {
    int64_t settled_us; /* since when the trims are back; 0: they are not */
    int64_t offer_us;   /* the leak check is offered until then; 0: it is not */
    int64_t snap_us;    /* a snap of the throttle is waited for until then; 0: it is not */
    unsigned asked;     /* times that it was asked for */
    unsigned cuts;      /* ... fuel cuts seen before the last time */
    unsigned asked_new; /* whether the converter is new, beside the leak check or after it: 1 + the
                         * checks done then; 0: not yet */
};

/* What can be asked for, where the samples come from: all of it on a link, nothing of it where a
 * table is read. Every difference between the two is one of these. */
struct oxl_source {
    bool cues;    /* somebody is there for what is to be done (words.c) */
    bool hand;    /* ... and works valve and engine: both are watched (gas.c, proc.c) */
    bool waits;   /* until a deadline, or trims stand still (proc.c, baseline.c, recovery.c) */
    bool calls;   /* the cut is called; in a table the release itself counts (enrichment.c) */
    bool repeats; /* runs can be asked for again (kept_runs.c, deeper_run.c, result.c) */
};

/* Who may write what stands behind it, and tests/support/house.sh holds everybody to it. What one
 * file owns others change by its functions. */
struct oxl_proc {
    /* What the session was started with, and what the survey adds. */
    struct oxl_profile profile;                     /* proc.c */
    bool profile_given, profile_fixed, no_identity; /* proc.c */
    unsigned bank, runs_wanted;                     /* proc.c: at most, where until_decided */
    const struct oxl_rules *rules;                  /* proc.c */
    bool until_decided;                             /* proc.c: two runs that agree are enough */
    int64_t row_us;                                 /* proc.c: imported, row to row */
    struct oxl_source source;                       /* proc.c */
    bool imported;  /* proc.c: a table, for the words of the pre-check */
    bool resampled; /* proc.c: ... with values interpolated */
    void *ctx;      /* proc.c */
    void (*emit)(void *ctx, const struct oxl_event *ev); /* proc.c */
    const struct oxl_vehicle *vehicle;                   /* proc.c */
    struct oxl_pair pair;                                /* proc.c */
    bool surveyed, has_ltft;                             /* proc.c */
    double air_share;                                    /* proc.c: this bank's of the air */
    struct oxl_series *series;                           /* proc.c */
    struct oxl_point *trim; /* proc.c: scratch for the total trim, OXL_PROC_TRIM_POINTS */

    /* Where it stands. */
    int64_t now_us;                /* proc.c */
    enum oxl_state state;          /* states.c */
    int64_t entered_us;            /* states.c */
    enum oxl_advice advice;        /* words.c: last said in this state; COUNT: none */
    int64_t advice_us;             /* words.c */
    int64_t abort_us;              /* proc.c: the end was asked for, once; 0: it was not */
    char outside[96];              /* proc.c: the last note from outside: why the test is ended */
    enum oxl_status outcome;       /* result.c */
    char outcome_text[OXL_DETAIL]; /* result.c */

    /* The steps. */
    struct oxl_gates gates;       /* precheck.c */
    struct oxl_baseline base;     /* baseline.c */
    struct oxl_settling settling; /* baseline.c */
    struct oxl_enrich enrich;     /* enrichment.c */
    struct oxl_timing timing;     /* timing.c */
    struct oxl_recovery recovery; /* recovery.c */
    struct oxl_leak leak;         /* leak_check.c */
    struct oxl_deeper deeper;     /* deeper_run.c */
    struct oxl_gas gas;           /* gas.c */
    struct oxl_run run;           /* run.c */
    struct oxl_kept kept;         /* kept_runs.c */

    /* What watches the stream of samples. */
    struct oxl_link_watch link;         /* link_watch.c */
    struct oxl_sensors_watch sensors;   /* watch_sensors.c */
    struct oxl_engine_watch engine;     /* watch_engine.c */
    struct oxl_banks_watch banks;       /* watch_banks.c */
    struct oxl_patterns_watch patterns; /* watch_patterns.c */
    struct oxl_leak_watch leak_watch;   /* watch_leak.c */
    struct oxl_balance_watch balance;   /* watch_balance.c */
    struct oxl_loop_watch loop;         /* watch_loop.c */
    struct oxl_refreshes refreshes;     /* refreshes.c */
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

/* A note from outside; when the test is ended then, it says why. */
void oxl_proc_outside(struct oxl_proc *p, const char *text, int64_t t_us);
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
void oxl_proc_set_now(struct oxl_proc *p, int64_t t_us);
/* The profile that follows from the survey. */
void oxl_proc_use_profile(struct oxl_proc *p, const struct oxl_profile *profile);
/* words.c */
/* Says something, unless it was the last thing said in this state. */
void oxl_proc_say(struct oxl_proc *p, enum oxl_advice advice, const char *fmt, ...)
    OXL_PRINTF(3, 4);
/* The same without a detail. */
static inline void oxl_proc_tell(struct oxl_proc *p, enum oxl_advice advice)
{
    oxl_proc_say(p, advice, "%s", "");
}
void oxl_proc_check(const struct oxl_proc *p, const char *id, enum oxl_grade grade,
                    const char *found, const char *advice);
void oxl_proc_mark(const struct oxl_proc *p, const char *text);
/* The same beside what stands: the advice in force stays. */
void oxl_proc_note(const struct oxl_proc *p, enum oxl_advice advice);
void oxl_proc_unsay(struct oxl_proc *p); /* what comes next is said, whatever it is */
/* result.c */
/* Ends the test: with the result of the runs that counted, where some did and the vehicle is not
 * unsuitable; else without one. */
void oxl_proc_stop(struct oxl_proc *p, enum oxl_status why, const char *fmt, ...) OXL_PRINTF(3, 4);
/* signals.c: what the data show now */
/* Both sensors have given a value within that time; of a table there is no such time. */
bool oxl_proc_sensors_live(const struct oxl_proc *p, int64_t max_age_us);
struct oxl_channel oxl_proc_bank_channel(const struct oxl_proc *p, enum oxl_quantity q);
bool oxl_proc_is_trim(const struct oxl_proc *p, const struct oxl_sample *s); /* short-term, ours */
struct oxl_window_stats oxl_proc_last(const struct oxl_proc *p, struct oxl_trace t, double s);
double oxl_proc_mean(const struct oxl_proc *p, struct oxl_trace t, double last_s);
struct oxl_trace oxl_proc_trace(const struct oxl_proc *p, enum oxl_quantity q);
double oxl_proc_latest(const struct oxl_proc *p, enum oxl_quantity q, int64_t max_age_us);
size_t oxl_proc_trim_window(const struct oxl_proc *p, int64_t from_us, int64_t to_us);
size_t oxl_proc_trim_course(const struct oxl_proc *p, int64_t from_us, int64_t to_us);
struct oxl_window_stats oxl_proc_trim_stats(const struct oxl_proc *p, double last_s);
double oxl_proc_shift_pct(const struct oxl_proc *p); /* NAN: unknown */
/* How rich the last second was at a wide-range front, 1/lambda - 1; NAN of another or unknown. */
double oxl_proc_front_rich(const struct oxl_proc *p);
struct oxl_lean_rule oxl_proc_front_rule(const struct oxl_proc *p);
struct oxl_lean_rule oxl_proc_rear_rule(const struct oxl_proc *p);
struct oxl_trace oxl_proc_front(const struct oxl_proc *p);
struct oxl_trace oxl_proc_rear(const struct oxl_proc *p);
/* PID 03, at most that old, says open loop; false where it is not known. */
bool oxl_proc_loop_open(const struct oxl_proc *p, double max_age_s);
bool oxl_proc_front_is_rich(const struct oxl_proc *p);
bool oxl_proc_rear_is_rich(const struct oxl_proc *p);
bool oxl_proc_rear_is_lean(const struct oxl_proc *p);

/* the states: their hooks are declared by OXL_STATE_HOOKS (states.h) */
void oxl_precheck_sensors(struct oxl_proc *p);     /* others were chosen */
void oxl_precheck_survey(struct oxl_proc *p);      /* precheck_survey.c: what was asked once */
void oxl_precheck_say_refresh(struct oxl_proc *p); /* as the data show it by now */
struct oxl_grade_facts oxl_precheck_facts(const struct oxl_proc *p);
/* Says a line of the grade room. */
void oxl_precheck_say(const struct oxl_proc *p, const struct oxl_check *c);
/* A line says stop: the pre-check waits until it is passed by hand. */
void oxl_precheck_hold(struct oxl_proc *p, const struct oxl_check *c);
/* How long an engine that is warm may take to reach closed loop. */
double oxl_precheck_loop_patience_s(const struct oxl_proc *p);
/* When a line that says stop ends the test; INT64_MAX: none does. */
int64_t oxl_precheck_stop_due(const struct oxl_proc *p);
void oxl_precheck_pass(struct oxl_proc *p); /* "now": go on in spite of a gate */

void oxl_baseline_start(struct oxl_proc *p);
void oxl_baseline_pass(struct oxl_proc *p);
/* Crossed fronts hold the baseline up, unless that was passed by hand. */
bool oxl_baseline_crossed(const struct oxl_proc *p);
/* idle_cause.c: what moves beside the engine speed, in one sentence; "" when nothing tells. */
void oxl_idle_cause(const struct oxl_proc *p, char *out, size_t n);
bool oxl_baseline_front_lean(const struct oxl_proc *p); /* leaner than at the first one */
void oxl_baseline_follow(struct oxl_proc *p); /* imported: the engine's drift before the gas */

void oxl_enrich_say_open(struct oxl_proc *p); /* as long as no gas was seen */
void oxl_enrich_cut(struct oxl_proc *p);      /* "now": cut at this moment */
/* When the gas has to be off for heat; INT64_MAX while there is none. */
int64_t oxl_enrich_heat_due(const struct oxl_proc *p);

/* Where the trims are going with the gas that they have not yet taken up. */
double oxl_enrich_heading_pct(const struct oxl_proc *p, double shift);
bool oxl_enrich_at_limit(const struct oxl_proc *p, double shift);
void oxl_enrich_release(struct oxl_proc *p); /* "cut now" */

/* When what is offered before the end lapses; INT64_MAX: nothing is. */
int64_t oxl_recovery_offer_due(const struct oxl_proc *p);

void oxl_done_enter(struct oxl_proc *p);

#endif
