/* The run in progress, and the mode of the present or next one. */
#ifndef OXL_PROC_RUN_H
#define OXL_PROC_RUN_H

#include "oxylag/event.h"

struct oxl_proc;

enum oxl_run_mode { OXL_RUN_NORMAL = 0, OXL_RUN_DEEPER };

/* What a mode asks for, resolved from the profile when the mode is set. */
struct oxl_depth_plan {
    enum oxl_run_mode mode;
    double target_pct, accept_low_pct, accept_high_pct, back_off_pct, slow_pct;
    double hold_s;       /* in the accepted range; NAN: until enough oxygen is out */
    enum oxl_advice add; /* how the valve is opened */
};

struct oxl_run {
    int number; /* attempt, 1.. once the first baseline is begun */
    bool used;  /* this number has had its run */
    struct oxl_depth_plan plan;
    int64_t looked_us;      /* when the windows were looked at last; 0: not yet */
    int64_t shift_start_us; /* 0: no gas seen */
    int64_t front_rich_us;  /* since when the front is steadily rich; 0: it is not */
    double deepest_pct;     /* most negative shift */
    bool front_was_rich, rear_was_rich;
    bool trim_stuck; /* the front was rich for seconds, and the short-term trim stood at 0 */
    int64_t cut_us;
    struct oxl_moment front_lean;
    oxl_reasons flaws; /* seen by the procedure, beside what is measured and recognised */
};

void oxl_run_set_mode(struct oxl_proc *p, enum oxl_run_mode mode);
bool oxl_run_is_deeper(const struct oxl_proc *p);
void oxl_run_number(struct oxl_proc *p); /* a baseline begins: the next number, when one is due */
void oxl_run_forget(struct oxl_proc *p);
void oxl_run_note_rich(struct oxl_proc *p); /* in enrichment: front and rear */
void oxl_run_note_rear(struct oxl_proc *p);
/* True, and noted, when windows of seconds are to be looked at again, however fast samples come. */
bool oxl_run_look_again(struct oxl_proc *p, double every_s);
/* shift_pct now; since_us: where a shift that is gas began, 0 when it is none yet. */
void oxl_run_note_shift(struct oxl_proc *p, double shift_pct, int64_t since_us);
void oxl_run_cut(struct oxl_proc *p, int64_t cut_us);                    /* to the release */
void oxl_run_front_lean(struct oxl_proc *p, const struct oxl_moment *m); /* to the timing */
void oxl_run_flaw(struct oxl_proc *p, enum oxl_reason r, bool so);
/* The flaws, and the patterns recognised in this run. */
oxl_reasons oxl_run_reasons(const struct oxl_proc *p);
/* It is over, measured or not: its result, an event, is kept and said. */
void oxl_run_over(struct oxl_proc *p, struct oxl_event *ev);
/* Ends it without a measurement. */
void oxl_run_void(struct oxl_proc *p, enum oxl_reason why);

#endif
