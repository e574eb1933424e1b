/* A scripted car for the procedure's tests: trims, sensors and air as plain functions of time,
 * with no physics behind them, so that a test says exactly what the procedure sees. */
#ifndef HELP_CAR_H
#define HELP_CAR_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/event.h"
#include "oxylag/session.h"
#include "proc/proc.h"

enum { CAR_LOG = 4096 };

struct car {
    struct oxl_proc proc;
    struct oxl_vehicle vehicle;
    int64_t t_us;
    double hz;
    /* what the sensors say now */
    double stft, ltft, front, rear, rpm, air, coolant, speed, run_time;
    double step_v; /* of the rear, to and fro */
    uint8_t fuel_system;
    bool no_status; /* it is not told any more */
    double ramp_s;  /* how long a pulse takes to its full shift */
    double fall_s;  /* of its rear, 0.6 to 0.3 V; 0: at once */
    bool mute;      /* no samples at all */
    /* what was said */
    size_t log_n;
    struct oxl_event log[CAR_LOG]; /* last: what nobody wrote is not read */
};

/* A wide-range front (24), a switching rear (15), air meter, CAN; warm, closed loop, steady. */
void car_start(struct car *c, const struct oxl_profile *profile); /* all its runs are asked for */
void car_start_as(struct car *c, const struct oxl_session_config *config);
void car_stop(struct car *c);
/* Tells the procedure that the survey is done. */
void car_survey(struct car *c);
/* Lets s seconds pass with the present values, linearly moving the total trim (by STFT) and the
 * front to their new values; ticks every 20 ms. */
void car_run(struct car *c, double s);
/* The same for a long wait in which nothing moves: four values a second. */
void car_pass(struct car *c, double s);
void car_glide(struct car *c, double s, double stft_to, double front_to);
void car_key(struct car *c, enum oxl_key key);

/* Waits for a state, at most so long; false when it did not come. */
bool car_wait(struct car *c, enum oxl_state state, double limit_s);

/* The log: how often something was said. */
unsigned car_heard(const struct car *c, enum oxl_advice advice);
bool car_was_in(const struct car *c, enum oxl_state state);
const struct oxl_event *car_last(const struct car *c, enum oxl_event_kind kind);
const struct oxl_check *car_check(const struct car *c, const char *id);
size_t car_baselines(const struct car *c);
/* Where an advice or a state stands in it, counted from `from`; its end when it was not said. */
size_t car_said_at(const struct car *c, size_t from, enum oxl_advice a);
size_t car_state_at(const struct car *c, size_t from, enum oxl_state s);

/* One whole run: gas on, hold until the cut is called, front lean, rear lean after delay_s
 * (INFINITY: never, and the trims come back). Returns false when no cut was called. */
bool car_pulse(struct car *c, double shift_pct, double delay_s);

/* The same on the heap, with the defaults of a profile; these fail the test when they cannot. */
struct car *car_new(void);
struct car *car_in_enrichment(void); /* surveyed, the baseline taken */
struct car *car_in_release(void);    /* and the cut called at -20 % */
/* Holding at -18 %, the front at balance again while the gas still flows. */
struct car *car_holding(void);
/* Three runs whose gas was too little to tell; the deeper one stands on offer. */
struct car *car_on_offer(void);
void car_free(struct car *c);
/* Gas on: the front a second rich, then the trim on its way to stft_to, the front at balance. */
void car_gas(struct car *c, double s, double stft_to);
/* Gas off, the trims back at rest. */
void car_shut(struct car *c);
/* The key, which leads back to the baseline. */
void car_restart(struct car *c);
/* Gas may flow, and what stands on the screen sends the hand to the valve. */
void car_shut_stands(const struct car *c);
/* A run whose gas is called to be cut, and goes on until the run is void. */
void car_never_cut(struct car *c);
/* A run in which the link goes while gas flows, and comes back. */
void car_lost_in_gas(struct car *c);
/* It ended before its time, and the runs that count are judged. */
void car_is_judged_early(const struct car *c, int counted);
/* A reason among the session's facts. */
bool car_has(const struct car *c, enum oxl_reason r);
/* One sample that is not among the usual ones. */
void car_give(struct car *c, enum oxl_quantity q, unsigned bank, unsigned sensor, double v);

#endif
