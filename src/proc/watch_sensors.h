/* Watch: what the session has seen each sensor do, from whatever happened, and the fuel cut after a
 * throttle snap. */
#ifndef OXL_PROC_WATCH_SENSORS_H
#define OXL_PROC_WATCH_SENSORS_H

#include "oxylag/measure.h"

struct oxl_proc;

enum oxl_tempo { OXL_TEMPO_UNKNOWN = 0, OXL_TEMPO_QUICK, OXL_TEMPO_SLOW };
struct oxl_proof {
    int64_t rich_us, lean_us; /* first time; 0: not seen */
    double lowest, highest;   /* of the means of half a second */
    double least;             /* of single values */
    double fall_s;            /* rear 0.6 to 0.3 V, front 1.15 to 1.8; NAN: not seen */
    bool fall_in_cut;         /* seen in a fuel cut, where the gas is a step */
    enum oxl_tempo tempo;
};

struct oxl_sensors_watch {
    struct oxl_proof front, rear;
    struct oxl_cut {
        int64_t risen_us;         /* engine speed was well above idle last */
        int64_t start_us;         /* the front went far lean; 0: no cut going on */
        int64_t seen_us;          /* far lean last */
        bool throttle_shut, over; /* the front came back from far lean */
        unsigned seen;            /* cuts in this session */
        double fed_mg;            /* oxygen, by the longest of them */
        double all_mg;            /* ... by all of them */
    } cut;
    double quickest_s;       /* fall of the rear, 0.6 to 0.3 V; NAN: none was seen */
    int64_t watched_drop_us; /* a drop whose fall is still being watched; 0: none */
    int64_t drop_from_us;    /* its front-lean */
};

void oxl_sensors_start(struct oxl_sensors_watch *w);
void oxl_sensors_sample(struct oxl_sensors_watch *w, const struct oxl_proc *p,
                        const struct oxl_sample *s);
/* A run was measured: its release is evidence, too. */
void oxl_sensors_run(struct oxl_sensors_watch *w, const struct oxl_proc *p,
                     const struct oxl_run_result *r);
/* What is shown, and what a quick fall has refuted, whatever else says so. */
oxl_reasons oxl_sensors_reasons(const struct oxl_sensors_watch *w);
oxl_reasons oxl_sensors_refuted(const struct oxl_sensors_watch *w);
oxl_reasons oxl_sensors_refuted_of_runs(const struct oxl_sensors_watch *w);
/* Seen rich and seen lean: it lives, however short the moment. */
static inline bool oxl_proof_whole(const struct oxl_proof *f)
{
    return f->rich_us && f->lean_us;
}
/* A fuel cut brought so much oxygen that any live rear moved; that no store could keep it all. */
bool oxl_sensors_cut_moves_rear(const struct oxl_sensors_watch *w);
bool oxl_sensors_cut_passes_store(const struct oxl_sensors_watch *w);
/* How much later than one of that time constant the rear may be: it is no slower than its quickest
 * fall. INFINITY when none was seen: how slow it is nothing tells. */
double oxl_sensors_rear_lag_s(const struct oxl_sensors_watch *w, double tau_s);
/* It fell slowly, and no fuel cut has shown whether that was the sensor. */
bool oxl_sensors_rear_may_be_slow(const struct oxl_sensors_watch *w);
/* What was never seen is said as well, once, at the end. */
void oxl_sensors_say_unseen(const struct oxl_sensors_watch *w, const struct oxl_proc *p);

#endif
