/* UI: a model fed by events, views that draw the model on a grid of cells, and one file that
 * knows curses. Model, canvas and views are pure: snapshots of them are tests.
 */
#ifndef OXYLAG_UI_H
#define OXYLAG_UI_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/cue.h"
#include "oxylag/event.h"
#include "oxylag/session.h"
#include "oxylag/test_record.h"

/* ---- canvas --------------------------------------------------------------------------------- */
enum oxl_ink { /* roles, not colours: the terminal decides, monochrome has attributes only */
               OXL_INK_TEXT,
               OXL_INK_DIM,
               OXL_INK_TITLE,
               OXL_INK_ACTION,
               OXL_INK_CAUTION,
               OXL_INK_GOOD,
               OXL_INK_BAD,
               OXL_INK_FRONT,
               OXL_INK_REAR,
               OXL_INK_TRIM,
               OXL_INK_FRAME,
               OXL_INK_KEY,
               /* filled bands, like ACTION */
               OXL_INK_BAND_CAUTION,
               OXL_INK_BAND_GOOD,
               OXL_INK_BAND_STOP,
               OXL_INK_COUNT
};
struct oxl_cell {
    uint32_t ch; /* Unicode code point */
    uint8_t ink; /* enum oxl_ink */
};
struct oxl_canvas; /* opaque grid */
struct oxl_canvas *oxl_canvas_new(int rows, int cols);
void oxl_canvas_free(struct oxl_canvas *c);
bool oxl_canvas_resize(struct oxl_canvas *c, int rows, int cols); /* clears */
void oxl_canvas_clear(struct oxl_canvas *c);
int oxl_canvas_rows(const struct oxl_canvas *c);
int oxl_canvas_cols(const struct oxl_canvas *c);
struct oxl_cell oxl_canvas_at(const struct oxl_canvas *c, int row, int col); /* blank outside */
void oxl_canvas_put(struct oxl_canvas *c, int row, int col, uint32_t ch, enum oxl_ink ink);
/* UTF-8 text, cut at the right edge or after max_cols; control characters become '?'. Returns
 * columns written. */
int oxl_canvas_text(struct oxl_canvas *c, int row, int col, int max_cols, enum oxl_ink ink,
                    const char *utf8);

/* ---- model ---------------------------------------------------------------------------------- */
/* What is on the screen now: live values, traces, page. What the session has said is in the record,
 * which has each event before the model. */
struct oxl_model; /* opaque; bounded memory */
enum oxl_ui_mode { OXL_UI_LIVE, OXL_UI_DEMO, OXL_UI_REPLAY };
struct oxl_model_config {
    enum oxl_ui_mode mode;
    bool ascii;                           /* no characters beyond ASCII */
    char title[64];                       /* port or file name */
    const struct oxl_test_record *record; /* not owned, must outlive the model */
};
struct oxl_model *oxl_model_new(const struct oxl_model_config *config);
void oxl_model_free(struct oxl_model *m);
void oxl_model_event(struct oxl_model *m, const struct oxl_event *ev);
/* What changes between events: the session's live values and the frame's surroundings. */
struct oxl_surroundings {
    int64_t now_us;
    bool recording;
    uint64_t recorded_bytes;
    const char *recording_trouble; /* NULL when none */
    double replay_rate;            /* 0: not a replay */
    bool paused;
    bool sound, bell_only; /* not muted; there is no device for sounds */
    double valve;          /* by hand: 0..1; NAN otherwise */
};
void oxl_model_live(struct oxl_model *m, const struct oxl_live *live,
                    const struct oxl_surroundings *around);
/* Every page but TEST gives way by itself when an advice needs a hand; CAUTIONS not before the
 * test, and none in a quiz (once QUIZ was shown or filled). CHECKS, the pre-check's lines, comes by
 * itself when the baseline begins before a caution was seen: by a key, or for ten seconds. */
enum oxl_page { OXL_PAGE_CAUTIONS, OXL_PAGE_TEST, OXL_PAGE_CHECKS, OXL_PAGE_HELP, OXL_PAGE_QUIZ };
void oxl_model_page(struct oxl_model *m, enum oxl_page page);
enum oxl_page oxl_model_current_page(const struct oxl_model *m);
/* The lines of the cautions page; not owned, must outlive the model. */
void oxl_model_cautions(struct oxl_model *m, const char *const *lines, size_t n);
/* Turns to the next (+1) or previous (-1) screenful of a text that does not fit; wraps around. */
void oxl_model_turn(struct oxl_model *m, int screenfuls);
/* A key that is about pages: it turns a text, opens help or the pre-check, or leaves them. True:
 * it is used up. */
bool oxl_model_page_key(struct oxl_model *m, int key);
/* Every part of the cautions was on a screen of that size; it has not changed since. */
bool oxl_model_cautions_read(const struct oxl_model *m, int rows, int cols);

/* A letter on the time axis, as C, F, R and M. */
void oxl_model_mark(struct oxl_model *m, int64_t t_us, char letter);

/* What the quiz page shows: the trainee's marks and, once given, the answers. Plain data. */
enum oxl_quiz_phase {
    OXL_QUIZ_FRONT,   /* waiting for the mark at front-lean */
    OXL_QUIZ_REAR,    /* waiting for the mark at rear-lean */
    OXL_QUIZ_MARKED,  /* both marked; the recording runs on */
    OXL_QUIZ_ANSWER,  /* paused: the answer of this run */
    OXL_QUIZ_VERDICT, /* paused: the question */
    OXL_QUIZ_SCORE    /* the end */
};
struct oxl_quiz_mark {
    bool given;
    bool none; /* the right answer is no mark: the rear held */
    int64_t given_us;
    struct oxl_moment answer;
    double error_ms; /* given less answer; NAN */
    int points, of;
};
struct oxl_quiz_run {
    int run;
    struct oxl_span delay_s; /* the answer's */
    struct oxl_quiz_mark front, rear;
};
struct oxl_quiz_shown {
    enum oxl_quiz_phase phase;
    bool front_marked, rear_marked; /* in the run at hand */
    int64_t front_us, rear_us;
    struct oxl_quiz_run runs[OXL_RECORD_MAX_RUNS]; /* answered; the last one is shown in ANSWER */
    int runs_n;
    bool has_verdict;
    enum oxl_conclusion verdict; /* the trainee's; the answer is in the record */
    int points, of;
};
void oxl_model_quiz(struct oxl_model *m, const struct oxl_quiz_shown *shown);

/* What is to be heard since it was last asked: true when there is anything. To be asked when the
 * live values are those of now: in a step they still are of before. words: the headline when it is
 * a new one, else NULL; static. */
struct oxl_call {
    enum oxl_cue cue;
    const char *words;
};
bool oxl_model_call(struct oxl_model *m, struct oxl_call *out);
/* How near the gas is to the target while it is asked for: 0 none, 1 there. NAN: not known, or none
 * is asked for. */
double oxl_model_depth(const struct oxl_model *m);

/* The i-th thing to do next; after a bad result also what to rule out. NULL past the last. */
const char *oxl_result_step(const struct oxl_result *r, size_t i);

/* How deep a run that is over was, against the accepted range (per cent of trim shift, low is the
 * deeper end): "too deep", "in range", "too shallow", "not known". */
const char *oxl_depth_words(double shift_pct, double low_pct, double high_pct);

/* Draws the current page; any size is safe, 80x24 is enough. */
void oxl_view_draw(const struct oxl_model *m, struct oxl_canvas *c);

/* ---- terminal (curses) ---------------------------------------------------------------------- */
struct oxl_term;
enum oxl_theme { OXL_THEME_AUTO, OXL_THEME_LIGHT, OXL_THEME_DARK, OXL_THEME_MONO };
/* Nothing here waits for the terminal. Flow control and the keys that stop or kill a program are
 * off until it is closed. NULL: stdout is no usable terminal. */
struct oxl_term *oxl_term_open(enum oxl_theme theme);
/* Restores screen and modes, in 0.2 s whatever the terminal does; false: it takes nothing. NULL is
 * accepted. */
bool oxl_term_close(struct oxl_term *t);
/* After the program was stopped and continued: the modes again, and the whole screen. NULL is
 * accepted, as it is for a key. */
void oxl_term_again(struct oxl_term *t);
void oxl_term_size(struct oxl_term *t, int *rows, int *cols);
/* Draws what has changed. While the terminal has not taken the last frame, this one is skipped;
 * after a longer stall the next one is drawn whole. */
void oxl_term_show(struct oxl_term *t, const struct oxl_canvas *c);
/* Rings the cue's strokes without blocking: call _bell once, then _tick with the time. */
void oxl_term_bell(struct oxl_term *t, enum oxl_cue cue, int64_t now_us);
void oxl_term_tick(struct oxl_term *t, int64_t now_us);
enum {
    OXL_TERM_NONE = -1,
    OXL_TERM_RESIZED = -2,
    OXL_TERM_LEFT = 0x101,
    OXL_TERM_RIGHT,
    OXL_TERM_UP,
    OXL_TERM_DOWN,
    OXL_TERM_PAGE_UP,
    OXL_TERM_PAGE_DOWN,
    OXL_TERM_HOME,
    OXL_TERM_END,
    OXL_TERM_BACKSPACE,
    OXL_TERM_BACK_TAB,
    OXL_TERM_CLICK /* the mouse's first button; its wheel comes as UP and DOWN */
};
int oxl_term_key(struct oxl_term *t); /* a key, or one of the above; never blocks */
/* Clicks come as keys from now on, where the terminal has a mouse; until then they are the
 * terminal's own (to mark a text). */
void oxl_term_mouse(struct oxl_term *t);
/* Where the last click was. */
void oxl_term_clicked(const struct oxl_term *t, int *row, int *col);

#endif
