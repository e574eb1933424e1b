/* A made-up test on a made-up vehicle: seeded, the same every time, no core needed. */
#ifndef HELP_SCENE_H
#define HELP_SCENE_H

#include "oxylag/ui.h"

struct scene_options {
    double until_s; /* play the stream up to here; one run takes from 22 to 55 s */
    enum oxl_ui_mode mode;
    bool ascii;
    bool switching_front;
    double gap_from_s, gap_to_s; /* no samples in between; both 0: none */
    bool held;                   /* the rear never goes lean */
};

/* A model with a record of its own, which hears of every event first. */
struct oxl_model *scene_new(const struct oxl_model_config *config);
void scene_event(struct oxl_model *m, const struct oxl_event *ev);
void scene_free(struct oxl_model *m);
/* Plays the stream into a fresh model. */
struct oxl_model *scene_play(const struct scene_options *o);
/* Only the live values at a time, as a session would give them. */
void scene_live(const struct scene_options *o, double t_s, struct oxl_live *out);
const struct oxl_profile *scene_profile(void);
/* A result and its events, put in by hand. */
void scene_finish(struct oxl_model *m, enum oxl_conclusion conclusion, bool held);
/* The live values of an ended test. */
void scene_end(struct oxl_model *m, enum oxl_state state, bool gas);
/* A bad result after a leak check that found nothing. */
void scene_bad(struct oxl_model *m);
/* After scene_finish: the result once more, of a test that ended after two counted runs. */
void scene_early(struct oxl_model *m, int runs_wanted);
void scene_check(struct oxl_model *m, const char *id, enum oxl_grade grade, const char *found,
                 const char *advice);
void scene_advice(struct oxl_model *m, double t_s, enum oxl_advice a, const char *detail);
void scene_surroundings(struct oxl_model *m, const struct scene_options *o,
                        const struct oxl_surroundings *around);
struct oxl_surroundings scene_around(double t_s);

#endif
