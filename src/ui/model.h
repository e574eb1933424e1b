/* The model's inside, for the views of this room only. */
#ifndef OXYLAG_UI_MODEL_H
#define OXYLAG_UI_MODEL_H

#include "history.h"
#include "oxylag/ui.h"

enum { OXL_UI_CHECKS = 64, OXL_UI_RUNS = 32, OXL_UI_MARKS = 32 };

/* A value with its moment. */
struct oxl_reading {
    double value;
    int64_t t_us;
};

/* A letter on the time axis: C cut, F front-lean, R rear-lean, M by hand. */
struct oxl_axis_mark {
    int64_t t_us;
    char letter;
};

struct oxl_model {
    struct oxl_model_config config;
    enum oxl_page page;
    int screenful;

    bool has_live, has_profile;
    struct oxl_live live; /* .profile is NULL: use the copy below */
    struct oxl_profile profile;
    struct oxl_surroundings around; /* .recording_trouble points to the copy below, or is NULL */
    char trouble[96];

    struct oxl_history front, rear, trim;
    struct oxl_reading stft, ltft, front_v, front_ma, rear_v, rear_ma, rpm, air;

    enum oxl_state state, stopped_in;
    int run;
    bool has_action;
    enum oxl_advice action;
    char action_detail[160];
    bool leak_next; /* the leak check was asked for and comes after this run */
    bool no_data;   /* said by advice; the live link state says it too */
    bool has_note, note_is_caution;
    char note[256];
    int64_t note_us;
    int note_s;       /* how long it is shown */
    bool abort_asked; /* to be pressed once more; apart, as no other note may hide it */
    int64_t abort_asked_us;

    struct oxl_check checks[OXL_UI_CHECKS];
    int checks_n;
    struct oxl_run_result runs[OXL_UI_RUNS]; /* the newest; oldest first */
    int runs_n;
    bool has_result;
    struct oxl_result result;
    enum oxl_link_state link;
    enum oxl_link_state link_text_of; /* the text belongs to this state */
    char link_text[160];
    char profile_name[32], profile_why[96];
    char vin[18];
    double baseline_pct;

    struct oxl_axis_mark marks[OXL_UI_MARKS]; /* ring */
    unsigned marks_n;                         /* ever made */

    struct oxl_quiz_shown quiz;
    bool quizzing;

    const char *const *cautions;
    size_t cautions_n;
};

/* The first line of the pre-check that says stop; NULL when none does. */
const struct oxl_check *oxl_model_first_stop(const struct oxl_model *m);
/* The reading when it is fresh enough at the model's now; NAN else. */
double oxl_reading_now(const struct oxl_model *m, struct oxl_reading r, int64_t max_age_us);
/* Current values as shown: NAN when stale. */
double oxl_model_front(const struct oxl_model *m);
double oxl_model_rear(const struct oxl_model *m);
double oxl_model_trim(const struct oxl_model *m);

#endif
