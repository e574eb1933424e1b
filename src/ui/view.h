/* The parts of a drawing. Every part clips itself to its area; none keeps state. */
#ifndef OXYLAG_UI_VIEW_H
#define OXYLAG_UI_VIEW_H

#include "flow.h"
#include "model.h"
#include "plot.h"

/* printf to the canvas, cut at max_cols; returns the columns written. */
int oxl_view_print(struct oxl_canvas *c, int row, int col, int max_cols, enum oxl_ink ink,
                   const char *format, ...) __attribute__((format(printf, 6, 7)));
/* The last step in ASCII mode: nothing beyond ASCII stays on the canvas. */
void oxl_view_fold_ascii(struct oxl_canvas *c);

/* view_frame.c: what surrounds every state of the test */
/* The headline and its sentence at the top of every page of a test; on a tiny screen the words
 * alone. Returns the first row beneath. */
int oxl_view_head(const struct oxl_model *m, struct oxl_canvas *c);
/* Too small for more than words. */
bool oxl_view_is_tiny(const struct oxl_canvas *c);
void oxl_view_path(const struct oxl_model *m, struct oxl_canvas *c, int row);
/* Whole rows of blanks: takes away what stands there, and gives the ink's colour. */
void oxl_view_fill(struct oxl_canvas *c, int row, int rows, enum oxl_ink ink);
/* A filled band with large letters where they fit. */
void oxl_view_banner(struct oxl_canvas *c, int rows, enum oxl_ink ink, const char *words,
                     bool ascii);

/* view_status.c */
void oxl_view_status(const struct oxl_model *m, struct oxl_canvas *c, int row);
/* A key and what it does, at *col; false when there is no room before `end`. */
bool oxl_view_key(struct oxl_canvas *c, int row, int *col, int end, const char *key,
                  enum oxl_ink ink, const char *word);
void oxl_view_keys(const struct oxl_model *m, struct oxl_canvas *c, int row);

/* signals.c: the three lines of the test as they are shown */
enum { OXL_SIGNAL_LEVELS = 3 };
struct oxl_signal {
    const char *name, *unit;
    enum oxl_ink ink;
    const struct oxl_history *history;
    double value;
    int decimals;
    bool with_sign;
    const char *word;                 /* "rich", "lean"; "" when neither is known */
    char small[2][16];                /* what the vehicle reports besides, and its balance value */
    double levels[OXL_SIGNAL_LEVELS]; /* NAN: none */
    double low, high;                 /* of the plot */
};
enum oxl_signal_kind { OXL_SIGNAL_FRONT, OXL_SIGNAL_REAR, OXL_SIGNAL_TRIM, OXL_SIGNAL_KINDS };
struct oxl_signal oxl_signal_get(const struct oxl_model *m, enum oxl_signal_kind kind,
                                 int64_t from_us, int64_t to_us);

/* view_*.c: areas of the middle */
void oxl_view_middle(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a);
void oxl_view_traces(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a);
void oxl_view_values(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a);
void oxl_view_timer(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a, int scale);
void oxl_view_runs(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a);
double oxl_view_baseline_left(const struct oxl_model *m); /* seconds; NAN */
void oxl_view_checks(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a);
void oxl_view_leak(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a);
void oxl_view_stopped(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a);
void oxl_view_result(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a);
/* "good: delay at target 6.40 s (6.29 to 6.52), run 2; ended early, 2 of 3 runs" */
void oxl_view_result_words(const struct oxl_result *r, char *out, size_t n);
/* The leading figure; before it the verdict where the headline says something else. */
void oxl_view_result_head(struct oxl_flow *f, const struct oxl_model *m);
void oxl_view_next_steps(struct oxl_flow *f, const struct oxl_result *r, int cols);
void oxl_view_leak_result(struct oxl_flow *f, const struct oxl_model *m, int cols);
void oxl_view_test(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a);

/* whole pages */
void oxl_view_cautions(const struct oxl_model *m, struct oxl_canvas *c);
void oxl_view_quiz(const struct oxl_model *m, struct oxl_canvas *c);
void oxl_view_help(const struct oxl_model *m, struct oxl_canvas *c);
void oxl_view_small(const struct oxl_model *m, struct oxl_canvas *c);
void oxl_view_tiny(const struct oxl_model *m, struct oxl_canvas *c);

#endif
