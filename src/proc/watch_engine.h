/* Watch: the engine between the gates: turning, idling how long, short-term trim at exactly 0. */
#ifndef OXL_PROC_WATCH_ENGINE_H
#define OXL_PROC_WATCH_ENGINE_H

#include "oxylag/measure.h"

struct oxl_proc;

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

#endif
