/* The model's inside, for the views of this room only. */
#ifndef OXYLAG_UI_MODEL_H
#define OXYLAG_UI_MODEL_H

#include "history.h"
#include "oxylag/ui.h"

enum { OXL_UI_MARKS = 32 };

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
    const struct oxl_test_record *record; /* what was said so far */
    enum oxl_page page;
    int screenful, furthest; /* ... and the last one that was shown of this page */
    bool caution_unseen;     /* in the pre-check; caution_us: since when the newest one stands */
    int64_t caution_us;
    bool checks_held; /* the page of checks came by itself, and goes by itself */

    bool has_live;
    struct oxl_live live;           /* .profile is NULL: the record has it */
    struct oxl_surroundings around; /* .recording_trouble points to the copy below, or is NULL */
    char trouble[96];

    struct oxl_history front, rear, trim;
    struct oxl_reading stft, ltft, front_v, front_ma, rear_v, rear_ma, rpm, air;

    enum oxl_state state, stopped_in;
    int run;
    bool has_action;
    enum oxl_advice action;
    char action_detail[OXL_DETAIL];
    bool leak_next; /* the leak check was asked for and comes after this run */
    bool no_data;   /* said by advice; the live link state says it too */
    bool has_note, note_is_caution;
    char note[OXL_DETAIL + 160];
    int64_t note_us;
    int note_s;               /* how long it is shown */
    const char *called_words; /* what oxl_model_call gave last */
    enum oxl_cue called_cue;
    enum oxl_cue said_cue; /* of the advices since then */
    bool abort_asked;      /* to be pressed once more; apart, as no other note may hide it */
    int64_t abort_asked_us;

    enum oxl_link_state link;
    enum oxl_link_state link_text_of; /* the text belongs to this state */
    char link_text[160];

    struct oxl_axis_mark marks[OXL_UI_MARKS]; /* ring */
    unsigned marks_n;                         /* ever made */

    struct oxl_quiz_shown quiz;
    bool quizzing;

    const char *const *cautions;
    size_t cautions_n;
};

/* call.c: the advice was said. */
void oxl_model_hear(struct oxl_model *m, enum oxl_advice a);

/* model_pages.c */
void oxl_model_give_way(struct oxl_model *m, enum oxl_advice a);
void oxl_model_hold_checks(struct oxl_model *m);
void oxl_model_let_checks_go(struct oxl_model *m, bool hand);
/* How long the page of checks still stands by itself; 0: it does not. */
double oxl_model_checks_left_s(const struct oxl_model *m);

const struct oxl_check *oxl_model_first_stop(const struct oxl_model *m);
const struct oxl_run_result *oxl_model_last_run(const struct oxl_model *m); /* NULL: none yet */
/* The reading when it is fresh enough at the model's now; NAN else. */
double oxl_reading_now(const struct oxl_model *m, struct oxl_reading r, int64_t max_age_us);
/* The total trim as shown: NAN when stale. */
double oxl_model_trim(const struct oxl_model *m);

#endif
